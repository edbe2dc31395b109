"""Cones: adding, weighing, putting right, moving; and the reason for which something is retired."""

from collections.abc import Sequence
from typing import Any

from django import forms
from django.urls import reverse_lazy
from django.utils.translation import gettext_lazy as _

from stash.forms import offers
from stash.forms.colours import ColourField
from stash.forms.fields import MassField, MeasuredForm
from stash.forms.versions import VersionedForm
from stash.models import Cone, Form
from stash.services.refusal import Refusal
from stash.services.weighing import MOST_OF_A_CONE_MG, MOST_OF_A_CORE_MG, FarBelow

DECIMALS = {"inputmode": "decimal"}
PLAIN = {"autocomplete": "off", "spellcheck": "false"}


def listed(offers: str) -> forms.TextInput:
    """A text that may be new, with known ones offered by the datalist of that id."""
    return forms.TextInput(attrs=PLAIN | {"list": offers})


def shade_text(address: str) -> forms.TextInput:
    """A shade of the chosen yarn, or a new one: its names, and the lots of the one typed, are asked for at the page of
    that name while it is typed."""
    return forms.TextInput(
        attrs=PLAIN
        | {
            "list": "shade-names",
            "hx-get": reverse_lazy(address),
            "hx-trigger": "input changed delay:200ms",
            "hx-include": "[name=yarn]",
            "hx-target": "#known-names",
            "hx-swap": "outerHTML",
            "hx-sync": "this:replace",
        }
    )


Cores = Sequence[tuple[int, str, int]]
"""Key, name and mass of each kind of core that is offered."""


def core_kind_field(hint: str) -> forms.ChoiceField:
    return forms.ChoiceField(
        label="Kind of core",
        required=False,
        help_text=hint,
        error_messages={"invalid_choice": "Choose the kind of core from the list."},
    )


def offer_cores(form: MeasuredForm, cores: Cores) -> None:
    form.fields["core_kind"].choices = [
        ("", "None of these"),
        *((str(pk), f"{name}, {form.measures.mass(mass_mg)}") for pk, name, mass_mg in cores),
    ]


class ConeAddForm(MeasuredForm):
    """Yarn, shade and weight suffice."""

    yarn = forms.ChoiceField(
        error_messages={"invalid_choice": "This yarn is not in use. Choose one of the list."}
    )
    shade = forms.CharField(
        max_length=60, widget=shade_text("cone-add"), help_text="A name that is new makes a new shade."
    )
    weight = MassField(
        least=1,
        most=MOST_OF_A_CONE_MG,
        attrs=DECIMALS,
        help_text="Of the yarn alone; with its core, say so below.",
    )
    scale = forms.ChoiceField(
        label="This is the weight of",
        choices=[("net", "the yarn alone"), ("gross", "yarn and core together")],
        widget=forms.RadioSelect,
        required=False,
    )
    core = MassField(
        label="The empty core weighs",
        required=False,
        most=MOST_OF_A_CORE_MG,
        attrs=DECIMALS,
        help_text="Weigh an empty one of the same kind. A paper cone has often 25 to 40 g.",
    )
    core_kind = core_kind_field("Its weight is taken from there.")
    lot = forms.CharField(
        label="Dye lot",
        required=False,
        max_length=40,
        widget=listed("lot-names"),
        help_text="Empty: unknown.",
    )
    place = forms.CharField(
        required=False, max_length=40, widget=listed("place-names"), help_text="A shelf or a box."
    )
    form = forms.ChoiceField(
        choices=Form, required=False, initial=Form.CONE, help_text="What it is wound as."
    )
    code = forms.CharField(
        required=False,
        max_length=12,
        widget=forms.TextInput(attrs=PLAIN),
        help_text="Empty: the next free one, K-001 and on.",
    )
    colour = ColourField(label=_("Colour"), required=False, help_text="Of a new shade.")
    note = forms.CharField(required=False, max_length=500, widget=forms.Textarea)

    WAITING = ("scale", "core_kind", "core", "lot", "place", "form", "code", "colour", "note")

    def __init__(
        self, *args: Any, yarns: list[tuple[int, str, str]], cores: Cores = (), **kwargs: Any
    ) -> None:
        super().__init__(*args, **kwargs)
        offer_cores(self, cores)
        self.fields["yarn"].choices = [
            ("", "Choose the yarn"),
            *(
                (str(pk), f"{name}, {count}" if count and count not in name else name)
                for pk, name, count in yarns
            ),
        ]

    @property
    def waiting(self) -> list[forms.BoundField]:
        """What may wait, for the folded part of the page."""
        return [self[name] for name in self.WAITING]

    @property
    def unfolded(self) -> bool:
        """True when something in the folded part is filled in or refused."""
        plain = {"scale": "net", "form": Form.CONE}
        return any(
            field.errors or (field.value() or "") not in ("", plain.get(field.name, ""))
            for field in self.waiting
        )

    @property
    def chosen_yarn(self) -> int | None:
        """Key of the yarn that is chosen now, also in a form that was refused."""
        value = str(self["yarn"].value() or "")
        return int(value) if value in {key for key, _ in self.fields["yarn"].choices if key} else None


class WeighForm(MeasuredForm):
    """What the scale says. `core` is asked only for a cone whose core is not known."""

    scale = MassField(
        label="On the scale now",
        most=MOST_OF_A_CONE_MG,
        attrs=DECIMALS | {"class": "scale"},
        error_messages={"required": "Give what the scale says."},
    )
    core = MassField(
        label="The empty core weighs",
        required=False,
        most=MOST_OF_A_CORE_MG,
        attrs=DECIMALS,
        help_text="Not known yet. Needed once, for a weight with the core still in.",
    )
    reason = forms.CharField(
        label="Reason",
        required=False,
        max_length=200,
        widget=forms.TextInput(attrs={"autocomplete": "off", "list": "reasons"}),
        help_text="Needed when there is more than the books know.",
    )
    about = forms.BooleanField(
        label="About: guessed, not weighed", required=False, help_text="The books then say “about”."
    )
    sure = forms.CharField(required=False, max_length=30, widget=forms.HiddenInput)

    def __init__(self, *args: Any, cone: Cone, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        if cone.core_mg is None:
            what = "With the core still in it, or the yarn alone: two buttons."
        else:
            what = f"With the {cone.form} as it stands. Its core weighs {self.measures.mass(cone.core_mg)}."
            del self.fields["core"]
        self.fields["scale"].help_text = what

    def ask_again(self, error: FarBelow, how: str) -> Refusal:
        """The question in the studio's units. Sent again as it stands, the same figure is taken."""
        data = self.data.copy()
        data["sure"] = self._said(how)
        self.data = data
        less = self.measures.mass(error.books_mg - error.net_mg)
        return Refusal(
            f"The books say {self.measures.mass(error.books_mg)}, this leaves {self.measures.mass(error.net_mg)}: "
            f"{less} less. Is that right? Then keep it once more, or put the figure right.",
            field="scale",
        )

    def is_sure(self, how: str) -> bool:
        """Was this very figure asked about before?"""
        return self.cleaned_data["sure"] == self._said(how)

    def _said(self, how: str) -> str:
        return f"{self.cleaned_data['scale']} {how}"


class ConeForm(VersionedForm):
    def __init__(self, *args: Any, cores: Cores | None = None, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        # Beside a clash of versions the form is made anew, without what the view offers.
        offer_cores(self, offers.core_kinds() if cores is None else cores)

    code = forms.CharField(max_length=12, widget=forms.TextInput(attrs=PLAIN))
    lot = forms.CharField(
        label="Dye lot",
        required=False,
        max_length=40,
        widget=listed("lot-names"),
        help_text="Empty: unknown.",
    )
    form = forms.ChoiceField(choices=Form)
    core = MassField(
        label="The empty core weighs",
        required=False,
        most=MOST_OF_A_CORE_MG,
        attrs=DECIMALS,
        help_text="Where the last weighing was with the core, the net follows by an entry of its own.",
    )
    core_kind = core_kind_field("A kind newly chosen says what the core weighs.")
    place = forms.CharField(
        required=False, max_length=40, widget=listed("place-names"), help_text="A shelf or a box."
    )
    note = forms.CharField(required=False, max_length=500, widget=forms.Textarea)

    @classmethod
    def texts_of(cls, cone: Cone) -> dict[str, Any]:
        return {
            "code": cone.code,
            "lot": cone.lot.name if cone.lot else "",
            "form": cone.form,
            "core": cone.core_mg,
            "core_kind": str(cone.core_kind_id or ""),
            "place": cone.place.name if cone.place else "",
            "note": cone.note,
            "version": cone.version,
        }


class MoveForm(MeasuredForm):
    place = forms.CharField(
        label="It stands now",
        required=False,
        max_length=40,
        widget=listed("place-names"),
        help_text="A shelf or box; a name that is new makes a new place. Empty: nowhere in particular.",
    )


class ReasonForm(MeasuredForm):
    """Why a cone is taken off the shelf."""

    reason = forms.CharField(
        max_length=200,
        widget=forms.TextInput(attrs={"autocomplete": "off", "list": "reasons"}),
        help_text="empty, given away, sold, moth, thrown out",
        error_messages={"required": "Say why: empty, given away, sold, moth."},
    )


class SendBackForm(ReasonForm):
    """The same of a cone that came by an order."""

    is_awaited = forms.BooleanField(
        label="It goes back, or never came: the order awaits it again",
        required=False,
        help_text="Else the order counts it as come, whatever becomes of it.",
    )
