"""Opening a project file: the file, then what its shades are here."""

from collections.abc import Sequence
from typing import Any

from django import forms

from projects.forms.shades import written
from projects.models import Project
from projects.services.copying import LONGEST_NAME
from projects.sharing.form import MOST_BYTES
from projects.sharing.matching import Matched
from stash.forms.fields import RefusableForm

OPEN = "open"


class ProjectFileForm(RefusableForm):
    file = forms.FileField(
        label="Project file",
        help_text=f"As another Warpshelf saved it; at most {MOST_BYTES // 1000} kB. Nothing is kept before you say so.",
        widget=forms.FileInput(attrs={"accept": ".json,application/json"}),
        error_messages={
            "required": "Choose a project file.",
            "missing": "Choose a project file.",
            "empty": "This file is empty. Choose a project file.",
        },
    )


class OpenProjectForm(RefusableForm):
    """`text` carries the file from the first step to the second; it is read anew each time."""

    text = forms.CharField(widget=forms.HiddenInput, strip=False)
    name = forms.CharField(label="Name here", max_length=LONGEST_NAME)
    occasion = forms.CharField(
        label="For", max_length=120, required=False, help_text="A fair, a class, an order."
    )
    need_on = forms.DateField(
        label="Winding day", required=False, widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    )

    def __init__(self, *args: Any, matches: Sequence[Matched], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.matches = matches
        for one in matches:
            choices = [(str(shade.pk), written(shade)) for shade in one.offered]
            self.fields[f"shade_{one.wanted.key}"] = forms.ChoiceField(
                label=f"{one.wanted.key}: {one.wanted.name}, {one.wanted.yarn}",
                choices=[*choices, (OPEN, "leave it open")],
                initial=str(one.same.pk) if one.same else OPEN,
                error_messages=dict.fromkeys(
                    ("invalid_choice", "required"), "This shade is not offered any more. Choose again."
                ),
            )

    @property
    def plain_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in ("name", "occasion", "need_on")]

    @property
    def shade_rows(self) -> list[tuple[Matched, forms.BoundField]]:
        return [(one, self[f"shade_{one.wanted.key}"]) for one in self.matches]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean()
        first: dict[str, str] = {}
        for one in self.matches:
            name = f"shade_{one.wanted.key}"
            chosen = cleaned.get(name)
            if chosen and chosen != OPEN and first.setdefault(chosen, one.wanted.key) != one.wanted.key:
                self.add_error(
                    name,
                    f"This shade stands under {first[chosen]} already: choose another, or leave it open.",
                )
        return cleaned

    def shades(self) -> dict[str, int]:
        """Keys of this studio's shades by key of the plan. Of a valid form."""
        chosen = {one.wanted.key: self.cleaned_data[f"shade_{one.wanted.key}"] for one in self.matches}
        return {key: int(pk) for key, pk in chosen.items() if pk != OPEN}


def name_here(name: str) -> str:
    """The file's name, with a number where a project here has it."""
    for number in range(1, 1000):
        tail = f" ({number})" if number > 1 else ""
        tried = name[: LONGEST_NAME - len(tail)].rstrip() + tail
        if not Project.objects.filter(name=tried).exists():
            return tried
    return ""
