"""Pole, wall, second antenna and tilt of a record: what they change, what they leave, what is refused."""

from __future__ import annotations

import numpy as np
import pytest
from shaped_records import SHIPPED, varied

from simharness.advice.warnings import warnings
from simharness.constants import C0, TWO_PI
from simharness.convergence.steps import study_steps
from simharness.em.pattern.aperture import radiated_field
from simharness.em.pattern.levels import peak
from simharness.errors import InputError
from simharness.estimate import model_inputs
from simharness.estimate.antenna import estimate
from simharness.estimate.site.outlines import antenna_alone, tube_of
from simharness.library.analysis import estimate as analysed
from simharness.mesh.settings import QUALITIES
from simharness.records import parse_record
from simharness.runs.planning import record_plan
from simharness.solver.machine import Machine
from simharness.verdict.error_bars import ESTIMATE_ERROR, estimate_error, solver_error

MAST, PAIR = SHIPPED["on-mast-5g8"], SHIPPED["pair-5g8"]
ALONE = varied(MAST, mast=None)
THREE = varied(PAIR, pair=None)


def beside(record=THREE, **changes):
    return varied(record, pair={"place": "beside", "distance_mm": 60.0} | changes)


@pytest.mark.parametrize(
    ("record", "changes", "what"),
    [
        (ALONE, {"mast": {"distance_mm": 30.0}}, "mast.diameter_mm = (missing): a pole needs its outer"),
        (MAST, {"mast": {"width_mm": 90.0}}, "mast.width_mm = 90.0: only with shape = 'wall'"),
        (MAST, {"mast": {"shape": "wall"}}, "mast.diameter_mm = 48.3: only with shape = 'pole'"),
        (
            ALONE,
            {"mast": {"shape": "wall", "distance_mm": 30.0, "direction_deg": 150.0}},
            "mast.direction_deg = 150.0: a wall stands behind",
        ),
        (
            MAST,
            {"mast": {"distance_mm": 2.0, "direction_deg": 180.0}},
            "mast.distance_mm = 2.0: the pole would stand in the coax behind the back wall",
        ),
        (MAST, {"mast": {"distance_mm": 0.0}}, "mast.distance_mm = 0.0: must be greater than 0"),
        (MAST, {"mast": {"direction_deg": 200.0}}, "mast.direction_deg = 200.0"),
        (PAIR, {"pair": {"distance_mm": 40.0}}, "pair.distance_mm = 40.0: the two antennas would run into"),
        (
            PAIR,
            {"pair": {"place": "back to back", "distance_mm": 5.0}},
            "pair.distance_mm = 5.0: the two antennas would run into each other",
        ),
        (PAIR, {"pair": {"place": "below"}}, "pair.place"),
        (
            MAST,
            {"pair": {"place": "above", "distance_mm": 60.0}},
            "two antennas and a pole at once are not modelled; leave [mast] or [pair] out",
        ),
        (
            MAST,
            {"cover": {"material": "PVC", "thickness_mm": 2.0}},
            'cover = "front": a cover and a pole at once are not modelled; leave [cover] or [mast] out',
        ),
        (
            PAIR,
            {"cover": {"material": "PVC", "thickness_mm": 2.0}},
            'cover = "front": a cover and a second antenna at once are not modelled; leave [cover] or [pair]',
        ),
        (PAIR, {"mounting": {"tilt_deg": 95.0}}, "mounting.tilt_deg = 95.0"),
    ],
)
def test_what_is_refused(record, changes, what):
    with pytest.raises(InputError) as refused:
        varied(record, **changes)
    assert what in str(refused.value)


def test_a_pair_needs_a_coax_each():
    written = PAIR.model_dump(by_alias=True, exclude_none=True)
    written |= {"feed": {"kind": "guide-port"}, "guide": written["guide"] | {"near_end": "port"}}
    with pytest.raises(InputError, match="a pair needs antennas with a coax each"):
        parse_record(written)


def test_nothing_beside_is_the_plain_estimate():
    """Exactly: the same code with the same numbers."""
    plain = estimate(ALONE)
    bare = estimate(antenna_alone(MAST))
    assert np.array_equal(plain.across.power, bare.across.power)
    assert plain.figures == bare.figures
    assert estimate_error(ALONE) == ESTIMATE_ERROR


def test_match_is_left_alone():
    """The estimate takes the match from the antenna by itself."""
    assert np.array_equal(estimate(MAST, 41).s11, estimate(ALONE, 41).s11)


def test_a_far_thin_pole_has_no_effect():
    """Of 2 mm, 10 m away: its field falls as 1/sqrt(distance), 0.04 lambda of width at 200 lambda."""
    far = varied(MAST, mast={"diameter_mm": 2.0, "distance_mm": 10000.0})
    angle = np.radians(np.arange(-180, 181, 2.0))
    aperture = model_inputs.aperture(MAST)
    here, alone = (
        np.abs(
            radiated_field(
                tube_of(record), aperture, MAST.band.centre, np.array([np.pi / 2]), np.pi / 2 - angle
            )[0]
        )
        for record in (far, antenna_alone(far))
    )
    assert np.abs(here - alone).max() < 0.01 * alone.max()


def test_two_far_apart_in_phase_are_an_array():
    """Pattern multiplication (Balanis, Antenna Theory, sec. 6.2; memory): the field straight ahead doubles,
    and across it goes as 2 cos(k d sin(angle) / 2). Seen at 100 wavelengths: within 1 % of the largest."""
    distance = 100 * C0 / THREE.band.centre
    two = beside(distance_mm=distance * 1e3)
    angle = np.radians(np.arange(-40, 40.01, 0.05))
    aperture = model_inputs.aperture(THREE)
    one, both = (
        radiated_field(
            tube_of(record), aperture, THREE.band.centre, np.array([np.pi / 2]), np.pi / 2 - angle
        )[0]
        for record in (THREE, two)
    )
    factor = 2 * np.cos(TWO_PI / C0 * THREE.band.centre * distance / 2 * np.sin(angle))
    assert np.abs(np.abs(both) - np.abs(one * factor)).max() < 0.04 * np.abs(one).max()
    middle = angle.size // 2
    assert abs(both[middle] / one[middle]) == pytest.approx(2.0, rel=0.02)


def test_two_in_phase_gain_up_to_three_decibels():
    """One above the other far apart, no coupling: the mean of cos^2 over the sphere is a half, +3 dB."""
    above = varied(THREE, pair={"place": "above", "distance_mm": 1000.0})
    gain = [estimate(record).figures["realized_gain"].value for record in (THREE, above)]
    assert gain[1] - gain[0] == pytest.approx(3.01, abs=0.25)


def test_beam_and_gain_of_a_tilted_antenna():
    """Tilt turns the antenna alone: its beam goes down by as much, and the horizon sees it from above."""
    level, tilted = (estimate(varied(ALONE, mounting={"tilt_deg": t})) for t in (0.0, 7.0))
    assert "horizon_gain" not in level.figures
    assert np.array_equal(level.along.power, tilted.along.power)
    top = np.degrees(peak(level.along.angle, level.along.power, np.pi / 2).angle)
    assert tilted.figures["beam_elevation"].value == pytest.approx(top - 7.0, abs=1e-9)
    there = np.interp(np.radians(7.0), level.along.angle, level.along.power)
    largest = max(level.along.power.max(), level.across.power.max())
    lost = -10 * np.log10(there / largest)
    assert lost > 1.0
    gain = tilted.figures["realized_gain"].value - tilted.figures["horizon_gain"].value
    assert gain == pytest.approx(lost, abs=1e-9)


def test_a_lying_antenna_tilts_across_its_axis():
    lying = estimate(varied(ALONE, mounting={"axis": "horizontal", "tilt_deg": 7.0}))
    top = np.degrees(peak(lying.across.angle, lying.across.power, np.pi / 2).angle)
    assert lying.figures["beam_elevation"].value == pytest.approx(top - 7.0, abs=1e-9)


def test_error_bars_are_longer_beside_something():
    """And those alone; directions of nulls behind a pole have none."""
    wall = varied(ALONE, mast={"shape": "wall", "distance_mm": 30.0})
    pole, walled, pair = (estimate_error(record) for record in (MAST, wall, PAIR))
    assert pole["front_to_back"] == 3.0 and walled["gain"] == 0.7 and pair["coupling"] == 2.0
    assert "null" not in pole and "across" not in estimate_error(ALONE)
    assert all(
        found[kind] >= size
        for found in (pole, walled, pair)
        for kind, size in ESTIMATE_ERROR.items()
        if kind != "null"
    )
    assert "coupling" in solver_error(PAIR, "draft") and "coupling" not in solver_error(MAST, "draft")


def test_words_say_what_the_estimate_leaves_out():
    for record, other in ((MAST, "the pole"), (PAIR, "the second antenna")):
        said = " ".join(analysed(record).sentences)
        assert f"takes the antenna and {other} as endless" in said and "connector and cable" in said
    assert "endless" not in " ".join(analysed(ALONE).sentences)
    assert any("trusted to about 2.5 dB" in text for text in warnings(MAST))


@pytest.mark.parametrize("record", [MAST, PAIR, SHIPPED["winged-5g8"]])
def test_open_faces_reflect_less_where_something_is_beside_the_antenna(record):
    """A matched layer in place of Mur's condition, at every quality and in studies of meshes."""
    on = Machine("invented", 1)
    for quality in QUALITIES:
        assert record_plan(record, quality, on=on).request.grid.absorber == (8,) * 6
    assert record_plan(ALONE, "draft", on=on).request.grid.absorber == (0,) * 6
    steps = study_steps(record, spreads=True, on=on)
    assert all(min(step.plan.request.grid.absorber) >= 8 for step in steps)
    labels = {step.spread: step.label for step in steps}
    assert labels["absorber"] == "matched layer of 12 cells instead of 8"
