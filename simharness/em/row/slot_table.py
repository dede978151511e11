"""Single slots, or pairs in both walls, in a matched guide: polynomials in offset and length.

A slot of offset x and length L has, at the TE10 line voltage v at its centre, the
aperture voltage T(x, L) v, and loads the guide with the shunt admittance R(x, L) T. Near the
centre line both T and R go as s = sin(pi |x| / a), so that s/T and R/s are smooth, and even in
s: a few solutions of `SlotMoment` give them everywhere.
"""

from __future__ import annotations

import numpy as np
from numpy.polynomial import chebyshev
from numpy.typing import ArrayLike, NDArray

from simharness.constants import C0
from simharness.em.guide.round import equivalent_offset
from simharness.em.slot.basis import MomentBasis, SlotAperture, SlottedGuide
from simharness.em.slot.faces import with_opposite_slots
from simharness.em.slot.moment import SlotMoment
from simharness.em.slot.single import resonant_length
from simharness.em.slot.superstrate import Superstrate

_LENGTHS = 0.38, 0.58
"""SlotAperture lengths in free-space wavelengths: all that may be resonant."""
FRONT_ANGLE = np.radians(50.0)
"""Angle from the front line of a tube to the farthest slots that are designed, rad."""
_ROUNDS = 200
_LONGEST_STEP = 0.02
"""Largest change of a length in one round, over the wavelength."""


class SlotTable:
    """Response T and load factor R of single slots.

    Parameters
    ----------
    a, b, wall, width : float
        Inner size of the guide, wall and slot width, m.
    frequency : float
        Hz.
    basis : MomentBasis
    superstrate : Superstrate or None
        Dielectric on the wall: it shortens all lengths of the table by the same factor.
    degree : tuple of int
        Degrees of the polynomials in s^2 and in length. The default gives R to 1e-3 and T, near its peak,
        to 4 % (WR-90, WR-159, 86 x 43 mm): sufficient for a search that ends with exact solutions.
    opposite : int
        Whether each slot has an opposite slot in the back wall, see
        `simharness.em.slot.faces.with_opposite_slots`; T is then that of the slot in the front, and R T the
        load of the pair.
    diameter : float or None
        Inner diameter of the round guide that this one stands for, m.

    Attributes
    ----------
    sines : tuple of float
        Smallest and largest s: from next to the centre line to the side wall.
    lengths : tuple of float
        Smallest and largest length, m.
    """

    def __init__(
        self,
        a: float,
        b: float,
        wall: float,
        width: float,
        frequency: float,
        basis: MomentBasis = MomentBasis(),
        degree: tuple[int, int] = (3, 4),
        opposite: int = 0,
        superstrate: Superstrate | None = None,
        diameter: float | None = None,
    ):
        self.a, self.b, self.wall, self.width, self.frequency = a, b, wall, width, frequency
        self.opposite, self.superstrate, self.diameter = opposite, superstrate, diameter
        self.sines = 0.01, float(np.sin(np.pi / a * self._farthest()))
        shortest, longest = (part * C0 / frequency * self._shortened(basis) for part in _LENGTHS)
        self.lengths = shortest, longest
        nodes = [np.cos(np.pi * (np.arange(n + 1) + 0.5) / (n + 1)) for n in degree]
        u, v = (grid.ravel() for grid in np.meshgrid(*nodes, indexing="ij"))
        square, length = _spread(u, self._squares), _spread(v, self.lengths)
        samples = np.array([self._single(s, part, basis) for s, part in zip(np.sqrt(square), length)])
        fit = np.linalg.solve(chebyshev.chebvander2d(u, v, degree), samples)
        self._ratio, self._load = (column.reshape(degree[0] + 1, degree[1] + 1) for column in fit.T)

    @property
    def _squares(self) -> tuple[float, float]:
        """Smallest and largest s^2."""
        return self.sines[0] ** 2, self.sines[1] ** 2

    def _farthest(self) -> float:
        """Largest |x|, m: at the side wall, or at the edge of the front of a round tube."""
        if self.diameter is None:
            return 0.5 * (self.a - self.width)
        return float(equivalent_offset(self.diameter, FRONT_ANGLE))

    def _shortened(self, basis: MomentBasis) -> float:
        """Resonant length with superstrate over that without, of a slot half-way to the side wall."""
        if self.superstrate is None:
            return 1.0
        here = self.a, self.b, self.wall, self.width, 0.25 * self.a, self.frequency, basis
        return resonant_length(*here, self.superstrate)[0] / resonant_length(*here)[0]

    def _single(self, sine: float, length: float, basis: MomentBasis) -> tuple[complex, complex]:
        """s / T and R / s of one slot."""
        slot = SlotAperture(float(length), self.width, float(self.distance(sine)))
        guide = SlottedGuide(
            self.a,
            self.b,
            self.wall,
            with_opposite_slots([slot], self.opposite),
            superstrate=self.superstrate,
            diameter=self.diameter,
        )
        alone = SlotMoment(guide, basis).solve(np.array([self.frequency]))
        s11 = alone.s[0, 0, 0]
        voltage = alone.slot_voltages()[0, 0, 0] / (1 + s11)
        return sine / voltage, -2 * s11 / (1 + s11) / voltage / sine

    def distance(self, sine: ArrayLike) -> NDArray:
        """Distance from the centre line |x|, m, for s."""
        return self.a / np.pi * np.arcsin(np.asarray(sine, dtype=float))

    def response(self, sines: NDArray, lengths: NDArray) -> tuple[NDArray, NDArray]:
        """T and R of slots.

        Parameters
        ----------
        sines, lengths : (n,) arrays
            s of the offsets; lengths in m.
        """
        place = self._place(sines, lengths)
        return sines / chebyshev.chebval2d(*place, self._ratio), sines * chebyshev.chebval2d(
            *place, self._load
        )

    def _place(self, sines: NDArray, lengths: NDArray) -> tuple[NDArray, NDArray]:
        return _unit(sines**2, self._squares), _unit(lengths, self.lengths)

    def slots(
        self, weights: NDArray, conductance: float, coupling: NDArray, share: complex
    ) -> tuple[NDArray, NDArray]:
        """s and length (m) of slots with required voltages and load in a row, for given coupling.

        V = T v (1 - C / s) means s - C = (V/v) (s/T): the imaginary part gives the length, the
        real part the offset. The common scale of V/v follows from the load.

        Parameters
        ----------
        weights : (n,) array
            Required voltages, any unit.
        conductance : float
            Required load of the row, normalised.
        coupling : (n,) complex array
            C of every slot.
        share : complex
            Load of the row over the sum of R V/v of its slots.

        Returns
        -------
        (n,) arrays
            Values beyond the table are limited to its edge.
        """
        free = C0 / self.frequency
        sines, lengths = np.full(weights.size, 0.3), np.full(weights.size, 0.48 * free)
        for _ in range(_ROUNDS):
            load = self.response(sines, lengths)[1]
            voltages = weights * conductance / (share * np.sum(load * weights))

            def unbalance(length: NDArray, sines: NDArray = sines, voltages: NDArray = voltages) -> NDArray:
                ratio = chebyshev.chebval2d(*self._place(sines, length), self._ratio)
                return sines - coupling - voltages * ratio

            here, step = unbalance(lengths).imag, 1e-4 * free
            change = -here * step / (unbalance(lengths + step).imag - here)
            moved = np.clip(
                lengths + np.clip(change, -_LONGEST_STEP * free, _LONGEST_STEP * free), *self.lengths
            )
            # the load falls as the offsets rise: half steps keep the two from chasing each other
            new = 0.5 * (sines + np.clip(sines - unbalance(moved).real, *self.sines))
            settled = np.max(np.abs(new - sines)) < 1e-9 and np.max(np.abs(moved - lengths)) < 1e-9 * free
            sines, lengths = new, moved
            if settled:
                break
        return sines, lengths


def _unit(value: NDArray, ends: tuple[float, float]) -> NDArray:
    """-1 to 1 between the ends."""
    return (2 * value - ends[0] - ends[1]) / (ends[1] - ends[0])


def _spread(unit: NDArray, ends: tuple[float, float]) -> NDArray:
    """Between the ends for -1 to 1."""
    return 0.5 * (ends[0] + ends[1] + unit * (ends[1] - ends[0]))
