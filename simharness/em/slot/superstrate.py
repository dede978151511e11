"""Dielectric sheets on a slotted plane: field of a magnetic current along the plane.

Own derivation, by the transmission-line view of the layered half space (standard spectral-domain practice).
With lateral wavenumber beta, u0^2 = beta^2 - k^2 above and u1^2 = beta^2 - eps k^2 in the sheet of
thickness h, the waves with H and with E in the plane see the admittances

    Y_TM = (j k / eta) A,        A = (eps / u1) (u1 + eps u0 t) / (eps u0 + u1 t),   t = tanh(u1 h),
    Y_TE = E / (j k eta),        E = u1 (u0 + u1 t) / (u1 + u0 t).

A stack of layers is worked out from the outermost inwards: what a layer is closed with, 1/u0 and u0 above
one sheet, is A and E of the layers outside it.

A magnetic current along z of transform M, kz its wavenumber along z, then has on the plane

    H_z = -(j / k eta) [k^2 A - kz^2 P] M,   P = (k^2 A + E) / beta^2.

Without a sheet A = P = 1 / u0, the transform of exp(-jkR) / (2 pi R): the kernels of
`simharness.em.slot.outside`. With a sheet there are two waves, W_A for k^2 A and W_P for the charges:

    W(R) = exp(-jkR) + R integral_0^inf beta J0(beta R) [A or P - 1 / u0] d beta,

eps and 1 at R = 0. The path of integration passes above the pole of the surface wave (real part between k
and sqrt(eps) k, eps the largest) to a point beyond all poles; from there, J0 being split into two Hankel
functions, it leaves the real axis at 45 degrees to either side, where the integrand decays. Plane and sheet
are infinite: the surface wave counts as radiated, since the edges of a finite sheet radiate it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.interpolate import CubicSpline
from scipy.special import hankel1, jv

from simharness.em.guide.electrostatics import lattice_energy

_PAST = 1.25
"""Point beyond all poles, over sqrt(eps) k."""
_RAY_NODES = 90
_FAR = 30.0
"""Phase k R in rad beyond which the path past the poles takes more nodes."""
_HIGH = 4.0
"""Phase up to the top of the layers in rad beyond which that path takes more nodes too."""
_STEP = 0.12
"""Step of the table over R, in log(1 + R/h) plus 0.3 of the phase in the sheet: error 1e-4 of the wave."""


@dataclass(frozen=True)
class Layer:
    """A layer of dielectric: thickness (m), relative permittivity, loss tangent."""

    thickness: float
    permittivity: float
    loss_tangent: float = 0.0

    @property
    def relative(self) -> complex:
        """Complex relative permittivity."""
        return self.permittivity * (1.0 - 1j * self.loss_tangent)


@dataclass(frozen=True)
class Superstrate:
    """Dielectric on the outside of the slotted wall: a sheet, and layers beyond it.

    Attributes
    ----------
    thickness : float
        m.
    permittivity : float
        Relative.
    loss_tangent : float
    routed : bool
        Whether the slots are cut through it too, not through the layers beyond; see `trench_capacitance`.
    beyond : tuple of Layer
        What follows outward, air gaps too.
    back : Superstrate or None
        What lies on the back wall.
    """

    thickness: float
    permittivity: float
    loss_tangent: float = 0.0
    routed: bool = False
    beyond: tuple[Layer, ...] = ()
    back: Superstrate | None = None

    @property
    def lossless(self) -> Superstrate:
        """This stack without loss."""
        beyond = tuple(replace(layer, loss_tangent=0.0) for layer in self.beyond)
        back = None if self.back is None else self.back.lossless
        return replace(self, loss_tangent=0.0, beyond=beyond, back=back)

    @property
    def relative(self) -> complex:
        """Complex relative permittivity of the sheet."""
        return Layer(self.thickness, self.permittivity, self.loss_tangent).relative

    @property
    def layers(self) -> tuple[Layer, ...]:
        """All that acts, outward: layers of some thickness, equal neighbours as one, none of air last."""
        found: list[Layer] = []
        for one in (Layer(self.thickness, self.permittivity, self.loss_tangent), *self.beyond):
            if found and one.relative == found[-1].relative:
                one = replace(one, thickness=found.pop().thickness + one.thickness)
            if one.thickness > 0.0:
                found.append(one)
        while found and found[-1].relative == 1.0:
            found.pop()
        return tuple(found)

    @property
    def densest(self) -> float:
        """Largest relative permittivity of a layer, or that of air."""
        return max((layer.permittivity for layer in self.layers), default=1.0)


def under_cover(
    board: Superstrate | None, cover: tuple[Layer, ...], both: bool = False
) -> Superstrate | None:
    """A substrate, or none, with a cover before it, or none: its air gap, and its sheet.

    `both`: before the back wall too.
    """
    if not cover:
        return board
    front = Superstrate(0.0, 1.0) if board is None else board
    back = Superstrate(0.0, 1.0, beyond=cover) if both else None
    return replace(front, beyond=cover, back=back)


def superstrate_waves(superstrate: Superstrate, k: float, distance: NDArray) -> tuple[NDArray, NDArray]:
    """W_A and W_P, which replace exp(-jkR) of the half space without a sheet.

    Parameters
    ----------
    superstrate : Superstrate
    k : float
        Wavenumber of free space, 1/m.
    distance : ndarray
        R, m.

    Returns
    -------
    arrays of the shape of ``distance``

    Examples
    --------
    A sheet of air changes nothing:

    >>> found = superstrate_waves(Superstrate(1e-3, 1.0), 100.0, np.array([0.01]))
    >>> bool(np.allclose(found, np.exp(-1j)))
    True
    """
    air = np.exp(-1j * k * distance)
    layers = superstrate.layers
    if not layers:
        return air, air
    # rounded up, so that slightly different records share one table
    reach = 2.0 ** np.ceil(np.log2(np.max(distance)))
    added_a, added_p = _table(layers, k, float(reach))(_place(layers, k, distance))
    return air * (1.0 + added_a), air * (1.0 + added_p)


def _place(layers: tuple[Layer, ...], k: float, distance: NDArray) -> NDArray:
    """Coordinate in which the added waves are smooth: logarithmic in R/h at first, then linear in phase.

    h is the height of the lowest interface, which is the nearest mirror of the current.
    """
    densest = max(abs(np.sqrt(layer.relative)) for layer in layers)
    return np.log1p(distance / layers[0].thickness) + 0.3 * densest * k * distance


@lru_cache(maxsize=128)
def _table(layers: tuple[Layer, ...], k: float, reach: float) -> CubicSpline:
    """Both added waves over exp(-jkR) against `_place`, up to a distance."""
    dense = np.concatenate([[0.0], np.geomspace(1e-4 * min(layers[0].thickness, reach), reach, 4000)])
    places = _place(layers, k, dense)
    nodes = np.linspace(0.0, places[-1], int(np.ceil(places[-1] / _STEP)) + 1)
    distance = np.interp(nodes, places, dense)
    added = np.empty((2, nodes.size), dtype=complex)
    added[:, 0] = layers[0].relative - 1.0, 0.0
    far = max(1, int(np.searchsorted(k * distance, _FAR)))
    height = sum(layer.thickness * abs(np.sqrt(layer.relative)) for layer in layers)
    least = 100 + max(0, int(6.0 * (k * height - _HIGH)))
    for some, count in ((slice(1, far), least), (slice(far, None), least + int(4.0 * k * reach))):
        r = distance[some]
        added[:, some] = _added(layers, k, r, count) * np.exp(1j * k * r)
    return CubicSpline(_place(layers, k, distance), added, axis=1)


def _spectra(layers: tuple[Layer, ...], k: float, beta: NDArray) -> NDArray:
    """A - 1/u0 and P - 1/u0 times beta, (2, ...).

    From the outermost layer inwards. The differences a = A - 1/u0 and e = E - u0 are formed analytically, so
    that a thin sheet loses no digits: a layer of characteristic eps/u1 and u1 closed with a and e makes of
    them [eps a / u1 + t ((eps/u1)^2 - 1/u0^2 - a/u0)] / (eps/u1 + t (1/u0 + a)) and [u1 e + t (u1^2 - u0^2 -
    u0 e)] / (u1 + t (u0 + e)), in which (eps u0)^2 - u1^2 = (eps^2 - 1) beta^2 - (eps^2 - eps) k^2 and u1^2 -
    u0^2 = (1 - eps) k^2; and k^2 / u0 + u0 = beta^2 / u0. On the path above the real axis the principal
    square roots are those of outgoing and decaying waves.
    """
    u0 = np.sqrt(beta**2 - k**2)
    a = e = np.zeros_like(u0)
    for layer in reversed(layers):
        eps = layer.relative
        u1 = np.sqrt(beta**2 - eps * k**2)
        t = np.tanh(u1 * layer.thickness)
        rise = ((eps**2 - 1.0) * beta**2 - (eps**2 - eps) * k**2) / (u1 * u0)
        a = (eps * u0 * a + t * (rise - u1 * a)) / (eps * u0 + t * u1 * (1.0 + u0 * a))
        e = (u1 * e + t * ((1.0 - eps) * k**2 - u0 * e)) / (u1 + t * (u0 + e))
    return np.stack([beta * a, (k**2 * a + e) / beta])


def _added(layers: tuple[Layer, ...], k: float, distance: NDArray, count: int) -> NDArray:
    """R times the integral, (2, n), for distances (n,) above 0; `count` nodes pass the poles."""
    past = _PAST * max(float(np.real(np.sqrt(layer.relative))) for layer in layers) * k
    r = distance[:, None]
    x, w = np.polynomial.legendre.leggauss(count)
    turn = 0.5 * np.pi * (x + 1.0)
    # half an ellipse above the poles, flatter at large distance, where J0 grows away from the axis
    height = np.minimum(0.4 * k, 6.0 / r)
    beta = 0.5 * past * (1.0 - np.cos(turn)) + 1j * height * np.sin(turn)
    slope = 0.5 * past * np.sin(turn) + 1j * height * np.cos(turn)
    near = (_spectra(layers, k, beta) * (jv(0, beta * r) * slope * 0.5 * np.pi * w)).sum(axis=-1)
    s, ds = np.linspace(0.0, 1.0, _RAY_NODES, retstep=True)
    least, most = np.log(1e-7 * k), np.log(60.0 / r)
    length = np.exp(least + (most - least) * s)
    step = length * (most - least) * ds
    ray = np.exp(0.25j * np.pi)
    up = past + ray * length
    wave = 0.5 * hankel1(0, up * r) * ray * step
    far = (_spectra(layers, k, up) * wave).sum(axis=-1) + (_spectra(layers, k, up.conj()) * wave.conj()).sum(
        axis=-1
    )
    return distance * (near + far)


def trench_capacitance(superstrate: Superstrate, width: float) -> complex:
    """Capacitance per length, over eps0, that a slot lacks when it is cut through the sheet too.

    From the electrostatics across an infinitely long slot: the rest of the sheet acts on this slot and on
    others as before. The grid is graded from the edge of the slot, where its cells are a 300th of the
    smaller of half the width and the thickness: the result is 0.5 % too large. The loss follows from the
    derivative by the permittivity.

    Parameters
    ----------
    superstrate : Superstrate
    width : float
        Width of the slot, m.

    Examples
    --------
    >>> thin, thick = (trench_capacitance(Superstrate(h, 4.4), 2.5e-3).real for h in (0.2e-3, 3e-3))
    >>> 0.0 < thin < thick
    True
    """
    lost, more = (
        _trench_capacitance(superstrate.thickness, eps, width)
        for eps in (superstrate.permittivity, 1.01 * superstrate.permittivity)
    )
    return lost - 1j * superstrate.loss_tangent * (more - lost) / 0.01


@lru_cache(maxsize=128)
def _trench_capacitance(thickness: float, permittivity: float, width: float) -> float:
    """The lossless value, from half the slot: the symmetry plane at 0 V, one side at 1 V."""
    half, cell = 0.5 * width, 0.003 * min(0.5 * width, thickness)
    beyond = _graded(cell, 24.0 * (half + thickness))
    u = np.concatenate([half - _graded(cell, half)[::-1], half + beyond[1:]])
    v = np.concatenate([thickness - _graded(cell, 0.5 * thickness)[::-1], thickness + beyond[1:]])
    v = np.concatenate([_graded(cell, 0.5 * thickness)[:-1], v])
    edge = int(np.argmin(np.abs(u - half)))
    fixed = np.zeros((u.size, v.size), dtype=bool)
    fixed[0], fixed[edge:, 0] = True, True
    value = np.zeros(fixed.shape)
    value[edge:, 0] = 1.0
    sheet = (0.5 * (v[1:] + v[:-1]) < thickness) & np.ones((u.size - 1, 1), dtype=bool)
    cut = sheet & (np.arange(u.size - 1) >= edge)[:, None]
    whole, trenched = (
        lattice_energy(u, v, fixed, value, np.where(where, permittivity, 1.0)) for where in (sheet, cut)
    )
    return (whole - trenched) / 2.0


def _graded(first: float, length: float) -> NDArray:
    """Grid lines from 0 to a length (m), the cells growing by a tenth from at most `first` (m)."""
    count = max(1, int(np.ceil(np.log1p(0.1 * length / first) / np.log(1.1))))
    steps = 1.1 ** np.arange(count)
    return np.concatenate([[0.0], np.cumsum(steps)]) * length / steps.sum()
