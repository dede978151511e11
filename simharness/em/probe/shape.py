"""Resistance of a coax probe through a broad wall in closed form, from a sinusoidal current.

With the current I0 sin k(d - y) / sin kd on a thin wire of height d, the power in TE10 gives
the resistance (Collin, Field Theory of Guided Waves, section 7.1, re-derived). It is
good to some 10 % while kd < 2 and says nothing about the reactance: a starting point, and
a limit for `simharness.em.probe.straight`.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class ProbeShape:
    """A straight round wire standing on a broad wall, SI units.

    Attributes
    ----------
    offset : float
        Axis from the centre line of the wall, m.
    height : float
        Tip above the wall, m; at most the height of the guide.
    diameter : float
        m.
    dielectric : float
        How far the dielectric of the coax goes up around it, m.
    """

    offset: float
    height: float
    diameter: float
    dielectric: float = 0.0
