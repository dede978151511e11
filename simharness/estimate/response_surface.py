"""The estimate cut into parts that vary smoothly with every dimension, and a quadratic surrogate of them.

The parts are the admittance of TE10 at the feed at a few frequencies, the three numbers of the probe at
others, and the voltages of the slots. Admittances of slots in shunt add up, so errors of several
slots hardly mix in them, and a quadratic in each dimension alone goes far. S11 and pattern
follow from the parts without approximation. The frequencies and the weights of the
rational interpolation between them are those of the antenna as drawn and of its neighbours with longer and
shorter slots.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline

from simharness.em.guide.rectangular import phase_constant
from simharness.em.pattern.element import ElementFields
from simharness.em.probe.straight import ProbeNetwork
from simharness.em.row.response import slot_state, swept_reflection
from simharness.em.signals.impedance import input_impedance
from simharness.em.signals.match import deepest_match, match_band
from simharness.em.slot.basis import SlottedGuide
from simharness.em.slot.moment import SlotMoment
from simharness.errors import InputError
from simharness.estimate import model_inputs
from simharness.estimate.antenna import estimate_span
from simharness.estimate.deviations import Deviation
from simharness.numerics.decibels import decibels
from simharness.numerics.rational import BarycentricRational, rational_fit
from simharness.records import REFERENCE_OHM, CoaxFeed, Record

GRID_POINTS = 161
BAND_POINTS = 61
_FIT_POINTS = 61
_FIT_FLOOR = 1e-5
"""Misfit of the rational function at which it has enough nodes: 9 or 10 for the shipped records, S11 within 3e-4."""

_PROBE_NODES = 7

_SCALES = (REFERENCE_OHM, math.sqrt(REFERENCE_OHM), 1.0)
"""Factors that make the three numbers of a probe dimensionless."""


@dataclass(frozen=True)
class Figures:
    """Figures of some antennas; nan where one does not exist.

    Attributes
    ----------
    resonance : (s,) array
        Hz; see `ResponseSurface.resonance_is`.
    worst_s11 : (s,) array
        Largest |S11| in the band, dB; it has a kink where another frequency becomes the worst.
    gain : (s,) array
        Realized gain in the plane along the guide at the design frequency, dBi.
    side_lobes : (s,) array
        In that plane, in front, dB.
    """

    resonance: NDArray
    worst_s11: NDArray
    gain: NDArray
    side_lobes: NDArray


@dataclass(frozen=True)
class Quadratic:
    """A quadratic in each of several amounts, without mixed terms.

    Attributes
    ----------
    base : (m,) complex array
    slope, bend : (d, m) complex arrays
        Of the first and the second power of the amounts.
    """

    base: NDArray
    slope: NDArray
    bend: NDArray

    def __call__(self, amounts: NDArray) -> NDArray:
        """Values (s, m) for amounts (s, d).

        Examples
        --------
        >>> Quadratic(np.ones(1), np.array([[2.0]]), np.array([[3.0]]))(np.array([[0.0], [1.0]])).tolist()
        [[1.0], [6.0]]
        """
        return self.base + amounts @ self.slope + amounts**2 @ self.bend


class ResponseSurface:
    """Parts of a record and of its neighbours, and what they mean.

    Parameters
    ----------
    record : Record
        With slots.
    neighbours : tuple of Record
        What the rational interpolation over frequency must serve too.

    Raises
    ------
    InputError
        The record has no slots.
    """

    def __init__(self, record: Record, neighbours: tuple[Record, ...] = ()):
        if not record.slots:
            raise InputError("slot", 0, "tolerances need at least one slot")
        self.record = record
        band = record.band
        self.centre = band.centre
        self.grid = np.linspace(*estimate_span(record), GRID_POINTS)
        inside = np.linspace(band.low, band.high, BAND_POINTS)
        self.frequency = np.concatenate([self.grid, inside, [self.centre]])
        self.remainder = np.zeros(self.frequency.size, dtype=complex)
        self._known: dict[SlottedGuide, tuple[NDArray, NDArray]] = {}
        self._known_probes: dict[model_inputs.FeedModel, NDArray] = {}
        self._place_nodes((record, *neighbours))
        self._elements = ElementFields(model_inputs.tube(record), model_inputs.aperture(record), self.centre)
        self._efficiency = slot_state(SlotMoment(model_inputs.slotted_guide(record)), self.centre).efficiency
        self._drawn_voltages = self._solved(record)[1]
        self.drawn = self.parts(record)
        self._middle = self._has_edges()

    @property
    def resonance_is(self) -> str:
        """What "resonance" means for this record."""
        return "middle of the -10 dB band" if self._middle else "frequency of the best match"

    def correct(self, frequency: NDArray, s11: NDArray) -> None:
        """Let the antenna as drawn have this S11: the difference is added to all others.

        Parameters
        ----------
        frequency : (f,) array
            Hz; beyond it the difference is that of its ends.
        s11 : (f,) complex array
        """
        own = self.s11(self.drawn[None])[0, :GRID_POINTS] - self.remainder[:GRID_POINTS]
        within = np.clip(frequency, *self.grid[[0, -1]])
        difference = s11 - CubicSpline(self.grid, own)(
            within
        )  # straight lines would be off by as much as a match is deep
        self.remainder = np.interp(self.frequency, frequency, difference)
        self._middle = self._has_edges()

    def parts(self, record: Record, covered: int | None = None) -> NDArray:
        """Parts (m,) of a record.

        Parameters
        ----------
        record : Record
        covered : int or None
            Which slot of the record as drawn is missing in this one.

        Raises
        ------
        InputError
            Another mode than TE10 may travel.
        """
        gamma, voltages = self._solved(record)
        if covered is not None:
            voltages = np.insert(voltages, covered, 0.0)
        drawn, turned = self._drawn_voltages, gamma * self._turn
        relative = voltages * np.vdot(drawn, drawn) / np.vdot(drawn, voltages)
        return np.concatenate([(1 - turned) / (1 + turned), self._probe_parts(record), relative])

    def s11(self, parts: NDArray) -> NDArray:
        """S11 (s, f) at `frequency` of parts (s, m)."""
        nodes, count = self._fit.nodes.size, parts.shape[0]
        turned = (1 - parts[:, :nodes]) / (1 + parts[:, :nodes])
        gamma = self._fit_matrix @ (turned / self._turn).T
        if self._coax is None:
            return gamma.T + self.remainder
        rows = parts[:, nodes : nodes + 3 * _PROBE_NODES].reshape(count, 3, _PROBE_NODES)
        own, link, scatter = (self._probe_matrix @ rows[:, i].T / scale for i, scale in enumerate(_SCALES))
        network = ProbeNetwork(self.frequency[:, None], own, link, scatter, self._coax)
        return network.reflection(input_impedance(gamma, 1.0), REFERENCE_OHM).T + self.remainder

    def band_s11(self, parts: NDArray) -> NDArray:
        """S11 (s, b) at even steps over the band, of parts (s, m)."""
        return self.s11(parts)[:, GRID_POINTS:-1]

    def worst_s11(self, parts: NDArray) -> NDArray:
        """Largest |S11| in the band, dB (s,), of parts (s, m)."""
        return decibels(np.abs(self.band_s11(parts)).max(axis=1) ** 2)

    def figures(self, parts: NDArray) -> Figures:
        """Figures of parts (s, m)."""
        s11, voltages = self.s11(parts), parts[:, -len(self.record.slots) :]
        accepted = self._efficiency * (1 - np.abs(s11[:, -1]) ** 2)
        return Figures(
            np.array([self._resonance(curve) for curve in s11[:, :GRID_POINTS]]),
            decibels(np.abs(s11[:, GRID_POINTS:-1]).max(axis=1) ** 2),
            decibels(self._elements.directivity(voltages) * accepted),
            self._elements.side_lobe_levels(voltages),
        )

    def slope_and_bend(self, dimension: Deviation, step: float) -> tuple[NDArray, NDArray]:
        """Coefficients (m,) of the first and second power of an error of one dimension, by central differences.

        Where the record does not stand on one side, the other side alone makes a slope; where it stands on neither,
        there is none.

        Parameters
        ----------
        dimension : Deviation
        step : float
            In its unit.
        """
        up, down = (self._change(dimension, way * step) for way in (1, -1))
        if up is None and down is None:
            return np.zeros_like(self.drawn), np.zeros_like(self.drawn)
        up = -down if up is None else up
        down = -up if down is None else down
        return (up - down) / (2 * step), (up + down) / (2 * step**2)

    def _change(self, dimension: Deviation, amount: float) -> NDArray | None:
        """Change of the parts (m,) with one dimension off; None where there is no such antenna."""
        try:
            return self.parts(dimension.applied(self.record, amount)) - self.drawn
        except InputError:
            return None

    def _has_edges(self) -> bool:
        """Whether the antenna as drawn has both edges of the -10 dB band."""
        return None not in match_band(self.grid, self.s11(self.drawn[None])[0, :GRID_POINTS])

    def _resonance(self, s11: NDArray) -> float:
        if not self._middle:
            return deepest_match(self.grid, s11)[0]
        low, high = match_band(self.grid, s11)
        return math.nan if low is None or high is None else 0.5 * (low + high)

    def _place_nodes(self, records: tuple[Record, ...]) -> None:
        """Frequencies at which the parts are computed, and the way back to all frequencies."""
        probe = isinstance(self.record.feed, CoaxFeed)
        dense = np.linspace(self.grid[0], self.grid[-1], _FIT_POINTS)
        curves = [
            swept_reflection(SlotMoment(model_inputs.slotted_guide(record)), dense)[0] for record in records
        ]
        self._fit = rational_fit(dense, np.stack(curves, axis=1), floor=_FIT_FLOOR)
        self._fit_matrix = _interpolation(self._fit.nodes, self._fit.weights, self.frequency)
        # Seen from a guide port, the row is looked at from its first slot, where admittances add up.
        back = 0.0 if probe else 2e-3 * self.record.slots[0].position_mm
        self._turn = np.exp(
            1j * phase_constant(model_inputs.line_size(self.record.guide)[0], self._fit.nodes) * back
        )
        place = np.arange(_PROBE_NODES)
        self._probe_nodes = np.interp(
            -np.cos(math.pi * place / (_PROBE_NODES - 1)), (-1, 1), self.grid[[0, -1]]
        )
        weights = (-1.0) ** place * np.where(place % (_PROBE_NODES - 1), 1.0, 0.5)
        self._probe_matrix = _interpolation(self._probe_nodes, weights, self.frequency)
        self._coax = model_inputs.coax_line(self.record, self.record.feed) if probe else None

    def _solved(self, record: Record) -> tuple[NDArray, NDArray]:
        """Reflection of TE10 at the nodes, and slot voltages at the design frequency."""
        guide = model_inputs.slotted_guide(record)
        if guide not in self._known:
            response = SlotMoment(guide).solve(np.append(self._fit.nodes, self.centre))
            self._known[guide] = response.s[:-1, 0, 0], response.slot_voltages()[-1, 0]
        s11, voltages = self._known[guide]
        return s11, voltages if record is self.record else _as_listed(record, voltages)

    def _probe_parts(self, record: Record) -> NDArray:
        """The three numbers of the probe at its own frequencies, one after the other; empty for a guide port."""
        if self._coax is None:
            return np.zeros(0)
        model = model_inputs.feed_model(record)
        if model not in self._known_probes:
            found = model(self._probe_nodes)
            self._known_probes[model] = np.concatenate(
                [scale * part for scale, part in zip(_SCALES, (found.own, found.link, found.scatter))]
            )
        return self._known_probes[model]


def _as_listed(record: Record, voltages: NDArray) -> NDArray:
    """Voltages in the order of the list of slots: one that moved past its mate in the other wall is still itself."""
    listed = np.empty_like(voltages)
    listed[[record.slot.index(slot) for slot in record.slots]] = voltages
    return listed


def _interpolation(nodes: NDArray, weights: NDArray, frequency: NDArray) -> NDArray:
    """Matrix (f, nodes) from values at the nodes to those of the barycentric interpolant."""
    return BarycentricRational(nodes, np.eye(nodes.size), weights)(frequency)
