"""How a warp is wound and a loom dressed: choices that stand in the address of a sheet, none of them kept."""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.http import QueryDict

from projects.bench.ticket import Choices
from projects.models import Project
from stash.calc.bobbins import USUAL_MG
from stash.calc.density import UM_PER_CM, UM_PER_INCH
from stash.calc.loom_lists import MOST_GROUP, USUAL_GROUP
from stash.calc.passes import MOST_AT_ONCE
from stash.forms.fields import MassField, MeasuredForm, ShortLengthField, WholeField
from stash.models import Board, Tool, ToolKind

USUAL_SECTION_UM = 50_800
"""Sections of a sectional beam are an inch or two wide; in centimetres five."""


class SheetForm(MeasuredForm):
    """Choices by GET: what the address does not say is as `usual` has it, and what cannot be read is said."""

    def __init__(self, data: QueryDict, *, usual: Mapping[str, Any], **kwargs: Any) -> None:
        super().__init__({}, **kwargs)
        shown = {name: self.fields[name].prepare_value(value) for name, value in usual.items()}
        given = {name: data[name] for name in self.fields if name in data}
        self.data = {name: "" if value is None else value for name, value in (shown | given).items()}
        self.usual = usual

    def value(self, name: str) -> Any:
        """What was chosen, or the usual where nothing that can be read was."""
        self.is_valid()
        found = self.cleaned_data.get(name)
        return self.usual.get(name) if found is None or found == "" else found


class TicketForm(SheetForm):
    k = WholeField(label="Threads at once", least=1, most=MOST_AT_ONCE, one="thread", many="threads")
    bout = WholeField(label="Ends in a bout, at most", required=False, least=2, one="end", many="ends")
    board = forms.ModelChoiceField(
        Board.objects.none(), label="Board or mill", required=False, empty_label="none chosen"
    )
    single = forms.BooleanField(label="Begin with a single end", required=False)
    singly = forms.BooleanField(label="Like ends one by one, from one package", required=False)
    apart = forms.BooleanField(label="Accents wound apart", required=False)
    section = ShortLengthField(
        label="Sectional beam, width of a section", required=False, least=1, most=1_000_000
    )

    def __init__(self, data: QueryDict, *, project: Project, **kwargs: Any) -> None:
        self.board_by_usual = project.board or _only_board()
        usual = {
            "k": project.at_once,
            "board": self.board_by_usual.pk if self.board_by_usual else None,
        }
        super().__init__(data, usual=usual, **kwargs)
        boards = self.fields["board"]
        assert isinstance(boards, forms.ModelChoiceField)
        boards.queryset = Board.objects.live()

    @property
    def board_chosen(self) -> Board | None:
        self.is_valid()
        if "board" in self.cleaned_data:
            return self.cleaned_data["board"]
        return self.board_by_usual

    @property
    def choices(self) -> Choices:
        board = self.board_chosen
        return Choices(
            at_once=self.value("k"),
            single_first=bool(self.value("single")),
            bout=self.value("bout"),
            like_singly=bool(self.value("singly")),
            accents_apart=bool(self.value("apart")),
            step_um=board.step_um if board else None,
            longest_um=board.longest_um if board else None,
            most_ends=board.most_ends if board else None,
        )


class ThreadingForm(SheetForm):
    group = WholeField(label="Ends in a group", least=2, most=MOST_GROUP, one="end", many="ends")
    mark = ShortLengthField(label="Check the reed at every", least=UM_PER_CM // 2, most=1_000_000)

    def __init__(self, data: QueryDict, **kwargs: Any) -> None:
        inches = kwargs["measures"].length == "imperial"
        usual = {"group": USUAL_GROUP, "mark": UM_PER_INCH if inches else UM_PER_CM}
        super().__init__(data, usual=usual, **kwargs)


class WeftSheetForm(SheetForm):
    bobbin = MassField(label="A bobbin holds", least=1)

    def __init__(self, data: QueryDict, *, holds_mg: int, **kwargs: Any) -> None:
        super().__init__(data, usual={"bobbin": holds_mg}, **kwargs)


def _only_board() -> Board | None:
    """The studio's board or mill if it has but one: nobody needs to be asked then."""
    boards = list(Board.objects.live()[:2])
    return boards[0] if len(boards) == 1 else None


def bobbin_mg() -> int:
    """What the studio's smallest bobbin holds, so that no count is too low; else what is usual."""
    known = Tool.objects.live().filter(kind=ToolKind.BOBBIN).exclude(holds_mg=None)
    return known.order_by("holds_mg").values_list("holds_mg", flat=True).first() or USUAL_MG
