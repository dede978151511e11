"""A response surface that is there as soon as the estimate is, and holds far from the antenna as drawn."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from simharness.em.screw.moment import slot_model
from simharness.estimate import model_inputs
from simharness.estimate.antenna import row_reflection
from simharness.estimate.response_surface import ResponseSurface
from simharness.estimate.slot_order import same_order
from simharness.numerics.rational import BarycentricRational, rational_fit
from simharness.records import Record

POINTS = 201
"""Frequencies of the curves, those of the estimate."""
_STAND_INS, _FLOOR = (0.99, 1.01), 1e-4
"""The antenna as drawn, at frequencies that are off by these factors, stands in for its neighbours: longer
slots or a wider guide move its poles much like that. 8 to 13 nodes for the shipped records. With a dimension
off by a sixtieth of a wavelength S11 is within 0.005; it would be off by up to 0.13 with the nodes of the
antenna as drawn."""
_BETWEEN = 1e-8
"""Misfit of a rational function that only goes between known values."""


class NearSurface(ResponseSurface):
    """The response surface of a record on the frequencies of its estimate.

    Nothing is swept but the record itself, and not even that after its estimate in the same process. The row
    enters by its reflection, not by its admittance: with many slots too long alike, or a wider guide, the
    admittance at the feed goes through a pole, and a polynomial of a few steps cannot follow it. S11 of eight
    slots with the guide 2 % wider is within 0.11 by a quadratic; by that of the admittance it means nothing.

    Parameters
    ----------
    record : Record
        With slots.

    Raises
    ------
    InputError
        The record has no slots.
    """

    def __init__(self, record: Record):
        super().__init__(record, points=POINTS)

    @property
    def nodes(self) -> int:
        """Frequencies at which a changed antenna is solved."""
        return self._fit.nodes.size

    def _nodes(self, records: tuple[Record, ...]) -> BarycentricRational:
        frequency, gamma = row_reflection(self.record, POINTS)
        drawn = rational_fit(frequency, gamma[:, None], floor=_BETWEEN)
        curves = [gamma, *(drawn(factor * frequency)[:, 0] for factor in _STAND_INS)]
        fit = rational_fit(frequency, np.stack(curves, axis=1), floor=_FLOOR)
        guide = model_inputs.slotted_guide(self.record)
        voltages = slot_model(guide).solve(np.array([self.centre])).slot_voltages()[0, 0]
        self._known[guide] = fit.values[:, 0], voltages
        return fit

    def _row_parts(self, gamma: NDArray) -> NDArray:
        """The reflection itself."""
        return gamma

    def _row_reflection(self, parts: NDArray) -> NDArray:
        """The reflection itself."""
        return parts

    def known_parts(
        self, record: Record, frequency: NDArray, gamma: NDArray, voltages: NDArray, guess: NDArray
    ) -> NDArray:
        """Parts (m,) of a record whose estimate is known, without solving anything.

        Parameters
        ----------
        record : Record
            With as many slots, and the same band.
        frequency, gamma : (f,) arrays
            Hz, and reflection of TE10 at the feed.
        voltages : (n,) complex array
            Of its slots along the guide, in any unit.
        guess : (m,) complex array
            Predicted parts: those of the feed are taken from them.
        """
        nodes = self.nodes
        at_nodes = rational_fit(frequency, gamma[:, None], floor=_BETWEEN)(self._fit.nodes)[:, 0]
        relative = self._relative(same_order(self.record, record, voltages))
        return np.concatenate([at_nodes, guess[nodes : nodes + self._feed.size], relative])
