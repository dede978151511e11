"""Resistance of a coax probe through a broad wall in closed form, from a sinusoidal current.

With the current I0 sin k(d - y) / sin kd on a thin wire of height d, the power in TE10 gives
the resistance (Collin, Field Theory of Guided Waves, section 7.1, re-derived). It is
good to some 10 % while kd < 2 and says nothing about the reactance: a limit for the moment method.
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simharness.constants import C0, ETA0, TWO_PI
from simharness.em.guide.rectangular import phase_constant
from simharness.em.probe.straight import ProbeShape


def matched_resistance(a: float, b: float, probe: ProbeShape, frequency: ArrayLike) -> NDArray:
    """Input resistance of the probe in a guide matched both ways, ohm.

    R = eta / (a b beta k) cos^2(pi x/a) tan^2(kd/2): the field of TE10 at the offset x
    enters once for the excitation and once for the reaction.

    Raises
    ------
    InputError
        A frequency is at or below cutoff.
    """
    beta = phase_constant(a, frequency)
    k = TWO_PI * np.asarray(frequency, dtype=float) / C0
    field = math.cos(math.pi * probe.offset / a) * np.tan(0.5 * k * probe.height)
    return ETA0 / (a * b * beta * k) * field**2


def shorted_resistance(
    a: float, b: float, probe: ProbeShape, back_short: float, frequency: ArrayLike
) -> NDArray:
    """Input resistance with a short at one side and a matched guide at the other, ohm.

    Collin's 2 eta/(a b beta k) sin^2(beta l) tan^2(kd/2), for a probe at any offset.

    Parameters
    ----------
    back_short : float
        Distance l of the short from the axis of the probe, m.

    Examples
    --------
    >>> probe = ProbeShape(offset=0, height=5.92e-3, diameter=1e-3)
    >>> round(float(shorted_resistance(22.86e-3, 10.16e-3, probe, 39.707e-3 / 4, 10e9)), 1)
    49.9
    """
    turn = phase_constant(a, frequency) * back_short
    return 2 * matched_resistance(a, b, probe, frequency) * np.sin(turn) ** 2
