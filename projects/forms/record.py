"""A note of a project."""

from django import forms

from projects.models import ProjectNote
from stash.forms.fields import RefusableForm

MOST_CHARACTERS = ProjectNote._meta.get_field("text").max_length


class NoteForm(RefusableForm):
    text = forms.CharField(
        label="Note",
        max_length=MOST_CHARACTERS,
        widget=forms.Textarea(attrs={"rows": 3}),
        error_messages={
            "required": "Write something, then keep it.",
            "max_length": f"A note has at most {MOST_CHARACTERS:,} characters.",
        },
    )
