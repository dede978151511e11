"""Metal on the shelf: names, sizes, and which guide suits which frequency."""

from __future__ import annotations

import re

import pytest
from each_case import each_case

from simharness.design import stock
from simharness.em.guide.rectangular import cutoff_frequency, next_mode, standard_guides
from simharness.errors import InputError


def test_every_standard_guide_has_its_wall():
    assert set(stock.GUIDE_WALLS_MM) == {guide.name for guide in standard_guides()}


@pytest.mark.parametrize("name", ["WR-159", "wr159", "Wr 159", "WR159"])
def test_a_standard_guide_by_its_name(name):
    found = stock.guide_from_text(name, 5e-3)
    assert found.name == "WR-159"
    assert (found.a, found.b, found.wall) == pytest.approx(
        (40.386e-3, 20.193e-3, 1.63e-3), rel=1e-12
    )  # as in the table of sizes


def test_a_guide_and_a_tube_by_their_sizes():
    guide, tube = stock.guide_from_text("40 x 20", 1e-3), stock.tube_from_text("44x24x2")
    assert (guide.a, guide.b, guide.wall) == pytest.approx((40e-3, 20e-3, 1e-3))
    assert (tube.a, tube.b, tube.wall, tube.material) == (
        pytest.approx(40e-3),
        pytest.approx(20e-3),
        pytest.approx(2e-3),
        "aluminium",
    )


@each_case(
    ("call", "text", "sentence"),
    [
        (stock.standard_guide, "WR-91", "must be one of WR-430"),
        (stock.tube_from_text, "50x25", "3 numbers in mm"),
        (stock.tube_from_text, "50x25x0", "3 numbers in mm"),
        (stock.tube_from_text, "fifty", "3 numbers in mm"),
        (stock.tube_from_text, "10x5x2.5", "no room inside"),
        (stock.tube_from_text, "25x50x2", "must be the larger"),
        (stock.tube_from_text, "25x25x2", "must be the larger"),
    ],
    ids=lambda v: v if isinstance(v, str) else "",
)
def test_what_is_no_stock_is_refused(call, text, sentence):
    with pytest.raises(InputError, match=sentence):
        call(text)


@each_case("ghz", [1.8, 2.45, 3.4, 5.8, 7.2, 10.37, 12.2, 17.0])
def test_the_preferred_guide_carries_the_frequency_alone(ghz):
    guide = stock.preferred_guide(ghz * 1e9)
    assert cutoff_frequency(guide.a) < ghz * 1e9 < next_mode(guide.a, guide.b)[1]
    assert guide.suits(ghz * 1e9)
    assert stock.suitable_stock(ghz * 1e9)[0]


def test_no_standard_guide_for_the_frequency():
    with pytest.raises(InputError, match="carry 1.7 to 18 GHz"):
        stock.preferred_guide(0.9e9)


@each_case("ghz", [2.4, 3.5, 5.8, 8.0, 10.4])
@each_case("sheet", [0.3e-3, 1e-3])
def test_a_folded_box_suits_its_frequency(ghz, sheet):
    box = stock.folded_box(ghz * 1e9, sheet)
    box.require_single_wave(ghz * 1e9)
    assert box.suits(ghz * 1e9) and box.wall == sheet


@pytest.mark.parametrize(
    ("name", "ghz", "sentence"),
    [
        ("WR-90", 6.6, "hardly travels"),
        ("WR-90", 5.8, "hardly travels"),
        ("WR-90", 13.2, "a second wave"),
        ("WR-340", 3.45, "a second wave"),
    ],
)
def test_a_guide_that_cannot_do_is_refused(name, ghz, sentence):
    with pytest.raises(InputError, match=sentence):
        stock.standard_guide(name).require_single_wave(ghz * 1e9)


def test_advice_of_a_refusal_holds_when_it_is_followed():
    """The widths named in both messages carry the frequency."""
    for name, ghz in (("WR-90", 5.8), ("WR-340", 3.45)):
        with pytest.raises(InputError) as error:
            stock.standard_guide(name).require_single_wave(ghz * 1e9)
        width = int(re.search(r"about (\d+) mm", error.value.allowed)[1])
        stock.guide_from_text(f"{width}x{width // 2}", 1e-3).require_single_wave(ghz * 1e9)


@pytest.mark.parametrize(("name", "ghz"), [("WR-90", 8.1), ("WR-340", 3.32), ("40x9", 5.8)])
def test_a_poor_choice_does_not_suit(name, ghz):
    assert not stock.guide_from_text(name, 1e-3).suits(ghz * 1e9)
    assert name not in stock.suitable_stock(ghz * 1e9)
