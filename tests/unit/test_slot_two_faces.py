"""Slots in both broad walls: mode sums against images, reciprocity, power balance, symmetry.

Expected values are computed from first principles by another route in each test.
"""

import numpy as np
import pytest
from scipy.special import roots_jacobi

from simharness.constants import C0, ETA0, TWO_PI
from simharness.em.pattern.rectangular_tube import RectangularTube
from simharness.em.slot.basis import EDGE_CORNER, MomentBasis, SlotAperture, SlottedGuide
from simharness.em.slot.inside import GuideSide
from simharness.em.slot.moment import SlotMoment

A, B, WALL, WIDTH = 22.86e-3, 10.16e-3, 1.27e-3, 1.5875e-3  # WR-90
F0 = 9.375e9
K0 = TWO_PI * F0 / C0
WAVE = TWO_PI / np.sqrt(K0**2 - (np.pi / A) ** 2)
ORDERS = np.array(MomentBasis().orders)
LOSSY = K0 * (1 - 1j)
"""Images fade as exp(-k R), so that their sum may be cut off."""


def pairs(*offsets, back=None, shift=0.0):
    """Slots half a guide wavelength apart in both walls."""
    slots = [SlotAperture(15.3e-3, WIDTH, x, i * WAVE / 2) for i, x in enumerate(offsets)]
    slots += [
        SlotAperture(15.3e-3, WIDTH, x, i * WAVE / 2 + shift, "back") for i, x in enumerate(back or offsets)
    ]
    return tuple(sorted(slots, key=lambda s: s.position))


def sampled(slot, nz, nx):
    g, dg = np.polynomial.legendre.leggauss(nz)
    u, du = roots_jacobi(nx, EDGE_CORNER, EDGE_CORNER)
    local, dz = 0.5 * slot.length * (g + 1.0), 0.5 * slot.length * dg
    kp = ORDERS[:, None] * np.pi / slot.length
    return (
        slot.position - 0.5 * slot.length + local,
        np.sin(kp * local) * dz,
        kp * np.cos(kp * local) * dz,
        slot.offset + 0.5 * slot.width * u,
        du / du.sum(),
    )


def reaction_by_images(one, two, k, reach=0.06, nz=40, nx=3):
    """Free-space sources at the mirror images of slot two, which lie in odd multiples of b from slot one."""
    (zi, bi, ci, xi, wi), (zj, bj, cj, xj, wj) = sampled(one, nz, nx), sampled(two, nz, nx)
    kernel = np.zeros((nz, nz), dtype=complex)
    for n in range(-4, 5):
        for m in range(-4, 4):
            y = (2 * m + 1) * B
            if np.hypot(max(abs(n) - 1, 0) * A, y) > reach:
                continue
            for x, w in zip(xi, wi):
                for xs, ws in zip(n * A + (-1) ** n * xj, wj):
                    r = np.sqrt((zi[:, None] - zj) ** 2 + (x - xs) ** 2 + y**2)
                    kernel += w * ws * np.exp(-1j * k * r) / (2 * np.pi * r)
    return (k**2 * bi @ kernel @ bj.T - ci @ kernel @ cj.T) * 1j / (k * ETA0)


@pytest.mark.parametrize(
    "two",
    [
        SlotAperture(15.345e-3, WIDTH, 3e-3, 0.0, "back"),
        SlotAperture(14.9e-3, WIDTH, -3e-3, 0.0, "back"),
        SlotAperture(15.345e-3, WIDTH, 2e-3, 6e-3, "back"),
        SlotAperture(15.345e-3, WIDTH, 3e-3, 18e-3, "back"),
    ],
    ids=["same place", "mirrored", "overlapping", "apart"],
)
def test_coupling_between_the_walls_equals_the_image_sum(two):
    """Images beyond the reach have faded to exp(-k 0.06 m) = 8e-6 of the wave; the quadrature is good to
    1e-6.
    """
    one = SlotAperture(15.345e-3, WIDTH, 3e-3)
    side = GuideSide(A, B, (one, two), ORDERS, EDGE_CORNER)
    found = side.admittance(LOSSY)
    size = ORDERS.size
    scale = np.sqrt(np.abs(np.outer(np.diag(found)[:size], np.diag(found)[size:])))
    expected = reaction_by_images(one, two, LOSSY)
    np.testing.assert_allclose(found[:size, size:] / scale, expected / scale, atol=1e-4)
    np.testing.assert_allclose(found, found.T, rtol=1e-12, atol=1e-18)


@pytest.mark.parametrize(
    "slots",
    [
        pairs(3e-3),
        pairs(2e-3, -2.6e-3),
        pairs(2e-3, -2.6e-3, back=(-2.2e-3, 2.4e-3)),
        pairs(2e-3, -2.6e-3, shift=7e-3),
    ],
    ids=["pair", "two pairs", "mirrored", "staggered"],
)
def test_power_balance_and_reciprocity_of_two_faces(slots):
    """Lossless: what does not come out at the ports is radiated. 1e-8 as for one face."""
    model = SlotMoment(SlottedGuide(A, B, WALL, slots, back_wall=0.6e-3))
    found = model.solve(np.array([0.97, 1.0]) * F0)
    np.testing.assert_allclose((np.abs(found.s) ** 2).sum(axis=1) + found.radiated, 1.0, atol=1e-8)
    np.testing.assert_allclose(found.s, found.s.transpose(0, 2, 1), atol=1e-10)


@pytest.mark.parametrize(("back", "sign"), [(3e-3, 1.0), (-3e-3, -1.0)])
def test_slots_of_a_pair_answer_alike_up_to_the_sign(back, sign):
    """The mirror in y = -b/2, and half a turn about the axis, take the guide and its wave into themselves:
    M_z of the slots is equal at the same x, opposite at mirrored x. 1e-9: rounding."""
    model = SlotMoment(SlottedGuide(A, B, WALL, pairs(3e-3, back=(back,)), near_plane=0, far_plane=0))
    front, behind = model.solve(np.array([F0])).slot_voltages()[0, 0]
    assert behind == pytest.approx(sign * front, rel=1e-9)


def test_high_guide_leaves_the_walls_alone():
    """TE10 apart, the walls see each other by modes that fade over the height: in a guide 1.5 times as high
    as the slot is long the fields that couple are those of order exp(-gamma b), gamma b = 3 to 4: below 3 %
    of the self term.
    """
    side = GuideSide(A, 22e-3, pairs(3e-3), ORDERS, EDGE_CORNER)
    found = side.admittance(LOSSY)
    size = ORDERS.size
    assert abs(found[2, size + 2]) < 0.03 * abs(found[2, 2])


def test_walls_of_their_own_thickness():
    """Both walls swapped, with the slots: the same antenna upside down. 1e-9: rounding."""
    slots = pairs(2e-3, -2.6e-3, back=(1.4e-3, -3e-3))
    turned = tuple(
        SlotAperture(s.length, s.width, s.offset, s.position, "front" if s.face == "back" else "back")
        for s in slots
    )
    one = SlotMoment(SlottedGuide(A, B, 1.2e-3, slots, back_wall=0.5e-3)).solve(np.array([F0]))
    two = SlotMoment(SlottedGuide(A, B, 0.5e-3, turned, back_wall=1.2e-3)).solve(np.array([F0]))
    np.testing.assert_allclose(one.s, two.s, atol=1e-9)


def test_tube_upside_down_turns_the_response():
    """A slot on the back face radiates as one on the front seen in the mirror: phi -> -phi, its phase counted
    from the mirrored origin. 0.003: the inner points of the solution are not symmetric, as for one face."""
    tube, k, phi = RectangularTube(40e-3, 20e-3), TWO_PI / 0.05, np.radians(np.arange(0, 360, 15.0))
    x = np.array([5e-3])
    front, back = tube.response(k, x, -phi), tube.response(k, x, phi, behind=np.array([True]))
    np.testing.assert_allclose(
        back, front * np.exp(-1j * k * tube.height * np.sin(phi)), atol=0.003 * np.abs(front).max()
    )
