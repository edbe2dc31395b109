"""Suppliers and their put-ups as forms."""

import re
from typing import Any

from django import forms

from stash.calc.days import read_days, write_days
from stash.forms import offers
from stash.forms.cones import DECIMALS, PLAIN, shade_text
from stash.forms.fields import MassField, PriceField, ReadField, WholeField
from stash.forms.versions import VersionedForm
from stash.models import Form, PutUp, Supplier
from stash.models.order import MOST_PACKAGES
from stash.models.studio import CURRENCY
from stash.services.suppliers import MOST_BREAKS, NewPutUp, Terms
from stash.services.weighing import MOST_OF_A_CONE_MG

BREAKS_OFFERED = 3


class DaysField(ReadField):
    """Whole days: 18, 18 days, 2 weeks."""

    def read(self, text: str) -> int:
        return read_days(text)

    def write(self, value: int) -> str:
        return write_days(value)


def _letters(text: Any) -> str:
    """The currency typed in a form, "" for what is none."""
    found = str(text or "").strip().upper()
    return found if re.fullmatch(CURRENCY.regex.pattern, found) else ""


class SupplierForm(VersionedForm):
    """Prices are read in the currency that is typed with them, else in the studio's."""

    name = forms.CharField(max_length=80, widget=forms.TextInput(attrs=PLAIN))
    lead = DaysField(
        label="From order to parcel",
        required=False,
        help_text="18 days, 2 weeks. Empty: not known.",
    )
    late = DaysField(
        label="Usual delay on top of it",
        required=False,
        help_text="As you know them. Empty: none.",
    )
    currency = forms.CharField(
        required=False,
        max_length=3,
        widget=forms.TextInput(attrs=PLAIN | {"autocapitalize": "characters"}),
        help_text="Such as USD. Empty: the studio's.",
    )
    minimum = PriceField(
        label="Least value of an order",
        required=False,
        attrs=DECIMALS,
        help_text="Without carriage. Empty: none.",
    )
    carriage = PriceField(
        label="Carriage of an order", required=False, attrs=DECIMALS, help_text="Empty: not known."
    )
    carriage_free = PriceField(
        label="No carriage from", required=False, attrs=DECIMALS, help_text="Empty: never free."
    )
    amounts_stay = forms.BooleanField(
        label="The amounts and prices of this supplier are in the new currency", required=False
    )
    note = forms.CharField(required=False, max_length=500, widget=forms.Textarea)

    def __init__(self, *args: Any, currency: str = "EUR", **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        typed = self.data.get("currency") if self.is_bound else self.initial.get("currency")
        for name in ("minimum", "carriage", "carriage_free"):
            self.fields[name].unit = _letters(typed) or currency

    def clean_currency(self) -> str:
        text = self.cleaned_data["currency"].strip().upper()
        if text:
            CURRENCY(text)
        return text

    @property
    def asks_for_amounts(self) -> bool:
        """Is the tick wanted, since the currency of what was noted changes?"""
        return "currency" in self.errors or bool(self.is_bound and self.data.get("amounts_stay"))

    @classmethod
    def texts_of(cls, supplier: Supplier) -> dict[str, Any]:
        return {
            "name": supplier.name,
            "lead": supplier.lead_days,
            "late": supplier.late_days or None,
            "currency": supplier.currency,
            "minimum": supplier.minimum_cents,
            "carriage": supplier.carriage_cents,
            "carriage_free": supplier.carriage_free_cents,
            "note": supplier.note,
            "version": supplier.version,
        }

    def terms(self) -> Terms:
        said = self.cleaned_data
        return Terms(
            name=said["name"],
            lead_days=said["lead"],
            late_days=said["late"] or 0,
            minimum_cents=said["minimum"],
            carriage_cents=said["carriage"],
            carriage_free_cents=said["carriage_free"],
            currency=said["currency"],
            note=said["note"],
        )


class PutUpForm(VersionedForm):
    """`currency` is the supplier's. Price breaks are pairs of fields, as many as there are and some more."""

    yarn = forms.ChoiceField(
        error_messages={"invalid_choice": "This yarn is not in use. Choose one of the list."}
    )
    shade = forms.CharField(
        label="Only in the shade",
        required=False,
        max_length=60,
        widget=shade_text("receive"),
        help_text="Empty: in all its shades.",
    )
    form = forms.ChoiceField(choices=Form, initial=Form.CONE, help_text="As it is wound.")
    mass = MassField(
        label="Net weight",
        least=1,
        most=MOST_OF_A_CONE_MG,
        attrs=DECIMALS,
        help_text="Of the yarn, as sold: 454 g, 1 lb.",
    )
    price = PriceField(label="Price of one", required=False, attrs=DECIMALS, help_text="Empty: not known.")
    least = WholeField(
        label="Least number of one shade",
        required=False,
        least=1,
        most=MOST_PACKAGES,
        one="package",
        many="packages",
        help_text="Empty: 1.",
    )

    def __init__(
        self,
        *args: Any,
        currency: str = "EUR",
        yarns: list[tuple[int, str, str]] | None = None,
        breaks: int = 0,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.rows = min(MOST_BREAKS, max(BREAKS_OFFERED, breaks + 1))
        self.fields["price"].unit = currency
        self.fields["yarn"].choices = [("", "Choose the yarn"), *offers.yarn_choices(yarns or [])]
        for at in range(1, self.rows + 1):
            number = WholeField(
                label="From how many on",
                required=False,
                least=2,
                most=MOST_PACKAGES,
                one="package",
                many="packages",
            )
            price = PriceField(label="One costs then", required=False, attrs=DECIMALS)
            for field in (number, price):
                field.use(self.measures)
            price.unit = currency
            self.fields[f"break-{at}"], self.fields[f"break_price-{at}"] = number, price

    @property
    def breaks(self) -> list[tuple[forms.BoundField, forms.BoundField]]:
        return [(self[f"break-{at}"], self[f"break_price-{at}"]) for at in range(1, self.rows + 1)]

    @property
    def chosen_yarn(self) -> int | None:
        """Key of the yarn that is chosen now, also in a form that was refused."""
        value = str(self["yarn"].value() or "")
        return int(value) if value in {key for key, _ in self.fields["yarn"].choices if key} else None

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        cleaned["shade_id"] = None
        yarn, shade = cleaned.get("yarn"), (cleaned.get("shade") or "").strip()
        if yarn and shade:
            cleaned["shade_id"] = offers.shade_key(int(yarn), shade)
            if cleaned["shade_id"] is None:
                self.add_error("shade", "This yarn has no shade of that name. Leave it empty for all shades.")
        for number, price in self.breaks:
            given, cents = cleaned.get(number.name), cleaned.get(price.name)
            unread = number.name in self.errors or price.name in self.errors
            if not unread and (given is None) != (cents is None):
                name, words = (
                    (number.name, "From how many on?")
                    if given is None
                    else (price.name, "What does one cost then?")
                )
                self.add_error(name, words)
        return cleaned

    @property
    def break_names(self) -> dict[str, str]:
        """The field of each price break as the service counts them: lines left empty are no breaks."""
        given = [number.name for number, _ in self.breaks if self.cleaned_data.get(number.name) is not None]
        return {f"break-{at}": name for at, name in enumerate(given, start=1)}

    def put_up(self) -> NewPutUp:
        said = self.cleaned_data
        return NewPutUp(
            yarn_id=int(said["yarn"]),
            shade_id=said["shade_id"],
            form=said["form"],
            mass_mg=said["mass"],
            price_cents=said["price"],
            least=said["least"] or 1,
            breaks=[
                (said[number.name], said[price.name])
                for number, price in self.breaks
                if said[number.name] is not None
            ],
        )

    @classmethod
    def texts_of(cls, put_up: PutUp) -> dict[str, Any]:
        texts = {
            "yarn": str(put_up.yarn_id),
            "shade": put_up.shade.name if put_up.shade else "",
            "form": put_up.form,
            "mass": put_up.mass_mg,
            "price": put_up.price_cents,
            "least": put_up.least if put_up.least > 1 else None,
            "version": put_up.version,
        }
        for at, one in enumerate(put_up.breaks.all(), start=1):
            texts |= {f"break-{at}": one.number, f"break_price-{at}": one.price_cents}
        return texts
