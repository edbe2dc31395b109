"""Copying a plan: what it is called this time, for what, and which shades take the place of those that are gone."""

from collections.abc import Sequence
from typing import Any

from django import forms

from projects.forms.shades import ShadeTextField, written
from projects.models import Project, ProjectShade
from projects.services.copying import LONGEST_NAME, free_name
from stash.forms.fields import RefusableForm


class CopyForm(RefusableForm):
    name = forms.CharField(label="Name of the new plan", max_length=LONGEST_NAME)
    occasion = forms.CharField(
        label="For", max_length=120, required=False, help_text="A fair, a class, an order."
    )
    need_on = forms.DateField(
        label="Winding day", required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )
    notes = forms.BooleanField(label="Take the notes along", required=False)
    photos = forms.BooleanField(label="Take the photos along", required=False)

    def __init__(self, *args: Any, project: Project, retired: Sequence[ProjectShade], **kwargs: Any) -> None:
        super().__init__(*args, initial={"name": free_name(project.name)}, **kwargs)
        self.retired = retired
        for row in retired:
            self.fields[f"shade_{row.key}"] = ShadeTextField(
                label=f"{row.key}: instead of {written(row.shade)}",
                required=False,
                known={},
                help_text="This shade is retired. Empty: the key stays open, and the plan asks for its shade.",
            )

    @property
    def plain_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in ("name", "occasion", "need_on")]

    @property
    def shade_fields(self) -> list[forms.BoundField]:
        return [self[f"shade_{row.key}"] for row in self.retired]

    def instead(self) -> dict[str, int]:
        """Keys of the shades that were named, by key of the plan. Of a valid form."""
        named = {row.key: self.cleaned_data[f"shade_{row.key}"] for row in self.retired}
        return {key: shade.pk for key, shade in named.items() if shade}
