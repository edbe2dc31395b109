"""Several cones out of one parcel: what they share, and a line for each."""

from typing import Any

from django import forms

from stash.forms import offers
from stash.forms.cones import DECIMALS, listed, shade_text
from stash.forms.fields import MassField, MeasuredForm, PriceField, WholeField
from stash.models import Form
from stash.services.deliveries import MOST_AT_ONCE, Package
from stash.services.weighing import MOST_OF_A_CONE_MG, MOST_OF_A_CORE_MG

ROWS = 6


def rows_in(text: str) -> int:
    """How many lines an address or a form asks for."""
    return min(MOST_AT_ONCE, max(1, int(text))) if text.isdecimal() and len(text) < 4 else ROWS


class ReceiveForm(MeasuredForm):
    """`awaited` is a delivery that these cones add to: its supplier and number are known then. `of_order` says that
    they come by a line of an order, which knows yarn and shade as well; its ticks are asked for where they are wanted.
    """

    yarn = forms.ChoiceField(
        error_messages={"invalid_choice": "This yarn is not in use. Choose one of the list."}
    )
    shade = forms.CharField(
        max_length=60, widget=shade_text("receive"), help_text="A name that is new makes a new shade."
    )
    lot = forms.CharField(
        label="Dye lot",
        required=False,
        max_length=40,
        widget=listed("lot-names"),
        help_text="Empty: unknown.",
    )
    form = forms.ChoiceField(choices=Form, required=False, initial=Form.CONE)
    scale = forms.ChoiceField(
        label="The weights are of",
        choices=[("net", "the yarn alone"), ("gross", "yarn and core together")],
        widget=forms.RadioSelect,
        required=False,
    )
    core = MassField(
        label="The empty core weighs",
        required=False,
        most=MOST_OF_A_CORE_MG,
        attrs=DECIMALS,
        help_text="Of all cones for which no kind of core is chosen below.",
    )
    price = PriceField(required=False, attrs=DECIMALS)
    price_of = forms.ChoiceField(
        label="That is the price of",
        choices=[("each", "each cone"), ("all", "all together")],
        widget=forms.RadioSelect,
        required=False,
    )
    supplier = forms.CharField(
        required=False, max_length=80, widget=listed("supplier-names"), help_text="A new name is kept."
    )
    expected = WholeField(
        label="Cones that should come in all",
        least=1,
        most=10_000,
        one="cone",
        many="cones",
        required=False,
        help_text="If some are still to come.",
    )
    received_on = forms.DateField(
        label="Came on",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text="Empty: today.",
    )
    apart_until = forms.DateField(
        label="Keep apart until",
        required=False,
        widget=forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d"),
        help_text="Animal fibre, against moths. Empty: not.",
    )
    came = forms.IntegerField(
        required=False, min_value=0, max_value=2**15, widget=forms.HiddenInput, initial=0
    )
    is_more = forms.BooleanField(label="More came than was ordered", required=False)
    is_own_lot = forms.BooleanField(label="Keep them as a lot of their own", required=False)

    SHARED_PAIRS = (("lot", "form"), ("scale", "core"))
    BOUGHT = ("price", "price_of")
    ORDERED = ("supplier", "expected", "received_on")
    KNOWN = ("yarn", "shade", "supplier", "expected")
    TICKS = ("is_more", "is_own_lot")

    def __init__(
        self,
        *args: Any,
        rows: int,
        currency: str,
        yarns: list[tuple[int, str, str]],
        cores: list[tuple[int, str, int]],
        awaited: bool = False,
        of_order: bool = False,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.count = rows
        self.fields["price"].unit = currency
        self.fields["yarn"].choices = [
            ("", "Choose the yarn"),
            *(
                (str(pk), f"{name}, {count}" if count and count not in name else name)
                for pk, name, count in yarns
            ),
        ]
        if of_order:
            self.fields["lot"].help_text = "Compare it in daylight. Empty: unknown."
            self.fields["form"].help_text = "As it came."
        gone = self.KNOWN if of_order else (*(self.ORDERED if awaited else ()), "came", *self.TICKS)
        for name in gone:
            del self.fields[name]
        kinds = [
            ("", "As above"),
            *((str(pk), f"{name}, {self.measures.mass(mg)}") for pk, name, mg in cores),
        ]
        for at in range(1, rows + 1):
            weight = MassField(
                label="Weight", required=False, least=1, most=MOST_OF_A_CONE_MG, attrs=DECIMALS
            )
            label = MassField(
                label="On its label", required=False, least=1, most=MOST_OF_A_CONE_MG, attrs=DECIMALS
            )
            for field in (weight, label):
                field.use(self.measures)
            self.fields[f"weight-{at}"], self.fields[f"label-{at}"] = weight, label
            self.fields[f"core-{at}"] = forms.ChoiceField(
                label="Core",
                required=False,
                choices=kinds,
                error_messages={"invalid_choice": "Choose the kind of core from the list."},
            )
            self.fields[f"place-{at}"] = forms.CharField(
                label="Place", required=False, max_length=40, widget=listed("place-names")
            )

    @property
    def chosen_yarn(self) -> int | None:
        """Key of the yarn that is chosen now, also in a form that was refused."""
        if "yarn" not in self.fields:
            return None
        value = str(self["yarn"].value() or "")
        return int(value) if value in {key for key, _ in self.fields["yarn"].choices if key} else None

    @property
    def lines(self) -> list[tuple[int, list[forms.BoundField]]]:
        """The fields of each cone, with its number."""
        names = ("weight", "label", "core", "place")
        return [(at, [self[f"{name}-{at}"] for name in names]) for at in range(1, self.count + 1)]

    @property
    def ordered(self) -> list[forms.BoundField]:
        return [self[name] for name in self.ORDERED if name in self.fields]

    @property
    def ticks(self) -> list[forms.BoundField]:
        """What is asked again: ticks that a refusal points at, or that were set."""
        return [
            self[name]
            for name in self.TICKS
            if name in self.fields and (name in self.errors or (self.is_bound and self.data.get(name)))
        ]

    def take_came(self, came: int) -> None:
        """So many have come by now; sent once more, what is typed counts as further ones."""
        self.data = self.data.copy()
        self.data[self.add_prefix("came")] = str(came)

    def packages(self) -> list[Package]:
        """The lines with a weight of either kind. A line with only a core or a place is no cone."""
        said = self.cleaned_data
        return [
            Package(
                at=at,
                scale_mg=said[f"weight-{at}"],
                labelled_mg=said[f"label-{at}"],
                core_kind_id=int(said[f"core-{at}"]) if said[f"core-{at}"] else None,
                core_mg=said["core"],
                place=said[f"place-{at}"],
            )
            for at in range(1, self.count + 1)
            if said[f"weight-{at}"] is not None or said[f"label-{at}"] is not None
        ]

    @classmethod
    def offered(cls) -> dict[str, Any]:
        """What it chooses from, read once a page."""
        return {"yarns": offers.yarns_in_use(), "cores": offers.core_kinds()}
