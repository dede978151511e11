"""The response surface: parts of the estimate that vary smoothly with every dimension, as quadratics.

The parts are the admittance of TE10 at the feed at a few frequencies, the numbers of the feed (see
`feed_surface`), and the voltages of the slots. Admittances of slots in shunt add up, so errors of several
slots hardly mix in them, and a quadratic in each dimension alone is accurate. S11 and pattern
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
from simharness.em.pattern.element import AZIMUTHS, ElementFields
from simharness.em.row.response import slot_state, swept_reflection
from simharness.em.screw.moment import slot_model
from simharness.em.signals.impedance import normalized_admittance
from simharness.em.signals.match import deepest_match, match_band
from simharness.em.slot.basis import SlottedGuide
from simharness.errors import InputError
from simharness.estimate import model_inputs
from simharness.estimate.antenna import estimate_span
from simharness.estimate.deviation import Deviation
from simharness.estimate.feed_surface import interpolation
from simharness.estimate.feeds import feed_inputs
from simharness.estimate.site.outlines import azimuths
from simharness.estimate.slot_order import same_order
from simharness.numerics.decibels import decibels
from simharness.numerics.rational import BarycentricRational, rational_fit
from simharness.records import Record

GRID_POINTS = 161
BAND_POINTS = 61
_FIT_POINTS = 61
_FIT_FLOOR = 1e-5
"""Misfit of the rational function at which it has enough nodes: 9 or 10 for the shipped records, S11 within
3e-4."""


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
    """The parts of a record and of its neighbours, and the figures that follow from them.

    Parameters
    ----------
    record : Record
        With slots.
    neighbours : tuple of Record
        What the rational interpolation over frequency must serve too.
    points : int
        Frequencies of `grid`, in `estimate_span`.

    Raises
    ------
    InputError
        The record has no slots.
    """

    def __init__(self, record: Record, neighbours: tuple[Record, ...] = (), points: int = GRID_POINTS):
        if not record.slots:
            raise InputError("slot", 0, "tolerances need at least one slot")
        self.record = record
        band = record.band
        self.centre = band.centre
        self.grid = np.linspace(*estimate_span(record), points)
        inside = np.linspace(band.low, band.high, BAND_POINTS)
        self.frequency = np.concatenate([self.grid, inside, [self.centre]])
        self.remainder = np.zeros(self.frequency.size, dtype=complex)
        self._known: dict[SlottedGuide, tuple[NDArray, NDArray]] = {}
        self._feed = feed_inputs(record).surface(self.frequency, (self.grid[0], self.grid[-1]))
        self._fit = self._nodes((record, *neighbours))
        self._fit_matrix = interpolation(self._fit.nodes, self._fit.weights, self.frequency)
        back = 2 * self._feed.row_distance(record)
        self._turn = np.exp(1j * phase_constant(record.guide.line[0], self._fit.nodes) * back)
        self._elements = ElementFields(
            model_inputs.tube(record),
            model_inputs.aperture(record),
            self.centre,
            azimuths(record, AZIMUTHS),
        )
        self._efficiency = slot_state(slot_model(model_inputs.slotted_guide(record)), self.centre).efficiency
        self._drawn_voltages = self._solved(record)[1]
        self.drawn = self.parts(record)
        self._middle = self._has_edges()

    @property
    def resonance_is(self) -> str:
        """What "resonance" means for this record."""
        return "middle of the -10 dB band" if self._middle else "frequency of the best match"

    def correct(self, frequency: NDArray, s11: NDArray) -> None:
        """Give the antenna as drawn this S11; the difference is added to that of all others.

        Parameters
        ----------
        frequency : (f,) array
            Hz; beyond it the difference is that of its ends.
        s11 : (f,) complex array
        """
        points = self.grid.size
        own = self.s11(self.drawn[None])[0, :points] - self.remainder[:points]
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
        return self._composed(record, gamma, same_order(self.record, record, voltages, covered))

    def _composed(self, record: Record, gamma: NDArray, voltages: NDArray) -> NDArray:
        """Parts (m,) from the reflection at the nodes and voltages in the order of the antenna as drawn."""
        return np.concatenate([self._row_parts(gamma), self._feed.parts(record), self._relative(voltages)])

    def _relative(self, voltages: NDArray) -> NDArray:
        """Voltages (n,) over what they have in common with those of the antenna as drawn."""
        drawn = self._drawn_voltages
        return voltages * np.vdot(drawn, drawn) / np.vdot(drawn, voltages)

    def _row_parts(self, gamma: NDArray) -> NDArray:
        """What varies smoothly of the reflection (n,) of TE10 at the nodes: the admittance of the row."""
        return normalized_admittance(gamma * self._turn)

    def _row_reflection(self, parts: NDArray) -> NDArray:
        """The way back, for parts (s, n)."""
        return (1 - parts) / (1 + parts) / self._turn

    def voltages(self, parts: NDArray) -> NDArray:
        """Voltages (s, n) of the slots of parts (s, m), in the order of the antenna as drawn."""
        return parts[:, -len(self.record.slots) :]

    def s11(self, parts: NDArray) -> NDArray:
        """S11 (s, f) at `frequency` of parts (s, m)."""
        nodes = self._fit.nodes.size
        gamma = self._fit_matrix @ self._row_reflection(parts[:, :nodes]).T
        feed = parts[:, nodes : nodes + self._feed.size]
        return self._feed.s11(feed, gamma) + self.remainder

    def band_s11(self, parts: NDArray) -> NDArray:
        """S11 (s, b) at even steps over the band, of parts (s, m)."""
        return self.s11(parts)[:, self.grid.size : -1]

    def worst_s11(self, parts: NDArray) -> NDArray:
        """Largest |S11| in the band, dB (s,), of parts (s, m)."""
        return decibels(np.abs(self.band_s11(parts)).max(axis=1) ** 2)

    def figures(self, parts: NDArray) -> Figures:
        """Figures of parts (s, m)."""
        s11, voltages = self.s11(parts), self.voltages(parts)
        accepted = self._efficiency * (1 - np.abs(s11[:, -1]) ** 2)
        return Figures(
            np.array([self._resonance(curve) for curve in s11[:, : self.grid.size]]),
            decibels(np.abs(s11[:, self.grid.size : -1]).max(axis=1) ** 2),
            decibels(self._elements.directivity(voltages) * accepted),
            self._elements.side_lobe_levels(voltages),
        )

    def slope_and_bend(self, dimension: Deviation, step: float) -> tuple[NDArray, NDArray]:
        """Coefficients (m,) of the first and second power of an error of one dimension, by central
        differences.

        Where the record is not valid on one side, the other side gives the slope; where it is valid on
        neither, the slope is 0.

        Parameters
        ----------
        dimension : Deviation
        step : float
            In its unit.
        """
        up, down = self._change(dimension, step), self._change(dimension, -step)
        if up is None:
            up = np.zeros_like(self.drawn) if down is None else -down
        if down is None:
            down = -up
        return (up - down) / (2 * step), (up + down) / (2 * step**2)

    def _change(self, dimension: Deviation, amount: float) -> NDArray | None:
        """Change of the parts (m,) with one dimension off; None where there is no such antenna."""
        try:
            return self.parts(dimension.applied(self.record, amount)) - self.drawn
        except InputError:
            return None

    def _has_edges(self) -> bool:
        """Whether the antenna as drawn has both edges of the -10 dB band."""
        return None not in match_band(self.grid, self.s11(self.drawn[None])[0, : self.grid.size])

    def _resonance(self, s11: NDArray) -> float:
        if not self._middle:
            return deepest_match(self.grid, s11)[0]
        low, high = match_band(self.grid, s11)
        return math.nan if low is None or high is None else 0.5 * (low + high)

    def _nodes(self, records: tuple[Record, ...]) -> BarycentricRational:
        """Frequencies at which the parts are computed, and the weights between them."""
        dense = np.linspace(self.grid[0], self.grid[-1], _FIT_POINTS)
        guides = [model_inputs.slotted_guide(record) for record in records]
        curves = [swept_reflection(slot_model(guide), dense)[0] for guide in guides]
        return rational_fit(dense, np.stack(curves, axis=1), floor=_FIT_FLOOR)

    def _solved(self, record: Record) -> tuple[NDArray, NDArray]:
        """Reflection of TE10 at the nodes, and slot voltages at the design frequency, along the guide."""
        guide = model_inputs.slotted_guide(record)
        if guide not in self._known:
            response = slot_model(guide).solve(np.append(self._fit.nodes, self.centre))
            self._known[guide] = response.s[:-1, 0, 0], response.slot_voltages()[-1, 0]
        return self._known[guide]
