"""Rows so long that a record ends between two echoes: continued by their poles, and how long that takes
foretold.

The rows are circuits (`line_row`) whose response is known exactly. Physics behind the numbers: modes of a
closed guide lie one over the time of an echo apart, so that a record of less than one echo cannot tell them,
and one of two echoes can.
"""

from __future__ import annotations

import math
from dataclasses import replace
from functools import cache

import line_row
import numpy as np
import pytest
from line_row import CENTRE, PULSE, A
from shaped_records import SHIPPED, WR90

from simharness.em.signals.decay import missing_response, ringing_poles, ringing_time
from simharness.em.signals.ringing import TailRefused, extrapolated_spectrum
from simharness.em.signals.spectra import spectrum
from simharness.geometry import antenna_scene
from simharness.geometry.scene import Spectrum
from simharness.mesh.grid import grid
from simharness.mesh.settings import QUALITIES
from simharness.results.settling import missing_share, port_spectra
from simharness.runs.look import interim_match
from simharness.solver.settings import SolverRequest, SolverSettings

BAND = np.linspace(0.955, 1.045, 101) * CENTRE
SHOWN = {20: list(range(0, 20, 2)), 40: list(range(0, 40, 4))}
NOISE = 1e-6
"""Of the largest sample: that of single precision, piled up over a run."""


@cache
def long_record(slots: int) -> tuple[np.ndarray, np.ndarray]:
    return line_row.records(slots, SHOWN[slots], 400.0)


def noisy(slots: int, periods: float):
    time, signals = long_record(slots)
    kept = np.searchsorted(time, PULSE + periods / CENTRE)
    time, signals = time[:kept], signals[:, :kept]
    noise = np.random.default_rng(5).normal(size=signals.shape)
    return time, signals + NOISE * np.abs(signals).max(axis=1, keepdims=True) * noise


def request_of(slots: int) -> SolverRequest:
    """A request whose pulse, guide and band are those of the row; its mesh and the rest take no part."""
    scene = antenna_scene(SHIPPED[WR90], "gap")
    inside = (-A / 2, A / 2, -A / 2, 0.0, 0.0, line_row.length(slots))
    marks = tuple(scene.slots[0] for _ in SHOWN[slots])
    scene = replace(
        scene, slots=marks, inside=inside, spectrum=Spectrum(CENTRE, BAND[0], BAND[-1], (CENTRE,))
    )
    return SolverRequest(
        scene,
        grid(antenna_scene(SHIPPED[WR90], "gap"), QUALITIES["draft"]),
        SolverSettings(QUALITIES["draft"]),
    )


def raw(time, signals) -> dict[str, np.ndarray]:
    """The records as a solver with a port of 50 ohm would leave them."""
    voltage, current, *slots = signals
    series = {"port1_voltage": np.sqrt(50) * voltage, "port1_current_a": current / np.sqrt(50)}
    series |= {f"slot{n}_voltage": values for n, values in enumerate(slots, start=1)}
    return {name: np.array([time, values]) for name, values in series.items()}


def found(slots: int, periods: float):
    """Largest error of S11 in the band, method and change of a record so many periods after the pulse."""
    request = request_of(slots)
    whole, _, method, change = port_spectra(request, raw(*noisy(slots, periods)), BAND)
    waves = whole.voltage[0] - 50 * whole.current[0], whole.voltage[0] + 50 * whole.current[0]
    return np.abs(waves[0] / waves[1] - line_row.row(BAND, slots)[0]).max(), method, change


def test_a_look_at_a_run_under_way_closes_in_on_the_answer(tmp_path):
    """Files as the solver writes them, of twenty slots: nothing is said while the pulse comes in; what is
    said afterwards is far from the circuit, and says so, and is as near as a run must be once it says so."""
    request, (time, signals) = request_of(20), long_record(20)

    def look(until: float):
        kept = np.searchsorted(time, until)
        for name, series in raw(time[:kept], signals[:, :kept]).items():
            np.savetxt(tmp_path / name, series.T, fmt="%.10e", header=name, comments="%")
        return interim_match(request, tmp_path)

    assert interim_match(request, tmp_path) is None and look(0.9 * PULSE) is None
    seen = [look(PULSE + periods / CENTRE) for periods in (20, 40, 60, 200)]
    truth = line_row.row(seen[0].frequency, 20)[0]
    assert seen[0].frequency[[0, -1]].tolist() == [BAND[0], BAND[-1]]
    errors = [np.abs(found.s11 - truth).max() for found in seen]
    allowed = request.settings.settled
    assert math.isinf(seen[0].moving) and errors[0] > 0.1  # half an antenna: the far end has not answered
    assert seen[1].moving > errors[1] > allowed
    assert all(error < allowed and found.moving < allowed for error, found in zip(errors[2:], seen[2:]))


def test_the_request_has_pulse_and_echo_of_the_row():
    """The echo: 2 L / (c sqrt(1 - (fc / f)^2)), the group velocity of TE10 (Pozar, section 3.3; from
    memory).
    """
    request = request_of(40)
    assert request.pulse_length == pytest.approx(PULSE, rel=1e-12)
    velocity = 299_792_458.0 * np.sqrt(1 - (299_792_458.0 / 2 / A / CENTRE) ** 2)
    assert request.echo == pytest.approx(2 * line_row.length(40) / velocity, rel=1e-12)


@pytest.mark.parametrize("slots", [20, 40])
def test_less_than_two_echoes_give_the_whole_spectrum(slots):
    """1e-4: a tenth of what the solver may leave open. Seen: 1e-5 and less."""
    request = request_of(slots)
    error, method, change = found(slots, 1.7 * request.echo * CENTRE)
    assert method == "tail" and change < 2e-3
    assert error < 1e-4


@pytest.mark.parametrize("slots", [20, 40])
def test_the_forecast_of_length_is_what_it_takes(slots):
    """Known by then, or a quarter later; not known at half of it."""
    periods = request_of(slots).usual_periods
    assert found(slots, 1.25 * periods)[1] == "tail"
    assert found(slots, 0.5 * periods)[1] == "unsettled"


def test_whatever_is_not_refused_is_right():
    """At every length: the error is below the reported change (and what a settled run may leave open), or the
    record is refused.
    """
    seen = set()
    for slots, periods in [(20, p) for p in np.arange(10.0, 90.0, 16.0)] + [
        (20, 48.0),
        (40, 30.0),
        (40, 60.0),
    ]:
        error, method, change = found(slots, periods)
        seen.add(method)
        assert method == "unsettled" or error < max(change, 1e-3), (slots, periods)
    assert seen >= {"unsettled", "tail"}


def test_between_echoes_a_record_that_hardly_moves_has_not_settled():
    """An echo that was, and one to come: for most of the time between them nothing comes, and cutting a fifth
    changes nothing.
    """
    request = request_of(40)
    step, echo = 1 / (8 * CENTRE), request.echo
    time = np.arange(0.0, PULSE + 1.7 * echo, step)

    def pulse(after: float) -> np.ndarray:
        at = time - PULSE / 2 - after
        return np.exp(-((0.16 * 2 * np.pi * CENTRE / 3 * at) ** 2)) * np.cos(2 * np.pi * CENTRE * at)

    going = 0.1 * pulse(echo)  # and 0.05 after twice that, when the record has ended
    series = raw(time, [pulse(0.0) + going, pulse(0.0) - going])
    bare = replace(request, scene=replace(request.scene, slots=()))
    cut = round(0.8 * len(time))
    short, long = (spectrum(time[:n], going[:n], BAND) for n in (cut, len(time)))
    assert np.abs(short - long).max() < 1e-3 * np.abs(spectrum(time, pulse(0.0), BAND)).min()
    assert port_spectra(bare, series, BAND)[2] == "unsettled"


def test_poles_of_the_row_are_one_over_an_echo_apart():
    """And they tell what a record that is cut off lacks: against the records themselves, pulse and all.

    2 % of the largest: poles beyond the span are left out.
    """
    frequency = np.linspace(0.93, 1.07, 401) * CENTRE
    poles, residues = ringing_poles(frequency, line_row.row(frequency, 40)[0])
    apart = np.diff(
        np.sort(
            poles.real[(np.abs(poles.real / CENTRE - 1) < 0.06) & (np.abs(poles.real / CENTRE - 1) > 0.02)]
        )
    )
    assert np.median(apart) == pytest.approx(1 / request_of(40).echo, rel=0.15)
    time, (plus, minus, *_) = noisy(40, 120.0)
    coming, going = (plus + minus) / 2, (plus - minus) / 2
    near = np.linspace(0.99, 1.01, 11) * CENTRE
    lacks = line_row.row(near, 40)[0] - spectrum(time, going, near) / spectrum(time, coming, near)
    left = missing_response(poles, residues, near, np.array([time[-1] - PULSE / 2]))[0]
    assert np.abs(left).max() == pytest.approx(np.abs(lacks).max(), rel=0.5)


@pytest.mark.parametrize("slots", [20, 40])
def test_ringing_tells_when_the_fields_are_whole(slots):
    """The time when S11 lacks a hundredth is, within a factor of two, that when slot voltages lack a
    hundredth unevenly.
    """
    frequency = np.linspace(0.95, 1.05, 301) * CENTRE
    band = 0.995 * CENTRE, 1.005 * CENTRE
    predicted = ringing_time(frequency, line_row.row(frequency, slots)[0], band, 0.01) + PULSE / 2
    time, (_, _, *inside) = long_record(slots)
    at = np.array([band[0], CENTRE, band[1]])
    whole = spectrum(time, np.array(inside), at)
    lengths = np.arange(20.0, 350.0, 2.0)
    uneven = np.array(
        [
            missing_share(whole, spectrum(time[:n], np.array(inside)[:, :n], at))[2]
            for n in np.searchsorted(time, PULSE + lengths / CENTRE)
        ]
    )
    needed = PULSE + lengths[np.flatnonzero(uneven > 0.01)[-1]] / CENTRE
    assert 0.5 < needed / predicted < 2.0


def test_a_resonance_rings_as_long_as_its_quality_says():
    """One pole: exp(-pi f t / Q) falls to a hundredth after Q ln(100) / pi periods."""
    frequency = np.linspace(0.9, 1.1, 201) * CENTRE
    for quality in (20.0, 200.0):
        response = 1 / (1 + 1j * quality * (frequency / CENTRE - CENTRE / frequency))
        time = ringing_time(frequency, response, (0.999 * CENTRE, 1.001 * CENTRE), 0.01)
        assert time * CENTRE == pytest.approx(quality * np.log(100) / np.pi, rel=0.02)


def test_nothing_that_rings_takes_no_time():
    assert ringing_time(BAND, np.full(BAND.size, 0.3 + 0.1j), (BAND[0], BAND[-1]), 0.01) == 0.0


def test_too_short_a_window_is_refused_by_the_fit_as_well():
    time, signals = noisy(40, 50.0)
    with pytest.raises(TailRefused):
        extrapolated_spectrum(time, signals, BAND, PULSE, highest=1.24 * CENTRE, residual_limit=5e-3)


def test_a_response_that_is_nothing_does_not_ring():
    """A guide without slots, matched at its far end: no poles, no time."""
    nothing = np.zeros(BAND.size, dtype=complex)
    assert ringing_poles(BAND, nothing)[0].size == 0
    assert ringing_time(BAND, nothing, (BAND[0], BAND[-1]), 0.01) == 0.0
