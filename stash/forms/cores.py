"""Kinds of core."""

from django import forms

from stash.forms.cones import DECIMALS, PLAIN
from stash.forms.fields import MassField, MeasuredForm
from stash.forms.versions import VersionedForm
from stash.models import CoreKind
from stash.services.weighing import MOST_OF_A_CORE_MG


def _name() -> forms.CharField:
    return forms.CharField(
        max_length=40, widget=forms.TextInput(attrs=PLAIN), help_text="paper cone, plastic tube"
    )


def _mass() -> MassField:
    return MassField(label="An empty one weighs", most=MOST_OF_A_CORE_MG, attrs=DECIMALS)


class CoreAddForm(MeasuredForm):
    name = _name()
    mass = _mass()


class CoreForm(VersionedForm):
    name = _name()
    mass = _mass()

    @classmethod
    def texts_of(cls, kind: CoreKind) -> dict[str, object]:
        return {"name": kind.name, "mass": kind.mass_mg, "version": kind.version}
