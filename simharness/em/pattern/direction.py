"""One direction of a far field: its angles, the field there, and its horizontal and vertical components."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray
from scipy.interpolate import RectBivariateSpline

from simharness.constants import C0, TWO_PI
from simharness.em.pattern.far_field import FarField
from simharness.errors import InputError

UP = {"vertical": "+z", "horizontal": "+x"}
"""Which axis of the antenna points up, by the direction of its long axis: the slots of a horizontal one face
the horizon."""

_MIN_HORIZONTAL = 1e-9


def spherical_angles(along: ArrayLike, across: ArrayLike) -> tuple[NDArray, NDArray]:
    """Polar angle and azimuth of a direction given by its angles off broadside.

    Parameters
    ----------
    along, across : arrays
        First the direction is tilted by `along` from broadside (+y) towards +z, then turned
        by `across` about the z axis towards +x; rad, broadcast against each other.

    Returns
    -------
    theta, phi : arrays
        rad; theta in [0, pi] from +z, phi in [0, 2 pi) from +x.

    Examples
    --------
    >>> print(*np.degrees(spherical_angles(np.radians(30), 0.0)).round(6))
    60.0 90.0
    >>> print(*np.degrees(spherical_angles(np.radians(120), 0.0)).round(6))
    30.0 270.0
    """
    along, across = np.broadcast_arrays(np.asarray(along, float), np.asarray(across, float))
    theta = np.arccos(np.clip(np.sin(along), -1, 1))
    phi = 0.5 * np.pi - across + np.where(np.cos(along) < 0, np.pi, 0.0)
    return theta, np.mod(phi, TWO_PI)


def angles_in_tilted(theta: ArrayLike, phi: ArrayLike, up: str, tilt: float) -> tuple[NDArray, NDArray]:
    """Direction in the axes of an antenna whose front (+y) looks below the horizon.

    Parameters
    ----------
    theta, phi : arrays
        Direction in the axes of the antenna were it level, rad.
    up : axis name
        Upward direction in those axes, across +y.
    tilt : float
        How far the front looks down, rad.

    Returns
    -------
    theta, phi : arrays
        rad, as of `spherical_angles`.

    Examples
    --------
    The horizon straight ahead lies above a front that looks down by 10 degrees.

    >>> print(*np.degrees(angles_in_tilted(np.pi / 2, np.pi / 2, "+z", np.radians(10))).round(6))
    80.0 90.0
    >>> print(*np.degrees(angles_in_tilted(np.pi / 2, np.pi / 2, "+x", np.radians(10))).round(6))
    90.0 80.0
    """
    theta, phi = np.asarray(theta, float), np.asarray(phi, float)
    if not tilt:
        return theta, phi
    outward = np.stack([np.sin(theta) * np.cos(phi), np.sin(theta) * np.sin(phi), np.cos(theta)])
    front, raised = axis_vector("+y"), axis_vector(up)
    ahead, above = np.tensordot(front, outward, 1), np.tensordot(raised, outward, 1)
    turned = outward - np.multiply.outer(front, ahead) - np.multiply.outer(raised, above)
    turned += np.multiply.outer(front, ahead * np.cos(tilt) - above * np.sin(tilt))
    turned += np.multiply.outer(raised, ahead * np.sin(tilt) + above * np.cos(tilt))
    return np.arccos(np.clip(turned[2], -1, 1)), np.mod(np.arctan2(turned[1], turned[0]), TWO_PI)


def up_in_tilted(up: str, tilt: float) -> NDArray:
    """Upward direction (3,) in the axes of an antenna whose front (+y) looks down by `tilt` (rad)."""
    return np.cos(tilt) * axis_vector(up) - np.sin(tilt) * axis_vector("+y")


def field_towards(
    far: FarField, index: int, theta: ArrayLike, phi: ArrayLike, centre: tuple[float, float, float]
) -> tuple[NDArray, NDArray]:
    """Field between the directions of a grid.

    Parameters
    ----------
    far : FarField
        A grid over the whole turn in phi (its end repeating its start).
    index : int
        Index of the frequency.
    theta, phi : arrays of one shape
        Directions, rad.
    centre : tuple of 3 floats
        Middle of the antenna, m: the phase is referred to it before interpolation, since with
        respect to a distant point it varies too fast between the directions of the grid.

    Returns
    -------
    e_theta, e_phi : complex arrays of that shape
        V, phase referred to `centre`. Cubic interpolation: exact on the grid.
    """
    wavenumber = TWO_PI * far.frequency[index] / C0
    t, p = np.meshgrid(far.theta, far.phi, indexing="ij")
    outward = np.stack([np.sin(t) * np.cos(p), np.sin(t) * np.sin(p), np.cos(t)], axis=-1)
    turn = np.exp(-1j * wavenumber * outward @ np.asarray(centre, float))
    theta, phi = np.asarray(theta, float), np.mod(np.asarray(phi, float), TWO_PI)
    found = []
    for field in (far.e_theta, far.e_phi):
        turned = field[index] * turn
        real, imaginary = (
            RectBivariateSpline(far.theta, far.phi, part).ev(theta, phi)
            for part in (turned.real, turned.imag)
        )
        found.append(real + 1j * imaginary)
    return found[0], found[1]


def axis_vector(axis: str | ArrayLike) -> NDArray:
    """Unit vector (3,) of a name such as ``"+y"`` or of any non-zero vector.

    Raises
    ------
    InputError
        Neither a signed axis name nor three numbers with a length.

    Examples
    --------
    >>> axis_vector("-z")
    array([ 0.,  0., -1.])
    """
    if isinstance(axis, str):
        if len(axis) != 2 or axis[0] not in "+-" or axis[1] not in "xyz":
            raise InputError("axis", axis, "+x, -x, +y, -y, +z, -z or a vector")
        return np.where(np.eye(3)["xyz".index(axis[1])] == 1, 1.0 if axis[0] == "+" else -1.0, 0.0)
    vector = np.asarray(axis, float)
    if vector.shape != (3,) or not np.linalg.norm(vector) > 0:
        raise InputError("axis", axis, "three numbers, not all zero")
    return vector / np.linalg.norm(vector)


def horizontal_vertical(
    e_theta: complex, e_phi: complex, theta: float, phi: float, up: str | ArrayLike
) -> tuple[complex, complex]:
    """Components of a field in the frame of the ground.

    Parameters
    ----------
    e_theta, e_phi : complex
        Field in one direction, any unit.
    theta, phi : float
        That direction, rad.
    up : axis name or (3,) vector
        Upward direction in the axes of the antenna.

    Returns
    -------
    horizontal, vertical : complex
        To the right and upwards as seen from the antenna in that direction.
        Straight up or down, where neither is defined, phi counts as horizontal and theta as
        vertical.
    """
    st, ct, sp, cp = np.sin(theta), np.cos(theta), np.sin(phi), np.cos(phi)
    outward = np.array([st * cp, st * sp, ct])
    along_theta, along_phi = np.array([ct * cp, ct * sp, -st]), np.array([-sp, cp, 0.0])
    level = np.cross(outward, axis_vector(up))
    if np.linalg.norm(level) < _MIN_HORIZONTAL:
        return complex(e_phi), complex(e_theta)
    level = level / np.linalg.norm(level)
    upright = np.cross(level, outward)
    vector = e_theta * along_theta + e_phi * along_phi
    return complex(vector @ level), complex(vector @ upright)
