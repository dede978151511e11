"""Three-port of a coax probe in a guide: the coax, and TE10 to both sides of the probe.

The probe is a source in shunt for TE10, so that a slotted guide is connected to it through one impedance
(`ProbeNetwork.admittance`).
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simharness.constants import C0, TWO_PI
from simharness.em.guide.coax import coax_impedance


@dataclass(frozen=True)
class CoaxLine:
    """The coax in the wall: diameters of its conductors (m), relative permittivity, length (m)."""

    inner: float
    outer: float
    eps_r: float
    length: float = 0.0


@dataclass(frozen=True)
class ProbeNetwork:
    """Three-port of a probe: coax at the inner face of the wall, TE10 to both sides at its axis.

    I = own V + link (a_left + a_right) and b_left = a_right + u, b_right = a_left + u with
    u = -(link V + scatter (a_left + a_right)) / 2; wave amplitudes with half their squared
    magnitude as power.

    Attributes
    ----------
    frequency : (f,) array
        Hz.
    own : (f,) complex array
        Admittance with both TE10 sides matched, S.
    link : (f,) complex array
        sqrt(S).
    scatter : (f,) complex array
        Twice minus the reflection of TE10 with the coax shorted.
    coax : CoaxLine
    """

    frequency: NDArray
    own: NDArray
    link: NDArray
    scatter: NDArray
    coax: CoaxLine

    def admittance(self, line_impedance: NDArray) -> NDArray:
        """Admittance at the inner face of the wall (S) on a given TE10 line.

        Parameters
        ----------
        line_impedance : (f,) complex array
            Normalised impedance of the line for a shunt source at the probe: 1/2 in a guide
            matched both ways.
        """
        back = 2.0 * np.asarray(line_impedance) - 1.0
        return self.own - self.link**2 * back / (2.0 + self.scatter * back)

    def reflection(self, line_impedance: NDArray, reference: float) -> NDArray:
        """Reflection (f,) at the outer face of the wall, through the coax in it.

        Parameters
        ----------
        line_impedance : (f,) complex array
            As in `admittance`.
        reference : float
            Reference impedance, ohm.
        """
        own = coax_impedance(self.coax.inner, self.coax.outer, self.coax.eps_r)
        y = own * self.admittance(line_impedance)
        inside = (1.0 - y) / (1.0 + y) * self._turn()
        return _renormalised(inside, own, reference)

    def s_matrix(self, reference: float) -> NDArray:
        """Scattering matrix (f, 3, 3): coax at the outer face of the wall, TE10 left, TE10 right.

        Parameters
        ----------
        reference : float
            Reference impedance of the coax port, ohm.
        """
        own = coax_impedance(self.coax.inner, self.coax.outer, self.coax.eps_r)
        s = np.empty((self.frequency.size, 3, 3), dtype=complex)
        y = own * self.own
        turn = np.sqrt(self._turn())
        link = -math.sqrt(own) * self.link / (1.0 + y) * turn
        s[:, 0, 0] = (1.0 - y) / (1.0 + y) * turn**2
        s[:, 0, 1] = s[:, 0, 2] = s[:, 1, 0] = s[:, 2, 0] = link
        shunt = -0.5 * self.scatter + 0.5 * own * self.link**2 / (1.0 + y)
        s[:, 1, 1] = s[:, 2, 2] = shunt
        s[:, 1, 2] = s[:, 2, 1] = 1.0 + shunt
        return _stepped(s, own, reference)

    def _turn(self) -> NDArray:
        k = TWO_PI * self.frequency / C0
        return np.exp(-2j * k * math.sqrt(self.coax.eps_r) * self.coax.length)


def _renormalised(s11: NDArray, own: float, reference: float) -> NDArray:
    step = (own - reference) / (own + reference)
    return (s11 + step) / (1.0 + step * s11)


def _stepped(s: NDArray, own: float, reference: float) -> NDArray:
    """Scattering matrix whose first port is seen through a step of impedance, ohm."""
    step = (own - reference) / (own + reference)
    through = math.sqrt(1.0 - step**2)
    loop = 1.0 / (1.0 + step * s[:, 0, 0])
    out = s - step * loop[:, None, None] * s[:, :, :1] * s[:, :1, :]
    out[:, 0, :] = through * loop[:, None] * s[:, 0, :]
    out[:, :, 0] = through * loop[:, None] * s[:, :, 0]
    out[:, 0, 0] = _renormalised(s[:, 0, 0], own, reference)
    return out


def sleeve_elastance(coax: CoaxLine, radius: float) -> float:
    """Reduction of the potential of a charged wire by the dielectric of the coax around it.

    Potential per charge per length, times eps_0 (a number); `radius` of the wire in m.
    """
    return (1.0 - 1.0 / coax.eps_r) * math.log(0.5 * coax.outer / radius) / TWO_PI
