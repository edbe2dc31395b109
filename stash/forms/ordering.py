"""Orders as forms: a line, sending, what is written about the whole, cancelling."""

from collections.abc import Sequence
from typing import Any

from django import forms

from stash.calc.money import write_price
from stash.calc.writing import Measures
from stash.forms import offers
from stash.forms.cones import DECIMALS, PLAIN, listed
from stash.forms.fields import MassField, PriceField, WholeField
from stash.forms.versions import VersionedForm
from stash.models import Form, Lot, Order, OrderLine, OrderLot, PutUp
from stash.models.order import MOST_PACKAGES
from stash.services.ordering import NewLine
from stash.services.suppliers import price_of
from stash.services.weighing import MOST_OF_A_CONE_MG

OTHER = "other"


def day_field(label: str, hint: str = "", *, required: bool = False) -> forms.DateField:
    widget = forms.DateInput(attrs={"type": "date"}, format="%Y-%m-%d")
    return forms.DateField(
        label=label,
        required=required,
        widget=widget,
        help_text=hint,
        error_messages={"invalid": "Give a day of the calendar, such as 2026-12-03."},
    )


def put_up_words(put_up: PutUp, measures: Measures, currency: str) -> str:
    """Plain cotton, 8/2: cone of 454 g, 18.50 EUR; only Spruce."""
    yarn = put_up.yarn
    name = yarn.name
    if yarn.count_written and yarn.count_written not in name:
        name = f"{name}, {yarn.count_written}"
    words = f"{name}: {put_up.get_form_display()} of {measures.mass(put_up.mass_mg)}"
    if put_up.price_cents is not None:
        words += f", {write_price(put_up.price_cents, currency)}"
    return f"{words}; only {put_up.shade.name}" if put_up.shade else words


class LineForm(VersionedForm):
    """One line of an order. `put_ups` are those that its supplier sells; another form of yarn may be told as well.

    `currency` is the order's.
    """

    put_up = forms.ChoiceField(
        label="Put-up",
        widget=forms.Select(
            attrs={
                "hx-get": "",
                "hx-trigger": "change",
                "hx-include": "[name=put_up], [name=yarn], [name=shade]",
                "hx-target": "#known-names",
                "hx-swap": "outerHTML",
            }
        ),
        error_messages={"invalid_choice": "This put-up is sold no more. Choose one of the list."},
    )
    yarn = forms.ChoiceField(
        required=False, error_messages={"invalid_choice": "This yarn is not in use. Choose one of the list."}
    )
    form = forms.ChoiceField(choices=Form, required=False, initial=Form.CONE)
    mass = MassField(
        label="Net weight of one", required=False, least=1, most=MOST_OF_A_CONE_MG, attrs=DECIMALS
    )
    shade = forms.CharField(
        max_length=60,
        widget=forms.TextInput(
            attrs=PLAIN
            | {
                "list": "shade-names",
                "hx-get": "",
                "hx-trigger": "input changed delay:200ms",
                "hx-include": "[name=put_up], [name=yarn], [name=shade]",
                "hx-target": "#known-names",
                "hx-swap": "outerHTML",
                "hx-sync": "this:replace",
            }
        ),
    )
    number = WholeField(
        label="How many",
        least=1,
        most=MOST_PACKAGES,
        one="package",
        many="packages",
        help_text="Whole packages of that form.",
    )
    price = PriceField(
        label="Price of one",
        required=False,
        attrs=DECIMALS,
        help_text="Empty: as noted for that many.",
    )
    lot_wish = forms.ChoiceField(label="Dye lot", choices=OrderLot, help_text="As it is asked for.")
    lot = forms.CharField(
        label="Which lot",
        required=False,
        max_length=40,
        widget=listed("lot-names"),
        help_text="One that was on the shelf.",
    )
    need_on = day_field("Needed by", "Empty: no day.")
    reason = forms.CharField(
        label="What for",
        required=False,
        max_length=300,
        widget=forms.TextInput(attrs=PLAIN),
        help_text="For the studio; no letter says it.",
    )

    def __init__(
        self,
        *args: Any,
        currency: str = "EUR",
        put_ups: Sequence[PutUp] = (),
        yarns: list[tuple[int, str, str]] | None = None,
        names_at: str = "",
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.put_ups = {str(one.pk): one for one in put_ups}
        self.fields["price"].unit = currency
        self.fields["yarn"].choices = [("", "Choose the yarn"), *offers.yarn_choices(yarns or [])]
        self.fields["put_up"].choices = [
            *([("", "Choose what they sell")] if put_ups else []),
            *((key, put_up_words(one, self.measures, currency)) for key, one in self.put_ups.items()),
            (OTHER, "Another yarn or form, as told below"),
        ]
        if not put_ups:
            self.initial.setdefault("put_up", OTHER)
        for name in ("put_up", "shade"):
            self.fields[name].widget.attrs["hx-get"] = names_at

    @property
    def is_other(self) -> bool:
        """Is yarn, form and weight told, since no put-up is?"""
        return str(self["put_up"].value() or "") == OTHER

    @property
    def chosen_yarn(self) -> int | None:
        """Key of the yarn of the put-up, or of the yarn that is told, as far as one is chosen now."""
        if one := self.put_ups.get(str(self["put_up"].value() or "")):
            return one.yarn_id
        value = str(self["yarn"].value() or "")
        return int(value) if value in {key for key, _ in self.fields["yarn"].choices if key} else None

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or {}
        cleaned["shade_id"] = cleaned["lot_id"] = None
        chosen = cleaned.get("put_up")
        one = self.put_ups.get(chosen or "")
        if chosen == OTHER:
            for name, words in (("yarn", "Choose the yarn."), ("mass", "Say what one weighs.")):
                if not cleaned.get(name) and name not in self.errors:
                    self.add_error(name, words)
        yarn_id = one.yarn_id if one else int(cleaned.get("yarn") or 0)
        shade = (cleaned.get("shade") or "").strip()
        if yarn_id and shade:
            cleaned["shade_id"] = offers.shade_key(yarn_id, shade)
            if cleaned["shade_id"] is None:
                self.add_error("shade", "This yarn has no shade of that name in use. Choose one that it has.")
            elif one and one.shade_id not in (None, cleaned["shade_id"]):
                self.add_error("shade", f"This put-up is of {one.shade.name} alone.")
        self._clean_lot(cleaned)
        return cleaned

    def _clean_lot(self, cleaned: dict[str, Any]) -> None:
        name = (cleaned.get("lot") or "").strip()
        if cleaned.get("lot_wish") != OrderLot.MATCH:
            if name and "lot" not in self.errors:
                self.add_error(
                    "lot_wish", f"A lot is named: choose “{OrderLot.MATCH.label}”, or take it out."
                )
        elif not name:
            self.add_error("lot", "Name the lot to match.")
        elif cleaned["shade_id"]:
            known = Lot.objects.filter(shade=cleaned["shade_id"], name__iexact=name.replace("\0", "")).first()
            if known is None:
                self.add_error("lot", "No cone of that lot was ever on the shelf. Check its name.")
            else:
                cleaned["lot_id"] = known.pk

    def line(self) -> NewLine:
        said = self.cleaned_data
        one = self.put_ups.get(said["put_up"])
        price = said["price"]
        if price is None and one:
            price = price_of(one, said["number"])
        return NewLine(
            shade_id=said["shade_id"],
            number=said["number"],
            mass_mg=one.mass_mg if one else said["mass"],
            form=one.form if one else said["form"] or Form.CONE,
            put_up_id=one.pk if one else None,
            price_cents=price,
            lot_wish=said["lot_wish"],
            lot_id=said["lot_id"],
            need_on=said["need_on"],
            reason=said["reason"],
        )

    @classmethod
    def texts_of(cls, line: OrderLine) -> dict[str, Any]:
        return {
            "put_up": str(line.put_up_id or OTHER),
            "yarn": str(line.shade.yarn_id),
            "form": line.form,
            "mass": line.mass_mg,
            "shade": line.shade.name,
            "number": line.number,
            "price": line.price_cents,
            "lot_wish": line.lot_wish,
            "lot": line.lot.name if line.lot else "",
            "need_on": line.need_on,
            "reason": line.reason,
            "version": line.order.version,
        }

    def show_both(self, error: Any, current: Any) -> None:
        """The version is the order's, which has no single text to show beside these fields."""
        self.data = self.data.copy()
        self.data[self.add_prefix("version")] = str(current.version)
        self.add_error(
            None,
            "The order was changed by someone else after you opened this form. Look at it, then keep this line "
            "once more.",
        )


class SendForm(VersionedForm):
    """It goes out, or has gone out."""

    on = day_field("Ordered on", "The day on which it went out.", required=True)
    was_sooner = forms.BooleanField(label="It went out before it was written here", required=False)
    due_on = day_field("Should come on")
    reference = forms.CharField(
        label="Their reference",
        required=False,
        max_length=60,
        widget=forms.TextInput(attrs=PLAIN),
        help_text="A number or a word, if they gave one.",
    )
    carriage = PriceField(label="Carriage", required=False, attrs=DECIMALS)

    def __init__(
        self,
        *args: Any,
        currency: str = "EUR",
        lead_days: int | None = None,
        by_terms: str = "",
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.fields["carriage"].unit = currency
        self.fields["carriage"].help_text = f"Empty: {by_terms}" if by_terms else "Empty: not known."
        self.fields["due_on"].help_text = (
            "Empty: not known."
            if lead_days is None
            else f"Empty: {lead_days} day{'' if lead_days == 1 else 's'} later, as they take."
        )

    @property
    def asks_sooner(self) -> bool:
        """Is the tick wanted, since the day is before it was written?"""
        return "on" in self.errors or bool(self.is_bound and self.data.get("was_sooner"))

    def show_both(self, error: Any, current: Order) -> None:
        _take_version(self, current)
        self.refuse(error)


class OrderForm(VersionedForm):
    """What is written about an order as a whole."""

    reference = forms.CharField(
        label="Their reference", required=False, max_length=60, widget=forms.TextInput(attrs=PLAIN)
    )
    due_on = day_field("Should come on", "As they say now. Empty: not known.")
    carriage = PriceField(label="Carriage", required=False, attrs=DECIMALS, help_text="Empty: not known.")
    note = forms.CharField(required=False, max_length=500, widget=forms.Textarea)

    def __init__(self, *args: Any, currency: str = "EUR", sent: bool = True, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["carriage"].unit = currency
        if not sent:
            for name in ("due_on", "reference"):
                del self.fields[name]

    @classmethod
    def texts_of(cls, order: Order) -> dict[str, Any]:
        return {
            "reference": order.reference,
            "due_on": order.due_on,
            "carriage": order.carriage_cents,
            "note": order.note,
            "version": order.version,
        }

    def facts(self) -> dict[str, Any]:
        said = self.cleaned_data
        return {
            "reference": said.get("reference", ""),
            "due_on": said.get("due_on"),
            "carriage_cents": said["carriage"],
            "note": said["note"],
        }


class CancelForm(VersionedForm):
    """How many of a line will not come, in all."""

    cancelled = WholeField(label="Will not come", least=0, most=MOST_PACKAGES, one="package", many="packages")

    def show_both(self, error: Any, current: Order) -> None:
        _take_version(self, current)
        self.refuse(error)


def _take_version(form: VersionedForm, order: Order) -> None:
    """What is typed stays; sent once more it is taken, now that the page shows what stands there."""
    form.data = form.data.copy()
    form.data[form.add_prefix("version")] = str(order.version)


class NewOrderForm(forms.Form):
    """Of whom is ordered."""

    supplier = forms.ChoiceField(
        error_messages={"invalid_choice": "This supplier is not ordered from. Choose one of the list."}
    )
