"""The closed-form estimate of a design: match, pattern and gain in about a second.

Slots by the one-term model with outside coupling, the probe by its sinusoidal current,
the pattern by the infinite tube; see `simharness.em.slot`, `.probe`, `.array`, `.tube`
for derivations and accuracy. It is a starting point and a cross-check for the full-wave
run, not a replacement.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simharness import design
from simharness.advice import derived, warnings
from simharness.constants import TWO_PI
from simharness.design import Figure
from simharness.em import pattern
from simharness.em.array import LineState, line_state
from simharness.em.coax import coax_impedance
from simharness.em.match import decibels, deepest_match, match_band
from simharness.em.guide import cutoff_frequency, next_mode, wave_impedance
from simharness.em.probe import input_impedance, through_coax
from simharness.em.tube import Aperture, radiated_field
from simharness.records import REFERENCE_OHM, Record

__all__ = ["Cut", "Estimate", "Figure", "derived", "estimate", "estimate_span", "warnings"]

_MATCH = "TE10 line, one-term slots, sinusoidal probe current; resonance within about 3 %"
_PATTERN = "slots on an infinitely long tube; beam within about 5 %, behind the tube indicative only"


@dataclass(frozen=True)
class Cut:
    """Linear power pattern in a principal plane, 1 at the largest of the two cuts.

    Attributes
    ----------
    angle : (n,) array
        rad from broadside, -pi to pi; towards +z in the cut along, +x in the cut across.
    power : (n,) array
    """

    angle: NDArray
    power: NDArray


@dataclass(frozen=True)
class Estimate:
    """Everything the closed forms say about a record.

    Attributes
    ----------
    frequency : (f,) array
        Hz.
    s11, input_impedance : (f,) complex arrays
        At the outer face of the wall, reference 50 ohm (probe), or of TE10 at the near
        end, reference its wave impedance (guide port); ohm.
    slot_voltages : (n,) complex array
        At the design frequency, largest magnitude 1.
    slot_power : (n,) array
        Fraction of the accepted power radiated by each slot, at the design frequency.
    along, across : Cut or None
        None without slots.
    figures : dict
        Name to Figure.
    """

    frequency: NDArray
    s11: NDArray
    input_impedance: NDArray
    slot_voltages: NDArray
    slot_power: NDArray
    along: Cut | None
    across: Cut | None
    figures: dict[str, Figure]


def estimate_span(record: Record) -> tuple[float, float]:
    """Lowest and highest frequency of the estimate, Hz: the band widened by its width each side.

    It stays 2 % above cutoff and 1 % below the next mode, but always holds the band.
    """
    low, high = record.band.low_ghz * 1e9, record.band.high_ghz * 1e9
    a, b = record.guide.a_mm * 1e-3, record.guide.b_mm * 1e-3
    least, most = 1.02 * cutoff_frequency(a), 0.99 * next_mode(a, b)[1]
    return min(low, max(2 * low - high, least)), max(high, min(2 * high - low, most))


def estimate(record: Record, points: int = 201) -> Estimate:
    """Estimate match and radiation of a design.

    Parameters
    ----------
    record : Record
    points : int
        Frequencies in `estimate_span`.
    """
    frequency = np.linspace(*estimate_span(record), points)
    centre = record.band.centre_ghz * 1e9
    everything = np.append(frequency, centre)
    line = design.slotted_line(record)
    source = record.feed.position_mm * 1e-3 if record.feed.kind == "probe" else 0.0
    state = line_state(line, everything, source)
    impedance, s11 = _port(record, state)
    figures = _match_figures(frequency, s11[:-1], s11[-1], impedance[-1])
    figures["polarization"] = Figure(design.polarization(record), "", "longitudinal slots")
    voltages = state.slot_voltage[-1]
    along = across = None
    if voltages.size:
        voltages = voltages / np.max(np.abs(voltages))
        along, across, found = _radiation(record, voltages, centre)
        efficiency = float(state.efficiency[-1])
        figures |= _gain_figures(found, efficiency, abs(s11[-1]) ** 2)
    return Estimate(frequency, s11[:-1], impedance[:-1], voltages, state.power[-1], along, across, figures)


def _port(record: Record, state: LineState) -> tuple[NDArray, NDArray]:
    """Input impedance and reflection at the reference plane."""
    a, b = record.guide.a_mm * 1e-3, record.guide.b_mm * 1e-3
    frequency, feed = state.frequency, record.feed
    if feed.kind != "probe":
        s11 = 2 * state.source_impedance - 1
        return wave_impedance(a, frequency) * (1 + s11) / (1 - s11), s11
    place = feed.position_mm * 1e-3
    back_short = min(place, record.guide.length_mm * 1e-3 - place)
    inside = input_impedance(a, b, design.probe_shape(feed), frequency, state.source_impedance, back_short)
    wall = record.guide.other_walls_mm if feed.wall == "back" else record.guide.front_wall_mm
    own = coax_impedance(feed.coax_inner_mm, feed.coax_outer_mm, feed.coax_permittivity)
    impedance = through_coax(inside, frequency, wall * 1e-3, own, feed.coax_permittivity)
    return impedance, (impedance - REFERENCE_OHM) / (impedance + REFERENCE_OHM)


def _match_figures(frequency: NDArray, s11: NDArray, at_centre: complex, impedance: complex) -> dict[str, Figure]:
    best, power = deepest_match(frequency, s11)
    low, high = match_band(frequency, s11)
    return {
        "resonance": Figure(best, "Hz", f"deepest |S11|; {_MATCH}"),
        "s11_at_resonance": Figure(decibels(power), "dB", _MATCH),
        "s11_at_centre": Figure(decibels(abs(at_centre) ** 2), "dB", _MATCH),
        "band_low": Figure(low, "Hz", f"|S11| = -10 dB below the resonance; {_MATCH}"),
        "band_high": Figure(high, "Hz", f"|S11| = -10 dB above the resonance; {_MATCH}"),
        "input_impedance": Figure(complex(impedance), "ohm", f"at the design frequency; {_MATCH}"),
    }


def _radiation(record: Record, voltages: NDArray, frequency: float) -> tuple[Cut, Cut, dict[str, float]]:
    """Both cuts and the figures of the pattern."""
    line, tube = design.slotted_line(record), design.tube(record)
    aperture = Aperture(
        np.array([s.offset for s in line.shapes]),
        np.array(line.positions),
        np.array([s.length for s in line.shapes]),
        voltages,
    )
    angle = np.radians(np.arange(-720, 721) / 4.0)
    theta = np.arccos(np.clip(np.sin(angle), -1, 1))
    planes = np.abs(radiated_field(tube, aperture, frequency, theta, np.radians([90.0, 270.0]))) ** 2
    along = np.where(np.cos(angle) >= 0, planes[:, 0], planes[:, 1])
    quarter = np.array([np.pi / 2])
    across = np.abs(radiated_field(tube, aperture, frequency, quarter, np.pi / 2 - angle)[0]) ** 2
    cosine, weights = np.polynomial.legendre.leggauss(240)
    phi = TWO_PI * np.arange(72) / 72
    sphere = np.abs(radiated_field(tube, aperture, frequency, np.arccos(cosine), phi)) ** 2
    top = max(along.max(), across.max(), sphere.max())
    mean = float(weights @ sphere.mean(axis=1)) / 2
    found = {
        "directivity": decibels(top / mean),
        "beamwidth_along": float(np.degrees(pattern.half_power_beamwidth(angle, along))),
        "beamwidth_across": float(np.degrees(pattern.half_power_beamwidth(angle, across))),
        "side_lobe_level": pattern.side_lobe_level(angle, along, np.pi / 2),
        "front_to_back": pattern.front_to_back(angle, across),
    }
    scale = max(along.max(), across.max())
    return Cut(angle, along / scale), Cut(angle, across / scale), found


def _gain_figures(found: dict[str, float], efficiency: float, reflected: float) -> dict[str, Figure]:
    units = {
        "directivity": ("dBi", "largest in any direction, integrated over the sphere"),
        "beamwidth_along": ("deg", "half power, plane along the guide"),
        "beamwidth_across": ("deg", "half power, plane across the guide"),
        "side_lobe_level": ("dB", "plane along the guide, in front"),
        "front_to_back": ("dB", "plane across the guide"),
    }
    figures = {
        name: Figure(found[name] if np.isfinite(found[name]) else None, unit, f"{text}; {_PATTERN}")
        for name, (unit, text) in units.items()
    }
    gain = found["directivity"] + decibels(efficiency * (1 - reflected))
    figures["efficiency"] = Figure(efficiency, "", "radiated over accepted power: wall loss with the nominal material")
    figures["realized_gain"] = Figure(gain, "dBi", f"directivity, efficiency and mismatch at 50 ohm; {_PATTERN}")
    return figures
