"""The feed of a response surface: what a guide port or a coax probe adds to the numbers that vary
smoothly."""

from __future__ import annotations

import math
from abc import ABC, abstractmethod
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from simharness.em.probe.network import CoaxLine, ProbeNetwork
from simharness.em.signals.impedance import input_impedance
from simharness.numerics.rational import BarycentricRational
from simharness.records import REFERENCE_OHM, Record

_NODES = 7
"""Frequencies at which a probe is computed; Chebyshev nodes over the span of the estimate."""
_SCALES = (REFERENCE_OHM, math.sqrt(REFERENCE_OHM), 1.0)
"""Factors that make the three numbers of a probe dimensionless."""


def interpolation(nodes: NDArray, weights: NDArray, frequency: NDArray) -> NDArray:
    """Matrix (f, nodes) from values at the nodes to those of the barycentric interpolant."""
    return BarycentricRational(nodes, np.eye(nodes.size), weights)(frequency)


class FeedSurface(ABC):
    """The feed at the frequencies of a response surface.

    Attributes
    ----------
    size : int
        How many numbers it adds to the parts of an antenna.
    """

    size: int

    @abstractmethod
    def row_distance(self, record: Record) -> float:
        """Where the row is looked at, from the reference plane of the slots, m: there their admittances add
        up."""

    @abstractmethod
    def parts(self, record: Record) -> NDArray:
        """Its numbers (size,) for a record with a feed of this kind."""

    @abstractmethod
    def s11(self, parts: NDArray, gamma: NDArray) -> NDArray:
        """S11 (s, f) from its numbers (s, size) and the reflection (f, s) of TE10 at the feed."""


class PortSurface(FeedSurface):
    """A guide port: S11 is the reflection of TE10 itself."""

    size = 0

    def row_distance(self, record: Record) -> float:
        """From the port to the first slot."""
        return record.open_slots[0].position

    def parts(self, record: Record) -> NDArray:
        """None."""
        return np.zeros(0)

    def s11(self, parts: NDArray, gamma: NDArray) -> NDArray:
        """The reflection itself."""
        return gamma.T


class ProbeSurface(FeedSurface):
    """A coax probe: the three numbers of its network at a few frequencies, one after the other.

    Parameters
    ----------
    network : function
        The probe of a record: a hashable function from frequencies (f,) in Hz to its network.
    coax : CoaxLine
    frequency : (f,) array
        Of the response surface, Hz.
    span : tuple of 2 floats
        Lowest and highest frequency of the estimate, Hz.
    """

    size = 3 * _NODES

    def __init__(
        self,
        network: Callable[[Record], Callable[[NDArray], ProbeNetwork]],
        coax: CoaxLine,
        frequency: NDArray,
        span: tuple[float, float],
    ):
        self._network, self._coax, self._frequency = network, coax, frequency
        place = np.arange(_NODES)
        self._nodes = np.interp(-np.cos(math.pi * place / (_NODES - 1)), (-1, 1), span)
        weights = (-1.0) ** place * np.where(place % (_NODES - 1), 1.0, 0.5)
        self._matrix = interpolation(self._nodes, weights, frequency)
        self._known: dict[Callable[[NDArray], ProbeNetwork], NDArray] = {}

    def row_distance(self, record: Record) -> float:
        """None: seen from a probe the row is looked at where the probe is."""
        return 0.0

    def parts(self, record: Record) -> NDArray:
        """The three numbers at the nodes; what was computed before is kept."""
        model = self._network(record)
        if model not in self._known:
            found = model(self._nodes)
            self._known[model] = np.concatenate(
                [scale * part for scale, part in zip(_SCALES, (found.own, found.link, found.scatter))]
            )
        return self._known[model]

    def s11(self, parts: NDArray, gamma: NDArray) -> NDArray:
        """At the reference plane of the coax."""
        rows = parts.reshape(parts.shape[0], 3, _NODES)
        own, link, scatter = (self._matrix @ rows[:, i].T / scale for i, scale in enumerate(_SCALES))
        network = ProbeNetwork(self._frequency[:, None], own, link, scatter, self._coax)
        return network.reflection(input_impedance(gamma, 1.0), REFERENCE_OHM).T
