"""Far field on a grid of directions: intensity, radiated power, directivity.

Time convention exp(+j omega t), peak phasors, theta from +z, phi from +x.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simharness.constants import ETA0, TWO_PI
from simharness.errors import InputError


@dataclass(frozen=True)
class FarField:
    """Far field on a grid of directions.

    Attributes
    ----------
    frequency : (nf,) array
        Hz.
    theta, phi : (nt,), (np,) arrays
        rad; theta from +z, phi from +x.
    e_theta, e_phi : (nf, nt, np) complex arrays
        Field times r exp(+j k r), V (peak); r from the phase centre.
    """

    frequency: NDArray
    theta: NDArray
    phi: NDArray
    e_theta: NDArray
    e_phi: NDArray

    @classmethod
    def stored(cls, arrays: Mapping[str, NDArray]) -> FarField:
        """The far field among the result arrays of a run, which must hold one."""
        return cls(*(arrays[name] for name in ("far_frequency", "theta", "phi", "e_theta", "e_phi")))


def nearest_field(far_frequency: NDArray, frequency: float) -> int:
    """Which of the stored far fields, their frequencies (nf,) in Hz, is nearest to a frequency.

    Examples
    --------
    >>> nearest_field(np.array([2.40e9, 2.44e9, 2.48e9]), 2.45e9)
    1
    """
    return int(np.argmin(np.abs(far_frequency - frequency)))


def unit_vectors(theta: NDArray, phi: NDArray) -> tuple[NDArray, NDArray, NDArray]:
    """Unit vectors r, theta, phi on the grid of theta and phi in rad, each (nt, np, 3)."""
    t, p = np.meshgrid(theta, phi, indexing="ij")
    st, ct, sp, cp = np.sin(t), np.cos(t), np.sin(p), np.cos(p)
    outward = np.stack([st * cp, st * sp, ct], axis=-1)
    along_theta = np.stack([ct * cp, ct * sp, -st], axis=-1)
    along_phi = np.stack([-sp, cp, np.zeros_like(sp)], axis=-1)
    return outward, along_theta, along_phi


def radiation_intensity(far: FarField) -> NDArray:
    """Power per solid angle in W/sr, shape (nf, nt, np)."""
    return (np.abs(far.e_theta) ** 2 + np.abs(far.e_phi) ** 2) / (2 * ETA0)


def sphere_weights(theta: ArrayLike, phi: ArrayLike) -> NDArray:
    """Quadrature weights over the whole sphere.

    Clenshaw-Curtis in theta, rectangle rule in phi: exact for spherical harmonics of
    degree below nt - 1 and order below the number of different phi. The intensity of an
    antenna inside a sphere of radius R has degrees up to about 2 k R + 10.

    Parameters
    ----------
    theta : (nt,) array
        0 to pi in equal steps, both poles included, rad.
    phi : (np,) array
        Equal steps over one full turn, rad; the end may repeat the start.

    Returns
    -------
    (nt, np) array
        Weights in sr; their sum is 4 pi.

    Raises
    ------
    InputError
        Another grid.

    Examples
    --------
    >>> w = sphere_weights(np.linspace(0, np.pi, 7), np.arange(8) * np.pi / 4)
    >>> round(float(w.sum() / np.pi), 12)
    4.0
    """
    theta, phi = np.asarray(theta, float), np.asarray(phi, float)
    n = theta.size - 1
    if n < 2 or not np.allclose(theta, np.linspace(0, np.pi, n + 1), rtol=0, atol=1e-9):
        raise InputError("theta", "partial or uneven", "0 to pi in equal steps")
    repeated = phi.size > 1 and abs(phi[-1] - phi[0] - TWO_PI) < 1e-9
    turns = phi.size - 1 if repeated else phi.size
    if turns < 1 or not np.allclose(phi, phi[0] + TWO_PI / turns * np.arange(phi.size), rtol=0, atol=1e-9):
        raise InputError("phi", "partial or uneven", "one full turn in equal steps")
    order = np.arange(1, n // 2 + 1)
    term = np.where(2 * order == n, 1.0, 2.0) / (4.0 * order**2 - 1)
    polar = (1 - np.cos(2 * np.outer(theta, order)) @ term) * 2 / n
    polar[[0, -1]] /= 2
    around = np.full(phi.size, TWO_PI / turns)
    if repeated:
        around[[0, -1]] /= 2
    return np.outer(polar, around)


def radiated_power(far: FarField) -> NDArray:
    """Radiation intensity integrated over the sphere, W, shape (nf,).

    Raises InputError unless the grid covers the sphere; see :func:`sphere_weights`.
    """
    weights = sphere_weights(far.theta, far.phi)
    return np.sum(radiation_intensity(far) * weights, axis=(1, 2))


def directivity(far: FarField) -> NDArray:
    """Directivity (linear), 4 pi U / P, shape (nf, nt, np).

    Raises InputError unless the grid covers the sphere; see :func:`sphere_weights`.
    """
    power = radiated_power(far)[:, None, None]
    return 2 * TWO_PI * radiation_intensity(far) / power
