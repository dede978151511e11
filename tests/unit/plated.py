"""Surface impedance of plated metal, for the range of tin plate in the table of materials."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import ArrayLike

from simharness.constants import MU0, TWO_PI


def plated_surface_impedance(
    frequency: ArrayLike,
    plating: Sequence[tuple[float, float]],
    base_conductivity: float,
    base_mu_r: float = 1.0,
):
    """Surface impedance of nonmagnetic platings on a thick base metal, ohm (complex).

    Each layer is a transmission line with propagation constant sqrt(j omega mu sigma)
    and impedance sqrt(j omega mu / sigma), ended by the one below (own derivation; the
    displacement current in the metal is neglected).

    Parameters
    ----------
    frequency : array_like
        Hz.
    plating : sequence of (conductivity, thickness)
        From the surface inwards, S/m and m.
    base_conductivity, base_mu_r : float
        S/m and relative permeability of the base metal.

    Examples
    --------
    A plating of many skin depths hides the base:

    >>> z = plated_surface_impedance(2.45e9, [(1.67e7, 20e-6)], 7e6, 100)
    >>> round(float(z.real), 4)
    0.0241
    """
    omega = TWO_PI * np.asarray(frequency, dtype=float)
    impedance = np.sqrt(1j * omega * MU0 * base_mu_r / base_conductivity)
    for conductivity, thickness in reversed(plating):
        gamma = np.sqrt(1j * omega * MU0 * conductivity)
        own = gamma / conductivity
        turn = np.tanh(gamma * thickness)
        impedance = own * (impedance + own * turn) / (own + impedance * turn)
    return impedance


def effective_conductivity(surface_resistance: ArrayLike, frequency: ArrayLike):
    """Conductivity (S/m) of the thick nonmagnetic metal with this surface resistance (ohm).

    Examples
    --------
    >>> f"{float(effective_conductivity(0.0261, 10e9)):.2g}"
    '5.8e+07'
    """
    return (
        TWO_PI
        / 2
        * np.asarray(frequency, dtype=float)
        * MU0
        / np.asarray(surface_resistance, dtype=float) ** 2
    )
