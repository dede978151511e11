"""Cutoff of the modes of a guide whose cross-section is a set of cells, exact on the grid of the solver.

H_z is at the centres of the cells and E on their edges; E along an edge between a free and a metal cell is
zero. The discrete curl curl equation for H_z at cutoff is then the Laplacian of the graph of free cells, each
pair of neighbours connected by (length of the shared edge)/(distance of the centres); its eigenvalues are
kc^2 (own derivation).
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def te_cutoff_square(x: NDArray, y: NDArray, free: NDArray) -> float:
    """kc^2 of the lowest TE mode with E along y in the middle, 1/m2.

    Parameters
    ----------
    x, y : (n + 1,), (m + 1,) arrays
        Mesh lines, m.
    free : (n, m) bool array
        Cells that are not metal; they are connected.

    Notes
    -----
    Round cross-sections have two lowest modes of nearly the same cutoff; the result is that of the mode whose
    H_z varies with x.

    Examples
    --------
    Twenty cells across a guide of 22.86 x 10.16 mm; on equal cells kc = 2/h sin(kc_exact h/2):

    >>> x, y = np.linspace(0, 22.86e-3, 21), np.linspace(0, 10.16e-3, 9)
    >>> kc2 = te_cutoff_square(x, y, np.ones((20, 8), bool))
    >>> round(float(np.sqrt(kc2)) / (np.pi / 22.86e-3), 5), round(float(np.sinc(1 / 40)), 5)
    (0.99897, 0.99897)
    """
    from scipy.sparse import coo_matrix, diags  # loaded for round tubes only
    from scipy.sparse.linalg import eigsh

    width, height = np.diff(x), np.diff(y)
    number = np.full(free.shape, -1)
    number[free] = np.arange(np.count_nonzero(free))
    rows, columns, weights = [], [], []
    for axis, own, other in ((0, width, height), (1, height, width)):
        one, two = (np.take(number, range(*span), axis=axis) for span in ((0, own.size - 1), (1, own.size)))
        link = np.expand_dims(2 / (own[1:] + own[:-1]), 1 - axis) * np.expand_dims(other, axis)
        joined = (one >= 0) & (two >= 0)
        rows.append(one[joined])
        columns.append(two[joined])
        weights.append(np.broadcast_to(link, joined.shape)[joined])
    row, column, weight = (np.concatenate(part) for part in (rows, columns, weights))
    count = int(number.max()) + 1
    beside = coo_matrix((weight, (row, column)), shape=(count, count)).tocsr()
    beside = beside + beside.T
    root = diags(1 / np.sqrt(np.outer(width, height)[free]))
    matrix = (root @ (diags(np.asarray(beside.sum(axis=1)).ravel()) - beside) @ root).tocsc()
    scale = 1 / (width[free.any(axis=1)].sum()) ** 2
    values, vectors = eigsh(matrix, k=min(4, count - 1), sigma=-scale, which="LM")
    middle = np.broadcast_to(((x[1:] + x[:-1]) / 2)[:, None], free.shape)[free]
    odd = (root @ vectors).T @ ((middle - middle.mean()) * np.outer(width, height)[free])
    odd[values < 1e-3 * scale] = 0.0  # the constant solution is not a mode
    return float(values[np.argmax(np.abs(odd))])
