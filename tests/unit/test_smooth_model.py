"""The estimate in smooth parts: they mean what the estimate itself says.

Expected values are those of `simharness.estimate.antenna.estimate`, which computes the same antenna on its
own frequencies and without parts, or follow from what the functions promise.
"""

from __future__ import annotations

import numpy as np
import pytest
from each_case import each_case
from shaped_records import varied
from tolerance_cases import TWO_SLOTS, end_fed, wrong

from simharness.errors import InputError
from simharness.estimate.antenna import estimate
from simharness.estimate.response_surface import GRID_POINTS, Quadratic, ResponseSurface
from simharness.tolerance.analysis import STEP_SHARE
from simharness.tolerance.model import response_surface
from simharness.tolerance.tool_errors import common_dimensions, slot_dimensions

RECORDS = {"probe": TWO_SLOTS, "guide port": end_fed()}
DIMENSIONS = {dimension.name: dimension for dimension in common_dimensions(TWO_SLOTS)}


@pytest.fixture(scope="module")
def models() -> dict[str, ResponseSurface]:
    return {name: response_surface(record) for name, record in RECORDS.items()}


@pytest.fixture(scope="module")
def model(models) -> ResponseSurface:
    return models["probe"]


@each_case("feed", RECORDS)
@each_case(
    ("name", "amount"), [("slot length", 0.0), ("slot length", 0.8), ("guide width", -0.8), ("far end", 1.0)]
)
def test_s11_is_that_of_the_estimate(models, feed, name, amount):
    """The interpolation has a floor of 1e-5 as drawn and is a few times worse beside it; the estimate's own
    sweep is good to 1e-5.
    """
    record = wrong(RECORDS[feed], name, amount)
    model = models[feed]
    s11 = model.s11(model.parts(record)[None])[0]
    np.testing.assert_allclose(s11[:GRID_POINTS], estimate(record, GRID_POINTS).s11, rtol=0, atol=2e-4)


@pytest.mark.parametrize("amount", [0.0, 0.6])
def test_gain_and_side_lobes_are_those_of_the_estimate(model, amount):
    """As drawn they differ by the grids of angles alone (0.02 dB). Beside it the far fields of single slots
    and the losses are those as drawn: 0.05 dB."""
    record = wrong(TWO_SLOTS, "slot length", amount)
    expected = estimate(record, 11).figures
    found = model.figures(model.parts(record)[None])
    tolerance = 0.05 if amount else 0.02
    assert found.gain[0] == pytest.approx(expected["realized_gain"].value, abs=tolerance)
    assert found.side_lobes[0] == pytest.approx(expected["side_lobe_level"].value, abs=tolerance)


def test_a_covered_slot_radiates_nothing(model):
    """The gain is that of the antenna without the slot, in the plane along the guide: a slot alone on one
    side of the wall has its largest gain elsewhere. 0.05 dB as above."""
    record = varied(TWO_SLOTS, slot_rule=None, slot=[TWO_SLOTS.slots[1].model_dump()])
    parts = model.parts(record, covered=0)
    assert parts[-2] == 0 and parts[-1] != 0
    expected = estimate(record, 11)
    front = expected.along.power[np.abs(expected.along.angle) <= np.pi / 2].max()
    gain = expected.figures["realized_gain"].value + 10 * np.log10(front)
    assert model.figures(parts[None]).gain[0] == pytest.approx(gain, abs=0.05)


@pytest.mark.parametrize("name", ["probe height", "slot length", "scale"])
def test_the_quadratic_goes_through_both_steps(model, name):
    dimension, step = DIMENSIONS[name], 0.2
    slope, bend = model.slope_and_bend(dimension, step)
    quadratic = Quadratic(model.drawn, slope[None], bend[None])
    exact = [model.parts(dimension.applied(TWO_SLOTS, amount)) for amount in (-step, 0.0, step)]
    np.testing.assert_allclose(
        quadratic(np.array([[-step], [0.0], [step]])), exact, rtol=0, atol=1e-12
    )  # rounding


@each_case("name", DIMENSIONS)
def test_the_step_is_small_enough_and_not_too_small(model, name):
    """Half the step gives the same slope of S11, within 2 %: what central differences leave goes with the
    square of the step, and the rounding of the model is far below."""
    dimension = DIMENSIONS[name]
    step = STEP_SHARE * dimension.limit
    slopes = []
    for size in (step, 0.5 * step):
        slope, bend = model.slope_and_bend(dimension, size)
        both = model.band_s11(Quadratic(model.drawn, slope[None], bend[None])(np.array([[-size], [size]])))
        slopes.append((both[1] - both[0]) / (2 * size))
    assert np.abs(slopes[0] - slopes[1]).max() < 0.02 * np.abs(slopes[1]).max()


def test_where_there_is_one_side_only_it_makes_the_slope():
    """The slots touch the side walls: they cannot go farther out."""
    record = varied(TWO_SLOTS, slot_rule={"offset_mm": 42.0})
    model = ResponseSurface(record)
    offset = DIMENSIONS["slot offset"]
    slope, bend = model.slope_and_bend(offset, 0.1)
    assert np.abs(bend).max() == 0
    inwards = model.parts(offset.applied(record, -0.1))
    np.testing.assert_allclose(slope, (model.drawn - inwards) / 0.1, rtol=1e-12)  # rounding


def test_dimensions_of_one_slot_leave_the_others_alone():
    third = slot_dimensions(TWO_SLOTS)
    assert [one.name for one in third] == [
        f"slot {what} {n}" for what in ("length", "offset", "position") for n in (1, 2)
    ]
    after = third[3].applied(TWO_SLOTS, 0.5).slots
    assert after[0] == TWO_SLOTS.slots[0] and after[1].offset_mm == pytest.approx(
        -24.5, abs=1e-12
    )  # outwards


def test_a_run_sets_s11_right_and_keeps_what_changes():
    """The run is the estimate turned and shrunk; only straight lines between its samples stand between."""
    model = ResponseSurface(TWO_SLOTS)
    other = model.parts(wrong(TWO_SLOTS, "probe height", 0.5))
    before = model.band_s11(np.stack([model.drawn, other]))
    run = 0.8 * np.exp(0.2j) * model.s11(model.drawn[None])[0, :GRID_POINTS]
    model.correct(model.grid, run)
    after = model.band_s11(np.stack([model.drawn, other]))
    np.testing.assert_allclose(
        model.s11(model.drawn[None])[0, :GRID_POINTS], run, rtol=0, atol=1e-12
    )  # rounding
    np.testing.assert_allclose(after[1] - after[0], before[1] - before[0], rtol=0, atol=1e-12)


def test_resonance_says_what_it_is(models):
    assert models["probe"].resonance_is == "middle of the -10 dB band"
    assert models["guide port"].resonance_is == "frequency of the best match"


def test_without_slots_there_is_nothing_to_do():
    data = end_fed().model_dump(by_alias=True, exclude_none=True)
    data.pop("slot_rule")
    with pytest.raises(InputError, match="need at least one slot"):
        ResponseSurface(type(TWO_SLOTS).model_validate(data))
