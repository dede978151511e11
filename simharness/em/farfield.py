"""Near field on a closed box to far field, radiated power and directivity.

Equivalence principle in Love's form: J = n x H and M = -n x E on the box, nothing
inside. Time convention exp(+j omega t), peak phasors, theta from +z, phi from +x.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simharness.constants import C0, ETA0, TWO_PI
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


def _directions(theta: NDArray, phi: NDArray) -> tuple[NDArray, NDArray, NDArray]:
    """Unit vectors r, theta, phi on the grid, each (nt, np, 3)."""
    t, p = np.meshgrid(theta, phi, indexing="ij")
    st, ct, sp, cp = np.sin(t), np.cos(t), np.sin(p), np.cos(p)
    outward = np.stack([st * cp, st * sp, ct], axis=-1)
    along_theta = np.stack([ct * cp, ct * sp, -st], axis=-1)
    along_phi = np.stack([-sp, cp, np.zeros_like(sp)], axis=-1)
    return outward, along_theta, along_phi


@dataclass(frozen=True)
class _Cosines:
    """One Cartesian component of the directions: its different values, and which of them each direction (nt, np) has.

    On a regular sphere most values occur four times or more, so that phases are computed once for all of them.
    """

    values: NDArray
    which: NDArray

    @classmethod
    def of(cls, component: NDArray) -> _Cosines:
        """Values closer than 1e-13 count as one: rounding of sines and cosines, a phase below 1e-10 for any antenna."""
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


def _face_sums(face: SurfaceFace, index: int, wavenumber: float, cosines: Sequence[_Cosines], centre: NDArray) -> NDArray:
    """Integrals of J and M times the phase: (nt, np, 4), tangential J then tangential M."""
    one, two = face.tangents
    source = _sources(face, index)
    first = cosines[one].phases(wavenumber * (np.asarray(face.first, float) - centre[one]))
    second = cosines[two].phases(wavenumber * (np.asarray(face.second, float) - centre[two]))
    which, other = cosines[one].which, cosines[two].which
    if two == 2:
        # Along z the phase knows only theta: sum that axis once for all phi.
        inner = np.einsum("tb,abc->tac", second[other[:, 0]], source, optimize=True)
        sums = np.stack([first[row] @ part for row, part in zip(which, inner)])
    else:
        inner = (first @ source.transpose(0, 2, 1).reshape(len(source), -1)).reshape(len(first), 4, -1)
        sums = np.stack([np.matmul(inner[row], second[across][..., None])[..., 0] for row, across in zip(which, other)])
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
    outward, along_theta, along_phi = _directions(theta, phi)
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
    if turns < 1 or not np.allclose(
        phi, phi[0] + TWO_PI / turns * np.arange(phi.size), rtol=0, atol=1e-9
    ):
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
    outward, along_theta, along_phi = _directions(far.theta, far.phi)
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
