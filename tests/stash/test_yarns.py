"""What is known of a yarn: which length per mass is used, fibres, names, and who may retire when."""

from itertools import product

import pytest
from django.core.exceptions import ValidationError

from stash.calc.counts import CountSystem, read_count
from stash.calc.grist import Grist
from stash.models import FibreShare, GristSource, Shade, Yarn
from stash.services.cones import retire_cone
from stash.services.refusal import ChangedMeanwhile, Refusal
from stash.services.yarns import (
    YarnFacts,
    retire_shade,
    retire_yarn,
    save_shade,
    save_yarn,
    trusted_grist,
)
from tests.factories import make_cone, make_shade, make_yarn

pytestmark = pytest.mark.django_db

COUNT = read_count("8/2", CountSystem.COTTON)
FIGURES = {"measured": Grist(6_500, 1), "stated": Grist(6_700, 1), "computed": COUNT.grist}


def facts_of(*known: str, choice: str = "", **more) -> YarnFacts:
    """Facts with only the named figures known."""
    return YarnFacts(
        name="Plain cotton",
        count=COUNT if "computed" in known else None,
        measured=FIGURES["measured"] if "measured" in known else None,
        stated=FIGURES["stated"] if "stated" in known else None,
        choice=choice,
        **more,
    )


@pytest.mark.parametrize("present", [one for one in product((True, False), repeat=3) if any(one)])
def test_measured_is_trusted_before_stated_and_stated_before_computed(present):
    known = [name for name, there in zip(FIGURES, present, strict=True) if there]
    assert trusted_grist(facts_of(*known)) == (known[0], FIGURES[known[0]])


@pytest.mark.parametrize("choice", FIGURES)
def test_the_persons_choice_goes_before_the_order(choice):
    yarn = save_yarn(facts=facts_of(*FIGURES, choice=choice))
    assert (yarn.grist_source, yarn.grist, yarn.grist_choice) == (choice, FIGURES[choice], choice)


@pytest.mark.parametrize("choice", FIGURES)
def test_a_choice_of_what_is_not_known_is_refused(choice):
    others = [name for name in FIGURES if name != choice]
    with pytest.raises(Refusal, match="but there is none") as refused:
        save_yarn(facts=facts_of(*others, choice=choice))
    assert refused.value.field == "choice"
    assert not Yarn.objects.exists()


def test_a_yarn_without_any_figure_is_refused():
    with pytest.raises(Refusal, match="no length can be reckoned") as refused:
        save_yarn(facts=facts_of())
    assert refused.value.field == "count"


def test_a_yarn_without_a_count_lives_by_its_length_per_mass():
    yarn = Yarn.objects.get(pk=save_yarn(facts=facts_of("stated")).pk)
    assert (yarn.count, yarn.count_written, yarn.grist_source) == (None, "", GristSource.STATED)


def test_the_count_is_kept_as_it_is_meant():
    yarn = Yarn.objects.get(pk=save_yarn(facts=facts_of("computed")).pk)
    assert yarn.count == COUNT
    assert yarn.count_written == "8/2 cotton"


def test_saving_again_takes_away_what_is_no_longer_said():
    yarn = save_yarn(facts=facts_of(*FIGURES, fibres={"cotton": 100}, note="soft"))
    save_yarn(facts=facts_of("stated"), pk=yarn.pk, version=yarn.version)
    yarn = Yarn.objects.get()
    assert (yarn.count, yarn.measured_um, yarn.measured_mg, yarn.note) == (None, None, None, "")
    assert (yarn.grist, yarn.version, yarn.fibres.count()) == (FIGURES["stated"], 2, 0)


def test_a_second_save_of_an_older_form_is_refused_with_what_stands_there():
    yarn = make_yarn()
    save_yarn(facts=facts_of("stated", note="theirs"), pk=yarn.pk, version=1)
    with pytest.raises(ChangedMeanwhile) as refused:
        save_yarn(facts=facts_of("stated", note="mine"), pk=yarn.pk, version=1)
    assert refused.value.current.note == "theirs"
    assert Yarn.objects.get().note == "theirs"


@pytest.mark.parametrize(
    "fibres",
    [
        {"cotton": 99},
        {"cotton": 60, "linen": 41},
        {"cotton": 150, "linen": -50},
        {"cotton": 100, "linen": 0},
        {"cotton": 50, "Cotton ": 50},
        {"": 100},
        {"f" * 41: 100},
    ],
)
def test_fibres_that_do_not_make_a_hundred_are_refused_and_nothing_is_written(fibres):
    yarn = make_yarn(fibres={"cotton": 60, "linen": 40})
    with pytest.raises(Refusal) as refused:
        save_yarn(facts=facts_of("computed", fibres=fibres, note="new"), pk=yarn.pk)
    assert refused.value.field == "fibres"
    assert list(FibreShare.objects.values_list("fibre", "percent")) == [("cotton", 60), ("linen", 40)]
    assert Yarn.objects.get().note == ""


@pytest.mark.parametrize("fibres", [{}, {"wool": 100}, {"wool": 33, "silk": 33, "linen": 34}])
def test_fibres_that_make_a_hundred_are_kept_the_most_first(fibres):
    yarn = make_yarn(fibres=fibres)
    assert dict(yarn.fibres.values_list("fibre", "percent")) == fibres
    assert sum(fibres.values()) in (0, 100)


@pytest.mark.parametrize("name", ["Plain cotton", "PLAIN cotton "])
def test_a_yarns_name_is_its_own_in_any_capitals(name):
    make_yarn()
    with pytest.raises(Refusal, match="There is a yarn Plain cotton already") as refused:
        make_yarn(name)
    assert refused.value.field == "name"


def test_a_name_that_is_empty_or_too_long_is_refused_at_its_field():
    for name in ("", "y" * 81):
        with pytest.raises(ValidationError) as refused:
            make_yarn(name)
        assert list(refused.value.message_dict) == ["name"]


def test_a_shades_name_is_its_own_within_the_yarn():
    spruce = make_shade("Spruce")
    with pytest.raises(Refusal, match="has the shade Spruce already"):
        make_shade("sprucE", yarn=spruce.yarn)
    assert make_shade("Spruce", yarn=make_yarn("Other cotton")).name == "Spruce"
    assert save_shade(yarn_id=spruce.yarn_id, name="SPRUCE", pk=spruce.pk, version=1).name == "SPRUCE"


@pytest.mark.parametrize(
    ("facts", "field"),
    [({"name": ""}, "name"), ({"colour": "green"}, "colour"), ({"colour": "#12345"}, "colour")],
)
def test_a_shades_facts_are_refused_at_their_field(facts, field):
    with pytest.raises(ValidationError) as refused:
        save_shade(**{"yarn_id": make_yarn().pk, "name": "Spruce"} | facts)
    assert list(refused.value.message_dict) == [field]
    assert not Shade.objects.exists()


def test_a_keep_level_of_nothing_is_refused_in_words():
    with pytest.raises(ValidationError, match="leave it empty for none"):
        save_shade(yarn_id=make_yarn().pk, name="Spruce", keep_mg=0)


def test_changing_a_shade_never_moves_it_to_another_yarn():
    shade, other = make_shade(), make_yarn("Other cotton")
    assert save_shade(yarn_id=other.pk, name="Pine", pk=shade.pk).yarn_id == shade.yarn_id


def test_a_second_save_of_an_older_shade_form_is_refused():
    shade = make_shade()
    save_shade(yarn_id=shade.yarn_id, name="Pine", pk=shade.pk, version=1)
    with pytest.raises(ChangedMeanwhile):
        save_shade(yarn_id=shade.yarn_id, name="Fir", pk=shade.pk, version=1)
    assert Shade.objects.get().name == "Pine"


def test_things_retire_from_the_cone_up_and_come_back_from_the_yarn_down(owner):
    cone = make_cone(by=owner)
    shade, yarn = cone.shade, cone.shade.yarn
    with pytest.raises(Refusal, match="Cones of Spruce stand on the shelf"):
        retire_shade(pk=shade.pk)
    with pytest.raises(Refusal, match="Plain cotton has shades in use"):
        retire_yarn(pk=yarn.pk)
    retire_cone(pk=cone.pk, by=owner, reason="empty")
    retire_shade(pk=shade.pk)
    retire_yarn(pk=yarn.pk)
    assert not Yarn.objects.live().exists() and not Shade.objects.live().exists()

    with pytest.raises(Refusal, match="Bring the yarn back first"):
        retire_shade(pk=shade.pk, back=True)
    with pytest.raises(Refusal, match="Bring the yarn back"):
        make_shade("Rust", yarn=yarn)
    retire_yarn(pk=yarn.pk, back=True)
    retire_shade(pk=shade.pk, back=True)
    assert Yarn.objects.live().exists() and Shade.objects.live().exists()


def test_retiring_makes_older_forms_stale():
    shade = make_shade()
    retire_shade(pk=shade.pk)
    with pytest.raises(ChangedMeanwhile):
        save_shade(yarn_id=shade.yarn_id, name="Pine", pk=shade.pk, version=1)


def test_searching_finds_a_shade_by_yarn_count_and_fibre_whatever_the_accents():
    shade = make_shade("Épinette", yarn=make_yarn(fibres={"cotton": 100}))
    for text in ("epinette", "ÉPINETTE", "8/2", "plain cotton", "cotton epin", ""):
        assert list(Shade.objects.matching(text)) == [shade], text
    for text in ("linen", "epinette 20/2", "%", "_"):
        assert not Shade.objects.matching(text).exists(), text
