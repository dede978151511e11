"""Two-dimensional electrostatics on the grid of the FDTD solver."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
from numpy.typing import NDArray

from simharness.constants import EPS0

_FEW = 400
"""Number of potentials up to which scipy, slow to load, is not used: enough for the bore of a coax."""


def line_capacitance(u: NDArray, v: NDArray, inner_u: tuple[int, int], inner_v: tuple[int, int]) -> float:
    """Capacitance per length of a rectangular conductor in a rectangular bore, in vacuum.

    Potentials are at the crossings of the mesh lines, fluxes on the links between them, each link as wide as
    the dual cell: the transverse field of a TEM wave on Yee's grid obeys exactly these equations, so that the
    result holds for the meshed line, not only in the limit.

    Parameters
    ----------
    u, v : (nu,), (nv,) arrays
        Mesh lines from wall to wall of the bore, m.
    inner_u, inner_v : tuple of int
        Indices of the first and last line of the inner conductor.

    Returns
    -------
    float
        F/m.

    Examples
    --------
    A square bore of side 1 about a square of side 0.5: 10.23 eps0, 36.8 ohm (exact by conformal
    mapping, from memory); 161 lines come within 0.1 % of it.

    >>> n = np.linspace(0, 1, 161)
    >>> round(line_capacitance(n, n, (40, 120), (40, 120)) / EPS0, 2)
    10.24
    """
    nu, nv = len(u), len(v)
    fixed = np.zeros((nu, nv), dtype=bool)
    fixed[[0, -1], :] = fixed[:, [0, -1]] = True
    value = np.zeros((nu, nv))
    core = (slice(inner_u[0], inner_u[1] + 1), slice(inner_v[0], inner_v[1] + 1))
    fixed[core], value[core] = True, 1.0
    return EPS0 * lattice_energy(u, v, fixed, value, np.ones((nu - 1, nv - 1)))


def lattice_energy(u: NDArray, v: NDArray, fixed: NDArray, value: NDArray, permittivity: NDArray) -> float:
    """Capacitance per length over eps0 between conductors 1 V apart, from the energy on the grid.

    Parameters
    ----------
    u, v : (nu,), (nv,) arrays
        Mesh lines, m; no flux crosses the border where its potential is free.
    fixed : (nu, nv) bool array
        Whether the potential of a crossing is given; it must be so for at least one.
    value : (nu, nv) array
        Given potential, V.
    permittivity : (nu - 1, nv - 1) array
        Relative permittivity of the cells.
    """
    nu, nv = len(u), len(v)
    du, dv = np.diff(u), np.diff(v)
    node = np.arange(nu * nv).reshape(nu, nv)
    # half a cell on either side of a link, each with its own permittivity
    beside_u = np.pad(permittivity * dv, ((0, 0), (1, 1)))
    beside_v = np.pad(permittivity * du[:, None], ((1, 1), (0, 0)))
    along_u = (beside_u[:, 1:] + beside_u[:, :-1]) / 2 / du[:, None]
    along_v = (beside_v[1:] + beside_v[:-1]) / 2 / dv[None, :]
    one = np.concatenate([node[:-1].ravel(), node[:, :-1].ravel()])
    two = np.concatenate([node[1:].ravel(), node[:, 1:].ravel()])
    weight = np.concatenate([along_u.ravel(), along_v.ravel()])
    size = nu * nv
    laplacian, solved = _system(
        np.concatenate([weight, weight, -weight, -weight]),
        (np.concatenate([one, two, one, two]), np.concatenate([one, two, two, one])),
        size,
    )
    free, held = np.flatnonzero(~fixed.ravel()), np.flatnonzero(fixed.ravel())
    potential = value.astype(float).ravel()
    if len(free):
        potential[free] = solved(laplacian[free][:, free], -laplacian[free][:, held] @ potential[held])
    return float(potential @ (laplacian @ potential))


def _system(
    values: NDArray, places: tuple[NDArray, NDArray], size: int
) -> tuple[Any, Callable[..., NDArray]]:
    """Square matrix with values summed at their places, dense while it is small, and its solver."""
    if size <= _FEW:
        matrix = np.zeros((size, size))
        np.add.at(matrix, places, values)
        return matrix, np.linalg.solve
    from scipy.sparse import coo_matrix
    from scipy.sparse.linalg import spsolve

    return coo_matrix((values, places), shape=(size, size)).tocsc(), spsolve
