"""Near field on a closed box: its far field, and the power through it.

Equivalence principle in Love's form: J = n x H and M = -n x E on the box, nothing
inside. Time convention exp(+j omega t), peak phasors, theta from +z, phi from +x.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simharness.constants import C0, ETA0, TWO_PI
from simharness.em.pattern.far_field import FarField, unit_vectors
from simharness.errors import InputError


@dataclass(frozen=True)
class SurfaceFace:
    """Fields on one flat face of the recording box.

    Attributes
    ----------
    axis : int
        Axis of the normal: 0, 1, 2 for x, y, z.
    side : int
        Sign of the outward normal, +1 or -1.
    position : float
        Coordinate of the face along its normal, m.
    first, second : (n1,), (n2,) arrays
        Coordinates along the two other axes in ascending axis order, m, increasing,
        not necessarily uniform.
    electric : (nf, 3, n1, n2) complex array
        Electric field, Cartesian components, V/m.
    magnetic : (nf, 3, n1, n2) complex array
        Magnetic field at the same points, A/m.
    """

    axis: int
    side: int
    position: float
    first: NDArray
    second: NDArray
    electric: NDArray
    magnetic: NDArray

    def __post_init__(self) -> None:
        if self.axis not in (0, 1, 2) or self.side not in (-1, 1):
            raise InputError("axis, side", (self.axis, self.side), "0, 1 or 2; -1 or +1")
        grid = (3, len(self.first), len(self.second))
        for name in ("electric", "magnetic"):
            shape = np.shape(getattr(self, name))
            if len(shape) != 4 or shape[1:] != grid:
                raise InputError(f"shape of {name}", shape, f"(nf,) + {grid}")
        if self.electric.shape != self.magnetic.shape:
            raise InputError("fields", "different numbers of frequencies", "the same")

    @property
    def tangents(self) -> tuple[int, int]:
        """The two tangential axes in ascending order."""
        first, second = (axis for axis in range(3) if axis != self.axis)
        return first, second

    @property
    def normal(self) -> NDArray:
        """Outward unit normal, shape (3,)."""
        return self.side * np.eye(3)[self.axis]

    @property
    def area(self) -> NDArray:
        """Trapezoid weights in m2, shape (n1, n2)."""
        return np.outer(trapezoid_weights(self.first), trapezoid_weights(self.second))


def trapezoid_weights(line: ArrayLike) -> NDArray:
    """Weights of the trapezoid rule on a line of increasing coordinates.

    Parameters
    ----------
    line : (n,) array
        Coordinates in m, n >= 2.

    Returns
    -------
    (n,) array
        Weights in m; their sum is the length of the line.

    Raises
    ------
    InputError
        Fewer than two coordinates or not increasing.

    Examples
    --------
    >>> trapezoid_weights([0.0, 1.0, 3.0])
    array([0.5, 1.5, 1. ])
    """
    gaps = np.diff(np.asarray(line, float))
    if gaps.size == 0 or not np.all(gaps > 0):
        raise InputError("line", "too short or not increasing", "2 or more increasing values")
    return 0.5 * (np.append(gaps, 0.0) + np.append(0.0, gaps))


@dataclass(frozen=True)
class _Cosines:
    """One Cartesian component of the directions: distinct values, and the index of that of each direction.

    On a regular sphere most values occur four times or more, so that phases are computed once for all of
    them.
    """

    values: NDArray
    which: NDArray

    @classmethod
    def of(cls, component: NDArray) -> _Cosines:
        """Distinct values; those closer than 1e-13 are one: rounding, a phase below 1e-10 rad."""
        values, which = np.unique(np.round(component, 13), return_inverse=True)
        return cls(values, which.reshape(component.shape))

    def phases(self, scaled: NDArray) -> NDArray:
        """exp(j value x) of the different values for coordinates times wavenumber, (nv, n)."""
        angle = np.outer(self.values, scaled)
        found = np.empty(angle.shape, complex)
        np.cos(angle, out=found.real)
        np.sin(angle, out=found.imag)
        return found


def _sources(face: SurfaceFace, index: int) -> NDArray:
    """Tangential J, then tangential M, times the area: (n1, n2, 4), A m and V m."""
    electric = np.moveaxis(face.electric[index], 0, -1)
    magnetic = np.moveaxis(face.magnetic[index], 0, -1)
    both = (np.cross(face.normal, magnetic), -np.cross(face.normal, electric))
    return np.concatenate([part[..., list(face.tangents)] for part in both], axis=-1) * face.area[..., None]


def _face_sums(
    face: SurfaceFace, index: int, wavenumber: float, cosines: Sequence[_Cosines], centre: NDArray
) -> NDArray:
    """Integrals of J and M times the phase: (nt, np, 4), tangential J then tangential M."""
    one, two = face.tangents
    source = _sources(face, index)
    first = cosines[one].phases(wavenumber * (np.asarray(face.first, float) - centre[one]))
    second = cosines[two].phases(wavenumber * (np.asarray(face.second, float) - centre[two]))
    which, other = cosines[one].which, cosines[two].which
    if two == 2:
        # Along z the phase depends on theta alone: sum that axis once for all phi.
        inner = np.einsum("tb,abc->tac", second[other[:, 0]], source, optimize=True)
        sums = np.stack([first[row] @ part for row, part in zip(which, inner)])
    else:
        inner = (first @ source.transpose(0, 2, 1).reshape(len(source), -1)).reshape(len(first), 4, -1)
        sums = np.stack(
            [np.matmul(inner[row], second[across][..., None])[..., 0] for row, across in zip(which, other)]
        )
    offset = cosines[face.axis].phases(wavenumber * (np.array([face.position]) - centre[face.axis]))[:, 0]
    return sums * offset[cosines[face.axis].which][..., None]


def far_field(
    faces: Sequence[SurfaceFace],
    frequency: ArrayLike,
    theta: ArrayLike,
    phi: ArrayLike,
    phase_centre: tuple[float, float, float] = (0.0, 0.0, 0.0),
) -> FarField:
    """Far field of the equivalent currents on the faces.

    Parameters
    ----------
    faces : sequence of SurfaceFace
        Faces of a closed box around every source. A missing face is a patch taken to
        carry no field; the result is as good as that assumption.
    frequency : (nf,) array
        Hz, as in the faces.
    theta, phi : (nt,), (np,) arrays
        Directions in rad.
    phase_centre : tuple of 3 floats
        Point in m to which the phase refers.

    Returns
    -------
    FarField

    Raises
    ------
    InputError
        No faces, or faces with another number of frequencies.

    Notes
    -----
    C. A. Balanis, Antenna Theory, eqs. (12-10) to (12-12) (from memory; tested on the
    exact fields of elementary dipoles). Trapezoid rule: the error is of second order in
    the spacing of the recording lines.
    """
    frequency = np.atleast_1d(np.asarray(frequency, float))
    theta = np.atleast_1d(np.asarray(theta, float))
    phi = np.atleast_1d(np.asarray(phi, float))
    if not faces or any(len(face.electric) != frequency.size for face in faces):
        allowed = f"one or more, each with {frequency.size} frequencies"
        raise InputError("faces", len(faces), allowed)
    outward, along_theta, along_phi = unit_vectors(theta, phi)
    cosines = [_Cosines.of(outward[..., axis]) for axis in range(3)]
    centre = np.asarray(phase_centre, float)
    e_theta = np.zeros((frequency.size, theta.size, phi.size), complex)
    e_phi = np.zeros_like(e_theta)
    for index, wavenumber in enumerate(TWO_PI * frequency / C0):
        scale = 1j * wavenumber / (2 * TWO_PI)
        for face in faces:
            sums = _face_sums(face, index, wavenumber, cosines, centre)
            tangents = list(face.tangents)
            t, p = along_theta[..., tangents], along_phi[..., tangents]
            current, magnetic = sums[..., :2], sums[..., 2:]
            e_theta[index] -= scale * np.sum(magnetic * p + ETA0 * current * t, axis=-1)
            e_phi[index] += scale * np.sum(magnetic * t - ETA0 * current * p, axis=-1)
    return FarField(frequency, theta, phi, e_theta, e_phi)


def surface_power(faces: Sequence[SurfaceFace]) -> NDArray:
    """Power that flows out through the faces.

    Parameters
    ----------
    faces : sequence of SurfaceFace
        Faces with peak phasors.

    Returns
    -------
    (nf,) array
        Half the real part of the outward Poynting flux, W.
    """
    total = 0.0
    for face in faces:
        one, two = face.tangents
        # The axis order turns once for the y normal: z x x = y, not x x z.
        sign = face.side * (-1 if face.axis == 1 else 1)
        e, h = face.electric, np.conj(face.magnetic)
        flux = e[:, one] * h[:, two] - e[:, two] * h[:, one]
        total = total + 0.5 * sign * np.sum(flux.real * face.area, axis=(1, 2))
    return np.asarray(total)
