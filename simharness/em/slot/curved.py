"""Curved slots: the straight slots equivalent to them in the guide, and their cross-polarized field.

A slot of constant width about any centre line, long against its width, resonates with a voltage near cos(pi
s/L) along the line. TE10 couples to it through the tangential magnetic field at the wall, H_z ~ sin(pi x/a)
and H_x ~ -j beta (a/pi) cos(pi x/a), both times exp(-j beta z). With t the direction of the line, the
moment

    M = int cos(pi s/L) (H_z t_z + H_x t_x) ds

describes the slot completely as seen from the guide: the transmitted wave is changed by |M|^2, the
reflected one by M^2. A straight slot of offset x' at z' has M ~ sin(pi x'/a) exp(-j beta z'). So every slot
of one resonant mode has an equivalent straight one: |M| gives its offset, the phase of M its electrical
centre (that of an S, which is a shunt and a series slot at once, lies beside its middle). The radiated
field follows from the moments

    m_z = int cos(pi s/L) t_z ds (field across the guide),  m_x = int cos(pi s/L) t_x ds (field along it)

at broadside, and so does the conductance: |M|^2 over |m|^2. Own derivation.

The equivalent slot is as long as the centre line; nothing in it is fitted. Resonant frequency compared with
the field solver, draft mesh of four cells across, square ends: slots of 15.3 x 1.6 mm in WR-90 (aside,
offset in mm) bent 1.5, 2: -0.3 %; bent 4.2, 0.5: -1.3 %; bent 3, 1.5: -2.0 % (-0.6 % extrapolated over four
meshes); S 0.8, 3: +1.1 %; S 1.5, 3: -0.2 %; an S of 25.5 x 2.5 mm, 2, 5 in a wall of 0.5 mm at 5.5 GHz:
+1.4 %; the same length bent 4, 2 in 1.6 mm: +0.4 %. The conductance agrees within 11 %, the phase of S11
within 10 degrees. The resonant frequency is trusted to 1.5 %.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from simharness.constants import C0, TWO_PI
from simharness.em.guide.rectangular import phase_constant
from simharness.em.slot.shape import centre_line

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(64)


@dataclass(frozen=True)
class CentreLine:
    """Centre line of a slot on the wall; all lengths in m.

    Attributes
    ----------
    shape : 'straight', 'bent' or 's'
    length : float
        Along the line from tip to tip.
    aside : float
        As in `simharness.em.slot.shape`; the sign is the side.
    offset : float
        x of the middle of the chord, from the centre line of the wall.
    """

    shape: str
    length: float
    aside: float
    offset: float


@dataclass(frozen=True)
class StraightEquivalent:
    """Straight slot that is equivalent to a curved one in the guide; all lengths in m.

    Attributes
    ----------
    length, offset : float
        As of a straight rectangular slot.
    shift : float
        Along the guide from the middle of the curved slot to the middle of this one.
    """

    length: float
    offset: float
    shift: float


def tapered_length(length: float, taper: float) -> float:
    """Length (m) of the rectangular slot of equal area, for a slot whose tips taper to a point.

    Each tip tapers over `taper` (m) of the `length` (m). Equal area is a rule of thumb, as for round ends
    (`simharness.em.slot.shape.rectangular_length`).
    Full wave, draft mesh: 16.5 x 1.6 mm in WR-90, tips of 3.2 mm, resonates 0.5 % below it.

    Examples
    --------
    >>> round(tapered_length(16e-3, 2e-3) * 1e3, 6)
    14.0
    """
    return length - taper


def straight_equivalent(line: CentreLine, length: float, a: float, frequency: float) -> StraightEquivalent:
    """Straight slot that is equivalent to a curved one in the guide.

    Parameters
    ----------
    line : CentreLine
    length : float
        Of the rectangular slot that stands for the slot if it were straight, its ends considered, m.
    a : float
        Inner width of the guide, m.
    frequency : float
        Frequency for which offset and shift are computed, Hz; they change slowly with it.

    Raises
    ------
    InputError
        Below cutoff, or a line that turns through more than half a circle.
    """
    moment, beta = guide_moment(line, a, frequency), float(phase_constant(a, frequency))
    straight = CentreLine("straight", length, 0.0, a / 2)
    outer = math.hypot(*(abs(m) for m in outer_moments(line, 0.0)))
    share = (
        abs(moment) / abs(guide_moment(straight, a, frequency)) * abs(outer_moments(straight, 0.0)[0]) / outer
    )
    side = -1.0 if moment.real < 0 else 1.0
    offset = side * a / math.pi * math.asin(min(1.0, float(share)))
    return StraightEquivalent(length, offset, -float(np.angle(side * moment)) / beta)


def guide_moment(line: CentreLine, a: float, frequency: float) -> complex:
    """The moment M of a centre line in TE10, m; real and positive for a straight slot on the side of +x.

    Raises
    ------
    InputError
        Below cutoff, or a line that turns through more than half a circle.
    """
    points, tangents, weights = _mode(line)
    beta = float(phase_constant(a, frequency))
    x, z = points[:, 0] + line.offset, points[:, 1]
    along = np.sin(math.pi * x / a) * tangents[:, 1]
    across = -1j * beta * a / math.pi * np.cos(math.pi * x / a) * tangents[:, 0]
    return complex(np.sum(weights * (along + across) * np.exp(-1j * beta * z)))


def outer_moments(line: CentreLine, axial: ArrayLike) -> tuple[NDArray, NDArray]:
    """Moments m_z and m_x outside for waves of an axial wavenumber, m.

    Parameters
    ----------
    axial : array
        k cos(theta), 1/m; 0 is broadside.

    Returns
    -------
    along, across : complex arrays, of the shape of `axial`
        Of the magnetic current along the guide and across it.
    """
    points, tangents, weights = _mode(line)
    phase = np.exp(1j * np.multiply.outer(np.asarray(axial, dtype=float), points[:, 1]))
    return phase @ (weights * tangents[:, 1]), phase @ (weights * tangents[:, 0])


def _mode(line: CentreLine) -> tuple[NDArray, NDArray, NDArray]:
    """Points and directions along the line, and weights of an integral over its resonant voltage."""
    # two halves: the arcs of an S meet in the middle
    half = 0.25 * line.length * (_NODES + 1)
    along, weights = (
        np.concatenate([-half[::-1], half]),
        0.25 * line.length * np.concatenate([_WEIGHTS[::-1], _WEIGHTS]),
    )
    points, tangents = centre_line(line.shape, line.length, line.aside, along)
    return points, tangents, weights * np.cos(math.pi * along / line.length)


@dataclass(frozen=True)
class CrossPolarLevel:
    """Cross-polarized field over that of the main beam, in the plane along the guide; linear amplitudes.

    Attributes
    ----------
    broadside : float
        At broadside.
    largest : float
        Largest in any direction in front.
    angle : float
        Direction of the largest, rad from broadside towards +z.
    """

    broadside: float
    largest: float
    angle: float


def cross_polar_level(
    lines: Sequence[CentreLine], positions: NDArray, voltages: NDArray, frequency: float
) -> CrossPolarLevel:
    """Cross-polarized field of a row of curved slots: along the guide, over that across it.

    The wall outside is taken as an infinite plane: on a guide 0.85 wavelengths wide the level is 3 dB above
    that of the field solver, in the same direction. The cross-polarized fields of slots that are mirrored
    from one to the next cancel at broadside and add at cos(theta) = lambda over the guide wavelength, off
    the beam; a single bent slot has none at broadside.

    Parameters
    ----------
    lines : sequence of n CentreLine
    positions : (n,) array
        z of their middles, m.
    voltages : (n,) complex array
        Of the half sines of equal moment (`simharness.em.slot.moment.SlotResponse.slot_voltages`).
    frequency : float
        Hz.
    """
    angle = np.radians(np.arange(-85.0, 85.25, 0.25))
    axial = TWO_PI * frequency / C0 * np.append(np.sin(angle), 0.0)
    co, cross = np.zeros(axial.size, dtype=complex), np.zeros(axial.size, dtype=complex)
    for line, z, voltage in zip(lines, positions, voltages):
        own = (
            voltage
            * np.exp(1j * axial * z)
            * line.length
            / math.hypot(*(abs(m) for m in outer_moments(line, 0.0)))
        )
        along, across = outer_moments(line, axial)
        co, cross = co + own * along, cross + own * across
    beam = np.max(np.abs(co[:-1] * np.cos(angle)))
    most = int(np.argmax(np.abs(cross[:-1])))
    return CrossPolarLevel(float(abs(cross[-1]) / beam), float(abs(cross[most]) / beam), float(angle[most]))
