"""What came of an order: checked against the line it was ordered by, and counted there."""

from dataclasses import dataclass

from stash.models import Cone, Order, OrderLine, OrderLot
from stash.models.folding import fold
from stash.services.ordering import lock_order, settle
from stash.services.refusal import Refusal

NAMED = 6


@dataclass(frozen=True, slots=True)
class OfOrder:
    """Of which line cones are taken in. `came` is how many had come when the form was opened; the ticks say that the
    person knows that more came than was ordered, or another lot."""

    line_id: int
    came: int
    is_more: bool = False
    is_own_lot: bool = False


class CameMeanwhile(Refusal):
    """Cones of the same line were taken in since the form was opened; `came` is how many have come by now."""

    def __init__(self, message: str, came: int) -> None:
        super().__init__(message)
        self.came = came


def lock_line(line_id: int) -> tuple[Order, OrderLine]:
    """The order, locked and one version on, and its line as it stands. Raises Refusal."""
    known = OrderLine.objects.filter(pk=line_id).values_list("order", flat=True).first()
    if known is None:
        raise Refusal("There is no such line of an order any more.")
    order = lock_order(known, None)
    line = OrderLine.objects.select_related("shade__yarn", "lot").filter(pk=line_id).first()
    if line is None:
        raise Refusal("There is no such line of an order any more.")
    if order.ordered_on is None:
        raise Refusal(f"{order} was not sent yet. Mark it as ordered first.")
    return order, line


def check_line(line: OrderLine, said: OfOrder, *, number: int, lot: str) -> None:
    """Is that what was ordered? Raises CameMeanwhile, or Refusal at the tick that would have it all the same."""
    if said.came != line.came:
        raise CameMeanwhile(_came_already(line), line.came)
    left = line.number - line.came
    if number > left and not said.is_more:
        over = number - max(0, left)
        raise Refusal(
            f"{line.number} were ordered, {line.came} came before, and these are {number}: {over} more than was "
            "ordered. Tick here if that is so, else leave lines empty.",
            field="is_more",
        )
    if not said.is_own_lot and (words := _other_lot(line, lot)):
        raise Refusal(f"{words} Tick here to keep it as a lot of its own.", field="is_own_lot")


def count_in(order: Order, line: OrderLine, number: int) -> None:
    """So many more came of a locked order's line; what was cancelled and came all the same is cancelled no more."""
    line.came += number
    line.cancelled = min(line.cancelled, max(0, line.number - line.came))
    line.save(update_fields=["came", "cancelled"])
    settle(order)


def await_again(order: Order, line: OrderLine, cone: Cone) -> None:
    """A cone that was taken in for a line did not come after all: the line awaits it again. All three are locked."""
    line.came = max(0, line.came - 1)
    line.save(update_fields=["came"])
    cone.order_line = None
    cone.save(update_fields=["order_line"])
    settle(order)


def line_awaiting(cone: Cone) -> OrderLine | None:
    """The line that awaits again a cone which was to go back, in the order by which it came; None for none."""
    if cone.order_line_id or not cone.delivery_id:
        return None
    lines = OrderLine.objects.awaited().filter(order__deliveries=cone.delivery_id, shade=cone.shade_id)
    return min(lines, key=lambda line: (line.form != cone.form, line.pk), default=None)


def count_in_again(order: Order, cone: Cone) -> None:
    """A cone that was to go back stays: what awaits it awaits it no more, so that it is not both here and on order.
    Both are locked."""
    line = line_awaiting(cone)
    if line is None:
        return
    cone.order_line = line
    cone.save(update_fields=["order_line"])
    count_in(order, line, 1)


def _came_already(line: OrderLine) -> str:
    cones = list(line.cones.order_by("-pk")[: NAMED + 1])
    if not cones:
        return "The line was changed since this page was opened: nothing has come of it now. Keep once more if it has."
    codes = ", ".join(cone.code for cone in reversed(cones[:NAMED]))
    more = " and others" if len(cones) > NAMED else ""
    last = cones[0].received_at
    return (
        f"Of this line {line.came} came already, the last on {last.day} {last:%B %Y}: {codes}{more}. "
        "If these are further ones, keep them once more; else leave it."
    )


def _other_lot(line: OrderLine, lot: str) -> str:
    """What is wrong with the lot that came, in a sentence; "" where it is the one asked for."""
    came = f"lot {lot.strip()}" if lot.strip() else "of unknown lot"
    if line.lot_wish == OrderLot.MATCH and line.lot:
        if fold(lot) != fold(line.lot.name):
            return f"Lot {line.lot.name} was asked for, and this is {came}."
    elif line.lot_wish == OrderLot.ONE:
        names = {cone.lot.name if cone.lot else "" for cone in line.cones.select_related("lot")}
        others = sorted(name for name in names if fold(name) != fold(lot))
        if others:
            first = f"lot {others[0]}" if others[0] else "of unknown lot"
            return f"All of one lot was asked for: what came before is {first}, this is {came}."
    return ""
