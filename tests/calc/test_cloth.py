"""The picture of the cloth, counted pixel by pixel, and the cloth in words."""

from fractions import Fraction
from time import perf_counter

import pytest

from stash.calc.cloth import (
    FLOATING_LEFT,
    FLOATING_RIGHT,
    LEVELS,
    MOST_COLOURS,
    cloth_picture,
    palette_of,
    picks_within,
)
from stash.calc.cloth_words import describe_cloth, shortest_repeat
from stash.calc.draft import read_draft
from stash.calc.errors import CalcError
from stash.calc.structure import structure

INK, CHALK, MADDER = (39, 49, 79), (244, 240, 230), (156, 54, 38)
COLOURS = (INK, CHALK, MADDER)


def picture(ends, picks, key="plain", **sizes):
    sizes = {"end_um": 1000, "pick_um": 1000, "width_px": len(ends) * 5} | sizes
    return cloth_picture(ends, picks, structure(key) if isinstance(key, str) else key, COLOURS, **sizes)


def of_thread(colour):
    return set(palette_of([colour]))


def top_colours(cloth, ends, picks):
    """Which thread colour lies on top at each crossing, bottom pick first."""
    return [
        [next(i for i, colour in enumerate(COLOURS) if cloth.colour_at(end, pick) in of_thread(colour))
         for end in range(ends)]
        for pick in range(picks)
    ]  # fmt: skip


def test_the_warp_shows_where_the_structure_lifts_it_and_the_weft_elsewhere():
    cloth = picture([0] * 8, [1] * 8, "twill-2-2")
    twill = structure("twill-2-2")
    assert top_colours(cloth, 8, 8) == [
        [0 if twill.up(end, pick) else 1 for end in range(8)] for pick in range(8)
    ]


def test_plain_weave_of_two_colours_alternating_both_ways_shows_level_lines():
    # Log cabin: common practice, no source. The dark ends are up while the dark pick is woven, so that row is dark.
    cloth = picture([0, 1] * 4, [0, 1] * 4)
    assert top_colours(cloth, 8, 8) == [[0] * 8, [1] * 8] * 4


def test_begun_with_the_other_colour_the_same_weave_shows_upright_lines():
    # The other block of log cabin: common practice, no source.
    cloth = picture([0, 1] * 4, [1, 0] * 4)
    assert top_colours(cloth, 8, 8) == [[0, 1] * 4] * 8


def test_the_lines_turn_where_two_like_ends_lie_side_by_side():
    # Where the block of log cabin changes: common practice, no source.
    cloth = picture([0, 1, 0, 1, 1, 0, 1, 0], [0, 1] * 4)
    assert top_colours(cloth, 8, 8) == [[0, 0, 0, 0, 1, 0, 1, 0], [1, 1, 1, 1, 1, 0, 1, 0]] * 4


def test_each_thread_has_its_colour():
    cloth = picture([0, 0, 2, 0], [1, 1, 1, 1])
    assert {row[2] for row in top_colours(cloth, 4, 4)} == {2, 1}
    assert {row[0] for row in top_colours(cloth, 4, 4)} == {0, 1}


def test_every_pixel_of_the_layout_is_one_palette_index():
    cloth = picture([0, 1, 2] * 5, [1, 2] * 6, "twill-1-2")
    assert len(cloth.pixels) == cloth.columns * cloth.rows == 15 * cloth.end_px * 12 * cloth.pick_px
    assert max(cloth.pixels) < len(cloth.palette) == len(COLOURS) * LEVELS


def test_half_of_a_balanced_structure_is_warp():
    cloth = picture([0] * 12, [1] * 12, "twill-2-2")
    warp = sum(index < LEVELS for index in cloth.pixels)
    assert warp * 2 == len(cloth.pixels)


def test_a_warp_faced_twill_shows_three_quarters_warp():
    cloth = picture([0] * 12, [1] * 12, "twill-3-1")
    warp = sum(index < LEVELS for index in cloth.pixels)
    assert warp * 4 == len(cloth.pixels) * 3


def test_a_draft_typed_in_is_drawn_as_it_is_woven():
    draft = read_draft("1-4, 3, 2", lift_plan="1+2, 2+3, 3+4, 1+4, 1+3")
    cloth = picture([0] * 13, [1] * 11, draft)
    assert top_colours(cloth, 13, 11) == [
        [0 if draft.up(end, pick) else 1 for end in range(13)] for pick in range(11)
    ]


def test_the_back_shows_the_other_thread_at_every_crossing_turned_over_sideways():
    ends, picks = [0, 0, 2, 0, 2, 2, 0], [1] * 6
    front = top_colours(picture(ends, picks, "twill-1-3"), 7, 6)
    back = top_colours(picture(ends, picks, "twill-1-3", back=True), 7, 6)
    for pick in range(6):
        for end in range(7):
            shows = {front[pick][end], back[pick][6 - end]}
            assert shows == {ends[end], 1}


def test_the_back_of_log_cabin_has_upright_lines_where_its_face_has_level_ones():
    # Common practice, no source. Turned over sideways, the light edge end lies to the left.
    ends, picks = [0, 1] * 4, [0, 1] * 4
    front, back = picture(ends, picks), picture(ends, picks, back=True)
    assert top_colours(front, 8, 8) == [[0] * 8, [1] * 8] * 4
    assert top_colours(back, 8, 8) == [[1, 0] * 4] * 8


def test_floating_selvedges_lie_under_the_shuttle_going_in_and_over_it_coming_out():
    # Common practice, no source.
    shafts = [FLOATING_LEFT, 1, 2, 3, 4, 1, 2, FLOATING_RIGHT]
    cloth = picture([2] + [0] * 6 + [2], [1] * 6, "twill-2-2", shafts=shafts)
    rows = top_colours(cloth, 8, 6)
    assert [(row[0], row[-1]) for row in rows] == [(1, 2), (2, 1)] * 3
    inside = top_colours(picture([0] * 6, [1] * 6, "twill-2-2"), 6, 6)
    assert [row[1:-1] for row in rows] == inside


def test_floating_selvedges_alternate_though_the_repeat_has_an_odd_number_of_picks():
    shafts = [FLOATING_LEFT, 1, 2, 3, 1, 2, 3, FLOATING_RIGHT]
    rows = top_colours(picture([2] + [0] * 6 + [2], [1] * 9, "twill-1-2", shafts=shafts), 8, 9)
    assert [row[0] for row in rows] == [1, 2] * 4 + [1]


def test_a_part_of_the_picks_is_the_same_as_those_rows_of_the_whole():
    ends, picks = [0, 2] * 6, [1, 1, 0] * 4
    whole = top_colours(picture(ends, picks, "twill-1-2"), 12, 12)
    part = top_colours(picture(ends, picks[5:9], "twill-1-2", first_pick=5), 12, 4)
    assert part == whole[5:9]


def test_proportions_follow_sett_and_picks():
    # 180 ends at 18 to the inch are 10 in wide, 210 picks at 14 are 15 in long.
    cloth = picture(
        [0] * 180, [1] * 210, end_um=Fraction(25400, 18), pick_um=Fraction(25400, 14), width_px=660
    )
    assert (cloth.width_px, cloth.height_px) == (660, 990)


def test_a_narrow_band_is_shown_smaller_rather_than_endless():
    cloth = picture([0] * 20, [1] * 2000, width_px=660, tallest_px=1000)
    assert (cloth.width_px, cloth.height_px) == (10, 1000)


def test_the_interlacing_is_seen_in_cloth_of_one_colour():
    cloth = picture([0] * 8, [0] * 8)
    assert len(set(cloth.pixels)) > 2


def test_even_black_thread_shows_its_crown():
    black = palette_of([(0, 0, 0)])
    assert black[2] == (0, 0, 0) and black[3] > (20, 20, 20)


@pytest.mark.parametrize("px", range(1, 14))
def test_any_width_of_thread_can_be_laid_out(px):
    cloth = picture([0, 1, 2], [1, 0, 2, 0], "twill-2-2", width_px=3 * px)
    assert len(cloth.pixels) == cloth.columns * cloth.rows
    assert top_colours(cloth, 3, 4)[0] == [
        0,
        1,
        1,
    ]  # the first pick is colour 1, over all but the first two ends


def test_the_first_inches_are_cut_from_the_picks():
    picks = [0] * 323
    assert len(picks_within(picks, Fraction(25400, 14), 15 * 25_400)) == 210
    assert len(picks_within(picks, Fraction(25400, 14), 10**9)) == 323
    assert len(picks_within(picks, Fraction(25400, 14), 1)) == 1


@pytest.mark.parametrize(
    "field, changed",
    [
        ("ends", {"ends": []}),
        ("ends", {"ends": [3]}),
        ("ends", {"ends": [-1]}),
        ("picks", {"picks": []}),
        ("picks", {"picks": [0, 9]}),
        ("end_um", {"end_um": 0}),
        ("pick_um", {"pick_um": -1}),
        ("width_px", {"width_px": 0}),
        ("tallest_px", {"tallest_px": 0}),
    ],
)
def test_what_cannot_be_drawn_is_refused_by_name(field, changed):
    with pytest.raises(CalcError) as refusal:
        picture(**({"ends": [0], "picks": [1], "width_px": 10} | changed))
    assert refusal.value.field == field


def test_more_colours_than_a_palette_holds_are_refused():
    colours = [(0, 0, 0)] * (MOST_COLOURS + 1)
    with pytest.raises(CalcError, match=str(MOST_COLOURS)):
        cloth_picture([0], [0], structure("plain"), colours, end_um=1, pick_um=1, width_px=9)


def test_a_thousand_ends_by_fifteen_hundred_picks_are_laid_out_at_once():
    ends, picks = [end // 7 % 3 for end in range(1000)], [pick // 9 % 3 for pick in range(1500)]
    begun = perf_counter()
    picture(ends, picks, "twill-3-1", width_px=660)
    assert perf_counter() - begun < 0.3  # 0.01 s measured


def test_a_lift_plan_that_never_repeats_is_laid_out_at_once_too():
    lifts = ", ".join(f"{1 + pick % 7}+8, {1 + (pick * 5) % 6}, {2 + pick % 3}+7" for pick in range(100))
    draft = read_draft("1-8, 7-2", lift_plan=lifts)
    ends, picks = [end // 7 % 3 for end in range(1000)], [pick // 9 % 3 for pick in range(1500)]
    begun = perf_counter()
    picture(ends, picks, draft, width_px=2000, tallest_px=3000)
    assert perf_counter() - begun < 0.3  # 0.05 s measured


def test_the_words_tell_structure_warp_and_weft():
    assert describe_cloth(structure("twill-2-2"), ["Spruce"] * 20 + ["Oat"] * 4, ["Oat"] * 30) == (
        "2/2 twill. Warp from the left, 24 ends: 20 Spruce, 4 Oat. Weft from the first pick, 30 picks: all Oat."
    )


def test_the_words_tell_a_repeat_once():
    stripes = (["Spruce"] * 20 + ["Oat"] * 4) * 3 + ["Spruce"] * 20
    assert describe_cloth(structure("plain"), stripes, stripes) == (
        "Plain weave. Warp from the left, 92 ends: 20 Spruce, 4 Oat; 3 times and 20 more. "
        "The weft follows the same order."
    )


def test_the_words_stop_before_they_tire():
    many = [f"shade {number}" for number in range(40)]
    told = describe_cloth(structure("plain"), many, ["Oat"])
    assert "1 shade 11, and so on." in told
    assert "1 shade 12" not in told
    assert "1 pick: all Oat" in told


@pytest.mark.parametrize(
    "threads, repeat",
    [("", 0), ("a", 1), ("aaaa", 1), ("abab", 2), ("ababa", 2), ("aabaa", 3), ("abcd", 4), ("aab", 3)],
)
def test_the_shortest_repeat_is_found(threads, repeat):
    assert shortest_repeat(threads) == repeat
    assert all(thread == threads[place % repeat] for place, thread in enumerate(threads))
