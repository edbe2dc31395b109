"""A proposed order as a form: which shades, how many of each, and of which lot."""

from collections.abc import Mapping
from typing import Any

from django import forms

from projects.buying.proposals import Proposed
from projects.buying.writing import Chosen
from stash.forms.fields import MeasuredForm, WholeField
from stash.models import OrderLot
from stash.models.order import MOST_PACKAGES
from stash.services.ordering import NewLine
from stash.services.suppliers import price_of

MOST_DIGITS = 18


class ProposalForm(MeasuredForm):
    """Fields of each line carry the key of its shade: take-7, number-7, lot-7."""

    def __init__(self, data: Any, *, proposed: Proposed, **kwargs: Any) -> None:
        super().__init__(data, **kwargs)
        self.proposed = proposed
        for line in proposed.lines:
            self._add_line(line)

    def _add_line(self, line: Any) -> None:
        name, pk = line.shade.name, line.pk
        # What asks for it only for a buffer or by an estimate is offered, not ticked.
        self.fields[f"take-{pk}"] = forms.BooleanField(
            label=f"Order {name}", required=False, initial=line.asking.must
        )
        number = WholeField(
            label=f"How many of {name}",
            least=max(1, line.put_up.least),
            most=MOST_PACKAGES,
            one="package",
            many="packages",
            required=False,
            initial=line.number,
            attrs={"aria-label": f"How many of {name}"},
        )
        number.use(self.measures)
        self.fields[f"number-{pk}"] = number
        self.fields[f"lot-{pk}"] = forms.ChoiceField(
            label=f"Which lot of {name}",
            choices=line.lots,
            initial=line.lot,
            widget=forms.Select(attrs={"aria-label": f"Which lot of {name}"}),
            error_messages={"invalid_choice": "Choose from the list which lot is asked for."},
        )
        for kind, value in (("put_up", line.put_up.pk), ("mass", line.put_up.mass_mg), ("seen", line.seen)):
            self.fields[f"{kind}-{pk}"] = forms.IntegerField(
                initial=value, min_value=0, max_value=10**MOST_DIGITS, widget=forms.HiddenInput
            )

    def clean(self) -> dict[str, Any]:
        data = super().clean() or {}
        for line in self.proposed.lines:
            number = f"number-{line.pk}"
            if not data.get(f"take-{line.pk}"):
                # What is not ordered need not be right.
                self.errors.pop(number, None)
            elif data.get(number) is None and number not in self.errors:
                self.add_error(number, f"Say how many of {line.shade.name}, or untick it.")
            if f"put_up-{line.pk}" in self.errors or data.get(f"put_up-{line.pk}") != line.put_up.pk:
                self.errors.pop(f"put_up-{line.pk}", None)
                self.add_error(
                    None,
                    f"What is proposed of {line.shade.name} has changed since this page was loaded. "
                    "Look at it again.",
                )
        return data

    @property
    def numbers(self) -> Mapping[int, int]:
        """How many of each shade that is ticked, as far as they can be read; as proposed before anything is typed."""
        if not self.is_bound:
            return {line.pk: line.number for line in self.proposed.lines if line.asking.must}
        self.is_valid()
        data = self.cleaned_data
        return {
            line.pk: data.get(f"number-{line.pk}") or 0
            for line in self.proposed.lines
            if data.get(f"take-{line.pk}")
        }

    def chosen(self) -> list[Chosen]:
        """The ticked lines, in their order."""
        found = []
        for line in self.proposed.lines:
            number = self.numbers.get(line.pk)
            if not number:
                continue
            data = self.cleaned_data
            wish, _, lot_id = data[f"lot-{line.pk}"].partition("-")
            new = NewLine(
                shade_id=line.pk,
                number=number,
                mass_mg=data[f"mass-{line.pk}"],
                form=line.put_up.form,
                put_up_id=line.put_up.pk,
                price_cents=price_of(line.put_up, number),
                lot_wish=wish,
                lot_id=int(lot_id) if wish == OrderLot.MATCH else None,
                need_on=line.asking.need_on,
                reason=line.reason,
            )
            found.append(Chosen(new, data[f"seen-{line.pk}"]))
        return found

    def names(self) -> dict[str, str]:
        """Where a service counts lines from one, the field of the line."""
        keys = [one.line.shade_id for one in self.chosen()]
        names = {"number": "number", "lot_wish": "lot", "lot": "lot"}
        return {
            f"{theirs}-{at}": f"{ours}-{key}"
            for at, key in enumerate(keys, start=1)
            for theirs, ours in names.items()
        }
