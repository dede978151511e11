"""A link: directions, frames, polarization and the budget, on invented fields and runs."""

from __future__ import annotations

import json
import math
from pathlib import Path

import numpy as np
import pytest
from each_case import each_case

from simharness.constants import C0, ETA0
from simharness.em.pattern.direction import field_towards, horizontal_vertical, spherical_angles
from simharness.em.pattern.far_field import FarField, directivity, radiated_power
from simharness.errors import InputError
from simharness.files import atomic_write_text
from simharness.link.budget import Link, end_of_run, named_polarization, plain_end
from simharness.link.messages import direction_sentences, limit_sentence
from simharness.link.propagation import polarization_match, signed_axial_ratio
from simharness.link.rules import radiated_limit
from simharness.records import read_record
from simharness.results.far_field import far_index
from simharness.results.outputs import write_results
from simharness.runs.store import Store

RECORD = Path(__file__).parents[2] / "models" / "five-slot-2g45.toml"
FREQUENCY = 2.45e9
EXACT = 1e-9
"""Rounding of a few dozen operations."""


def dipole_field(place: float = 0.0) -> FarField:
    """A short magnetic dipole along z, at a place on the z axis: E_phi = sin(theta), D = 1.5 (any
    textbook).
    """
    theta, phi = np.radians(np.arange(0, 181, 2.0)), np.radians(np.arange(0, 361, 2.0))
    wave = np.exp(2j * np.pi * FREQUENCY / C0 * place * np.cos(theta))
    e_phi = np.sqrt(3 * ETA0 / (4 * np.pi)) * (np.sin(theta) * wave)[:, None] * np.ones(phi.size)
    return FarField(np.array([FREQUENCY]), theta, phi, np.zeros_like(e_phi)[None], e_phi[None])


def invented_run() -> dict[str, np.ndarray]:
    """Arrays of a lossless run that radiates 0.8 W of 1 W available as that dipole."""
    far = dipole_field()
    scale = math.sqrt(0.8)
    return {
        "frequency": np.linspace(2.3e9, 2.6e9, 31),
        "s11": np.full(31, math.sqrt(0.2) + 0j),
        "far_frequency": far.frequency,
        "theta": far.theta,
        "phi": far.phi,
        "e_theta": scale * far.e_theta + 0j,
        "e_phi": scale * far.e_phi + 0j,
        "directivity": directivity(far),
        "radiated_power": 0.8 * radiated_power(far),
        "accepted_power": 0.8 * radiated_power(far),
    }


@each_case(
    "along, across, vector",
    [
        (0, 0, (0, 1, 0)),
        (90, 0, (0, 0, 1)),
        (0, 90, (1, 0, 0)),
        (180, 0, (0, -1, 0)),
        (0, -90, (-1, 0, 0)),
        (150, 0, (0, -math.sqrt(0.75), 0.5)),
    ],
)
def test_direction_by_its_angles_off_broadside(along, across, vector):
    """Broadside is +y, along leans to +z, across to +x: the axes of the antenna."""
    t, p = spherical_angles(math.radians(along), math.radians(across))
    found = np.sin(t) * np.cos(p), np.sin(t) * np.sin(p), np.cos(t)
    np.testing.assert_allclose(found, vector, rtol=0, atol=EXACT)


def test_field_between_the_directions_of_the_grid():
    """Half a metre from the origin the phase turns by 26 rad per rad; referred to its own place it is smooth.

    The cubic's error on sin(theta) at 2 deg is below h^4/384 = 4e-9.
    """
    theta, phi = np.array([0.7131, 1.5]), np.array([3.0002, 6.28])
    e_theta, e_phi = field_towards(dipole_field(0.5), 0, theta, phi, (0.0, 0.0, 0.5))
    np.testing.assert_allclose(e_phi, np.sqrt(3 * ETA0 / (4 * np.pi)) * np.sin(theta), rtol=1e-7, atol=0)
    assert np.all(e_theta == 0)


def test_longitudinal_slots_on_a_vertical_axis_are_horizontal():
    """E_phi lies level when z points up, and upright when x does (first principles)."""
    level, upright = horizontal_vertical(0.0, 1.0, np.pi / 2, np.pi / 2, "+z")
    assert abs(level) == pytest.approx(1, abs=EXACT) and abs(upright) < EXACT
    level, upright = horizontal_vertical(0.0, 1.0, np.pi / 2, np.pi / 2, "+x")
    assert abs(upright) == pytest.approx(1, abs=EXACT) and abs(level) < EXACT


def test_horizontal_is_to_the_right_and_vertical_upwards():
    """Looking from the antenna along +y with z up, the right hand points to +x: minus phi."""
    assert horizontal_vertical(0.0, 1.0, np.pi / 2, np.pi / 2, "+z")[0] == pytest.approx(-1, abs=EXACT)
    assert horizontal_vertical(1.0, 0.0, np.pi / 2, np.pi / 2, "+z")[1] == pytest.approx(-1, abs=EXACT)


@pytest.mark.parametrize("one, two", [(0.3, -0.8), (1.0, 1.0), (0.0, 0.5)])
def test_ellipses_pass_what_their_vectors_pass(one, two):
    """The Poincare form equals |<u, v>|^2 of the unit vectors of the ellipses (first principles)."""

    def vector(ratio: float, tilt: float) -> np.ndarray:
        major, minor = np.array([np.cos(tilt), np.sin(tilt)]), np.array([-np.sin(tilt), np.cos(tilt)])
        return (major - 1j * ratio * minor) / np.sqrt(1 + ratio**2)

    for tilt in (0.0, 0.4, 1.3):
        u, v = vector(one, 0.2), vector(two, 0.2 + tilt)
        assert signed_axial_ratio(*u) == pytest.approx(one, abs=EXACT)
        assert polarization_match(one, 0.2, two, 0.2 + tilt) == pytest.approx(
            abs(np.vdot(u, v)) ** 2, abs=EXACT
        )


def test_end_of_a_run():
    """D = 1.5 and 0.8 accepted, no loss: 0.79 dBi at broadside; sin^2 beside it; peak whatever the
    direction.
    """
    end = end_of_run(invented_run(), read_record(RECORD), FREQUENCY, math.radians(60), 0.0)
    assert end.largest_dbi == pytest.approx(10 * math.log10(1.2), abs=1e-6)  # quadrature exact, cubic to 1e-8
    assert end.gain_dbi == pytest.approx(end.largest_dbi - 6.0206, abs=1e-4)  # cos 60, printed digits
    assert end.polarization.description == "horizontal"


def test_frequency_far_from_the_stored_fields():
    with pytest.raises(InputError, match="holds far fields from 2.4 to 2.5 GHz"):
        far_index(np.array([2.4e9, 2.45e9, 2.5e9]), 5.8e9)


def test_budget_adds_up():
    """20 - 1 + 10 + 2 - 3.01 - 0.5 - loss, by hand; two digits."""
    link = Link(2.45e9, 20.0, 1.0, plain_end(10.0, "horizontal"), plain_end(2.0, "45"), 0.5)
    assert link.level_dbm(1000.0) == pytest.approx(20 - 1 + 10 + 2 - 3.01 - 0.5 - 100.23, abs=0.01)
    assert link.radiated_dbm == pytest.approx(29.0, abs=EXACT)
    far = link.range_m(-90.0, 10.0)
    assert link.level_dbm(far) == pytest.approx(-80.0, abs=EXACT)


@pytest.mark.parametrize(
    "name, ideal, counted", [("vertical", 120.0, 20.0), ("circular", 3.0103, 3.0103), ("0", 0.0, 0.0)]
)
def test_crossed_antennas_are_counted_as_in_practice(name, ideal, counted):
    """Infinite by the book (120 dB is the floor of `decibels`); 20 dB are counted."""
    link = Link(2.45e9, 20.0, 0.0, plain_end(10.0, "horizontal"), plain_end(2.0, name))
    assert (link.ideal_mismatch_db, link.mismatch_db) == (
        pytest.approx(ideal, abs=1e-4),
        pytest.approx(counted, abs=1e-4),
    )


def test_circular_of_unknown_hand_takes_the_worse():
    link = Link(2.45e9, 20.0, 0.0, plain_end(10.0, "left-circular"), plain_end(2.0, "circular"))
    assert link.ideal_mismatch_db == 120.0


def test_nonsense_is_no_polarization():
    with pytest.raises(InputError, match="must be horizontal"):
        named_polarization("slanted")


@pytest.fixture
def ask(call, tmp_path):
    """A function that runs `link` in a folder with one invented run: code, output in one line, errors."""
    with Store(tmp_path / "runs").writer("0123456789abcdef", "invented") as writer:
        write_results(writer.path / "results.h5", invented_run(), {"note": "invented"})
        atomic_write_text(
            writer.path / "record.json", read_record(RECORD).model_dump_json(by_alias=True, exclude_none=True)
        )
        writer.finalize("finished")

    def run(*words: str) -> tuple[int, str, str]:
        code, out, err = call("link", *words)
        return code, " ".join(out.split()), err

    return run


def test_command_says_what_a_vertical_axis_costs(ask):
    code, out, err = ask(
        "invented",
        "--power-dbm",
        "20",
        "--distance-m",
        "100",
        "--sensitivity-dbm",
        "-90",
        "--region",
        "europe",
    )
    assert (code, err) == (0, "")
    for words in (
        "radiates horizontal polarization",
        "in practice 20 dB or more",
        "received level at most",
        "or worse",
        "0.8 dB above the limit of 20.0 dBm",
        "your local rules decide",
        "set the transmitter to 19.2 dBm (83.2 mW) or less",
        "seen in a copy of the text",
        "from memory, look it up",
        "Do not touch",
    ):
        assert words in out, words


def test_command_as_json_has_the_numbers_of_the_text(ask):
    words = (
        "invented",
        "--power-dbm",
        "20",
        "--distance-m",
        "100",
        "--other-polarization",
        "horizontal",
        "--region",
        "us",
    )
    found = json.loads(ask(*words, "--json")[1])
    text = ask(*words)[1]
    assert (
        f"{found['level_dbm']:.1f} ± {found['gain_error_there_db']:.1f} dBm" in text
        and f"{found['eirp_limit']['dbm']:.1f} dBm" in text
    )
    assert found["level_dbm"] == pytest.approx(
        20 + 0.79 + 2.15 - 80.2, abs=0.06
    )  # one digit of the loss, two of the gain


def test_command_takes_the_mounting_of_the_record_at_hand(ask, tmp_path):
    """The same antenna laid flat, in a record of another name: polarization follows the axis of the slots."""
    text = (
        RECORD.read_text(encoding="utf-8")
        .replace('axis = "vertical"', 'axis = "horizontal"')
        .replace('name = "five', 'name = "flat-five')
    )
    (tmp_path / "flat.toml").write_text(text, encoding="utf-8")
    code, out, err = ask("flat.toml", "--power-dbm", "20")
    assert (code, err) == (0, "") and "antenna flat-five-slot-2g45 of run invented-0123456789abcdef" in out
    assert "dBi, vertical gain of the other end" in out and "crossed" not in out
    assert "crossed" in ask(str(RECORD), "--power-dbm", "20")[1]


def leaning_run(degrees: float) -> dict[str, np.ndarray]:
    """The dipole's run with a beam cos^80 off broadside by some degrees to the far end, along the guide, 1 in
    the middle of it.
    """
    run = invented_run()
    outward = np.cos(run["theta"])[:, None] * np.sin(np.radians(degrees)) + np.sin(run["theta"])[
        :, None
    ] * np.sin(run["phi"]) * np.cos(np.radians(degrees))
    power = np.maximum(outward, 0.0) ** 80
    far = FarField(
        run["far_frequency"],
        run["theta"],
        run["phi"],
        np.zeros((1, *power.shape), complex),
        np.sqrt(power)[None] + 0j,
    )
    sent = radiated_power(far)
    return run | {
        "e_theta": far.e_theta,
        "e_phi": far.e_phi,
        "directivity": directivity(far),
        "radiated_power": sent,
        "accepted_power": sent,
    }


def test_a_beam_that_leans_is_told_and_counted():
    """cos^80 of 6 degrees is 1.91 dB by hand (80 x 10 log cos 6 deg); aimed with the beam nothing is lost.
    0.02: the peak lies on the grid of 2 degrees."""
    record = read_record(RECORD)
    straight = end_of_run(leaning_run(6.0), record, FREQUENCY, 0.0, 0.0)
    assert straight.largest_dbi - straight.gain_dbi == pytest.approx(
        -800 * math.log10(math.cos(math.radians(6))), abs=0.02
    )
    assert straight.beam.value == pytest.approx(6.0, abs=0.01) and straight.beam.error > 0
    text = " ".join(direction_sentences(straight))
    assert "leans 6.0 ± " in text and "far end" in text and "--along-deg 6.0" in text
    aimed = end_of_run(leaning_run(6.0), record, FREQUENCY, math.radians(6.0), 0.0)
    assert aimed.gain_dbi == pytest.approx(aimed.largest_dbi, abs=0.02) and direction_sentences(aimed) == []
    assert end_of_run(leaning_run(0.0), record, FREQUENCY, 0.0, 0.0).beam is None


def test_the_bar_of_a_gain_grows_beside_the_beam():
    """On the beam that of the gain; 13 dB below it that of a side lobe (0.7 dB on a draft mesh); never
    less.
    """
    run = leaning_run(0.0)
    ends = [
        end_of_run(run, read_record(RECORD), FREQUENCY, math.radians(angle), 0.0)
        for angle in (0.0, 15.43, 30.0)
    ]
    assert ends[1].largest_dbi - ends[1].gain_dbi == pytest.approx(12.76, abs=0.1)  # cos^80, by hand
    assert [end.gain_error for end in ends] == sorted(end.gain_error for end in ends)
    assert ends[0].gain_error == 0.2 and ends[1].gain_error == pytest.approx(0.7, abs=0.03)


def test_what_the_transmitter_may_give():
    """By hand: 20 dBm EIRP less 10.7 dBi is 9.3 dBm, and a cable's loss more; the transmitter itself is
    limited too in the US.
    """
    found = {"eirp_dbm": 30.7, "eirp_w": 1.17, "gain_error_db": None, "power_dbm": 20.0, "region": "europe"}
    limit = {"source": "x", "edition": "y", "label": "z", "remark": ""}
    cases = (
        ("europe", 10.7, 0.0, 9.3),
        ("europe", 10.7, 2.0, 11.3),
        ("us", 12.0, 0.0, 24.0),
        ("us", 3.0, 5.0, 30.0),
        ("us-point-to-point", 12.0, 0.0, 28.0),
    )
    for region, gain, cable, allowed in cases:
        row = radiated_limit(region, 2.44e9)
        assert row.transmitter_dbm(gain, cable) == pytest.approx(allowed, abs=1e-9), region
    said = limit_sentence(found | {"eirp_limit": limit | {"dbm": 20.0, "transmitter_dbm": 9.3}})
    assert (
        "10.7 dB above the limit of 20.0 dBm" in said
        and "set the transmitter to 9.3 dBm (8.51 mW) or less" in said
        and "local rules" in said
    )
    said = limit_sentence(
        found | {"power_dbm": 5.0, "eirp_limit": limit | {"dbm": 20.0, "transmitter_dbm": 9.3}}
    )
    assert "4.3 dB below" in said and "may give 9.3 dBm" in said


def test_command_with_a_plain_gain(ask):
    code, out, _ = ask(
        "--gain-dbi", "12", "--frequency-ghz", "5.8", "--power-dbm", "20", "--polarization", "vertical"
    )
    assert (
        code == 0
        and "gain of this end 12.0 dBi, vertical" in out
        and "far field" not in out.split("Metal")[1]
    )


@pytest.mark.parametrize(
    "words, said",
    [
        ((), "give either a stored run or --gain-dbi"),
        (("invented", "--gain-dbi", "3"), "give either"),
        (("--gain-dbi", "3"), "--frequency-ghz = (none): must be given"),
        (("invented", "--other-polarization", "x"), "must be horizontal"),
        (("invented", "--frequency-ghz", "9"), "the run holds far fields"),
    ],
)
def test_command_refuses_in_one_sentence(ask, words, said):
    code, out, err = ask(*words, "--power-dbm", "20")
    assert (code, out) == (3, "") and said in err and err.count("\n") == 1
