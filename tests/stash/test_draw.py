"""The drawings that stand in lists, as mark-up, and the cloth picture as a file."""

from html.parser import HTMLParser
from io import BytesIO
from time import perf_counter

import pytest
from django.template import Context, Template
from PIL import Image, ImageChops

from stash.calc.cloth import cloth_picture
from stash.calc.structure import structure
from stash.drawing import cloth_png
from stash.templatetags.stash_draw import chip, stock_bar


class Drawn(HTMLParser):
    """All elements in order, each as its name and attributes."""

    def __init__(self, markup):
        super().__init__()
        self.elements = []
        self.feed(markup)

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, dict(attrs)))

    def of(self, kind):
        return [attrs for _, attrs in self.elements if kind in (attrs.get("class") or "").split()]


def test_the_shade_fills_the_free_part_and_tints_the_reserved_under_the_hatching():
    bar = Drawn(stock_bar("#2f5d50", 1540, 640, scale=5200))
    [free], [reserved], [over] = bar.of("free"), bar.of("reserved"), bar.of("over")
    assert (free["fill"], free["x"], free["width"]) == ("#2f5d50", "0%", "29.6%")
    assert reserved["fill"] == "#2f5d50"
    assert (over["x"], over["width"]) == (reserved["x"], reserved["width"]) == ("29.6%", "12.3%")


def test_the_figures_are_the_label_of_the_picture():
    [(_, svg), *_] = Drawn(stock_bar(None, 1, scale=2, label='free 1 yd of "Ink" <best>')).elements
    assert svg["role"] == "img"
    assert svg["aria-label"] == 'free 1 yd of "Ink" <best>'


def test_a_need_is_a_line_and_a_shortage_an_overhang():
    covered = Drawn(stock_bar("#2f5d50", 500, need=300, scale=1000))
    assert len(covered.of("need")) == 1 and not covered.of("missing")
    short = Drawn(stock_bar("#2f5d50", 500, need=800, scale=1000))
    beam, upright = short.of("missing")
    assert (beam["x1"], beam["x2"]) == ("50%", "80%")
    assert upright["x1"] == upright["x2"] == "80%"
    assert not short.of("need")


def test_what_a_weigh_in_undercut_hangs_over():
    assert len(Drawn(stock_bar("#2f5d50", -120, 600, scale=1000)).of("missing")) == 2


def test_an_order_is_outlined_and_the_keep_level_a_tick():
    bar = Drawn(stock_bar("#2f5d50", 100, 0, 200, 300, scale=1000))
    assert "fill" not in bar.of("order")[0]
    assert len(bar.of("keep")) == 1
    assert not Drawn(stock_bar("#2f5d50", 100, 0, 200, 0, scale=1000)).of("keep")


def test_what_goes_beyond_the_scale_is_torn():
    assert Drawn(stock_bar("#2f5d50", 1200, scale=1000)).of("tear")
    assert not Drawn(stock_bar("#2f5d50", 1000, scale=1000)).of("tear")


def test_nothing_known_counts_as_nothing():
    bar = Drawn(stock_bar("#2f5d50", 5, None, None, None, None, None))
    assert len(bar.of("free")) == 1 and not bar.of("reserved")


@pytest.mark.parametrize("colour", [None, "", "red", "#fff", '#2f5d50"/><script>', "url(#x)"])
def test_only_a_whole_colour_reaches_the_page(colour):
    for markup in (chip(colour), stock_bar(colour, 5, 5, scale=10)):
        drawn = Drawn(markup)
        assert all("fill" not in attrs for _, attrs in drawn.elements)
        assert all(tag in {"svg", "rect", "path", "line"} for tag, _ in drawn.elements)
    assert Drawn(chip(colour)).of("blank")
    assert Drawn(stock_bar(colour, 5, scale=10)).of("uncoloured")


def test_no_drawing_brings_a_style_of_its_own():
    markup = chip("#2f5d50", "large") + stock_bar("#2f5d50", -5, 50, 50, 50, 500, 100, "all of it")
    assert all("style" not in attrs for _, attrs in Drawn(markup).elements)


def test_the_tags_are_there_for_templates():
    page = Template(
        '{% load stash_draw %}{% chip "#2f5d50" "large" %}{% stock_bar None 1 2 3 4 5 6 "figures" %}'
    )
    drawn = Drawn(page.render(Context()))
    assert [tag for tag, _ in drawn.elements].count("svg") == 3  # chip, bar, and the tick in the bar
    assert drawn.of("large")


def test_a_page_of_fifty_bars_is_drawn_in_a_few_milliseconds():
    page = Template(
        '{% load stash_draw %}{% for free in amounts %}{% chip "#2f5d50" %}'
        '{% stock_bar "#2f5d50" free 640 420 500 2500 5200 "figures" %}{% endfor %}'
    )
    begun = perf_counter()
    page.render(Context({"amounts": range(50)}))
    assert perf_counter() - begun < 0.05  # 0.002 s measured


def opened(ends, picks, **sizes):
    cloth = cloth_picture(ends, picks, structure("plain"), [(39, 49, 79), (244, 240, 230)], **sizes)
    return cloth, Image.open(BytesIO(cloth_png(cloth)))


def test_the_file_has_the_size_and_the_colours_of_the_picture():
    cloth, image = opened([0, 1] * 10, [0, 1] * 10, end_um=1000, pick_um=1000, width_px=100)
    assert image.format == "PNG" and image.mode == "P" and image.size == (100, 100)
    middle = image.convert("RGB").getpixel((2, 97))  # first end, first pick: 5 px each, from the bottom
    assert middle == cloth.colour_at(0, 0)


def test_threads_between_two_pixels_are_blended_and_the_size_is_kept():
    _, image = opened([0, 1] * 50, [0, 1] * 50, end_um=1000, pick_um=1500, width_px=66)
    assert image.size == (66, 99)


@pytest.mark.parametrize("ends", [100, 168, 440])
def test_blended_threads_keep_their_colours_to_what_no_eye_tells_apart(ends):
    cloth, image = opened(
        [0, 1, 1, 0, 1] * (ends // 5), [0, 1, 1] * 90, end_um=1000, pick_um=1130, width_px=333
    )
    laid = Image.frombytes("P", (cloth.columns, cloth.rows), cloth.pixels)
    laid.putpalette([channel for colour in cloth.palette for channel in colour])
    blended = laid.convert("RGB").resize(image.size, Image.Resampling.BOX)
    off = ImageChops.difference(image.convert("RGB"), blended).getextrema()
    assert max(high for _, high in off) < 8


def test_a_picture_for_a_list_is_a_small_file():
    _, image = opened([0, 1] * 98, [0, 1] * 105, end_um=1411, pick_um=1814, width_px=120)
    image.fp.seek(0, 2)
    assert image.fp.tell() < 12_000
