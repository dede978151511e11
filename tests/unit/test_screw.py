"""Tuning screws in the back wall: what is refused, the scene, and the estimate by what must hold."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from shaped_records import SHIPPED, varied

from simharness.advice.warnings import warnings
from simharness.em.guide.rectangular import phase_constant
from simharness.em.screw.moment import ScrewedMoment, screwed_guide, slot_model
from simharness.em.screw.posts import COUNT
from simharness.em.slot.basis import Screw, SlotAperture, SlottedGuide
from simharness.em.slot.moment import SlotMoment
from simharness.errors import InputError
from simharness.estimate.antenna import exact_reflection
from simharness.estimate.deviations import deviations
from simharness.estimate.model_inputs import screw_admittance
from simharness.geometry import antenna_scene
from simharness.geometry.solids import SCREW_PART, equivalent_square_side
from simharness.mesh.grid import grid
from simharness.mesh.settings import QUALITIES
from simharness.records import parse_record
from simharness.records.text import plain_data, record_text
from simharness.sheets.flat.fabrication import Fabrication
from simharness.sheets.flat.part import drill_table
from simharness.sheets.flat.shapes import parts
from simharness.tolerance.tool_errors import TOOLS, common_dimensions, error_sizes
from simharness.tuning.variables import tuned_record, tuning_variables
from simharness.workshop.operations import operations

EIGHT, TUBE, BENT = SHIPPED["eight-slot-5g8"], SHIPPED["four-slot-tube-2g44"], SHIPPED["bent-probe-5g8"]
TWO = SHIPPED["two-faced-5g8"]
A, B = 22.86e-3, 10.16e-3
F = np.array([9.0e9, 10.0e9])
SLOTS = (SlotAperture(16e-3, 1.6e-3, 2e-3, 15e-3), SlotAperture(16e-3, 1.6e-3, -2e-3, 35e-3, "back"))
SCREWS = (Screw(5e-3, 3e-3, 4e-3, 3e-3), Screw(18e-3, -2e-3, 3e-3, 3e-3), Screw(18e-3, 4e-3, 3e-3, 3e-3))


def screw(position_mm=30.0, **fields):
    return {"position_mm": position_mm, "diameter_mm": 4.0, "depth_mm": 5.0} | fields


@pytest.mark.parametrize(
    ("record", "screws", "what"),
    [
        (TUBE, [screw()], "screw = 1: a screw in a round tube is not modelled; leave it out"),
        (EIGHT, [screw(depth_mm=18.5)], "screw 1 depth_mm = 18.5: its tip must stay off the front wall"),
        (EIGHT, [screw(depth_mm=0.0)], "screw.1.depth_mm = 0.0"),
        (EIGHT, [screw(depth_mm=float("nan"))], "screw.1.depth_mm"),
        (EIGHT, [screw(diameter_mm=11.0)], "at most a quarter of the inner width, 10"),
        (
            EIGHT,
            [screw(offset_mm=18.0)],
            "screw 1 offset_mm = 18.0: must stay off the side walls: less than 18",
        ),
        (EIGHT, [screw(1.0)], "must lie inside the guide, between 2 and 298.5"),
        (EIGHT, [screw(299.0)], "must lie inside the guide, between 2 and 298.5"),
        (EIGHT, [screw(14.0)], "screw 1 position_mm = 14.0: it would run into the probe"),
        (EIGHT, [screw(), screw(33.0)], "screw 2 position_mm = 33.0: it would run into screw 1"),
        (BENT, [screw(5.0)], "it would run into the probe"),
        (TWO, [screw(43.7, offset_mm=-5.5)], "it would run into slot"),
        (EIGHT, [screw() | {"thread": "M4"}], 'screw.1.thread = "M4": unknown key'),
    ],
)
def test_what_is_refused(record, screws, what):
    with pytest.raises(InputError) as error:
        varied(record, screw=screws)
    assert what in str(error.value)


def test_a_single_table_is_told_apart():
    with pytest.raises(InputError, match=r"must be written as \[\[screw\]\]"):
        parse_record(plain_data(EIGHT) | {"screw": screw()})


def test_screws_are_written_and_read():
    record = varied(EIGHT, screw=[screw(), screw(60.0, offset_mm=-3.0)])
    text = record_text(record)
    assert text.count("[[screw]]") == 2 and "offset_mm = -3.0" in text


def test_the_scene_has_a_post_from_the_back_wall():
    """As the square with the radius of the screw, honoured by the mesh within what its correction draws it
    in."""
    scene = antenna_scene(varied(EIGHT, screw=[screw(), screw(60.0, diameter_mm=3.0)]))
    post, _ = (prism for prism in scene.prisms if prism.part == SCREW_PART)
    x0, x1, y0, y1, z0, z1 = post.bounds()
    side = equivalent_square_side(4e-3)
    assert (x1 - x0, z1 - z0) == pytest.approx((side, side))
    assert (y0, y1, (z0 + z1) / 2) == pytest.approx((-20e-3, -15e-3, 30e-3))
    mesh = grid(scene, QUALITIES["draft"])
    inside = mesh.z[(mesh.z > z0 - 1e-3) & (mesh.z < z1 + 1e-3)]
    assert len(inside) >= 3  # two cells across at least


@pytest.mark.parametrize("ends", [{}, {"near_short": -10e-3}, {"far_short": 50e-3}])
def test_nothing_is_lost_or_gained(ends):
    """Perfect metal: what is not reflected or passed on is radiated, to rounding; and S is symmetric."""
    found = slot_model(SlottedGuide(A, B, 1.27e-3, SLOTS, screws=SCREWS, **ends)).solve(F)
    balance = (np.abs(found.s) ** 2).sum(axis=1) + found.radiated
    np.testing.assert_allclose(balance, 1.0, atol=1e-10)
    np.testing.assert_allclose(found.s, found.s.transpose(0, 2, 1), atol=1e-12)


def test_nothing_is_lost_between_shorts():
    guide = SlottedGuide(A, B, 1.27e-3, SLOTS, near_short=-10e-3, far_short=50e-3, feed=0.0, screws=SCREWS)
    found = slot_model(guide).solve(F)
    np.testing.assert_allclose(np.abs(found.s[:, 0, 0]) ** 2 + found.radiated[:, 0], 1.0, atol=1e-10)


def test_a_screw_that_hardly_stands_in_the_guide_does_hardly_anything():
    """Its dipoles go with its depth: over ten thousandths of it what it does falls to nothing."""
    guide = SlottedGuide(A, B, 1.27e-3, SLOTS)
    bare = slot_model(guide).solve(F).s
    found = [
        np.abs(slot_model(replace(guide, screws=(Screw(5e-3, 3e-3, depth, 3e-3),))).solve(F).s - bare).max()
        for depth in (1e-4, 1e-5, 1e-6)
    ]
    assert found[0] < 2e-3 and found[1] < 0.12 * found[0] and found[2] < 0.12 * found[1]


def test_the_estimate_of_a_record_has_its_screws():
    frequency = np.array([5.7e9, 5.8e9])
    bare, slight, deep = (
        exact_reflection(varied(EIGHT, screw=screws), frequency)
        for screws in (None, [screw(depth_mm=0.1, diameter_mm=1.0)], [screw()])
    )
    assert np.abs(slight - bare).max() < 1e-3 < 0.05 < np.abs(deep - bare).min()


def test_a_far_screw_is_a_two_port_in_a_chain():
    """Three guide widths away nothing but TE10 passes between screw and slot: their scattering matrices in a
    chain. Evanescent modes decay by exp(-pi sqrt(3) 3) = 8e-8 or more."""
    slot, post = replace(SLOTS[0], position=0.0), Screw(-3 * A, 2e-3, 4e-3, 3e-3)
    f = F[1:]
    both = slot_model(SlottedGuide(A, B, 1e-3, (slot,), screws=(post,))).solve(f).s[0]
    alone = screwed_guide(SlottedGuide(A, B, 1e-3, (), screws=(post,)), f)[0]
    other = SlotMoment(SlottedGuide(A, B, 1e-3, (slot,))).solve(f).s[0]
    loop = 1.0 - alone[1, 1] * other[0, 0]
    expected = [
        [alone[0, 0] + alone[0, 1] * other[0, 0] * alone[1, 0] / loop, alone[0, 1] * other[0, 1] / loop],
        [other[1, 0] * alone[1, 0] / loop, other[1, 1] + other[1, 0] * alone[1, 1] * other[0, 1] / loop],
    ]
    np.testing.assert_allclose(both, expected, atol=3e-5)  # the profile's own sum ends at 1e-5


def test_two_screws_apart_are_two_in_a_chain():
    one, two = Screw(0.0, 2e-3, 4e-3, 3e-3), Screw(3 * A, -1e-3, 3e-3, 2e-3)
    both = screwed_guide(SlottedGuide(A, B, 1e-3, (), screws=(one, two)), F)
    first, second = (screwed_guide(SlottedGuide(A, B, 1e-3, (), screws=(s,)), F) for s in (one, two))
    through = first[:, 1, 0] * second[:, 1, 0] / (1 - first[:, 1, 1] * second[:, 0, 0])
    np.testing.assert_allclose(both[:, 1, 0], through, atol=1e-6)


def test_a_short_far_away_is_that_of_a_line():
    """The screw before a short three guide widths away: its two-port ended by the short."""
    post, far = Screw(0.0, 2e-3, 4e-3, 3e-3), 3 * A
    found = screwed_guide(SlottedGuide(A, B, 1e-3, (), far_short=far, screws=(post,)), F)[:, 0, 0]
    s = screwed_guide(SlottedGuide(A, B, 1e-3, (), screws=(post,)), F)
    end = -np.exp(-2j * phase_constant(A, F) * far)
    expected = s[:, 0, 0] + s[:, 0, 1] ** 2 * end / (1 - s[:, 1, 1] * end)
    np.testing.assert_allclose(found, expected, atol=1e-6)


def test_a_model_without_screws_takes_none():
    with pytest.raises(InputError, match="screws"):
        SlotMoment(SlottedGuide(A, B, 1e-3, SLOTS, screws=SCREWS))
    assert isinstance(slot_model(SlottedGuide(A, B, 1e-3, SLOTS, screws=SCREWS)), ScrewedMoment)


def test_deeper_screws_are_larger_capacitors_up_to_their_resonance():
    depths = (1.0, 3.0, 6.0, 9.0, 12.0)
    record = varied(EIGHT, screw=[screw(depth_mm=depth) for depth in depths][:1])
    found = [
        screw_admittance(record, record.screw[0].model_copy(update={"depth_mm": depth})).imag
        for depth in depths
    ]
    assert found[0] > 0 and np.all(np.diff(found) > 0)
    beyond = record.screw[0].model_copy(update={"depth_mm": 16.5})
    assert screw_admittance(record, beyond).imag < 0


def test_check_says_what_a_screw_does():
    near = varied(EIGHT, screw=[screw(20.0), screw(60.0, depth_mm=1.5), screw(100.0)])
    said = [text for text in warnings(near) if text.startswith("screw")]
    admittance = screw_admittance(near, near.screw[0]).imag
    assert f"a capacitor of {admittance:.2g} times the admittance of the guide" in said[0]
    assert any("screw 1 stands 7.8 mm from the probe" in text for text in said)
    assert any("screw 2 is less deep than half as wide" in text for text in said)
    assert next(text for text in said if text.startswith("screw 3")).startswith("screw 3, 4 mm thick")


def test_the_basis_of_a_screw_converges(monkeypatch):
    """Twice as many functions along the screw: within 1 % of its susceptance."""
    from simharness.em.screw import moment, posts

    guide = SlottedGuide(A, B, 1e-3, (), screws=(Screw(0.0, 0.0, 5e-3, 3e-3),))
    found = screwed_guide(guide, F)[:, 0, 0]
    for module in (moment, posts):
        monkeypatch.setattr(module, "COUNT", 2 * COUNT)
    np.testing.assert_allclose(screwed_guide(guide, F)[:, 0, 0], found, rtol=0.01)


def test_the_depth_of_a_screw_is_tuned():
    record = varied(EIGHT, screw=[screw(), screw(60.0, depth_mm=2.0)])
    *_, depth = tuning_variables(record, ["screw-2"])
    assert depth.read(record) == 2.0 and 0.1 <= depth.least < 2.0 < depth.most
    tuned = tuned_record(record, [depth], (2.34,), 0.1)
    assert [one.depth_mm for one in tuned.screw] == [5.0, 2.3]
    with pytest.raises(InputError, match="screw-3"):
        tuning_variables(record, ["screw-3"])


def test_screws_stay_in_their_wall_where_the_near_end_moves():
    """The origin moves with the end: what is not moved keeps its distance from the slots."""
    record = varied(EIGHT, screw=[screw()])
    moved = {one.name: one for one in deviations(record)}["near end"].applied(record, 1.0)
    _, short = tuning_variables(record, ["back-short"])
    tuned = tuned_record(record, [short], (short.read(record) + 1.0,))
    for other in (moved, tuned):
        assert other.screw[0].position_mm - other.slots[0].position_mm == pytest.approx(
            record.screw[0].position_mm - record.slots[0].position_mm, abs=1e-9
        )


def test_the_cut_sheets_have_the_hole():
    """Of the core of the thread where the wall takes one (ISO 262: M4 has a pitch of 0.7 mm)."""
    record = varied(EIGHT, screw=[screw(offset_mm=3.0), screw(60.0, diameter_mm=4.5)])
    (back,) = (part for part in parts(antenna_scene(record), Fabrication("tube")) if part.place == "back")
    found = [o for o in back.openings if o.kind == "tuning"]
    assert [round(o.width * 1e3, 6) for o in found] == [3.3, 4.5]
    assert [tuple(np.round(np.array(o.centre) * 1e3, 6)) for o in found] == [(30.0, -3.0), (60.0, 0.0)]
    names = [name for name, *_ in drill_table(back)]
    assert names[-2:] == ["hole for screw 1", "hole for screw 2"]


def test_a_screw_is_turned_to_mend():
    """In or out, before all that is harder to undo."""
    record = varied(EIGHT, screw=[screw(), screw(60.0)])
    first, second, *others = operations(record)
    assert [first.dimension.name, second.dimension.name] == ["screw 1 depth", "screw 2 depth"]
    assert first.low < 0 < first.high and all(first.undo < other.undo for other in others)
    assert first.text(0.4) == "turn screw 1 0.4 mm farther in"
    assert [one.depth_mm for one in second.applied(record, -1.0).screw] == [5.0, 4.0]


def test_tolerance_counts_depth_and_place_of_every_screw():
    """They change the screw that they name, by tools that a scriber and a thread are."""
    record = varied(EIGHT, screw=[screw(), screw(60.0)])
    sizes = error_sizes(record, TOOLS["hand"])
    assert sizes["screw 1 depth"] == sizes["screw 2 depth"] == TOOLS["hand"]["screw depth"].common
    found = {one.name: one for one in common_dimensions(record)}
    assert [one.depth_mm for one in found["screw 2 depth"].applied(record, 0.5).screw] == [5.0, 5.5]
    assert [one.position_mm for one in found["screw 1 place"].applied(record, 0.5).screw] == [30.5, 60.0]
    assert not any(name.startswith("screw") for name in error_sizes(EIGHT, TOOLS["hand"]))
