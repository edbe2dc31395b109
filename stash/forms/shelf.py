"""What the list of the shelf is narrowed by. Its state is the address."""

from typing import Any

from django import forms

from stash.calc.writing import Measures
from stash.forms.fields import LongLengthField, ReadField
from stash.forms.seeking import NearField, SinceField
from stash.models import FibreShare, Place, Yarn
from stash.models.cone import ConeQuerySet
from stash.models.yarn import ShadeQuerySet, YarnQuerySet
from stash.services.whole_ends import least_for_an_end

IN_USE, FREE, LOW, NO_MORE, RETIRED = "", "free", "low", "no-more", "retired"
UNKNOWN = "unknown"
_ALL = {"shade": "All shades", "cone": "All cones", "kind": "All yarns"}
# A kind of yarn has neither colour nor lot; a cone is as near to a colour as its shade.
_NOT_BY = {"shade": (), "cone": ("near",), "kind": ("near", "ends", "lot", "since")}


class ShelfFilter(forms.Form):
    """Search and filters by shade or by cone. A value that is not on offer is refused at its field."""

    q = forms.CharField(
        label="Search",
        required=False,
        max_length=100,
        widget=forms.TextInput(
            attrs={"type": "search", "autocomplete": "off", "placeholder": "shade, yarn, lot, code, place"}
        ),
    )
    fibre = forms.ChoiceField(label="Fibre", required=False)
    count = forms.ChoiceField(label="Count", required=False)
    place = forms.ChoiceField(label="Place", required=False)
    show = forms.ChoiceField(label="Show", required=False)
    near = NearField(label="Near this colour", required=False)
    ends = LongLengthField(label="Whole ends of", required=False, least=1, attrs={"placeholder": "12 yd"})
    lot = forms.ChoiceField(label="Lot", required=False)
    since = SinceField(label="Not checked since", required=False)

    SELDOM = ("near", "ends", "lot", "since")
    """What stands folded below the others until it is used."""

    def __init__(self, *args: Any, by: str, measures: Measures, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        for name in _NOT_BY[by]:
            del self.fields[name]
        for field in self.fields.values():
            if isinstance(field, ReadField):
                field.use(measures)
        if "ends" in self.fields:
            self.fields["ends"].widget.attrs["placeholder"] = f"12 {measures.long_unit}"
        fibres = FibreShare.objects.order_by("fibre").values_list("fibre", flat=True).distinct()
        counts = (
            Yarn.objects.exclude(count_written="").order_by("search").values_list("count_written", flat=True)
        )
        # A kind of yarn stands nowhere; its cones do.
        places = Place.objects.values_list("pk", "name") if by != "kind" else []
        free = [(FREE, "Free only")] if by != "kind" else []
        low = [(LOW, "At or below keep level"), (NO_MORE, "No more made")] if by == "shade" else []
        offers = {
            "fibre": [("", "Any fibre"), *((fibre, fibre) for fibre in fibres)],
            "count": [("", "Any count"), *((count, count) for count in dict.fromkeys(counts))],
            "place": [("", "Any place"), *((str(pk), name) for pk, name in places)],
            "show": [(IN_USE, _ALL[by]), *free, *low, (RETIRED, "Retired")],
            "lot": [("", "Any lot"), (UNKNOWN, "Lot unknown")],
        }
        for name, choices in offers.items():
            if name not in self.fields:
                continue
            field = self.fields[name]
            field.choices = choices
            # A filter that offers no choice, in a studio that notes no places, only takes room.
            if len(choices) == 1:
                field.widget = forms.HiddenInput()
            field.error_messages["invalid_choice"] = (
                f"There is no “%(value)s” to choose by here. Nothing is narrowed by {field.label.lower()}."
            )

    def _asked(self) -> dict[str, Any]:
        return {name: value for name, value in self.cleaned_data.items() if value}

    @property
    def often(self) -> list[forms.BoundField]:
        return [field for field in self if field.name not in self.SELDOM]

    @property
    def seldom(self) -> list[forms.BoundField]:
        return [field for field in self if field.name in self.SELDOM]

    @property
    def uses_seldom(self) -> bool:
        """Is anything of what stands folded filled in?"""
        return any(field.value() for field in self.seldom)

    @property
    def near_colour(self) -> str:
        """#rrggbb by which shades are sorted, or ""."""
        return self.cleaned_data.get("near") or ""

    @property
    def end_um(self) -> int:
        """The length of the whole ends asked for; 0 where none are."""
        return self.cleaned_data.get("ends") or 0

    @property
    def is_narrowed(self) -> bool:
        return bool(self._asked() or self.errors)

    def shades(self, shades: ShadeQuerySet) -> ShadeQuerySet:
        """The shades asked for, with their stock. What was refused narrows nothing."""
        asked = self._asked()
        shades = shades.retired() if asked.get("show") == RETIRED else shades.live()
        if "q" in asked:
            shades = shades.sought(asked["q"])
        if "fibre" in asked:
            shades = shades.of_fibre(asked["fibre"])
        if "count" in asked:
            shades = shades.of_count(asked["count"])
        if "place" in asked:
            shades = shades.at_place(int(asked["place"]))
        if "lot" in asked:
            shades = shades.of_unknown_lot()
        if "since" in asked:
            shades = shades.unchecked_since(asked["since"])
        shades = shades.with_stock()
        if asked.get("show") == FREE:
            shades = shades.free()
        if asked.get("show") == LOW:
            shades = shades.at_keep_level()
        if asked.get("show") == NO_MORE:
            shades = shades.no_more_made()
        return shades

    def cones(self, cones: ConeQuerySet) -> ConeQuerySet:
        """The cones asked for. What was refused narrows nothing."""
        asked = self._asked()
        cones = cones.retired() if asked.get("show") == RETIRED else cones.live()
        if "q" in asked:
            cones = cones.matching(asked["q"])
        if "fibre" in asked:
            cones = cones.of_fibre(asked["fibre"])
        if "count" in asked:
            cones = cones.filter(shade__yarn__count_written=asked["count"])
        if "place" in asked:
            cones = cones.filter(place=int(asked["place"]))
        if "lot" in asked:
            cones = cones.of_unknown_lot()
        if "since" in asked:
            cones = cones.unchecked_since(asked["since"])
        if "ends" in asked:
            cones = cones.giving(least_for_an_end(asked["ends"]))
        if asked.get("show") == FREE:
            cones = cones.free()
        return cones

    def kinds(self, yarns: YarnQuerySet) -> YarnQuerySet:
        asked = self._asked()
        yarns = yarns.retired() if asked.get("show") == RETIRED else yarns.live()
        if "q" in asked:
            yarns = yarns.matching(asked["q"])
        if "fibre" in asked:
            yarns = yarns.of_fibre(asked["fibre"])
        if "count" in asked:
            yarns = yarns.filter(count_written=asked["count"])
        return yarns
