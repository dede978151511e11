"""Co- and cross-polar parts of a far field, by another way than the package takes."""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simharness.em.pattern.direction import axis_vector
from simharness.em.pattern.far_field import FarField, unit_vectors
from simharness.errors import InputError


def ludwig3(
    far: FarField, boresight: str | ArrayLike = "+y", reference: str | ArrayLike = "+x"
) -> tuple[NDArray, NDArray]:
    """Co- and cross-polar field by Ludwig's third definition.

    Parameters
    ----------
    far : FarField
        Field to split.
    boresight : axis name or (3,) vector
        Direction of the beam.
    reference : axis name or (3,) vector
        Direction of E at boresight; made orthogonal to ``boresight``.

    Returns
    -------
    co, cross : (nf, nt, np) complex arrays
        V. At boresight co is the component along ``reference`` and cross the one along
        boresight x reference. Opposite to boresight the two are undefined (each way
        round leads to another pair); only their joint power means something there.

    Raises
    ------
    InputError
        Reference parallel to boresight.

    Notes
    -----
    A. C. Ludwig, IEEE Trans. Antennas Propag. AP-21, 1973, 116-119 (from memory).
    """
    ahead, wanted = axis_vector(boresight), axis_vector(reference)
    wanted = wanted - (wanted @ ahead) * ahead
    if np.linalg.norm(wanted) < 1e-6:
        raise InputError("reference", reference, "a direction that is not along boresight")
    wanted = axis_vector(wanted)
    other = np.cross(ahead, wanted)
    outward, along_theta, along_phi = unit_vectors(far.theta, far.phi)
    u, v, w = outward @ wanted, outward @ other, outward @ ahead
    turn = np.arctan2(v, u)[..., None]
    tilt = np.arctan2(np.hypot(u, v), w)[..., None]
    radial = np.cos(turn) * wanted + np.sin(turn) * other
    around = -np.sin(turn) * wanted + np.cos(turn) * other
    polar = np.cos(tilt) * radial - np.sin(tilt) * ahead
    result = []
    for unit in (
        np.cos(turn) * polar - np.sin(turn) * around,
        np.sin(turn) * polar + np.cos(turn) * around,
    ):
        on_theta, on_phi = (np.sum(unit * along, axis=-1) for along in (along_theta, along_phi))
        result.append(far.e_theta * on_theta + far.e_phi * on_phi)
    return result[0], result[1]
