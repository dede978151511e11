"""Closed forms of the coaxial line."""

from __future__ import annotations

import math

from scipy.optimize import brentq
from scipy.special import jvp, yvp

from simharness.constants import C0, ETA0, TWO_PI
from simharness.errors import InputError


def coax_impedance(inner_diameter: float, outer_diameter: float, eps_r: float = 1.0) -> float:
    """Characteristic impedance of a lossless coax, ohm.

    Parameters
    ----------
    inner_diameter : float
        Diameter of the centre conductor, m.
    outer_diameter : float
        Inner diameter of the outer conductor, m; greater than `inner_diameter`.
    eps_r : float
        Relative permittivity of the dielectric.

    Raises
    ------
    InputError
        The outer diameter does not exceed the inner one.

    Examples
    --------
    >>> round(coax_impedance(1.27e-3, 4.1e-3, 2.03), 1)
    49.3
    """
    _check(inner_diameter, outer_diameter)
    return ETA0 / (TWO_PI * math.sqrt(eps_r)) * math.log(outer_diameter / inner_diameter)


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
    _check(inner_diameter, outer_diameter)
    ri, ro = inner_diameter / 2, outer_diameter / 2

    def determinant(kc: float) -> float:
        return jvp(1, kc * ri) * yvp(1, kc * ro) - jvp(1, kc * ro) * yvp(1, kc * ri)

    # kc (ri + ro) / 2 runs from 1 for a thin gap to 0.92 for a vanishing centre
    # conductor, with a greatest value of 1.03 between; nothing else lies in this bracket.
    guess = 2 / (ri + ro)
    kc = brentq(determinant, 0.85 * guess, 1.1 * guess)
    return C0 * kc / (TWO_PI * math.sqrt(eps_r))


def _check(inner_diameter: float, outer_diameter: float) -> None:
    if not 0 < inner_diameter < outer_diameter:
        raise InputError("outer_diameter", outer_diameter, f"must be greater than inner_diameter {inner_diameter:g}")
