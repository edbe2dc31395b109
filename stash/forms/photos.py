"""A photo sent from a phone or a folder, and the name of a kept view."""

from django import forms

from stash.forms.fields import RefusableForm


class PhotoForm(RefusableForm):
    file = forms.FileField(
        label="Photo",
        help_text="JPEG, PNG or WebP, at most 10 MB. Only the picture is kept: no place, no time.",
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
        error_messages={"required": "Choose a photo.", "empty": "This file is empty. Choose a photo."},
    )


class ViewForm(RefusableForm):
    name = forms.CharField(
        max_length=60,
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        help_text="Such as: cotton to weigh again.",
    )
