"""Data and basis functions of the moment-method model of longitudinal slots.

Every slot carries the aperture field

    E_x(x, z) = f(x) * sum_p V_p s_p(z),   s_p(z) = sin(p pi (z - z0 + L/2) / L),

with ``f`` a fixed profile across the width, integral of f = 1, so that V_p is in
volts. Closing the aperture with metal and putting M = E x n (n into the region) on
it gives the field of each region. A z-directed magnetic current on the broad wall
needs only the potential F_z, whose normal derivative vanishes on side and broad
walls. Voltages of slots in the back wall count E against x, so that M points along z
for the same sign of V on either wall. With time convention exp(+j omega t)

    H_z = (1 / j omega mu) (k^2 + d^2/dz^2) integral G M dS,

and the tested admittance of one region is
Y_pq = -(1 / j omega mu) [k^2 <s_p, G s_q> - <s_p', G s_q'>]: the second derivative has
been moved to the basis functions, which vanish at the slot ends. The formulas of
the modules beside this one follow from these lines; their docstrings derive them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray
from scipy.special import gamma, jv

from simharness.em.slot.superstrate import Superstrate
from simharness.errors import InputError

EDGE_CORNER = -1.0 / 3.0
"""Profile exponent of the field at a right-angled metal corner (thick wall)."""
EDGE_FOIL = -0.5
"""The same at the edge of a foil."""


def profile_transform(argument: NDArray, exponent: float) -> NDArray:
    """Cosine transform of the field profile across the slot.

    The profile is f(u) proportional to (1 - u^2)^nu on -1 <= u <= 1 with unit
    integral; Poisson's integral of the Bessel function gives
    integral f cos(x u) du = Gamma(nu + 3/2) (2/x)^(nu + 1/2) J_{nu + 1/2}(x).

    Parameters
    ----------
    argument : ndarray
        Wavenumber times half the slot width, x >= 0.
    exponent : float
        nu: 0 constant field, -1/3 right-angled corner, -1/2 thin edge.

    Examples
    --------
    >>> profile_transform(np.array([0.0, np.pi]), 0.0).round(12).tolist()
    [1.0, 0.0]
    """
    x = np.maximum(np.asarray(argument, dtype=float), 1e-9)
    if exponent == 0.0:
        return np.sin(x) / x
    order = exponent + 0.5
    return gamma(exponent + 1.5) * (2.0 / x) ** order * jv(order, x)


def sine_wavenumbers(length: float, orders: NDArray) -> NDArray:
    """p pi / length for the orders p, 1/m, shape (P,)."""
    return np.asarray(orders) * np.pi / length


def end_transform(gam: NDArray, length: float, orders: NDArray) -> NDArray:
    """Transforms of the sine basis seen from the lower slot end.

    a_p = integral s_p(z) exp(-gamma (z - z_lower)) dz
        = k_p (1 - (-1)^p exp(-gamma L)) / (gamma^2 + k_p^2).
    Seen from the upper end the transform is (-1)^(p+1) a_p.

    Parameters
    ----------
    gam : ndarray, shape (modes,)
        Propagation constants, 1/m.
    length : float
        SlotAperture length, m.
    orders : ndarray of int, shape (P,)
        Orders p of the basis functions.

    Returns
    -------
    ndarray, shape (P, modes), m
    """
    kp = sine_wavenumbers(length, orders)[:, None]
    sign = (-1.0) ** np.asarray(orders)[:, None]
    return kp * (1.0 - sign * np.exp(-gam * length)) / (gam**2 + kp**2)


def te10_phase_constant(k: complex, a: float) -> complex:
    """Phase constant beta of TE10 in 1/m for wavenumber k in a guide of width a."""
    return np.sqrt(k**2 - (np.pi / a) ** 2)


def off_poles(k: float, a: float, lengths: list[float], orders: NDArray) -> float:
    """Wavenumber k, 1/m, moved by 2e-5 where a formula meets a removable 0/0.

    The closed forms divide by k_p^2 - beta^2 (TE10) and by k_p^2 - k^2 (wall); at
    those points the limits are finite but double precision is lost. A shift of 1e-5
    keeps about six digits on either side.
    """
    kp2 = np.concatenate([sine_wavenumbers(length, orders) for length in lengths]) ** 2
    poles = np.concatenate([kp2, kp2 + (np.pi / a) ** 2])
    while np.any(np.abs(k**2 / poles - 1.0) < 1e-5):
        k *= 1.0 + 2e-5
    return k


@dataclass(frozen=True)
class SlotAperture:
    """A rectangular longitudinal slot; all lengths in m.

    For round ends give the length of the rectangular slot of equal area,
    `simharness.em.slot.shape.rectangular_length`; that is an approximation.

    Attributes
    ----------
    length, width : float
        Along z and across x.
    offset : float
        x of the slot axis from the centre line.
    position : float
        z of the slot centre.
    face : str
        The broad wall it is cut into, "front" or "back".
    """

    length: float
    width: float
    offset: float
    position: float = 0.0
    face: Literal["front", "back"] = "front"


@dataclass(frozen=True)
class Screw:
    """A round metal post that stands on the inner face of the back wall; all lengths in m.

    Attributes
    ----------
    position, offset : float
        Axis along z, and from the centre line along x.
    depth, diameter : float
        Tip above the wall, at most the height of the guide.
    """

    position: float
    offset: float
    depth: float
    diameter: float


@dataclass(frozen=True)
class MomentBasis:
    """Sine orders along the slot and field profile across it.

    ``exponent`` nu of (1 - u^2)^nu: -1/3 is the edge condition at a right-angled
    corner and the default; -1/2 that of a vanishing wall; 0 a constant field.
    Even orders only carry the small antisymmetric part. The resonant length falls
    about as 1/p with the highest order p (edge condition at the slot ends). With 13 it
    lies 0.1 % above the limit of a full vector aperture if the wall is about as thick
    as the slot is wide, 0.35 % without wall; the conductance agrees within 0.3 %.
    """

    orders: tuple[int, ...] = (1, 2, 3, 4, 5, 7, 9, 11, 13)
    exponent: float = EDGE_CORNER
    modes: tuple[int, int] = (60, 40)


@dataclass(frozen=True)
class SlottedGuide:
    """Guide with slots and its terminations; all lengths in m.

    Attributes
    ----------
    a, b, wall : float
        Inner width, inner height, thickness of the front wall.
    slots : tuple of SlotAperture
        In order of position. Side by side nearer than a tenth of a width the coupling
        outside loses digits: 3e-4 of S there, 2e-3 at 0.03 of a width.
    near_short, far_short : float or None
        z of shorting planes below and above the slots; None is a matched port.
    near_plane, far_plane : float
        z of the reference planes of those ports.
    feed : float or None
        With a short below and a short or a matched end above: z of the port, a sheet of current with the
        TE10 pattern, in shunt to the guide (what a thin probe is for the TE10 mode).
    conductivity : float
        Of the inner walls, S/m; infinite for no loss.
    back_wall : float or None
        Thickness of the back wall; None: that of the front wall.
    superstrate : Superstrate or None
        Dielectric on the outside of the slotted wall.
    diameter : float or None
        Inner diameter of the round guide that this one stands for, see `simharness.em.slot.round_guide`; the
        offsets of slots are then those of `simharness.em.guide.round.equivalent_offset`.
    screws : tuple of Screw
        On the back wall; only `simharness.em.screw.moment` knows them. With them there need be no slot.
    """

    a: float
    b: float
    wall: float
    slots: tuple[SlotAperture, ...]
    near_short: float | None = None
    far_short: float | None = None
    near_plane: float = 0.0
    far_plane: float = 0.0
    feed: float | None = None
    conductivity: float = math.inf
    back_wall: float | None = None
    superstrate: Superstrate | None = None
    diameter: float | None = None
    screws: tuple[Screw, ...] = ()

    def __post_init__(self) -> None:
        _check_slots(self)
        _check_ends(self)

    def thickness(self, slot: SlotAperture) -> float:
        """Thickness of the wall that a slot is cut into, m."""
        return self.wall if slot.face == "front" or self.back_wall is None else self.back_wall

    @property
    def tube(self) -> tuple[float, float] | None:
        """Inner diameter and outer radius of the round guide that this one stands for, m."""
        return None if self.diameter is None else (self.diameter, self.diameter / 2 + self.wall)


def _check_slots(guide: SlottedGuide) -> None:
    if (
        min(guide.a, guide.b) <= 0
        or min(guide.wall, guide.back_wall or 0.0) < 0
        or not (guide.slots or guide.screws)
    ):
        raise InputError(
            "guide",
            (guide.a, guide.b, guide.wall, len(guide.slots)),
            "sizes must be positive and there must be a slot",
        )
    for s in guide.slots:
        if not 0 < s.width < s.length:
            raise InputError("slot width", s.width, f"between 0 and length {s.length}")
        if abs(s.offset) + 0.5 * s.width > 0.5 * guide.a:
            raise InputError("slot offset", s.offset, "the slot must stay on the wall")
    for j, two in enumerate(guide.slots):
        for one in guide.slots[:j]:
            along = two.position - one.position
            if along < 0 and along <= -0.5 * (one.length + two.length):
                raise InputError("slot position", two.position, "in order along z")
            gap = max(
                along - 0.5 * (one.length + two.length),
                abs(two.offset - one.offset) - 0.5 * (one.width + two.width),
            )
            if gap <= 0 and one.face == two.face:
                raise InputError("slot gap", gap, "slots must not touch")


def _check_ends(guide: SlottedGuide) -> None:
    lowest = min((s.position - 0.5 * s.length for s in guide.slots), default=math.inf)
    highest = max((s.position + 0.5 * s.length for s in guide.slots), default=-math.inf)
    if guide.near_short is not None and guide.near_short > lowest:
        raise InputError("near_short", guide.near_short, f"at most {lowest}")
    if guide.far_short is not None and guide.far_short < highest:
        raise InputError("far_short", guide.far_short, f"at least {highest}")
    shorts = (guide.near_short is not None) + (guide.far_short is not None)
    if guide.feed is None and shorts == 2:
        raise InputError("feed", guide.feed, "must be given when both ends are shorted")
    if guide.feed is None:
        return
    if guide.near_short is None:
        raise InputError("feed", guide.feed, "needs a short at the near end")
    if not guide.near_short < guide.feed < (math.inf if guide.far_short is None else guide.far_short):
        raise InputError("feed", guide.feed, "between the ends")
