"""Equipment: noted, corrected, lent, taken away; by the service and by its pages."""

from datetime import date
from fractions import Fraction

import pytest
from django.urls import reverse

from stash.calc.density import UM_PER_10_CM, Density
from stash.calc.writing import Measures
from stash.models import Board, Loom, Place, Reed, Tool
from stash.services.equipment import NewReeds, add_reeds, lend, retire, save_equipment, take_back
from stash.services.refusal import ChangedMeanwhile, Refusal

pytestmark = pytest.mark.django_db

IN = 25_400
LOOM = {"name": "The big loom", "weaving_width_um": 36 * IN, "shafts": 4, "waste_um": 27 * IN}
TYPED_LOOM = {
    "name": "The big loom",
    "width": "36",
    "shafts": "4",
    "heddles": "120, 120, 100, 100",
    "waste": "27",
}


def a_loom(**changes):
    return save_equipment(kind="looms", values=LOOM | changes, heddles=(120, 120, 100, 100))


def numbers(loom):
    return [row.number for row in loom.heddles.all()]


def test_a_loom_is_noted_with_the_heddles_of_every_shaft():
    loom = a_loom()
    assert numbers(loom) == [120, 120, 100, 100]
    save_equipment(kind="looms", values=LOOM, heddles=(90,) * 4, pk=loom.pk, version=1)
    assert numbers(Loom.objects.get()) == [90] * 4


def test_every_shaft_has_its_number_of_heddles_or_none_has():
    with pytest.raises(Refusal, match="4 shafts take 4 numbers") as caught:
        save_equipment(kind="looms", values=LOOM, heddles=(120, 120))
    assert caught.value.field == "heddles"
    assert numbers(save_equipment(kind="looms", values=LOOM, heddles=())) == []


def test_a_second_save_of_the_same_version_is_refused():
    loom = a_loom()
    save_equipment(kind="looms", values=LOOM, pk=loom.pk, version=1)
    with pytest.raises(ChangedMeanwhile):
        save_equipment(kind="looms", values=LOOM, pk=loom.pk, version=1)


def test_a_name_stands_once_whatever_its_capitals():
    a_loom()
    with pytest.raises(Refusal, match="There is The big loom already") as caught:
        a_loom(name="THE BIG LOOM")
    assert caught.value.field == "name"


def test_several_reeds_are_noted_at_once_and_named_by_what_they_are():
    new = NewReeds(
        [Density(Fraction(8)), Density(Fraction(8)), Density(Fraction(50), UM_PER_10_CM)],
        24 * IN,
        place="Wall",
    )
    made = add_reeds(reeds=new, measures=Measures())
    assert [reed.name for reed in made] == [
        "8 dents per in, 24.00 in",
        "8 dents per in, 24.00 in, 2",
        "50 dents per 10 cm, 24.00 in",
    ]
    assert {reed.place for reed in made} == {Place.objects.get()}
    assert made[2].dents.number_in(IN) == Fraction("12.7")


@pytest.mark.parametrize("number", [0, 41])
def test_no_reed_or_too_many_at_once_are_refused_and_none_is_kept(number):
    with pytest.raises(Refusal):
        add_reeds(reeds=NewReeds([Density(Fraction(8))] * number, IN), measures=Measures())
    assert not Reed.objects.exists()


def test_what_is_lent_is_back_when_it_is_said():
    loom = a_loom()
    lent = lend(kind="looms", pk=loom.pk, to=" Ana ", back_on=date(2027, 1, 4))
    assert (lent.lent_to, lent.back_on, lent.version) == ("Ana", date(2027, 1, 4), 2)
    back = take_back(kind="looms", pk=loom.pk)
    assert (back.lent_to, back.back_on) == ("", None)


def test_what_is_lent_is_not_lent_on_nor_taken_away():
    loom = a_loom()
    lend(kind="looms", pk=loom.pk, to="Ana", back_on=None)
    for wrong in (
        lambda: lend(kind="looms", pk=loom.pk, to="Ben", back_on=None),
        lambda: retire(kind="looms", pk=loom.pk),
    ):
        with pytest.raises(Refusal, match="is lent to Ana"):
            wrong()


def test_what_is_kept_no_more_is_not_lent_and_can_be_used_again():
    loom = a_loom()
    retire(kind="looms", pk=loom.pk)
    with pytest.raises(Refusal, match="kept no more"):
        lend(kind="looms", pk=loom.pk, to="Ana", back_on=None)
    assert not Loom.objects.live().exists()
    retire(kind="looms", pk=loom.pk, back=True)
    assert Loom.objects.live().exists()


def test_an_empty_name_to_lend_to_names_the_field():
    with pytest.raises(Refusal) as caught:
        lend(kind="looms", pk=a_loom().pk, to="  ", back_on=None)
    assert caught.value.field == "to"


# The pages


def test_a_loom_is_noted_with_five_fields(as_owner):
    answer = as_owner.post(reverse("equipment-new", args=["looms"]), TYPED_LOOM)
    assert answer.status_code == 302
    loom = Loom.objects.get()
    assert (loom.weaving_width_um, loom.shafts, loom.waste_um) == (36 * IN, 4, 27 * IN)
    assert numbers(loom) == [120, 120, 100, 100]


def test_one_number_of_heddles_stands_for_every_shaft(as_owner):
    as_owner.post(reverse("equipment-new", args=["looms"]), TYPED_LOOM | {"heddles": "150"})
    assert numbers(Loom.objects.get()) == [150] * 4


def test_reeds_are_typed_in_one_line(as_owner):
    sent = {"dents": "8, 10; 50 per 10 cm", "length": "36", "height": "5", "place": "Wall"}
    assert as_owner.post(reverse("equipment-new", args=["reeds"]), sent).status_code == 302
    assert [reed.dents.count for reed in Reed.objects.order_by("pk")] == [8, 10, 50]
    assert Reed.objects.filter(height_um=5 * IN, place__name="Wall").count() == 3


@pytest.mark.parametrize(
    ("kind", "sent", "field"),
    [
        ("looms", TYPED_LOOM | {"width": "wide"}, "width"),
        ("looms", TYPED_LOOM | {"shafts": "41"}, "shafts"),
        ("looms", TYPED_LOOM | {"heddles": "120, 120"}, "heddles"),
        ("looms", TYPED_LOOM | {"heddles": "many"}, "heddles"),
        ("looms", TYPED_LOOM | {"left": "2"}, "left_ends"),
        ("looms", TYPED_LOOM | {"busy_until": "2027-01-04"}, "busy_with"),
        ("reeds", {"dents": "8, x", "length": "36"}, "dents"),
        ("reeds", {"dents": "", "length": "36"}, "dents"),
        ("boards", {"name": "Board", "kind": "board", "step": "36", "longest": "0.5"}, "longest"),
        ("boards", {"name": "Board", "kind": "sword", "step": "36", "longest": "14"}, "kind"),
        ("tools", {"name": "Temple", "kind": "temple", "number": "1", "narrowest": "20"}, "widest"),
        (
            "tools",
            {"name": "Temple", "kind": "temple", "number": "1", "narrowest": "20", "widest": "14"},
            "widest",
        ),
    ],
)
def test_what_cannot_be_taken_is_said_at_its_field_and_nothing_is_kept(as_owner, kind, sent, field):
    answer = as_owner.post(reverse("equipment-new", args=[kind]), sent)
    assert answer.status_code == 422
    assert field in answer.context["form"].errors
    assert not any(model.objects.exists() for model in (Loom, Reed, Board, Tool))


def test_boards_and_tools_are_noted_and_corrected(as_owner):
    as_owner.post(
        reverse("equipment-new", args=["boards"]),
        {"name": "Board", "kind": "mill", "step": "80", "longest": "20", "most_ends": "100"},
    )
    as_owner.post(
        reverse("equipment-new", args=["tools"]),
        {"name": "Pirn", "kind": "bobbin", "number": "24", "holds": "14 g"},
    )
    board, tool = Board.objects.get(), Tool.objects.get()
    assert (board.kind, board.step_um, board.most_ends) == ("mill", 80 * IN, 100)
    assert (tool.number, tool.holds_mg) == (24, 14_000)
    sent = {"name": "Pirn", "kind": "bobbin", "number": "30", "holds": "", "version": "1"}
    as_owner.post(reverse("equipment-page", args=["tools", tool.pk]), sent)
    tool.refresh_from_db()
    assert (tool.number, tool.holds_mg) == (30, None)


def test_a_stale_form_shows_both_texts(as_owner):
    loom = a_loom()
    save_equipment(kind="looms", values=LOOM | {"waste_um": 20 * IN}, pk=loom.pk, version=1)
    sent = TYPED_LOOM | {"version": "1", "waste": "25"}
    answer = as_owner.post(reverse("equipment-page", args=["looms", loom.pk]), sent)
    assert answer.status_code == 422
    assert "Stands there now: <b>20</b>" in answer.content.decode()


def test_a_loan_and_its_return_by_a_helper(as_helper):
    loom = a_loom()
    sent = {"to": "Ana", "back_on": "2027-01-04"}
    answer = as_helper.post(reverse("equipment-lend", args=["looms", loom.pk]), sent, follow=True)
    assert "The big loom is with Ana, to be back on 4 January." in answer.content.decode()
    as_helper.post(reverse("equipment-back", args=["looms", loom.pk]))
    loom.refresh_from_db()
    assert not loom.is_lent


def test_a_loan_without_a_name_is_refused_at_its_field(as_helper):
    answer = as_helper.post(reverse("equipment-lend", args=["looms", a_loom().pk]), {"to": ""})
    assert answer.status_code == 422
    assert "to" in answer.context["form"].errors


def test_a_lent_thing_is_not_taken_away_by_its_page(as_owner):
    loom = a_loom()
    lend(kind="looms", pk=loom.pk, to="Ana", back_on=None)
    answer = as_owner.post(reverse("equipment-retire", args=["looms", loom.pk]), follow=True)
    assert "note that it is back first" in answer.content.decode()
    take_back(kind="looms", pk=loom.pk)
    as_owner.post(reverse("equipment-retire", args=["looms", loom.pk]))
    assert not Loom.objects.live().exists()


def test_a_visitor_reads_what_is_known_of_a_thing(as_viewer):
    text = as_viewer.get(reverse("equipment-page", args=["looms", a_loom().pk])).content.decode()
    assert "36.00 in" in text
    assert "120, 120, 100, 100" in text
    assert "csrfmiddlewaretoken" not in text.split("<main")[1]


def test_a_kind_that_is_none_is_not_found(as_owner):
    assert as_owner.get("/equipment/carts/1/").status_code == 404
    assert as_owner.get("/equipment/carts/new/").status_code == 404
