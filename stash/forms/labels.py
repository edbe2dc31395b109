"""Which cones get a label, and of what size. Its state is the address."""

import re
from dataclasses import dataclass
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.db.models import Q
from django.db.models.functions import Lower

from stash.models import Cone, Place
from stash.models.cone import ConeQuerySet

MOST = 500


@dataclass(frozen=True, slots=True)
class Size:
    """`pencil` is how many lines are left for weighings."""

    key: str
    name: str
    pencil: int


SIZES = {
    size.key: size
    for size in (
        Size("card", "card, 50 × 75 mm", 3),
        Size("strip", "strip, 38 × 90 mm", 2),
        Size("card-in", "card, 2 × 3 in", 3),
        Size("strip-in", "strip, 1 1/2 × 3 1/2 in", 2),
        Size("slip", "slip, a whole page each", 16),
    )
}


class LabelForm(forms.Form):
    """Cones by their keys (`cones`, from lists of the shelf), by typed codes, by place or by shade; those add up."""

    codes = forms.CharField(
        label="Cones",
        required=False,
        max_length=4000,
        help_text="Their codes, with commas between: K-001, K-002.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false"}),
    )
    place = forms.ModelChoiceField(
        Place.objects.all(),
        label="All that stand on",
        required=False,
        empty_label="choose a place",
        error_messages={"invalid_choice": "There is no such place. Choose one from the list."},
    )
    size = forms.ChoiceField(
        label="Size",
        choices=[(size.key, size.name[:1].upper() + size.name[1:]) for size in SIZES.values()],
        error_messages={"invalid_choice": "There is no label of this size. Choose one from the list."},
    )
    cones = forms.CharField(required=False, widget=forms.HiddenInput)
    shade = forms.CharField(required=False, widget=forms.HiddenInput)

    def __init__(self, data: Any) -> None:
        # Ticked rows send the name many times, links send the keys with commas.
        listed = ",".join(data.getlist("cones"))
        data = data.copy()
        data["cones"] = listed
        data["size"] = data.get("size") or next(iter(SIZES))
        super().__init__(data)

    def clean_cones(self) -> list[int]:
        return [_key(text) for text in re.split(r"[,\s]+", self.cleaned_data["cones"]) if text]

    def clean_shade(self) -> int | None:
        text = self.cleaned_data["shade"]
        return _key(text) if text else None

    def clean_codes(self) -> list[int]:
        """Keys of the cones with these codes, in whatever capitals."""
        wanted = [text.strip() for text in re.split(r"[,;\n]", self.cleaned_data["codes"]) if text.strip()]
        if len(wanted) > MOST:
            raise ValidationError(f"At most {MOST} labels are made at once.")
        folded = {text.lower() for text in wanted}
        found = dict(
            Cone.objects.alias(folded=Lower("code"))
            .filter(Q(folded__in=folded) | Q(code__in=wanted))
            .values_list("pk", "code")
        )
        there = {code.lower() for code in found.values()}
        for text in wanted:
            if text.lower() not in there:
                raise ValidationError(f"There is no cone {text[:40]}. Give codes as they stand on the shelf.")
        return list(found)

    @property
    def names_cones(self) -> bool:
        """Something was asked for; without it the page only offers the choice."""
        return any(self.data.get(name, "").strip() for name in ("codes", "place", "cones", "shade"))

    def chosen(self) -> ConeQuerySet:
        """Cones asked for by key or code, also retired ones; by place or shade, those on the shelf."""
        said = self.cleaned_data
        wanted = Q(pk__in=[*said["cones"], *said["codes"]])
        on_shelf = Q(retired_at=None)
        if said["place"]:
            wanted |= on_shelf & Q(place=said["place"])
        if said["shade"]:
            wanted |= on_shelf & Q(shade=said["shade"])
        return Cone.objects.filter(wanted)


def _key(text: str) -> int:
    if not text.isdecimal() or len(text) > 18:
        raise ValidationError(
            f"“{text[:20]}” is no key of the shelf. Choose cones there, or type their codes."
        )
    return int(text)
