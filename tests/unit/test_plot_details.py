"""Details of pictures against arithmetic and first principles: error bands, holes, nulls between directions,
what faces the viewer.

All data is invented.
"""

from __future__ import annotations

import matplotlib.text
import numpy as np
import pytest
from matplotlib.collections import PolyCollection
from matplotlib.colors import to_hex
from matplotlib.patches import Circle
from picture_cases import invented_estimate, invented_run
from shaped_records import SHIPPED

from simharness.constants import C0
from simharness.em.pattern.cuts import cut_along, cut_between
from simharness.em.pattern.far_field import FarField
from simharness.measurement.files import Levels
from simharness.measurement.orientation import level_comparison
from simharness.plot import antenna_solid, gain_body, inside, match, style, titles
from simharness.results.far_field import antenna_middle
from simharness.results.outputs import Results
from simharness.verdict.match_state import MatchState

RECORD = SHIPPED["five-slot-2g45"]
RUN = invented_run(RECORD)


@pytest.fixture
def look():
    with style.own_look():
        yield


def band_at(axes, label, place):
    """Least and largest ordinate of a shaded area at an abscissa."""
    [area] = [
        found
        for found in axes.collections
        if isinstance(found, PolyCollection) and found.get_label().startswith(label)
    ]
    points = area.get_paths()[0].vertices
    there = points[np.isclose(points[:, 0], place, rtol=0, atol=1e-9)][:, 1]
    return there.min(), there.max()


def test_error_bands_of_the_match(look):
    """|S11| = 0.1 with 0.07 (draft) and 0.15 (estimate) to either side: 0.03 to 0.17, 0 (drawn at the -60 dB
    of the axis' data) to 0.25.
    """
    frequency, s11 = RUN["frequency"], np.full(RUN["frequency"].size, 0.1j)
    results = Results({"frequency": frequency, "s11": s11}, {"quality": "draft"})
    guess = invented_estimate(RECORD)
    guess.s11[:] = 0.1
    upper = match.match_figure(results, RECORD, guess).axes[0]
    place = frequency[30] / 1e9
    decibels = 20 * np.log10([0.03, 0.17, 0.25])  # by hand: -30.46, -15.39, -12.04
    np.testing.assert_allclose(band_at(upper, "error bar of the full wave", place), decibels[:2], rtol=1e-12)
    np.testing.assert_allclose(
        band_at(upper, "error bar of the estimate", place), [-60.0, decibels[2]], rtol=1e-12
    )


@pytest.mark.parametrize(
    "s11, state", [(0.1, MatchState.MET), (0.3, MatchState.CLOSE), (0.6, MatchState.MISSED)]
)
def test_the_picture_says_the_verdict_in_its_colour(look, s11, state):
    """The target is -10 dB, 0.316; a draft is good for 0.07."""
    results = Results(
        {"frequency": RUN["frequency"], "s11": np.full(RUN["frequency"].size, s11 + 0j)}, {"quality": "draft"}
    )
    figure = match.match_figure(results, RECORD, None)
    [said] = [text for text in figure.findobj(matplotlib.text.Text) if text.get_text() == state.headline]
    assert to_hex(said.get_color()) == style.STATES[state]


def test_the_hole_of_the_probe_is_drawn_to_scale(look):
    axes = inside.field_figure(RUN, RECORD, None).axes[0]
    radii = sorted(patch.radius for patch in axes.patches if isinstance(patch, Circle))
    assert radii == [RECORD.feed.wire_diameter_mm / 2, RECORD.feed.coax_outer_mm / 2]


def test_nulls_between_the_directions_of_a_grid_have_their_depth():
    """Five equal sources d apart have their first null where 5 d sin(a) is a wavelength; the grid of 3
    degrees steps over it.
    """
    far, spacing = FarField.stored(RUN), RECORD.slot_rule.spacing_mm * 1e-3
    null = np.arcsin(C0 / far.frequency[0] / (5 * spacing))
    fine, coarse = cut_between(far, 0, "along", antenna_middle(RECORD), np.radians(0.05)), cut_along(far, 0)
    # A spline through the field crosses zero within a thousandth of a radian of it: -45 dB of a lobe at
    # least.
    near = np.abs(fine.angle - null) < np.radians(0.5)
    assert 10 * np.log10(fine.co[near].min() / fine.co.max()) < -45
    assert 10 * np.log10(coarse.co[np.abs(coarse.angle - null) < np.radians(3)].min() / coarse.co.max()) > -40
    # Cubic splines go through their samples.
    shared = np.isin(np.round(np.degrees(fine.angle), 6), np.round(np.degrees(coarse.angle), 6))
    np.testing.assert_allclose(
        np.interp(fine.angle[shared], coarse.angle, coarse.co),
        fine.co[shared],
        rtol=1e-6,
        atol=1e-9 * fine.co.max(),
    )


def test_levels_are_predicted_between_the_readings():
    angle = np.radians(np.arange(-60, 61, 15.0))
    found = level_comparison(
        Levels(angle, -np.abs(np.degrees(angle)) / 5), RUN, RECORD, "along", RUN["far_frequency"][0]
    )
    curve = found.curve
    assert (
        curve.angle[0] == angle[0]
        and curve.angle[-1] == angle[-1]
        and np.diff(curve.angle).max() <= np.radians(0.5) + 1e-12
    )
    np.testing.assert_allclose(np.interp(angle, curve.angle, curve.predicted), found.predicted, atol=1e-9)
    np.testing.assert_allclose(np.interp(angle, curve.angle, curve.pattern), found.pattern, atol=1e-9)
    assert curve.pattern.min() < found.pattern.min() - 10  # nulls lie between the readings


@pytest.mark.parametrize("name", ["five-slot-2g45", "two-faced-5g8", "four-slot-tube-2g44", "bent-slot-5g8"])
def test_slots_of_the_front_are_seen_from_the_front(name):
    """Rows of the view: to the right -x, up z, towards the viewer +y."""
    record = SHIPPED[name]
    rows = np.array([[-1.0, 0, 0], [0, 0, 1], [0, 1, 0]])
    slots = antenna_solid.slot_patches(record)
    np.testing.assert_array_equal(gain_body.faces_viewer(slots, rows), slots[..., 1].mean(axis=1) > 0)
    mm = record.guide.length_mm / antenna_solid.LENGTH
    reach = (slots[..., 2].max() - slots[..., 2].min()) * mm
    first, last = record.slots[0], record.slots[-1]
    # From tip to tip; the bands of curved slots are cut square at theirs.
    assert reach == pytest.approx(
        last.position_mm - first.position_mm + (first.length_mm + last.length_mm) / 2, abs=2 * first.width_mm
    )


def test_lines_keep_to_their_room(look):
    figure = style.sheet(4, 3)
    text = "some words and oneverylongwordwithoutanybreakthatistoolongforaline and more"
    lines = titles.wrapped(figure, text, 2.0, 12)
    assert "".join(lines).replace(" ", "") == text.replace(" ", "")
    assert all(titles.text_width(figure, line, 12) <= 2.0 for line in lines) and len(lines) > 2
    assert titles.wrapped(figure, "", 2.0, 12) == [] and titles.wrapped(figure, "one", 2.0, 12) == ["one"]
