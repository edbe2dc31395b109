"""Kinds of yarn, and their shades."""

from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from stash.calc.counts import CountSystem, read_count
from stash.calc.errors import CalcError
from stash.calc.fibres import read_fibres, write_fibres
from stash.calc.grist import Grist
from stash.forms.colours import ColourField
from stash.forms.fields import GristField, MassField, ReadField
from stash.forms.versions import VersionedForm
from stash.models import GristSource, Shade, Yarn
from stash.services.yarns import YarnFacts


class FibresField(ReadField):
    """`60 % cotton, 40 % linen`: fibre to whole per cent."""

    def read(self, text: str) -> dict[str, int]:
        return read_fibres(text)

    def write(self, value: dict[str, int]) -> str:
        return write_fibres(value)


class YarnForm(VersionedForm):
    name = forms.CharField(
        max_length=80,
        help_text="What you call it: fibre, make-up, finish.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    count = forms.CharField(
        required=False,
        max_length=40,
        help_text="As on the label: 8/2, 2/28, 74 tex x 2. Slubs and chenille may have none.",
        widget=forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false"}),
    )
    system = forms.ChoiceField(
        label="Count system",
        required=False,
        choices=[("", "No count"), *((system.value, system.label) for system in CountSystem)],
        help_text="Must be stated with a count: 16/2 linen is nearly three times as heavy as 16/2 cotton.",
    )
    fibres = FibresField(required=False, help_text="60 % cotton, 40 % linen; or one name alone.")
    measured = GristField(
        label="Measured here",
        required=False,
        help_text="As weighed on your own scale: 50 yd = 6.75 g.",
    )
    stated = GristField(
        label="Stated by the seller",
        required=False,
        help_text="As on the label: 2100 yd/lb, 4200 m/kg.",
    )
    choice = forms.ChoiceField(
        label="Use",
        required=False,
        choices=[
            ("", "the most trusted: measured, else stated, else from the count"),
            (GristSource.MEASURED, "the one measured here"),
            (GristSource.STATED, "the one stated by the seller"),
            (GristSource.COMPUTED, "the one computed from the count"),
        ],
        help_text="Every length on the shelf is reckoned with it.",
    )
    note = forms.CharField(required=False, max_length=500, widget=forms.Textarea)

    @classmethod
    def texts_of(cls, yarn: Yarn) -> dict[str, Any]:
        return {
            "name": yarn.name,
            "count": yarn.count.written if yarn.count else "",
            "system": yarn.count_system,
            "fibres": {share.fibre: share.percent for share in yarn.fibres.all()},
            "measured": Grist(yarn.measured_um, yarn.measured_mg) if yarn.measured_um else None,
            "stated": Grist(yarn.stated_um, yarn.stated_mg) if yarn.stated_um else None,
            "choice": yarn.grist_choice,
            "note": yarn.note,
            "version": yarn.version,
        }

    def clean(self) -> dict[str, Any]:
        """Reads the count in its system; a refusal goes to the field it is about."""
        cleaned = super().clean()
        cleaned["read_count"] = None
        text, system = cleaned.get("count", ""), cleaned.get("system", "")
        if "count" in self.errors or "system" in self.errors:
            return cleaned
        if text:
            try:
                cleaned["read_count"] = read_count(text, system or None)
            except CalcError as error:
                self.add_error("system" if error.field == "system" else "count", error.message)
        elif system:
            self.add_error("count", "A count system is chosen: give the count, or choose “No count”.")
        return cleaned

    def facts(self) -> YarnFacts:
        said = self.cleaned_data
        return YarnFacts(
            name=said["name"],
            count=said["read_count"],
            measured=said["measured"],
            stated=said["stated"],
            choice=said["choice"],
            fibres=said["fibres"] or {},
            note=said["note"],
        )


class ShadeForm(VersionedForm):
    name = forms.CharField(max_length=60, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    colour = ColourField(
        label=_("Colour"),
        required=False,
        help_text="For the screen only. Screens and eyes differ; the name and the lot decide.",
    )
    keep_mg = MassField(
        label="Keep level",
        required=False,
        least=1,
        help_text="The least to keep free. At or below it the shade asks to be ordered.",
    )
    one_more = forms.BooleanField(
        label="One put-up more for the lot",
        required=False,
        help_text="A proposed order takes one more than is needed, so that what is left matches later.",
    )
    note = forms.CharField(required=False, max_length=500, widget=forms.Textarea)

    @classmethod
    def texts_of(cls, shade: Shade) -> dict[str, Any]:
        return {
            "name": shade.name,
            "colour": shade.colour,
            "keep_mg": shade.keep_mg,
            "one_more": shade.one_more,
            "note": shade.note,
            "version": shade.version,
        }

    def facts(self) -> dict[str, Any]:
        names = ("name", "colour", "keep_mg", "one_more", "note")
        return {name: self.cleaned_data[name] for name in names}


class NoMoreForm(VersionedForm):
    """Since when a shade is no more made."""

    on = forms.DateField(
        label="Known since",
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text="The day on which it became known, today or earlier.",
        error_messages={
            "required": "Give the day on which it became known.",
            "invalid": "Give a day of the calendar, such as 2026-12-03.",
        },
    )

    @classmethod
    def texts_of(cls, shade: Shade) -> dict[str, Any]:
        return {"on": shade.no_more_on or timezone.localdate(), "version": shade.version}
