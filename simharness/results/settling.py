"""How far the records of a run had settled, and what they say about S parameters and fields. Pure.

Records that still ring are continued by their poles (:mod:`simharness.em.signals.ringing`), where two
windows agree.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from simharness.em.signals.ringing import TailRefused, extrapolated_spectrum
from simharness.em.signals.spectra import spectrum, wave_split
from simharness.errors import NotConvergedError
from simharness.geometry.scene import Scene
from simharness.records import REFERENCE_OHM
from simharness.solver.settings import SolverRequest

TAIL_TRUST = 0.05
"""Share of itself that a continued tail may be off by, whatever two windows of the record say: soon after the
pulse they may agree by chance."""

FIELD_UNEVEN = 0.01
"""Share of the slot voltages that the field records may lack beyond a common factor (-40 dB)."""

FIELD_MISSING = 0.1

NEARLY = 0.02
"""Disagreement of two windows up to which a run that made all its steps is used, its error bars so much
longer. On rows of 5, 8, 20 and 40 slots the error itself was half the disagreement or less."""

NEARLY_UNEVEN, NEARLY_MISSING = 0.05, 0.2
"""The same for `FIELD_UNEVEN` and `FIELD_MISSING`."""


@dataclass(frozen=True)
class Settling:
    """How far the records had settled.

    `method`: 'record' (rung down), 'tail' (continued analytically), 'nearly' (so continued, but no better
    than `NEARLY`) or 'unsettled'. `change`: largest change of any S parameter between two lengths of
    record. `missing`: largest share of a slot voltage that the field records lack. `uneven`: what scaling
    by one common factor cannot make good of that.
    """

    method: str
    change: float
    missing: float
    uneven: float

    @property
    def complete(self) -> bool:
        """Whether nothing is left that an error bar would have to hold."""
        return (
            self.method in ("record", "tail") and self.missing < FIELD_MISSING and self.uneven < FIELD_UNEVEN
        )


@dataclass(frozen=True)
class PortSpectra:
    """Voltage and current (nports, nf) at the measuring planes, slot voltages (nslots, nf)."""

    voltage: np.ndarray
    current: np.ndarray
    slots: np.ndarray


def require_settled(settling: Settling, steps: int, allowed: float) -> None:
    """Refuse a run of so many steps that had not even nearly settled.

    Raises
    ------
    NotConvergedError
        With residual and limit: the S parameters or the fields still move by more than any error bar should
        hold.
    """
    if settling.method == "unsettled":
        raise NotConvergedError(
            f"the run did not converge: S11 still moves by {settling.change:.2g} after {steps} steps "
            f"(limit {allowed:.2g})",
            settling.change,
            allowed,
        )
    if settling.missing >= NEARLY_MISSING or settling.uneven >= NEARLY_UNEVEN:
        raise NotConvergedError(
            f"the run did not converge: after {steps} steps the field records still lack "
            f"{settling.missing:.2g} of the slot voltages (limit {NEARLY_MISSING:g}), "
            f"{settling.uneven:.2g} of them unevenly (limit {NEARLY_UNEVEN:g})",
            settling.uneven,
            NEARLY_UNEVEN,
        )


def port_series(raw: Mapping[str, np.ndarray], scene: Scene) -> list[np.ndarray]:
    """Voltage and current of each port, then slot voltages: (2, n) each, of one length."""
    records = []
    for n in range(1, len(scene.ports) + 1):
        records.append(raw[f"port{n}_voltage"])
        a = raw[f"port{n}_current_a"]
        b = raw.get(f"port{n}_current_b")
        if b is not None:
            shared = min(a.shape[1], b.shape[1])
            a = np.array([a[0, :shared], (a[1, :shared] + b[1, :shared]) / 2])
        records.append(a)
    records += [raw[f"slot{n}_voltage"] for n in range(1, len(scene.slots) + 1)]
    shortest = min(r.shape[1] for r in records)
    return [r[:, :shortest] for r in records]


def _split(values: np.ndarray, scene: Scene) -> PortSpectra:
    ports = 2 * len(scene.ports)
    return PortSpectra(values[0:ports:2], values[1:ports:2], values[ports:])


def port_spectra(
    request: SolverRequest, raw: Mapping[str, np.ndarray], frequency: np.ndarray
) -> tuple[PortSpectra, PortSpectra, str, float]:
    """Spectra with the tail where it can be trusted, plain spectra, method, change.

    The change is the largest move of a port reflection when the end of the record is withheld: a fifth,
    predicted by the poles, for 'tail' and 'nearly'; for 'record' a fifth, or the last echo of a guide with
    closed ends, cut off.
    """
    scene, allowed = request.scene, request.settings.settled
    records = port_series(raw, scene)
    time, signal = np.array([r[0] for r in records]), np.array([r[1] for r in records])
    keep = np.max(np.abs(signal), axis=1) > 0
    plain = spectrum(time, signal, frequency)
    # Between two echoes a record hardly changes: what is cut off must hold one.
    cut = max(min(round(0.8 * signal.shape[1]), int(np.searchsorted(time[0], time[0, -1] - request.echo))), 2)
    moved = _largest_move(scene, plain, spectrum(time[:, :cut], signal[:, :cut], frequency))
    # The far end answers no sooner than a wave has been there and back; before that two windows agree on
    # half an antenna.
    if time[0, -1] < request.pulse_length + 2 * request.transit:
        return _split(plain, scene), _split(plain, scene), "unsettled", moved
    if moved < allowed:
        return _split(plain, scene), _split(plain, scene), "record", moved
    try:
        tail = extrapolated_spectrum(
            time[keep],
            signal[keep],
            frequency,
            request.pulse_length,
            highest=scene.spectrum.centre + 1.5 * request.pulse_width,
            residual_limit=5e-3,
            disagreement_limit=NEARLY,
        )
    except TailRefused:
        tail = None
    whole = plain.copy()
    if tail is None or (tail.disagreement > 2 * allowed and moved < 2 * allowed):
        # Where little is left to ring the poles drown in rounding: then the record itself is near enough.
        method, change = ("record" if moved < 2 * allowed else "unsettled"), moved
    else:
        method, change = ("tail" if tail.disagreement <= 2 * allowed else "nearly"), tail.disagreement
        whole[keep] = tail.spectrum
    return _split(whole, scene), _split(plain, scene), method, change


def _largest_move(scene: Scene, one: np.ndarray, two: np.ndarray) -> float:
    moves = []
    for n in range(len(scene.ports)):
        waves = [wave_split(v[2 * n], v[2 * n + 1], REFERENCE_OHM) for v in (one, two)]
        incident = wave_split(one[0], one[1], REFERENCE_OHM)[0]
        moves.append(np.max(np.abs(waves[0][1] - waves[1][1]) / np.abs(incident)))
    return float(max(moves))


def missing_share(whole: np.ndarray, plain: np.ndarray) -> tuple[np.ndarray, float, float]:
    """Factor (nf,) that best turns the recorded slot voltages into the complete ones.

    Returns the factor, the largest share missing and the largest part it cannot mend.
    """
    size = np.sum(np.abs(plain) ** 2, axis=0)
    factor = np.sum(whole * plain.conj(), axis=0) / size
    total = np.sqrt(np.sum(np.abs(whole) ** 2, axis=0))
    missing = np.sqrt(np.sum(np.abs(whole - plain) ** 2, axis=0)) / total
    uneven = np.sqrt(np.sum(np.abs(whole - factor * plain) ** 2, axis=0)) / total
    return factor, float(np.max(missing)), float(np.max(uneven))
