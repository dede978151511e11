"""Closed forms of the round guide in TE11, and the rectangular guides that are equivalent to it.

All quantities are SI, the time convention is exp(+j omega t). TE11 is H_z ~ J1(kc r) sin(phi), kc = 1.8412/R,
with phi counted from the direction of E on the axis: along that direction, at phi = 0, the wall current has
no component that a longitudinal slot would interrupt. A mode is described by its cutoff and, for whatever
couples to it, by its field there at unit power. A rectangular guide of width a = pi R/1.8412 has in TE10 the
dispersion of TE11; its height is free, provided that the place x on its broad wall is the one where H_z of
TE10 has the value of TE11 at the angle of the slot:

    sin^2(pi x/a) = sin^2(phi) a b / [pi R^2 (1 - 1/1.8412^2)].

With b = pi R/3.0542 its TE01 has the cutoff of TE21, the next mode of the round guide with H_z at the wall,
and within 3 % the same H_z there at equal power: the energy that a slot stores in the first evanescent mode
is right too. A probe along y couples to TM01 instead; with b = pi R/1.547, nearly the diameter, TM11 of the
rectangle has its cutoff. The models of slots and probes in a rectangular guide thus apply to the round one
(own derivation; checked by numerical integration in `tests/unit/test_round_guide.py`). For slots
`simharness.em.slot.round_guide` then replaces all low modes except TE10, among them TE11 rotated by a right
angle, and adds the curvature of the outside; for a probe only TM01 is right besides TE11.

References
----------
D. M. Pozar, Microwave Engineering, 4th ed., section 3.4; N. Marcuvitz, Waveguide Handbook, section 2.3
(formulas from memory, checked by numerical integration in `tests/unit/test_round_guide.py`).
"""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simharness.constants import C0, ETA0, TWO_PI
from simharness.em.guide.rectangular import phase_constant, surface_resistance

TE11_ROOT = 1.8411837813406593
"""First zero of J1': kc R of TE11."""
TM01_ROOT = 2.404825557695773
"""First zero of J0: kc R of TM01, the next mode."""
_J1_AT_ROOT = 0.5818652242815964
TE21_ROOT = 3.0542369282271403
"""First zero of J2': kc R of TE21, the next mode that couples to longitudinal slots."""
_SHARE = 1.0 - 1.0 / TE11_ROOT**2
_FIELD_RATIO = math.sqrt(math.pi / (TE11_ROOT * TE21_ROOT * _SHARE))
"""Largest H_z of TE11 at the wall over that of TE10 in `equivalent_rectangle`, at equal power."""


def te11_cutoff(diameter: float) -> float:
    """Cutoff of TE11, Hz.

    Examples
    --------
    >>> round(te11_cutoff(90e-3) / 1e9, 4)
    1.9522
    """
    return C0 * TE11_ROOT / (math.pi * diameter)


def tm01_cutoff(diameter: float) -> float:
    """Cutoff of TM01, the next mode, Hz: 1.306 times that of TE11.

    Examples
    --------
    >>> round(tm01_cutoff(90e-3) / te11_cutoff(90e-3), 4)
    1.3061
    """
    return C0 * TM01_ROOT / (math.pi * diameter)


def equivalent_rectangle(diameter: float) -> tuple[float, float]:
    """Width and height (m) of the rectangular guide that is equivalent to the round one for slots.

    See the module. The width alone gives the propagation, as in
    `simharness.em.guide.rectangular.guide_wavelength`.

    Parameters
    ----------
    diameter : float
        Inner diameter of the round guide, m.

    Examples
    --------
    >>> a, b = equivalent_rectangle(90e-3)
    >>> round(a * 1e3, 2), round(b * 1e3, 2)
    (76.78, 46.29)
    """
    radius = diameter / 2
    return math.pi * radius / TE11_ROOT, math.pi * radius / TE21_ROOT


def probe_rectangle(diameter: float) -> tuple[float, float]:
    """Width and height (m) of the rectangular guide that is equivalent to the round one for a probe.

    See the module.

    Parameters
    ----------
    diameter : float
        Inner diameter of the round guide, m.

    Examples
    --------
    >>> a, b = probe_rectangle(90e-3)
    >>> round(a * 1e3, 2), round(b * 1e3, 2)
    (76.78, 91.38)
    """
    radius = diameter / 2
    return math.pi * radius / TE11_ROOT, math.pi * radius / math.sqrt(TM01_ROOT**2 - TE11_ROOT**2)


def equivalent_offset(diameter: float, angle: ArrayLike) -> NDArray:
    """Place x on the broad wall of `equivalent_rectangle` with the H_z of TE11 at this angle, m.

    Parameters
    ----------
    diameter : float
        Inner diameter of the round guide, m.
    angle : float or array
        Angle from the direction of E on the axis, rad, up to a right angle.
    """
    return (
        equivalent_rectangle(diameter)[0]
        / math.pi
        * np.arcsin(_FIELD_RATIO * np.sin(np.asarray(angle, dtype=float)))
    )


def slot_angle(diameter: float, offset: ArrayLike) -> NDArray:
    """Angle in the round guide of a place on the broad wall of `equivalent_rectangle`, rad.

    The inverse of `equivalent_offset`.

    Parameters
    ----------
    diameter : float
        Inner diameter of the round guide, m.
    offset : float or array
        Distance from the centre line of the broad wall, m.

    Examples
    --------
    >>> round(float(slot_angle(90e-3, equivalent_offset(90e-3, 0.5))), 12)
    0.5
    """
    sine = np.sin(math.pi * np.asarray(offset, dtype=float) / equivalent_rectangle(diameter)[0])
    return np.arcsin(sine / _FIELD_RATIO)


def te11_attenuation(diameter: float, frequency: ArrayLike, conductivity: float) -> NDArray:
    """TE11 wall loss, Np/m, by the power-loss method (smooth walls, well above cutoff).

    alpha = R_s / (R k eta beta) (kc^2 + k^2 / (1.8412^2 - 1)), Pozar equation 3.133.

    Raises
    ------
    InputError
        A frequency is at or below cutoff.

    Examples
    --------
    Copper pipe of 90 mm at 2.45 GHz, dB/m:

    >>> round(float(te11_attenuation(90e-3, 2.45e9, 5.8e7)) * 8.686, 4)
    0.0115
    """
    radius = diameter / 2
    beta = phase_constant(equivalent_rectangle(diameter)[0], frequency)
    k = TWO_PI * np.asarray(frequency, dtype=float) / C0
    kc = TE11_ROOT / radius
    loss = surface_resistance(conductivity, frequency)
    return loss / (radius * k * ETA0 * beta) * (kc**2 + k**2 / (TE11_ROOT**2 - 1))


def te11_axis_field(diameter: float) -> float:
    """E on the axis of the mode whose |E|^2 integrates to 1 over the cross-section, 1/m."""
    radius = diameter / 2
    return 0.5 * math.sqrt(2 / (math.pi * _SHARE)) / (radius * _J1_AT_ROOT)


def te11_field(diameter: float, along: ArrayLike, across: ArrayLike = 0.0) -> NDArray:
    """Component of E in its direction on the axis, over its value there.

    Parameters
    ----------
    diameter : float
        Inner diameter of the guide, m.
    along, across : float or array
        Distances from the axis, in the direction of E there and perpendicular to it, m.

    Examples
    --------
    >>> np.round(te11_field(90e-3, [0.0, 45e-3]), 3).tolist()
    [1.0, 0.632]
    """
    from scipy.special import jv

    along, across = np.broadcast_arrays(np.asarray(along, dtype=float), np.asarray(across, dtype=float))
    square = along**2 + across**2
    u = 2 * TE11_ROOT / diameter * np.sqrt(square)
    turn = (along**2 - across**2) / np.where(square > 0, square, 1.0)
    return jv(0, u) + jv(2, u) * turn


def te11_over_te10(diameter: float, height: ArrayLike) -> NDArray:
    """E of TE11 above the back line over that of TE10 in the middle of `probe_rectangle`, at equal power.

    Parameters
    ----------
    diameter : float
        Inner diameter of the guide, m.
    height : float or array
        Above the inner face of the back, m.

    Examples
    --------
    >>> np.round(te11_over_te10(90e-3, [0.0, 45e-3]), 3).tolist()
    [0.679, 1.075]
    """
    a, b = probe_rectangle(diameter)
    share = te11_axis_field(diameter) / math.sqrt(2 / (a * b))
    return share * te11_field(diameter, np.asarray(height, dtype=float) - diameter / 2)
