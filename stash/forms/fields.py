"""Form fields that read what people type through the calc grammar and write it back the same.

A field of this kind needs to know the studio's units: `MeasuredForm` hands them to all its fields.
"""

from fractions import Fraction
from typing import Any

from django import forms
from django.core.exceptions import ValidationError

from stash.calc.colour_order import Order, read_order
from stash.calc.density import Density
from stash.calc.errors import CalcError
from stash.calc.grist import Grist
from stash.calc.money import read_price
from stash.calc.quantity import (
    MOST_MG,
    MOST_UM,
    read_amount,
    read_density,
    read_grist,
    read_length,
    read_mass,
    read_percent,
    read_whole,
)
from stash.calc.writing import Measures, field_percent, field_whole


class ReadField(forms.CharField):
    """A text that calc reads. Subclasses say how it is read and how a value is written for the form."""

    unit = ""

    def __init__(self, **kwargs: Any) -> None:
        self.measures = Measures()
        attrs = kwargs.pop("attrs", {})
        kwargs.setdefault(
            "widget", forms.TextInput(attrs={"autocomplete": "off", "spellcheck": "false"} | attrs)
        )
        super().__init__(**kwargs)

    def use(self, measures: Measures) -> None:
        self.measures = measures

    def read(self, text: str) -> Any:
        raise NotImplementedError

    def write(self, value: Any) -> str:
        raise NotImplementedError

    def prepare_value(self, value: Any) -> Any:
        return value if value is None or isinstance(value, str) else self.write(value)

    def to_python(self, value: Any) -> Any:
        text = super().to_python(value)
        if text in self.empty_values:
            return None
        try:
            return self.read(text)
        except CalcError as error:
            raise ValidationError(error.message, code="unreadable") from error

    def has_changed(self, initial: Any, data: Any) -> bool:
        return bool((self.prepare_value(initial) or "") != (data or ""))


class ShortLengthField(ReadField):
    """Whole um; a bare number is in inches or centimetres."""

    def __init__(self, *, least: int = 0, most: int = MOST_UM, **kwargs: Any) -> None:
        self.least, self.most = least, most
        super().__init__(**kwargs)

    def use(self, measures: Measures) -> None:
        super().use(measures)
        self.unit = measures.short_unit

    def read(self, text: str) -> int:
        return read_length(text, self.measures.short_unit, least=self.least, most=self.most)

    def write(self, value: int) -> str:
        return self.measures.field_short_length(value)


class LongLengthField(ShortLengthField):
    """Whole um; a bare number is in yards or metres."""

    def use(self, measures: Measures) -> None:
        super().use(measures)
        self.unit = measures.long_unit

    def read(self, text: str) -> int:
        return read_length(text, self.measures.long_unit, least=self.least, most=self.most)

    def write(self, value: int) -> str:
        return self.measures.field_long_length(value)


class MassField(ReadField):
    """Whole mg; a bare number is in grams or ounces."""

    def __init__(self, *, least: int = 0, most: int = MOST_MG, **kwargs: Any) -> None:
        self.least, self.most = least, most
        super().__init__(**kwargs)

    def use(self, measures: Measures) -> None:
        super().use(measures)
        self.unit = measures.mass_unit

    def read(self, text: str) -> int:
        return read_mass(text, self.measures.mass_unit, least=self.least, most=self.most)

    def write(self, value: int) -> str:
        return self.measures.field_mass(value)


class AmountField(ReadField):
    """A mass or a length of yarn (`calc.quantity.Amount`); a bare number is a mass. Its initial is in mg."""

    def use(self, measures: Measures) -> None:
        super().use(measures)
        self.unit = measures.mass_unit

    def read(self, text: str) -> Any:
        return read_amount(text, self.measures.mass_unit)

    def write(self, value: int) -> str:
        return self.measures.field_mass(value)


class PriceField(ReadField):
    """Whole cents; the studio's currency is `unit`, set by the form."""

    unit = "EUR"

    def read(self, text: str) -> int:
        return read_price(text, self.unit)

    def write(self, value: int) -> str:
        return f"{value // 100}.{value % 100:02}"


class DensityField(ReadField):
    """A sett, picks or dents (`Density`); a bare number is to the inch or the centimetre."""

    def __init__(self, *, noun: str = "ends", **kwargs: Any) -> None:
        self.noun = noun
        super().__init__(**kwargs)

    def use(self, measures: Measures) -> None:
        super().use(measures)
        self.unit = f"per {measures.density_base}"

    def read(self, text: str) -> Density:
        return read_density(text, self.measures.density_base)

    def write(self, value: Density) -> str:
        return self.measures.field_density(value)


class PercentField(ReadField):
    """An exact share in whole millionths; a bare number is in percent."""

    unit = "%"

    def __init__(self, *, most: Fraction | None = None, **kwargs: Any) -> None:
        self.most = most
        super().__init__(**kwargs)

    def read(self, text: str) -> Fraction:
        share = (
            read_percent(text, below=None, most=self.most) if self.most is not None else read_percent(text)
        )
        if (share * 1_000_000).denominator != 1:
            raise CalcError("Give a percentage with at most four decimals.")
        return share

    def write(self, value: Fraction) -> str:
        return field_percent(Fraction(value))


class WholeField(ReadField):
    """A whole number of things."""

    def __init__(
        self,
        *,
        least: int = 0,
        most: int = 1_000_000,
        one: str = "piece",
        many: str = "pieces",
        **kwargs: Any,
    ) -> None:
        self.least, self.most, self.one, self.many = least, most, one, many
        kwargs["attrs"] = {"inputmode": "numeric"} | kwargs.get("attrs", {})
        super().__init__(**kwargs)

    def read(self, text: str) -> int:
        return read_whole(text, least=self.least, most=self.most, one=self.one, many=self.many)

    def write(self, value: int) -> str:
        return field_whole(value)


class GristField(ReadField):
    """A length per mass (`Grist`): 3360 yd/lb, 677 m/100 g, or a weighed length: 50 yd = 6.75 g."""

    def use(self, measures: Measures) -> None:
        super().use(measures)
        self.unit = measures.grist_unit

    def read(self, text: str) -> Grist:
        return read_grist(text, self.measures.grist_unit)

    def write(self, value: Grist) -> str:
        return self.measures.field_grist(value)


class OrderField(ReadField):
    """A colour order or pick order in one line (`Order`)."""

    def __init__(self, *, word: str = "ends", **kwargs: Any) -> None:
        self.word = word
        super().__init__(**kwargs)

    def read(self, text: str) -> Order:
        try:
            return read_order(text, word=self.word)
        except CalcError as error:
            if error.position is None:
                raise
            raise CalcError(f"At character {error.position}: {error.message}") from error

    def write(self, value: Order) -> str:
        return value.text


def say_what_is_missing(bound: forms.BoundField) -> None:
    """A sentence of the field's own where Django would only say that something is required."""
    field = bound.field
    if field.error_messages.get("required") is not forms.Field.default_error_messages["required"]:
        return
    if isinstance(field, forms.FileField):
        words = f"Choose a file at “{bound.label}”."
    elif isinstance(field, forms.ChoiceField):
        words = f"Choose one at “{bound.label}”."
    elif isinstance(field, forms.BooleanField):
        words = f"Tick “{bound.label}” to go on."
    else:
        words = f"Fill in “{bound.label}”: it cannot be left empty."
    field.error_messages["required"] = words


class RefusableForm(forms.Form):
    """A form that shows at its own fields what a service would not do, and says of each what is missing."""

    def full_clean(self) -> None:
        for bound in self:
            say_what_is_missing(bound)
        super().full_clean()

    def refuse(self, error: Any, names: dict[str, str] | None = None) -> None:
        """Show a service's refusal at the field it names, or above the form. `names` maps other names."""
        if isinstance(error, ValidationError):
            if hasattr(error, "error_dict"):
                for name, errors in error.error_dict.items():
                    self._add(name, errors, names)
            else:
                self.add_error(None, error)
            return
        self._add(getattr(error, "field", ""), error.message, names)

    def _add(self, name: str, what: Any, names: dict[str, str] | None) -> None:
        name = (names or {}).get(name, name)
        self.add_error(name if name in self.fields else None, what)


class MeasuredForm(RefusableForm):
    """A form whose fields read and write in the studio's units."""

    def __init__(self, *args: Any, measures: Measures, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.measures = measures
        for field in self.fields.values():
            if isinstance(field, ReadField):
                field.use(measures)
