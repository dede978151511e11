"""The estimate of a design: match, pattern and gain in about a second.

Slots and probe by the method of moments, the pattern by the infinite tube; see
`simharness.em.slot_moment`, `.probe_moment`, `.array`, `.tube` for derivations and
accuracy. It shares nothing with the full-wave run but the record, and so is a
cross-check of it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simharness import cross_polar, design
from simharness.advice import derived, warnings
from simharness.constants import TWO_PI
from simharness.design import Figure
from simharness.em import pattern
from simharness.em.array import SlotState, empty_reflection, slot_state, swept_network, swept_reflection
from simharness.em.match import decibels, deepest_match, match_band
from simharness.em.guide import cutoff_frequency, next_mode, wave_impedance
from simharness.em.probe_moment import probe_network
from simharness.em.slot_moment import SlotMoment
from simharness.em.tube import Aperture, radiated_field
from simharness.materials import wall_conductivity
from simharness.records import REFERENCE_OHM, Record

__all__ = ["Cut", "Estimate", "Figure", "derived", "estimate", "estimate_span", "warnings"]

_MATCH = "slots and probe by the method of moments, infinite plane outside"
_PATTERN = "slots on an infinitely long tube; beam within about 5 %, behind the tube indicative only"
_ONE_MODE = 0.9999
"""Of the cutoff of the next mode: the greatest frequency where TE10 is alone beyond doubt."""


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
    """Everything the estimate says about a record.

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
        None without slots that radiate.
    figures : dict
        Name to Figure.
    sweep_error : float
        Largest error found in the rational fits over frequency: of the reflection of TE10 by
        the slots, and of the probe against its coax.
    """

    frequency: NDArray
    s11: NDArray
    input_impedance: NDArray
    slot_voltages: NDArray
    slot_power: NDArray
    along: Cut | None
    across: Cut | None
    figures: dict[str, Figure]
    sweep_error: float = 0.0


def estimate_span(record: Record) -> tuple[float, float]:
    """Lowest and highest frequency of the estimate, Hz: the band widened by `Band.beyond_ghz` each side.

    It stays 2 % above cutoff and 1 % below the next mode, but holds the band up to where
    the next mode begins.
    """
    low, high, beyond = (1e9 * f for f in (record.band.low_ghz, record.band.high_ghz, record.band.beyond_ghz))
    a, b = record.guide.a_mm * 1e-3, record.guide.b_mm * 1e-3
    least, following = 1.02 * cutoff_frequency(a), next_mode(a, b)[1]
    top = max(high, min(high + beyond, 0.99 * following))
    return min(low, max(low - beyond, least)), min(top, _ONE_MODE * following)


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
    inside, state, slot_error = _inside(record, frequency, centre)
    impedance, s11, probe_error = _port(record, frequency, inside[:-1])
    at_centre, s11_at_centre, _ = _port(record, np.array([centre]), inside[-1:])
    figures = _match_figures(frequency, s11, s11_at_centre[0], at_centre[0])
    figures["polarization"] = Figure(design.polarization(record), "", "longitudinal slots")
    along = across = None
    if np.any(state.voltages):
        along, across, found = _radiation(record, state.voltages, centre)
        figures |= _gain_figures(found, state.efficiency, abs(s11_at_centre[0]) ** 2)
        figures |= cross_polar.estimated(record, state.voltages, centre)
    error = max(slot_error, probe_error)
    return Estimate(frequency, s11, impedance, state.voltages, state.power, along, across, figures, error)


def _inside(record: Record, frequency: NDArray, centre: float) -> tuple[NDArray, SlotState, float]:
    """Reflection of TE10 at the frequencies and, last, the centre; the slots there; error of the sweep."""
    guide = record.guide
    if not record.slots:
        size = guide.a_mm * 1e-3, guide.b_mm * 1e-3, guide.length_mm * 1e-3
        everything = np.append(frequency, centre)
        s11 = empty_reflection(*size, wall_conductivity(guide)[0], everything, guide.far_end == "short")
        return s11, SlotState(np.zeros(0, dtype=complex), np.zeros(0)), 0.0
    model = SlotMoment(design.slotted_guide(record))
    s11, error = swept_reflection(model, frequency)
    return np.append(s11, model.solve(np.array([centre])).s[0, 0, 0]), slot_state(model, centre), error


def _port(record: Record, frequency: NDArray, inside: NDArray) -> tuple[NDArray, NDArray, float]:
    """Input impedance and reflection at the reference plane from that of TE10; error of the sweep."""
    a, b = record.guide.a_mm * 1e-3, record.guide.b_mm * 1e-3
    feed, line = record.feed, (1 + inside) / (1 - inside)
    if feed.kind != "probe":
        return wave_impedance(a, frequency) * line, inside, 0.0
    place, length = feed.position_mm * 1e-3, record.guide.length_mm * 1e-3
    wire, coax = design.probe_shape(feed), design.coax_line(record, feed)
    network, error = swept_network(lambda f: probe_network(a, b, wire, coax, f, place, length - place), frequency)
    s11 = network.reflection(line, REFERENCE_OHM)
    return REFERENCE_OHM * (1 + s11) / (1 - s11), s11, error


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
    slots, tube = design.slotted_guide(record).slots, design.tube(record)
    aperture = Aperture(
        np.array([s.offset for s in slots]),
        np.array([s.position for s in slots]),
        np.array([s.length for s in slots]),
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
