"""Kinds of core: kept, offered, corrected with what that changes shown first."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from stash.models import Cone, CoreKind, EntryKind
from stash.services.books import check_books
from stash.services.cores import add_core, change_core, changes_of
from stash.services.refusal import ChangedMeanwhile, Refusal
from stash.services.weighing import weigh
from tests.factories import GRAM, make_cone, make_shade
from tests.stash.reading import Read
from tests.stash.sending import send, typed


@pytest.fixture
def paper(owner):
    return add_core(name="Paper cone", mass_mg=34 * GRAM)


@pytest.fixture
def cones(paper, owner):
    """One last weighed with its core, one of the yarn alone."""
    shade = make_shade("Spruce")
    first = make_cone(shade, scale_mg=284 * GRAM, gross=True, core_kind=paper, code="K-1")
    second = make_cone(shade, scale_mg=300 * GRAM, gross=True, core_kind=paper, code="K-2")
    weigh(cone_id=second.pk, scale_mg=200 * GRAM, gross=False, by=owner)
    return first, second


def nets():
    return list(Cone.objects.order_by("code").values_list("on_hand_mg", "core_mg"))


def test_a_kind_of_core_is_one_whatever_the_case(paper):
    with pytest.raises(Refusal, match="Paper cone already"):
        add_core(name=" paper CONE ", mass_mg=5)


def test_correcting_the_mass_follows_the_scale_where_the_scale_had_the_core(cones, paper, owner):
    assert [(one.cone.code, one.net_mg, one.change_mg) for one in changes_of(paper, 40 * GRAM)] == [
        ("K-1", 244_000, -6_000),
        ("K-2", None, 0),
    ]
    change_core(pk=paper.pk, version=1, name="Paper cone", mass_mg=40 * GRAM, by=owner)
    assert nets() == [(244_000, 40_000), (200_000, 40_000)]
    entry = cones[0].entries.first()
    assert (entry.kind, entry.change_mg, entry.gross_mg) == (EntryKind.CORRECTED, -6_000, 284_000)
    assert entry.reason == "core weighed again: Paper cone"
    assert cones[1].entries.count() == 2
    assert [fault.words for fault in check_books() if "guard" not in fault.words] == []


def test_a_core_heavier_than_a_cone_was_changes_nothing(cones, paper, owner):
    with pytest.raises(Refusal, match="K-1 weighed less than that") as refused:
        change_core(pk=paper.pk, version=1, name="Paper cone", mass_mg=285 * GRAM, by=owner)
    assert refused.value.field == "mass"
    assert CoreKind.objects.get().mass_mg == 34_000
    assert nets() == [(250_000, 34_000), (200_000, 34_000)]


def test_another_name_changes_no_cone_and_a_second_save_is_refused(cones, paper, owner):
    change_core(pk=paper.pk, version=1, name="Grey cone", mass_mg=34 * GRAM, by=owner)
    assert nets() == [(250_000, 34_000), (200_000, 34_000)]
    with pytest.raises(ChangedMeanwhile):
        change_core(pk=paper.pk, version=1, name="Brown cone", mass_mg=34 * GRAM, by=owner)


def test_the_page_shows_what_would_change_before_it_does(as_owner, cones, paper):
    asked = send(as_owner, "core-edit", paper.pk, name="Paper cone", mass="40", version="1")
    page = Read(asked)
    assert "Nothing has been kept yet." in page.text
    assert page.row("K-1")[1:] == ["250 g", "244 g", "−6.0 g"]
    assert page.row("K-2")[1:] == ["200 g", "as it is", "none"]
    assert nets()[0] == (250_000, 34_000)
    done = send(
        as_owner, "core-edit", paper.pk, name="Paper cone", mass="40", version="1", seen=page.value("seen")
    )
    assert "Paper cone weighs 40 g. 1 cone changed by an entry." in Read(as_owner.get(done.url)).text
    assert nets()[0] == (244_000, 40_000)


def test_another_figure_than_the_one_seen_is_shown_again(as_owner, cones, paper):
    answer = send(as_owner, "core-edit", paper.pk, name="Paper cone", mass="41", version="1", seen="40000")
    assert "Nothing has been kept yet." in Read(answer).text
    assert nets()[0] == (250_000, 34_000)


@pytest.mark.parametrize(
    ("field", "text"), [("mass", "heavy"), ("mass", "-1"), ("mass", "6 kg"), ("name", "")]
)
def test_what_cannot_be_is_refused_at_its_field(as_owner, paper, field, text):
    for name, args in (("cores", ()), ("core-edit", (paper.pk,))):
        refused = send(
            as_owner, name, *args, **{"name": "Tube", "mass": "20", "version": "1"} | {field: text}
        )
        assert refused.status_code == 422
        assert field in Read(refused).errors
    assert CoreKind.objects.get().name == "Paper cone"


def test_a_new_kind_stands_in_the_table_and_in_the_forms(as_owner, cones):
    send(as_owner, "cores", name="Plastic tube", mass="20")
    assert Read(as_owner.get(reverse("cores"))).row("Plastic tube")[1:] == ["20 g", "0"]
    for name, args in (("cone-add", []), ("cone-edit", [cones[0].pk]), ("receive", [])):
        assert "Plastic tube, 20 g" in Read(as_owner.get(reverse(name, args=args))).text


def test_quick_add_takes_the_weight_of_the_kind(as_owner, cones, paper):
    fields = {"yarn": str(cones[0].shade.yarn_id), "shade": "Spruce", "weight": "134", "scale": "gross"}
    send(as_owner, "cone-add", **fields, core_kind=str(paper.pk), code="K-3")
    cone = Cone.objects.get(code="K-3")
    assert (cone.on_hand_mg, cone.core_mg, cone.core_kind) == (100_000, 34_000, paper)
    refused = send(as_owner, "cone-add", **fields, core_kind=str(paper.pk), core="30")
    assert "weighs something else" in Read(refused).errors["core"][0]


def test_editing_a_cone_changes_its_kind_or_leaves_it(as_owner, cones, paper):
    tube = add_core(name="Tube", mass_mg=20 * GRAM)
    page = typed(as_owner, "cone-edit", cones[0].pk, core_kind=str(tube.pk))
    send(as_owner, "cone-edit", cones[0].pk, **page)
    cone = Cone.objects.get(code="K-1")
    assert (cone.core_kind, cone.core_mg, cone.on_hand_mg) == (tube, 20_000, 264_000)
    send(as_owner, "cone-edit", cone.pk, **typed(as_owner, "cone-edit", cone.pk, core="24"))
    cone = Cone.objects.get(code="K-1")
    assert (cone.core_kind, cone.core_mg, cone.on_hand_mg) == (None, 24_000, 260_000)


def test_the_cones_of_a_correction_are_looked_up_together(as_owner, cones, paper):
    counts = []
    for _ in range(2):
        with CaptureQueriesContext(connection) as caught:
            send(as_owner, "core-edit", paper.pk, name="Paper cone", mass="40", version="1")
        counts.append(len(caught))
        for _ in range(3):
            make_cone(cones[0].shade, scale_mg=284 * GRAM, gross=True, core_kind=paper)
    assert counts[0] == counts[1], [query["sql"] for query in caught]


def test_two_who_edit_a_cone_see_the_kinds_by_name(as_owner, cones, paper):
    page = typed(as_owner, "cone-edit", cones[0].pk)
    send(as_owner, "cone-edit", cones[0].pk, **page)
    text = Read(send(as_owner, "cone-edit", cones[0].pk, **page | {"core_kind": ""})).text
    assert "Stands there now: Paper cone, 34" in text


def test_twice_the_kinds_take_the_same_number_of_queries(as_owner, paper):
    counts = []
    for number in range(2):
        with CaptureQueriesContext(connection) as caught:
            as_owner.get(reverse("cores"))
        counts.append(len(caught))
        add_core(name=f"Core {number}", mass_mg=5)
    assert counts[0] == counts[1]
