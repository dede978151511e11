"""Principal cuts of a far field, and its polarisation ellipse.

Angles of a cut are measured from broadside (+y), from -pi to pi, increasing.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simharness.constants import ETA0
from simharness.em.pattern.direction import field_towards, spherical_angles
from simharness.em.pattern.far_field import FarField
from simharness.em.pattern.levels import SAME_ANGLE
from simharness.errors import InputError
from simharness.numerics.decibels import amplitude_decibels


@dataclass(frozen=True)
class PatternCut:
    """One principal cut.

    Attributes
    ----------
    frequency : float
        Hz.
    angle : (n,) array
        Angle from broadside in rad, increasing.
    co, cross : (n,) arrays
        Radiation intensity in W/sr of the field along x at broadside and of the other
        polarisation, by Ludwig's third definition.
    """

    frequency: float
    angle: NDArray
    co: NDArray
    cross: NDArray

    @property
    def total(self) -> NDArray:
        """Radiation intensity in both polarisations, W/sr."""
        return self.co + self.cross


def _column(values: NDArray, wanted: float, name: str) -> int:
    """Index of an angle which must be on the grid."""
    distance = np.abs(values - wanted)
    index = int(np.argmin(distance))
    if distance[index] > SAME_ANGLE:
        raise InputError(name, "no line of this cut", f"a grid with {np.degrees(wanted):g} deg")
    return index


def _cut(frequency: float, angle: NDArray, e_theta: NDArray, e_phi: NDArray) -> PatternCut:
    """Sort by angle in (-pi, pi] and repeat the back direction at the other end.

    In both principal planes Ludwig's co-polar unit vector is +-phi and the cross-polar
    one +-theta, up to and including the back direction, when reached along the cut.
    """
    angle = np.angle(np.exp(1j * angle))
    angle = np.where(angle <= -np.pi + SAME_ANGLE, np.pi, angle)
    order = np.argsort(angle, kind="stable")
    angle = angle[order]
    keep = np.append(True, np.diff(angle) > SAME_ANGLE)
    angle, order = angle[keep], order[keep]
    if abs(angle[-1] - np.pi) < SAME_ANGLE:
        angle, order = np.append(-np.pi, angle), np.append(order[-1], order)
    co, cross = (np.abs(e[order]) ** 2 / (2 * ETA0) for e in (e_phi, e_theta))
    return PatternCut(frequency, angle, co, cross)


def cut_along(far: FarField, index: int) -> PatternCut:
    """Cut along the guide, the y-z plane (H-plane of longitudinal slots).

    Parameters
    ----------
    far : FarField
        A grid with phi = 90 and 270 deg (all theta are taken); transform again with
        just those two phi for finer steps.
    index : int
        Which frequency.

    Returns
    -------
    PatternCut
        Angle from +y towards +z.

    Raises
    ------
    InputError
        The grid lacks those directions; nothing is interpolated.
    """
    front = _column(far.phi, 0.5 * np.pi, "phi")
    back = _column(far.phi, 1.5 * np.pi, "phi")
    angle = np.concatenate([0.5 * np.pi - far.theta, 0.5 * np.pi + far.theta])
    e_theta, e_phi = (
        np.concatenate([e[index, :, front], e[index, :, back]]) for e in (far.e_theta, far.e_phi)
    )
    return _cut(float(far.frequency[index]), angle, e_theta, e_phi)


def cut_across(far: FarField, index: int) -> PatternCut:
    """Cut across the guide, the x-y plane (E-plane of longitudinal slots).

    Parameters
    ----------
    far : FarField
        A grid with theta = 90 deg (all phi are taken).
    index : int
        Which frequency.

    Returns
    -------
    PatternCut
        Angle from +y towards +x.

    Raises
    ------
    InputError
        The grid lacks theta = 90 deg; nothing is interpolated.
    """
    row = _column(far.theta, 0.5 * np.pi, "theta")
    angle = 0.5 * np.pi - far.phi
    return _cut(float(far.frequency[index]), angle, far.e_theta[index, row], far.e_phi[index, row])


def cut_between(
    far: FarField, index: int, which: str, centre: tuple[float, float, float], step: float = np.radians(0.25)
) -> PatternCut:
    """A whole cut in finer steps than the grid, which shows nulls between the directions of the grid.

    Parameters
    ----------
    far : FarField
        See `direction.field_towards`, whose interpolation this is.
    index : int
        Which frequency.
    which : 'along' or 'across'
    centre : tuple of 3 floats
        Middle of the antenna, m.
    step : float
        About that much between angles, rad.
    """
    angle = np.linspace(-np.pi, np.pi, 4 * round(np.pi / 2 / step) + 1)
    zero = np.zeros_like(angle)
    towards = spherical_angles(angle, zero) if which == "along" else spherical_angles(zero, angle)
    e_theta, e_phi = field_towards(far, index, *towards, centre)
    co, cross = (np.abs(e) ** 2 / (2 * ETA0) for e in (e_phi, e_theta))
    return PatternCut(float(far.frequency[index]), angle, co, cross)


def polarization(e_theta: ArrayLike, e_phi: ArrayLike) -> tuple[NDArray, NDArray]:
    """Axial ratio and tilt of the polarisation ellipse.

    Parameters
    ----------
    e_theta, e_phi : complex arrays
        Field components of the same shape, V/m or V.

    Returns
    -------
    axial_ratio : array
        Major over minor axis in dB, >= 0; inf (or beyond 250 dB, by rounding) for linear
        polarisation, nan without a field.
    tilt : array
        Major axis from the theta towards the phi unit vector, rad in (-pi/2, pi/2];
        meaningless for circular polarisation.

    Notes
    -----
    From the two circular components, C. A. Balanis, Antenna Theory, sec. 2.12 (memory).

    Examples
    --------
    >>> ratio, tilt = polarization(1.0, 1.0)
    >>> print(ratio, round(float(np.degrees(tilt)), 6))
    inf 45.0
    """
    e_theta, e_phi = np.asarray(e_theta, complex), np.asarray(e_phi, complex)
    one, two = np.abs(e_theta + 1j * e_phi), np.abs(e_theta - 1j * e_phi)
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = amplitude_decibels((one + two) / np.abs(one - two))
    cross = 2 * np.real(e_theta * np.conj(e_phi))
    tilt = 0.5 * np.arctan2(cross, np.abs(e_theta) ** 2 - np.abs(e_phi) ** 2)
    return ratio, np.where(tilt <= -np.pi / 2, np.pi / 2, tilt)
