"""The estimate as a whole: consistency, mirror and size rules, and each warning once."""

import numpy as np
import pytest
from each_case import each_case

from simharness.advice.derived import derived
from simharness.advice.warnings import warnings
from simharness.constants import C0
from simharness.em.pattern.aperture import Aperture, radiated_field
from simharness.estimate import antenna as estimate_module
from simharness.estimate.antenna import estimate, estimate_span, estimated_match
from simharness.estimate.model_inputs import slotted_guide, tube
from simharness.records import parse_record


def _data(**changes):
    """An invented five-slot design; `table__key=value` changes it."""
    data = {
        "schema": 1,
        "name": "invented",
        "band": {"low_ghz": 2.4, "centre_ghz": 2.45, "high_ghz": 2.5},
        "mounting": {"axis": "vertical"},
        "guide": {
            "a_mm": 90.0,
            "b_mm": 45.0,
            "length_mm": 501.0,
            "front_wall_mm": 0.5,
            "other_walls_mm": 0.5,
            "material": "brass",
        },
        "slot_rule": {
            "count": 5,
            "first_mm": 125.0,
            "spacing_mm": 83.5,
            "offset_mm": 13.7,
            "length_mm": 60.0,
            "width_mm": 6.0,
        },
        "feed": {
            "kind": "probe",
            "position_mm": 40.0,
            "height_mm": 24.0,
            "wire_diameter_mm": 1.5,
            "coax_inner_mm": 1.27,
            "coax_outer_mm": 4.1,
            "coax_permittivity": 2.03,
        },
    }
    for name, value in changes.items():
        table, key = name.split("__")
        data[table][key] = value
    return data


def _record(**changes):
    return parse_record(_data(**changes))


def _end_fed(**changes):
    data = _data(guide__near_end="port", **changes)
    data["feed"] = {"kind": "guide-port"}
    return parse_record(data)


@pytest.fixture(scope="module")
def five():
    return estimate(_record(), points=81)


def test_passive_and_complete(five):
    assert np.all(np.abs(five.s11) <= 1) and np.all(five.input_impedance.real > 0)
    assert set(five.figures) == {
        "resonance",
        "s11_at_resonance",
        "s11_at_centre",
        "band_low",
        "band_high",
        "input_impedance",
        "realized_gain",
        "directivity",
        "beam_direction",
        "beamwidth_along",
        "beamwidth_across",
        "side_lobe_level",
        "front_to_back",
        "efficiency",
        "polarization",
    }


def test_the_match_alone_is_that_of_the_estimate(five):
    """The same arithmetic: equal to the last bit."""
    frequency, s11 = estimated_match(_record(), points=81)
    assert np.array_equal(frequency, five.frequency) and np.array_equal(s11, five.s11)


def test_slots_are_solved_once_for_all_heights_of_the_probe(monkeypatch):
    """And anew for another place of the probe; what is kept is what a fresh solution gives."""
    solved = []

    model = estimate_module.slot_model

    def counted(guide):
        solved.append(guide)
        return model(guide)

    monkeypatch.setattr(estimate_module, "slot_model", counted)
    estimate_module._slotted.cache_clear()
    estimate_module._moment.cache_clear()
    curves = [estimated_match(_record(feed__height_mm=height), points=21)[1] for height in (24.0, 26.0)]
    assert len(solved) == 1 and np.abs(curves[0] - curves[1]).max() > 0.1
    estimated_match(_record(feed__position_mm=41.0), points=21)
    assert len(solved) == 2
    estimate_module._slotted.cache_clear()
    estimate_module._moment.cache_clear()
    assert np.array_equal(estimated_match(_record(feed__height_mm=26.0), points=21)[1], curves[1])


def test_power_is_shared_and_adds_up_to_the_efficiency(five):
    assert five.slot_power.sum() == pytest.approx(five.figures["efficiency"].value, rel=1e-12)
    # Equal slots at half-wave spacing: coupling and 0.05 % of spacing leave a few per cent.
    np.testing.assert_allclose(five.slot_power, 0.2, atol=0.012)


def test_gain_budget(five):
    value = {name: figure.value for name, figure in five.figures.items()}
    mismatch = 1 - 10 ** (value["s11_at_centre"] / 10)
    budget = value["directivity"] + 10 * np.log10(value["efficiency"] * mismatch)
    assert value["realized_gain"] == pytest.approx(budget, abs=1e-9)


def test_beamwidth_along_is_that_of_a_uniform_array(five):
    # Uniform array of N d = 417.5 mm: 0.886 lambda/(N d) rad (print: line source of that length),
    # 14.88 deg; five elements and the slot's own pattern change it by less than 2 %.
    expected = np.degrees(0.886 * C0 / 2.45e9 / 0.4175)
    assert five.figures["beamwidth_along"].value == pytest.approx(expected, rel=0.02)


def test_directivity_integrates_to_the_whole_sphere():
    record = _record()
    slots, found = slotted_guide(record).slots, estimate(record, points=5)
    aperture = Aperture(
        np.array([s.offset for s in slots]),
        np.array([s.position for s in slots]),
        np.array([s.length for s in slots]),
        found.slot_voltages,
    )
    # Mid-point rule in both angles, independent of the Gauss rule inside; 1 deg steps, 0.02 dB.
    theta, phi = np.radians(np.arange(0.5, 180)), np.radians(np.arange(0, 360, 3.0))
    power = np.abs(radiated_field(tube(record), aperture, 2.45e9, theta, phi)) ** 2
    mean = (power.mean(axis=1) * np.sin(theta)).sum() * np.radians(1) / 2
    assert 10 * np.log10(power.max() / mean) == pytest.approx(found.figures["directivity"].value, abs=0.02)


def test_cuts_share_the_broadside_direction(five):
    middle = five.along.angle.size // 2
    assert five.along.angle[middle] == 0
    # Both cuts hold broadside; the response is interpolated in one and solved in the other.
    assert five.along.power[middle] == pytest.approx(five.across.power[middle], rel=1e-6)


def test_mirrored_design_has_mirrored_cut():
    one, two = (estimate(_record(slot_rule__offset_mm=x), points=11) for x in (13.7, -13.7))
    np.testing.assert_allclose(one.s11, two.s11, rtol=1e-9)
    # The inner points of the integral equation are not symmetric: 0.2 % of the field.
    np.testing.assert_allclose(one.across.power, two.across.power[::-1], atol=0.005)


def test_scaled_design_has_scaled_frequency():
    # All lengths and 1/f times 1/3; with perfect walls nothing else enters.
    data = _data(guide__material="perfect")
    small = _data(guide__material="perfect")
    for table in ("guide", "slot_rule", "feed"):
        small[table] = {k: v / 3 if k.endswith("_mm") else v for k, v in small[table].items()}
    small["band"] = {k: v * 3 for k, v in small["band"].items()}
    one, two = (estimate(parse_record(each), points=11) for each in (data, small))
    np.testing.assert_allclose(one.s11, two.s11, rtol=1e-6)  # loss floor and rounding near the standing wave
    assert one.figures["directivity"].value == pytest.approx(two.figures["directivity"].value, abs=1e-6)


def test_end_fed_matched_array_is_matched():
    # Conductances 0.1999 each by Stevenson, sum 1.0; slots tuned by the record's own centre. The isolated
    # slot of 60 mm is long; 58.6 mm resonates at 2.45 GHz, outside coupling then leaves a standing wave below
    # 1.5.
    found = estimate(_end_fed(slot_rule__length_mm=58.6))
    assert found.figures["s11_at_resonance"].value < -14
    assert found.figures["efficiency"].value == pytest.approx(1, abs=0.01)


@each_case(
    "change",
    [
        {"feed__position_mm": 208.5},
        {"feed__position_mm": 166.0},
        {"feed__position_mm": 490.0},
        {"feed__wall": "front"},
        {"feed__offset_mm": -12.0},
        {"guide__front_wall_mm": 15.0},
        {"slot_rule__spacing_mm": 60.0, "slot_rule__offset_mm": 42.0, "guide__length_mm": 395.0},
        {"slot_rule__count": 1, "slot_rule__first_mm": 30.0, "guide__length_mm": 60.0},
        {"slot_rule__width_mm": 59.0, "slot_rule__count": 1},
        {"band__high_ghz": 3.331},
    ],
    ids=[
        "over a slot",
        "between slots",
        "behind the slots",
        "front",
        "aside",
        "thick wall",
        "at the edges",
        "end to end",
        "nearly round",
        "up to the next mode",
    ],
)
def test_every_sound_record_has_an_estimate(change):
    # Lossy lines have a wave impedance that is not quite real: |S11| may pass 1 by about alpha / beta, 1e-4.
    found = estimate(_record(**change), points=41)
    assert np.all(np.abs(found.s11) < 1 + 1e-4)
    assert 0.9 < found.figures["efficiency"].value <= 1


def test_neighbours_with_a_thin_bridge_have_an_estimate():
    data = _data()
    del data["slot_rule"]
    both = {"position_mm": 200.0, "length_mm": 60.0, "width_mm": 6.0}
    data["slot"] = [{**both, "offset_mm": 3.2}, {**both, "offset_mm": -3.2}]
    assert np.all(np.abs(estimate(parse_record(data), points=11).s11) <= 1)


def test_dark_slots_have_a_match_and_no_pattern():
    found = estimate(_record(slot_rule__offset_mm=0.0, guide__material="perfect"), points=11)
    assert found.along is None and "realized_gain" not in found.figures
    np.testing.assert_allclose(np.abs(found.s11), 1, atol=1e-6)  # nothing leaves


def test_sweep_says_its_error():
    assert 0 < estimate(_record(), points=201).sweep_error < 1e-5  # the tolerance asked for


def test_guide_without_slots_has_a_match_and_no_pattern():
    data = _data(guide__near_end="port", guide__far_end="port")
    del data["slot_rule"]
    data["feed"] = {"kind": "guide-port"}
    found = estimate(parse_record(data), points=11)
    assert found.along is None and "directivity" not in found.figures
    np.testing.assert_allclose(found.s11, 0, atol=1e-12)
    assert warnings(parse_record(data)) == []


def test_span_stays_between_cutoff_and_next_mode():
    low, high = estimate_span(_record(band__low_ghz=1.8, band__high_ghz=3.2))
    assert (low, high) == (pytest.approx(1.02 * C0 / 0.18), pytest.approx(0.99 * C0 / 0.09))


def test_derived_figures():
    found = {name: figure.value for name, figure in derived(_record()).items()}
    assert found["guide_wavelength_centre"] == pytest.approx(
        0.166846, rel=1e-5
    )  # dispersion relation by hand
    assert found["slot_spacing_least"] == pytest.approx(83.5 / 166.846, rel=1e-5)
    assert found["last_slot_to_far_end"] == pytest.approx(42 / 166.846, rel=1e-5)
    assert found["stevenson_conductance_sum"] == pytest.approx(
        5 * found["stevenson_conductance_most"], rel=1e-12
    )
    assert found["wall_loss_least"] <= found["wall_loss"] <= found["wall_loss_most"]


def test_good_design_has_no_warning():
    assert warnings(_record()) == []


@each_case(
    ("change", "words"),
    [
        ({"slot_rule__spacing_mm": 78.0}, "half a guide wavelength is"),
        ({"slot_rule__alternate": False}, "same side of the centre line"),
        ({"slot_rule__spacing_mm": 166.8, "slot_rule__count": 3}, "grating lobes"),
        ({"slot_rule__spacing_mm": 166.8, "slot_rule__count": 3}, "opposite sides"),
        ({"guide__length_mm": 545.0}, "from the far short"),
        ({"band__low_ghz": 1.9}, "times the cutoff"),
        ({"band__high_ghz": 3.25}, "TE20"),
        ({"guide__material": "tin plate"}, "known only as a range"),
        ({"slot_rule__length_mm": 52.0}, "take little power"),
        ({"slot_rule__width_mm": 14.0}, "tenth of a wavelength"),
        ({"slot_rule__offset_mm": 0.0}, "does not radiate"),
        ({"slot_rule__offset_mm": 5.0}, "standing wave in the guide"),
        ({"slot_rule__offset_mm": 41.8}, "to a wall"),
        ({"feed__coax_permittivity": 1.0}, "check diameters"),
        ({"feed__height_mm": 12.0}, "wavelengths high"),
        ({"feed__height_mm": 40.0}, "below the opposite wall"),
        ({"feed__position_mm": 83.0}, "null of the standing wave"),
        ({"feed__position_mm": 83.0}, "close to the probe"),
        ({"feed__offset_mm": 25.0}, "off the centre line"),
    ],
)
def test_each_mistake_is_named(change, words):
    assert any(words in sentence for sentence in warnings(_record(**change)))


def test_end_fed_sum_of_conductances_is_questioned():
    assert any("add up to" in sentence for sentence in warnings(_end_fed(slot_rule__offset_mm=20.0)))


def test_thin_bridge_is_named():
    data = _data()
    rule = data.pop("slot_rule")
    both = {"position_mm": 200.0, "length_mm": 60.0, "width_mm": 6.0}
    data["slot"] = [{**both, "offset_mm": 3.2}, {**both, "offset_mm": -3.2}]
    assert any("0.40 mm of metal" in sentence for sentence in warnings(parse_record(data))), rule


@pytest.mark.parametrize(("axis", "word"), [("vertical", "horizontal"), ("horizontal", "vertical")])
def test_polarization_is_across_the_axis(axis, word):
    assert derived(_record(mounting__axis=axis))["polarization"].value.startswith(word)
