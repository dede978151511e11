"""The estimate of a design: match, pattern and gain in about a second.

Slots and probe by the method of moments, the pattern by the infinite tube; see
`simharness.em.slot.moment`, `simharness.em.probe`, `simharness.em.row` and `simharness.em.pattern` for
derivations and accuracy. It shares nothing with the full-wave run but the record, and so is a cross-check of
it.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from simharness.constants import TWO_PI
from simharness.em.pattern import levels, side_lobes
from simharness.em.pattern.aperture import radiated_field
from simharness.em.pattern.gain import realized_gain_dbi
from simharness.em.row.response import (
    SlotState,
    slot_state,
    state_of,
    swept_reflection,
)
from simharness.em.screw.moment import slot_model
from simharness.em.signals.match import deepest_match, match_band
from simharness.em.slot.basis import SlottedGuide
from simharness.em.slot.moment import SlotMoment
from simharness.estimate import beam, cross_polar, model_inputs
from simharness.estimate.around import around_figures
from simharness.estimate.feeds import feed_inputs
from simharness.estimate.site.figures import site_figures
from simharness.estimate.site.outlines import azimuths
from simharness.estimate.site.pair import coupling_of
from simharness.figures import Figure
from simharness.numerics.decibels import decibels
from simharness.records import Record

__all__ = ["Cut", "Estimate", "Figure", "estimate", "estimate_span", "estimated_match"]

_MATCH = "slots and probe by the method of moments, infinite plane outside"
_PATTERN = "slots on an infinitely long tube; beam within about 5 %, behind the tube indicative only"
_ONE_MODE = 0.9999
"""Of the cutoff of the next mode: the greatest frequency at which only TE10 certainly travels."""


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
    """All results of the estimate of a record.

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
    """Lowest and highest frequency of the estimate, Hz: the band widened by `Band.beyond` each side.

    It stays 2 % above cutoff and 1 % below the next mode, but holds the band up to where
    the next mode begins.
    """
    low, high, beyond = record.band.low, record.band.high, record.band.beyond
    least, following = 1.02 * record.guide.cutoff, record.guide.next_mode[1]
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
    inside = _inside(record, points)
    frequency, centre = inside.frequency, record.band.centre
    reflected, state = _at_centre(record, centre)
    feed = feed_inputs(record)
    port = feed.response(frequency, inside.reflection)
    at_centre = feed.response(np.array([centre]), reflected)
    figures = _match_figures(frequency, port.s11, at_centre.s11[0], at_centre.impedance[0])
    figures["polarization"] = Figure(model_inputs.polarization(record), "", "longitudinal slots")
    along = across = None
    if np.any(state.voltages):
        coupled = coupling_of(record, model_inputs.aperture(record, state.voltages), state.efficiency)
        along, across, found = _radiation(record, state.voltages, centre, coupled)
        there = {"laminate": record.guide.substrate, "cover": record.cover}
        sheets = [name for name, part in there.items() if part]
        lost = "wall loss with the nominal material" + "".join(f" and loss of the {name}" for name in sheets)
        figures |= _gain_figures(found, state.efficiency, abs(at_centre.s11[0]) ** 2, lost)
        figures[beam.NAME] = beam.beam_figure(along.angle, along.power, _PATTERN)
        figures |= around_figures(record, across.angle, across.power, _PATTERN)
        figures |= cross_polar.estimated(record, state.voltages, centre)
        cuts = (along.angle, along.power), (across.angle, across.power)
        figures |= site_figures(record, *cuts, figures["realized_gain"], _PATTERN, coupled)
    if record.guide.far_end == "load":
        slotted = model_inputs.slotted_guide(record)
        board = slotted.superstrate.lossless if slotted.superstrate is not None else None
        lossless = slot_model(replace(slotted, conductivity=math.inf, superstrate=board))
        left = 1 - slot_state(lossless, centre).efficiency
        figures["end_power"] = Figure(left, "", f"of the accepted power, walls without loss; {_MATCH}")
    error = max(inside.error, port.error)
    return Estimate(
        frequency, port.s11, port.impedance, state.voltages, state.power, along, across, figures, error
    )


def estimated_match(record: Record, points: int = 201) -> tuple[NDArray, NDArray]:
    """The match of an estimate alone: frequencies (f,) in `estimate_span`, Hz, and S11 (f,).

    The slotted guide is kept for the next record: one that differs only in height and wire of its probe takes
    a small part of the time.
    """
    inside = _inside(record, points)
    return inside.frequency, feed_inputs(record).response(inside.frequency, inside.reflection).s11


def row_reflection(record: Record, points: int = 201) -> tuple[NDArray, NDArray]:
    """What the feed sees: frequencies (f,) in `estimate_span`, Hz, and the reflection of TE10 there (f,).

    After an estimate of the same record with as many points it is known.
    """
    inside = _inside(record, points)
    return inside.frequency, inside.reflection


def exact_reflection(record: Record, frequency: NDArray) -> NDArray:
    """S11 (f,) of the estimate at a few frequencies (f,) in Hz, each solved by itself; what was solved before
    is kept."""
    points = tuple(map(float, frequency))
    inside = (
        _solved_guide(model_inputs.slotted_guide(record), points)
        if record.slots
        else model_inputs.without_slots(record, frequency)
    )
    return feed_inputs(record).exact_s11(frequency, inside)


@lru_cache(maxsize=256)
def _solved_guide(guide: SlottedGuide, frequency: tuple[float, ...]) -> NDArray:
    return slot_model(guide).solve(np.array(frequency)).s[:, 0, 0]


@dataclass(frozen=True)
class _Inside:
    """What lies in the guide, the probe apart: reflection (f,) of TE10 at the feed, and the error of its
    sweep."""

    frequency: NDArray
    reflection: NDArray
    error: float


def _inside(record: Record, points: int) -> _Inside:
    span = estimate_span(record)
    if record.slots:
        return _slotted(model_inputs.slotted_guide(record), span, points)
    frequency = np.linspace(*span, points)
    return _Inside(frequency, model_inputs.without_slots(record, frequency), 0.0)


@lru_cache(maxsize=32)
def _slotted(guide: SlottedGuide, span: tuple[float, float], points: int) -> _Inside:
    """A guide with slots, the last few kept: they take most of the time of an estimate."""
    frequency = np.linspace(*span, points)
    reflection, error = swept_reflection(_moment(guide), frequency)
    for kept in (frequency, reflection):
        kept.setflags(write=False)
    return _Inside(frequency, reflection, error)


def _at_centre(record: Record, centre: float) -> tuple[NDArray, SlotState]:
    """Reflection (1,) of TE10 at the feed, and what the slots do there, at the design frequency (Hz)."""
    if not record.slots:
        return model_inputs.without_slots(record, np.array([centre])), SlotState(
            np.zeros(0, dtype=complex), np.zeros(0)
        )
    model = _moment(model_inputs.slotted_guide(record))
    response = model.solve(np.array([centre]))
    return response.s[:, 0, 0], state_of(model, response)


@lru_cache(maxsize=2)
def _moment(guide: SlottedGuide) -> SlotMoment:
    return slot_model(guide)  # used for the band of a guide and then for its centre


def _match_figures(
    frequency: NDArray, s11: NDArray, at_centre: complex, impedance: complex
) -> dict[str, Figure]:
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


def _radiation(
    record: Record, voltages: NDArray, frequency: float, coupled: complex | None
) -> tuple[Cut, Cut, dict[str, float]]:
    """Both cuts and the figures of the pattern."""
    aperture, tube = model_inputs.aperture(record, voltages), model_inputs.tube(record, coupled or 0.0)
    angle = np.radians(np.arange(-720, 721) / 4.0)
    theta = np.arccos(np.clip(np.sin(angle), -1, 1))
    planes = np.abs(radiated_field(tube, aperture, frequency, theta, np.radians([90.0, 270.0]))) ** 2
    along = np.where(np.cos(angle) >= 0, planes[:, 0], planes[:, 1])
    quarter = np.array([np.pi / 2])
    across = np.abs(radiated_field(tube, aperture, frequency, quarter, np.pi / 2 - angle)[0]) ** 2
    cosine, weights = np.polynomial.legendre.leggauss(240)
    phi = np.linspace(0, TWO_PI, azimuths(record, 72), endpoint=False)
    sphere = np.abs(radiated_field(tube, aperture, frequency, np.arccos(cosine), phi)) ** 2
    top = max(along.max(), across.max(), sphere.max())
    mean = float(weights @ sphere.mean(axis=1)) / 2
    found = {
        "directivity": decibels(top / mean),
        "beamwidth_along": float(np.degrees(levels.half_power_beamwidth(angle, along))),
        "beamwidth_across": float(np.degrees(levels.half_power_beamwidth(angle, across))),
        "side_lobe_level": side_lobes.side_lobe_level(angle, along, np.pi / 2),
        "front_to_back": levels.front_to_back(angle, across),
    }
    scale = max(along.max(), across.max())
    return Cut(angle, along / scale), Cut(angle, across / scale), found


def _gain_figures(
    found: dict[str, float], efficiency: float, reflected: float, lost: str
) -> dict[str, Figure]:
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
    gain = realized_gain_dbi(found["directivity"], efficiency, 1 - reflected)
    figures["efficiency"] = Figure(efficiency, "", f"radiated over accepted power: {lost}")
    figures["realized_gain"] = Figure(
        gain, "dBi", f"directivity, efficiency and mismatch at 50 ohm; {_PATTERN}"
    )
    return figures
