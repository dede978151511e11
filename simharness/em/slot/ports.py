"""Excitation of the slots from the ends of the guide: matched ports, shorts and a current sheet.

Each function returns the tested H_z of the port fields (a column for each port, (N P, ports), A) and the
scattering matrix without slots. With S = S0 + 1/2 G^T W G for each kind of end: a short at zs adds the wave
reflected with -exp(-2 j beta zs); a current sheet at zf makes the TE10 field 2 j beta g(z, zf), g the Green's
function between the shorts. For a sheet the second result is the voltage of a unit current without slots.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from simharness.constants import ETA0
from simharness.em.slot.basis import SlottedGuide, te10_phase_constant
from simharness.em.slot.guide_sums import decaying_sine
from simharness.em.slot.inside import GuideSide

Tested = Callable[[float], tuple[NDArray, NDArray]]
"""Tested fields of unit TE10 waves to +z and to -z, of what lies below a given z; phase zero at z = 0."""


def port_terms(guide: SlottedGuide, tested: Tested, k: complex) -> tuple[NDArray, NDArray]:
    """Tested H_z of the port fields and scattering matrix without slots.

    Parameters
    ----------
    guide : SlottedGuide
    tested : callable
        Of slots `te10_coupling`.
    k : complex
        Wavenumber in the guide, 1/m.

    Returns
    -------
    drive : (N P, ports) complex array
        A.
    s_matrix : (ports, ports) complex array
        For a current sheet: voltage of a unit current.
    """
    plus, minus = tested(np.inf)
    beta = te10_phase_constant(k, guide.a)
    near, far = guide.near_short, guide.far_short
    to_near, to_far = np.exp(1j * beta * guide.near_plane), np.exp(-1j * beta * guide.far_plane)
    if near is not None and guide.feed is not None:
        if far is None:
            return _sheet_to_load(tested, beta, (near, guide.feed), plus)
        return _sheet_between_shorts(tested, beta, (near, guide.feed, far), plus, minus)
    if near is not None:
        turn = -np.exp(2j * beta * near)
        return ((minus + turn * plus) * to_far)[:, None], np.array([[turn * to_far**2]])
    if far is not None:
        turn = -np.exp(-2j * beta * far)
        return ((plus + turn * minus) * to_near)[:, None], np.array([[turn * to_near**2]])
    through = to_near * to_far
    return (
        np.stack([plus * to_near, minus * to_far], axis=1),
        np.array([[0.0, through], [through, 0.0]]),
    )


def te10_coupling(inside: GuideSide, k: complex, end: float = np.inf) -> tuple[NDArray, NDArray]:
    """Tested H_z of unit TE10 waves travelling to +z and to -z.

    Only the part of the slots below z = end is tested.

    E_y = E0 cos(pi x/a) exp(-j beta z), H_z = (pi/a) E0 sin(pi x/a) / (j omega
    mu); unit power wave (half the squared magnitude is power, peak phasors):
    E0^2 = 2 omega mu / (a b beta). Phase reference z = 0.
    Shape (N P,) each, in A.
    """
    beta = te10_phase_constant(k, inside.a)
    h0 = -1j * np.pi / inside.a * np.sqrt(2.0 / (k * ETA0 * inside.a * inside.b * beta))
    plus: list[NDArray] = []
    minus: list[NDArray] = []
    for s, x in zip(inside.slots, inside.x_factor):
        lower = s.position - 0.5 * s.length
        upper = min(max(end, lower), s.position + 0.5 * s.length)
        for out, g in ((plus, 1j * beta), (minus, -1j * beta)):
            a_p = decaying_sine(s, inside.orders, np.array([g]), lower, upper, False)[:, 0]
            # cos(pi (x + a/2) / a) = -sin(pi x / a)
            out.append(-h0 * x[1] * a_p * np.exp(-g * lower))
    return np.concatenate(plus), np.concatenate(minus)


def _sheet_between_shorts(
    tested: Tested, beta: complex, places: tuple[float, float, float], plus: NDArray, minus: NDArray
) -> tuple[NDArray, NDArray]:
    """Terms of a TE10 current sheet between two shorts; z of near short, sheet and far short."""
    near, feed, far = places
    plus_low, minus_low = tested(feed)
    plus, minus = plus - plus_low, minus - minus_low
    below, above = np.sin(beta * (feed - near)), np.sin(beta * (far - feed))
    sine = np.sin(beta * (far - near))
    high = (np.exp(1j * beta * far) * plus - np.exp(-1j * beta * far) * minus) * below
    low = (np.exp(-1j * beta * near) * minus_low - np.exp(1j * beta * near) * plus_low) * above
    return ((low + high) / sine)[:, None], np.array([[2j * below * above / sine]])


def _sheet_to_load(
    tested: Tested, beta: complex, places: tuple[float, float], plus: NDArray
) -> tuple[NDArray, NDArray]:
    """Terms of a TE10 current sheet between a short and a matched end; z of short and sheet.

    The limit of `_sheet_between_shorts` for a far short at infinity in a lossy guide.
    """
    near, feed = places
    plus_low, minus_low = tested(feed)
    below, away = np.sin(beta * (feed - near)), np.exp(-1j * beta * (feed - near))
    high = 2j * np.exp(1j * beta * near) * below * (plus - plus_low)
    low = (np.exp(-1j * beta * near) * minus_low - np.exp(1j * beta * near) * plus_low) * away
    return (low + high)[:, None], np.array([[2j * below * away]])
