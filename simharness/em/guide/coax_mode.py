"""The coaxial line: cutoff of its first higher mode."""

from __future__ import annotations

import math

from scipy.optimize import brentq
from scipy.special import jvp, yvp

from simharness.constants import C0, TWO_PI
from simharness.em.guide.coax import check_diameters


def coax_cutoff_frequency(inner_diameter: float, outer_diameter: float, eps_r: float = 1.0) -> float:
    """Cutoff of TE11, the first higher mode of the coax, Hz (exact root).

    The root of J1'(kc ri) Y1'(kc ro) = J1'(kc ro) Y1'(kc ri), near kc = 2/(ri + ro)
    (Pozar, Microwave Engineering, section 3.5, from memory).

    Raises
    ------
    InputError
        The outer diameter does not exceed the inner one.

    Examples
    --------
    The usual rule, wavelength = mean circumference, gives 24.9 GHz here.

    >>> round(coax_cutoff_frequency(1.27e-3, 4.1e-3, 2.03) / 1e9, 1)
    25.6
    """
    check_diameters(inner_diameter, outer_diameter)
    ri, ro = inner_diameter / 2, outer_diameter / 2

    def determinant(kc: float) -> float:
        return jvp(1, kc * ri) * yvp(1, kc * ro) - jvp(1, kc * ro) * yvp(1, kc * ri)

    # kc (ri + ro) / 2 runs from 1 for a thin gap to 0.92 for a vanishing centre
    # conductor, with a greatest value of 1.03 between; nothing else lies in this bracket.
    guess = 2 / (ri + ro)
    kc = brentq(determinant, 0.85 * guess, 1.1 * guess)
    return C0 * kc / (TWO_PI * math.sqrt(eps_r))
