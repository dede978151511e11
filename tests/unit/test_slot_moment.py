"""Moment-method slot model against independent numerical routes and physical laws.

Expected values are computed from first principles by another route in each test.
"""

import numpy as np
import pytest
from each_case import each_case
from scipy.integrate import quad
from scipy.special import roots_jacobi

from simharness.constants import C0, ETA0, TWO_PI
from simharness.em.guide.rectangular import attenuation
from simharness.em.slot.basis import (
    EDGE_CORNER,
    MomentBasis,
    SlotAperture,
    SlottedGuide,
    end_transform,
    profile_transform,
)
from simharness.em.slot.inside import GuideSide
from simharness.em.slot.moment import SlotMoment
from simharness.em.slot.outside import HalfSpaceSide, _width_rule, wall_admittances, wall_chain
from simharness.em.slot.single import resonant_length, slot_admittance
from simharness.errors import InputError, NotConvergedError
from simharness.numerics.rational import adaptive_sweep, rational_fit

A, B, WALL, WIDTH = 22.86e-3, 10.16e-3, 1.27e-3, 1.5875e-3  # WR-90
F0 = 9.375e9
K0 = TWO_PI * F0 / C0
GUIDE_WAVE = TWO_PI / np.sqrt(K0**2 - (np.pi / A) ** 2)
ORDERS = np.array(MomentBasis().orders)
P = ORDERS.size
SLOT = SlotAperture(15.345e-3, WIDTH, 3e-3)


def row_of_slots(count, spacing=0.5 * GUIDE_WAVE, first=0.0):
    """Slots with alternating, uneven offsets and lengths: no symmetry left."""
    return tuple(
        SlotAperture(15.1e-3 + 0.1e-3 * i, WIDTH, (-1) ** i * (1.2e-3 + 0.3e-3 * i), first + i * spacing)
        for i in range(count)
    )


def matched(slots, **ends):
    return SlottedGuide(A, B, WALL, slots, **ends)


def points(slot, nz, nx):
    """Dense quadrature points of one slot: z, basis, derivative, x, weights across."""
    g, dg = np.polynomial.legendre.leggauss(nz)
    u, du = roots_jacobi(nx, EDGE_CORNER, EDGE_CORNER)
    local = 0.5 * slot.length * (g + 1.0)
    kp, dz = ORDERS[:, None] * np.pi / slot.length, 0.5 * slot.length * dg
    return (
        slot.position - 0.5 * slot.length + local,
        np.sin(kp * local) * dz,
        kp * np.cos(kp * local) * dz,
        slot.offset + 0.5 * slot.width * u,
        du / du.sum(),
    )


def summed_images(one, two, k, images, skip_source=False, nz=60, nx=4):
    """Reaction of two slots through free-space sources at mirrored places."""
    zi, bi, ci, xi, wi = points(one, nz, nx)
    zj, bj, cj, xj, wj = points(two, nz, nx)
    kernel = np.zeros((nz, nz), dtype=complex)
    for n, m in images:
        if skip_source and (n, m) == (0, 0):
            continue
        if len(images) > 1 and np.hypot(max(abs(n) - 1, 0) * A, 2 * m * B) > 0.12:
            continue  # exp(-196 * 0.12) = 6e-11
        place = n * A + (-1) ** n * xj
        for x, w in zip(xi, wi):
            for xs, ws in zip(place, wj):
                r = np.sqrt((zi[:, None] - zj) ** 2 + (x - xs) ** 2 + (2 * m * B) ** 2)
                kernel += w * ws * np.exp(-1j * k * r) / (2 * np.pi * r)
    return (k**2 * bi @ kernel @ bj.T - ci @ kernel @ cj.T) * 1j / (k * ETA0)


def relative_to_diagonal(found, expected):
    size = np.sqrt(np.abs(np.diag(expected)))
    return np.max(np.abs(found - expected) / np.outer(size, size))


@pytest.mark.parametrize("exponent", [0.0, EDGE_CORNER, -0.5])
def test_profile_transform_is_the_fourier_integral(exponent):
    # u = sin v removes the end singularity: cos(v)^(2 nu + 1); atol 1e-8 is that of quad
    norm = quad(lambda v: np.cos(v) ** (2 * exponent + 1), 0, np.pi / 2)[0]
    x = np.array([0.0, 0.7, 3.0, 11.0])
    direct = [
        quad(lambda v: np.cos(v) ** (2 * exponent + 1) * np.cos(t * np.sin(v)), 0, np.pi / 2)[0] / norm
        for t in x
    ]
    np.testing.assert_allclose(profile_transform(x, exponent), direct, rtol=0, atol=1e-8)


@pytest.mark.parametrize("exponent", [0.0, EDGE_CORNER, -0.5])
def test_distance_distribution_across_the_slot(exponent):
    # total probability 1; mean square distance of two points = twice the variance
    # of (1 - u^2)^nu, which is 1 / (2 nu + 3). 1e-6: the rule's own error at nu = -1/2.
    xi, weight = _width_rule(exponent, 16)
    assert weight.sum() == pytest.approx(1.0, abs=1e-6)
    assert (weight * xi**2).sum() == pytest.approx(0.5 / (2 * exponent + 3), rel=1e-6)


def test_end_transform_is_the_laplace_integral():
    gam = np.array([3.0, 250.0, 900.0 + 0j, 140j])
    z = 0.5 * 0.015 * (np.polynomial.legendre.leggauss(80)[0] + 1.0)
    w = 0.5 * 0.015 * np.polynomial.legendre.leggauss(80)[1]
    direct = np.sin(ORDERS[:, None] * np.pi * z / 0.015) * w @ np.exp(-np.outer(z, gam))
    # 80 Gauss nodes over 6.5 periods and 13 decays: rounding error only
    np.testing.assert_allclose(end_transform(gam, 0.015, ORDERS), direct, rtol=1e-10)


def test_mode_sum_of_the_guide_equals_image_sum():
    # The guide's walls as mirrors: source, its images at n a + (-1)^n x' and 2 m b.
    # A lossy wavenumber makes both sums converge. The source's own term is the
    # half-space self term: this ties the two regions and both singular integrals together.
    # 5e-5: 60 x 40 modes leave 3e-5 in the highest order, 2e-6 in the lowest.
    k = K0 * (1.0 - 1.0j)
    images = [(n, m) for n in range(-6, 7) for m in range(-12, 13)]
    expected = HalfSpaceSide([SLOT], ORDERS, EDGE_CORNER).admittance(k) + summed_images(
        SLOT, SLOT, k, images, skip_source=True
    )
    found = GuideSide(A, B, [SLOT], ORDERS, EDGE_CORNER).admittance(k)
    assert relative_to_diagonal(found, expected) < 5e-5
    assert abs(found[0, 0] / expected[0, 0] - 1) < 5e-6


def test_mode_sum_between_two_slots_equals_image_sum():
    k = K0 * (1.0 - 1.0j)
    images = [(n, m) for n in range(-6, 7) for m in range(-12, 13)]
    two = SlotAperture(14.8e-3, WIDTH, -2e-3, 17e-3)  # 1.9 mm between the ends
    expected = summed_images(SLOT, two, k, images)
    found = GuideSide(A, B, [SLOT, two], ORDERS, EDGE_CORNER).admittance(k)[:P, P:]
    # exp(-8245 * 0.0019) = 2e-7 is the largest mode left out
    np.testing.assert_allclose(found, expected, rtol=0, atol=1e-6 * np.abs(expected).max())


@pytest.mark.parametrize(
    "two",
    [
        SlotAperture(15.345e-3, WIDTH, -3e-3, 0.0),
        SlotAperture(14.8e-3, WIDTH, -3e-3, 6e-3),
        SlotAperture(9e-3, WIDTH, -3e-3, 2e-3),
        SlotAperture(20e-3, 2e-3, -1e-3, 1e-3),
    ],
)
def test_slots_side_by_side_inside_equal_the_image_sum(two):
    # 1e-5 of the self terms: the tails are k = 0 values, see the self term above
    k = K0 * (1.0 - 1.0j)
    images = [(n, m) for n in range(-6, 7) for m in range(-12, 13)]
    expected = summed_images(SLOT, two, k, images, nz=72)
    found = GuideSide(A, B, [SLOT, two], ORDERS, EDGE_CORNER).admittance(k)
    size = np.sqrt(np.abs(np.diag(found)))
    assert np.max(np.abs(found[:P, P:] - expected) / np.outer(size[:P], size[P:])) < 1e-5
    assert abs(found[0, P] / expected[0, 0] - 1) < 1e-5


@pytest.mark.parametrize("offset", [-3e-3, 0.5e-3])
def test_slots_side_by_side_outside_against_dense_quadrature(offset):
    # in parts of the self terms; the closest pair (0.9 mm of metal) sets the tolerance:
    # a kernel 2.5 mm wide on Gauss nodes 0.6 mm apart
    two = SlotAperture(14.8e-3, WIDTH, offset, 6e-3)
    expected = summed_images(SLOT, two, K0, [(0, 0)], nz=160, nx=12)
    found = HalfSpaceSide([SLOT, two], ORDERS, EDGE_CORNER).admittance(K0)
    size = np.sqrt(np.abs(np.diag(found)))
    assert np.max(np.abs(found[:P, P:] - expected) / np.outer(size[:P], size[P:])) < 1e-4


def test_pair_of_slots_on_both_sides_of_the_centre_line():
    # Equal slots at -x and +x, same z, see TE10 with opposite signs and their fields in
    # opposite phase. Both mirror symmetry and power balance must hold.
    pair = (SlotAperture(15.3e-3, WIDTH, -3e-3), SlotAperture(15.3e-3, WIDTH, 3e-3))
    response = SlotMoment(matched(pair)).solve(F0)
    v = response.slot_voltages()[0, 0]
    assert abs(v[0] + v[1]) < 1e-9 * abs(v[0])
    s = response.s[0]
    np.testing.assert_allclose(1 - (np.abs(s) ** 2).sum(axis=0), response.radiated[0], atol=1e-9)
    ends = SlotMoment(matched(pair, near_short=-10e-3, far_short=11e-3, feed=-9e-3)).solve(F0)
    np.testing.assert_allclose(1 - np.abs(ends.s[0, 0]) ** 2, ends.radiated[0], atol=1e-7)


@pytest.mark.parametrize("gap", [7e-3, 1.2e-3])
def test_half_space_mutual_term_against_dense_quadrature(gap):
    # Two nodes across each slot keep the second moment of the profile. The fourth is 0.18
    # instead of 0.30 (half widths); with the fourth derivative of 1/R, 9 / R^5, that leaves
    # 2 * 0.12 * 9 / 24 (w / 2R)^4 = 0.09 (w / 2R)^4 of the kernel where the slots are nearest.
    # Nearer than three widths there are five nodes across: only the rule along remains.
    tolerance = 0.09 * (0.5 * WIDTH / gap) ** 4 if gap > 3 * WIDTH else 1e-4
    two = SlotAperture(14.8e-3, WIDTH, 3e-3, 0.5 * (15.345e-3 + 14.8e-3) + gap)
    expected = summed_images(SLOT, two, K0, [(0, 0)], nz=80, nx=8)
    found = HalfSpaceSide([SLOT, two], ORDERS, EDGE_CORNER).admittance(K0)[:P, P:]
    np.testing.assert_allclose(found, expected, rtol=0, atol=tolerance * np.abs(expected).max())


def test_half_space_conductance_is_the_radiated_power():
    # Far field of the magnetic current 2 M in free space: the power through the half
    # sphere is k^2 / (32 pi^2 eta) integral sin^2(theta) |L|^2, L the Fourier integral.
    y = HalfSpaceSide([SLOT], ORDERS, EDGE_CORNER).admittance(K0)
    cosine, w_theta = np.polynomial.legendre.leggauss(40)
    phi, w_phi = np.polynomial.legendre.leggauss(40)
    phi, w_phi = 0.5 * np.pi * (phi + 1.0), 0.5 * np.pi * w_phi
    z, basis, _, _, _ = points(SLOT, 60, 4)
    along = basis @ np.exp(1j * K0 * np.outer(z, cosine))
    sine = np.sqrt(1 - cosine**2)
    across = profile_transform(0.5 * WIDTH * K0 * np.abs(np.outer(sine, np.cos(phi))), EDGE_CORNER)
    weight = sine**2 * w_theta * ((across**2) @ w_phi)
    moment = 2 * along
    power = K0**2 / (32 * np.pi**2 * ETA0) * ((moment * weight) @ moment.conj().T).real
    # the self-term rule is documented as good to 1e-5 of an element (orders up to 13);
    # the half sine, which radiates nearly all, must be far better
    size = np.sqrt(np.abs(np.diag(y)))
    assert np.max(np.abs(0.5 * y.real - power) / np.outer(size, size)) < 1e-5
    assert 0.5 * y[0, 0].real == pytest.approx(power[0, 0], rel=1e-7)


@pytest.mark.parametrize("end", ["near", "far"])
def test_short_equals_an_image_of_every_slot(end):
    # The plane z = c mirrors a z-directed magnetic current with opposite sign;
    # s_p turns into (-1)^(p+1) s_p. Same closed forms, other bookkeeping: rounding only.
    slots = row_of_slots(2, first=20e-3)
    plane = 9e-3 if end == "near" else slots[-1].position + 9e-3
    mirrored = tuple(SlotAperture(s.length, s.width, s.offset, 2 * plane - s.position) for s in slots)[::-1]
    order = mirrored + slots if end == "near" else slots + mirrored
    free = GuideSide(A, B, order, ORDERS, EDGE_CORNER).admittance(K0)
    real = slice(2 * P, 4 * P) if end == "near" else slice(0, 2 * P)
    image = slice(0, 2 * P) if end == "near" else slice(2 * P, 4 * P)
    parity = np.tile(-((-1.0) ** ORDERS), 2)
    swapped = (free[real, image] * parity).reshape(2 * P, 2, P)[:, ::-1].reshape(2 * P, 2 * P)
    found = GuideSide(A, B, slots, ORDERS, EDGE_CORNER, **{end + "_short": plane}).admittance(K0)
    np.testing.assert_allclose(found, free[real, real] - swapped, rtol=0, atol=1e-11 * np.abs(found).max())


def test_wall_sections_in_series_make_one_wall():
    # chain matrices of a uniform line multiply (constant field across: one line per p)
    def chain(t):
        a, z, s = wall_chain(K0, SLOT, t, ORDERS, 0.0)
        return np.array([[a, z], [s, a]])

    product = np.einsum("ijp,jkp->ikp", chain(0.4e-3), chain(0.87e-3))
    np.testing.assert_allclose(product, chain(1.27e-3), rtol=1e-10)


@pytest.mark.parametrize("exponent", [0.0, EDGE_CORNER, -0.5])
def test_wall_of_vanishing_thickness_joins_the_apertures(exponent):
    basis = MomentBasis(exponent=exponent)
    thin = slot_admittance(A, B, 1e-7, SLOT, F0, basis)[0]
    none = slot_admittance(A, B, 0.0, SLOT, F0, basis)[0]
    # 1 mm of wall moves y by 0.1; 0.1 um scaled by (t/w) log(w/t), rounded up
    assert abs(thin - none) < 1e-3 * abs(none)


ENDS = {
    "two ports": {"near_plane": -11e-3, "far_plane": 90e-3},
    "far short": {"far_short": 81e-3},
    "near short": {"near_short": -10e-3, "far_plane": 85e-3},
    "feed first": {"near_short": -33e-3, "far_short": 81e-3, "feed": -20e-3},
    "feed last": {"near_short": -10e-3, "far_short": 110e-3, "feed": 95e-3},
    "feed between": {"near_short": -10e-3, "far_short": 81e-3, "feed": 11.5e-3},
}


@each_case("ends", ENDS.values(), ids=ENDS)
@each_case("frequency", [8.7e9, F0])
def test_power_balance_and_reciprocity(ends, frequency):
    # Lossless: 1 - sum |S|^2 is the power through the outer apertures. Galerkin keeps
    # this for any basis: only rounding and the nudge off a removable pole (1e-7) remain.
    response = SlotMoment(matched(row_of_slots(4), **ends)).solve(frequency)
    s = response.s[0]
    np.testing.assert_allclose(s, s.T, rtol=0, atol=1e-12)
    np.testing.assert_allclose(1 - (np.abs(s) ** 2).sum(axis=0), response.radiated[0], rtol=0, atol=1e-7)
    assert np.all(response.radiated > 0.02)  # not an empty balance


def test_feed_between_shorts_is_the_two_port_between_shorts():
    # Reference planes and shorts a guide wavelength away from the slots: only TE10 arrives,
    # exp(-gamma_20 * 34 mm) = 1e-3, there and back 2e-6.
    slots = row_of_slots(3)
    near, far = slots[0].position - GUIDE_WAVE, slots[-1].position + 0.9 * GUIDE_WAVE
    feed = near + 5e-3
    s = SlotMoment(matched(slots, near_plane=feed, far_plane=far)).solve(9.2e9).s[0]
    beta = np.sqrt((TWO_PI * 9.2e9 / C0) ** 2 - (np.pi / A) ** 2)
    forward = s[0, 0] - s[0, 1] * s[1, 0] / (1 + s[1, 1])
    y = (1 - forward) / (1 + forward) + 1 / (1j * np.tan(beta * (feed - near)))
    guide = matched(slots, near_short=near, far_short=far, feed=feed)
    found = SlotMoment(guide).solve(9.2e9).s[0, 0, 0]
    assert abs(found - (1 - y) / (1 + y)) < 1e-4


def test_distant_slots_are_a_cascade_of_single_slots():
    # Ten guide wavelengths apart. Inside only TE10 is left; outside a slot does not radiate
    # along its axis, the coupling falls as 1/z^2: about 1/(k z)^2 = 1e-4.
    one, two = SlotAperture(15.3e-3, WIDTH, 3e-3, 0.0), SlotAperture(15.5e-3, WIDTH, -2e-3, 10 * GUIDE_WAVE)
    single = [
        SlotMoment(matched((s,), near_plane=s.position, far_plane=s.position)).solve(F0).s[0]
        for s in (one, two)
    ]
    turn = np.exp(-1j * TWO_PI / GUIDE_WAVE * two.position)
    first, last = single
    loop = 1 - first[1, 1] * last[0, 0] * turn**2
    s11 = first[0, 0] + first[0, 1] * last[0, 0] * turn**2 * first[1, 0] / loop
    s21 = first[1, 0] * turn * last[1, 0] / loop
    found = SlotMoment(matched((one, two), far_plane=two.position)).solve(F0).s[0]
    assert abs(found[0, 0] - s11) < 3e-4
    assert abs(found[1, 0] - s21) < 3e-4


def test_neighbours_are_not_a_cascade():
    # the counterpart: at half a guide wavelength the coupling must show
    slots = row_of_slots(2)
    guide = matched(slots, far_plane=slots[1].position)
    found = SlotMoment(guide).solve(F0)
    alone = SlotMoment(matched(slots[:1])).solve(F0)
    apart = abs(found.slot_voltages()[0, 0, 0] / alone.slot_voltages()[0, 0, 0])
    assert abs(apart - 1) > 0.02


def test_mirrored_guide_swaps_the_ports():
    slots = row_of_slots(3)
    mirrored = tuple(SlotAperture(s.length, s.width, -s.offset, -s.position) for s in slots)[::-1]
    s = SlotMoment(matched(slots)).solve(F0).s[0]
    t = SlotMoment(matched(mirrored)).solve(F0).s[0]
    np.testing.assert_allclose(s, t[::-1, ::-1], rtol=0, atol=1e-12)  # rounding


def test_reference_planes_turn_the_phase():
    beta = TWO_PI / GUIDE_WAVE
    s = SlotMoment(matched((SLOT,))).solve(F0).s[0]
    t = SlotMoment(matched((SLOT,), near_plane=-7e-3, far_plane=12e-3)).solve(F0).s[0]
    turn = np.exp(-1j * beta * np.array([7e-3, 12e-3]))
    np.testing.assert_allclose(t, s * np.outer(turn, turn), rtol=0, atol=1e-12)  # rounding


@pytest.mark.parametrize("pole", ["beta L = pi", "k L = pi"])
def test_removable_singularities_leave_no_mark(pole):
    if pole == "k L = pi":
        frequency = C0 / (2 * SLOT.length)
    else:
        frequency = C0 / TWO_PI * np.hypot(np.pi / SLOT.length, np.pi / A)
    steps = np.array([-2e-5, -1e-5, 0.0, 1e-5, 2e-5])
    y = slot_admittance(A, B, WALL, SLOT, frequency * (1 + steps))
    fit = np.polyfit(steps * 1e5, y, 1)
    # the nudge is 2e-5 in frequency and y changes by about 15 per unit of it: 3e-4;
    # an unguarded 0/0 gives anything or nan
    assert np.max(np.abs(np.polyval(fit, steps * 1e5) - y)) < 5e-4


def test_resonance_of_the_empty_closed_guide_leaves_no_mark():
    # the usual design: shorts a whole number of half guide wavelengths apart
    slots = row_of_slots(3, first=0.75 * GUIDE_WAVE)
    guide = matched(slots, near_short=0.0, far_short=2 * GUIDE_WAVE, feed=0.2 * GUIDE_WAVE)
    step = 2e-5
    s = SlotMoment(guide).solve(F0 * (1 + step * np.array([-1, 0, 1]))).s[:, 0, 0]
    # curvature and the nudge of 1e-6 in frequency: below 2e-5 of a slope of about 20
    assert abs(s[1] - 0.5 * (s[0] + s[2])) < 1e-4
    assert abs(s[2] - s[0]) < 2e-3


def test_thick_wall_by_admittances_is_the_chain():
    # The chain turned round: Y11 = A / Z, Y12 = 1 / Z; rounding times A = cosh(3.5) and cancellation.
    a, z, _ = wall_chain(K0, SLOT, WALL, ORDERS, EDGE_CORNER)
    y11, y12 = wall_admittances(K0, SLOT, WALL, ORDERS, EDGE_CORNER)
    np.testing.assert_allclose(y11, a / z, rtol=1e-10)
    np.testing.assert_allclose(y12, 1 / z, rtol=1e-10)


@pytest.mark.parametrize("wall", [2.5e-3, 2.6e-3, 20e-3])
def test_power_balance_of_any_wall(wall):
    # 2.57 mm is where the chain gives way to the admittances.
    response = SlotMoment(SlottedGuide(A, B, wall, (SLOT,), far_short=GUIDE_WAVE)).solve(F0)
    assert response.radiated[0, 0] == pytest.approx(1 - abs(response.s[0, 0, 0]) ** 2, abs=1e-8)


def test_wall_loss_takes_the_power_that_is_missing():
    # A standing wave between short and slots at their peaks: loss alpha over the length, 1 + |Gamma|^2 times;
    # the wave is nearly matched, so that 2 alpha L (1 + |Gamma|^2) within 30 % is all that can be said by
    # hand.
    sigma, end = 1e7, 2.25 * GUIDE_WAVE
    slots = row_of_slots(4, first=0.5 * GUIDE_WAVE)
    response = SlotMoment(matched(slots, far_short=end, conductivity=sigma)).solve(F0)
    missing = 1 - abs(response.s[0, 0, 0]) ** 2 - response.radiated[0, 0]
    travelled = 2 * attenuation(A, B, F0, sigma) * end
    assert 0.5 * travelled < missing < 3 * travelled
    lossless = SlotMoment(matched(slots, far_short=end)).solve(F0)
    # first order in alpha / beta = 1e-4
    assert response.s[0, 0, 0] == pytest.approx(lossless.s[0, 0, 0], abs=3 * travelled)


def test_convergence_with_modes():
    # doubling the modes twice: what is left must be small against 1e-4 of y
    coarse, usual, fine = (
        slot_admittance(A, B, WALL, SLOT, F0, MomentBasis(modes=m))[0]
        for m in ((30, 20), (60, 40), (120, 80))
    )
    assert abs(usual - fine) < 1e-5
    assert abs(usual - fine) < abs(coarse - fine)


def test_convergence_with_sine_functions():
    # resonant length falls as about 1/p_max: successive limits agree, and the default
    # is within 0.15 % of the limit it documents
    def length(top):
        orders = (1, 2, 3, 4, *tuple(range(5, top + 1, 2)))
        return resonant_length(A, B, WALL, WIDTH, 3e-3, F0, MomentBasis(orders=orders))[0]

    seven, thirteen, twenty_five = length(7), length(13), length(25)
    assert seven > thirteen > twenty_five
    limit = twenty_five - 13 / 12 * (thirteen - twenty_five)
    assert thirteen / limit - 1 < 1.5e-3


def test_field_profile_hardly_matters():
    # variational: 0.22 w, 0.25 w as equivalent radii shift the length by about 0.1 w/20
    lengths = [
        resonant_length(A, B, WALL, WIDTH, 3e-3, F0, MomentBasis(exponent=e))[0]
        for e in (0.0, EDGE_CORNER, -0.5)
    ]
    assert np.ptp(lengths) / lengths[0] < 5e-3


def aperture_field(
    response, slot: int, length: float, z: np.ndarray, port: int = 0, inner: bool = False
) -> np.ndarray:
    """The voltage across a slot along its length, shape (F, z.size), V.

    ``z`` runs from -length/2 to length/2 about the slot centre, m; E_x is this
    voltage times the profile across the width.
    """
    v = (response.inner if inner else response.outer)[:, port, slot]
    p = np.array(response.orders)[:, None]
    return v @ np.sin(p * np.pi * (np.asarray(z) / length + 0.5))


def test_aperture_field_of_a_resonant_slot():
    response = SlotMoment(matched((SLOT,))).solve(F0)
    z = np.linspace(-0.5, 0.5, 5) * SLOT.length
    v = aperture_field(response, 0, SLOT.length, z)[0]
    assert np.abs(v[[0, -1]]).max() < 1e-12 * abs(v[2])  # E_x vanishes at the ends: rounding
    # near resonance a half sine: the sine of order 3 has a few per cent
    assert abs(v[2] / response.slot_voltages()[0, 0, 0] - 1) < 0.05
    inner = aperture_field(response, 0, SLOT.length, z, inner=True)[0]
    assert 0.8 < abs(v[2] / inner[2]) < 1.2


def test_sweep_equals_exact_solutions():
    guide = matched(row_of_slots(4), far_short=81e-3)
    frequency = np.linspace(8.8e9, 9.9e9, 401)
    model = SlotMoment(guide)
    swept = model.sweep(frequency, tolerance=1e-5)
    exact = model.solve(frequency[7::40])
    assert swept.sampled < 45
    assert swept.error < 1e-5
    # tolerance asked for, at points which the fit has not seen
    np.testing.assert_allclose(swept.s[7::40], exact.s, rtol=0, atol=1e-5)
    peak = np.abs(exact.outer).max()
    np.testing.assert_allclose(swept.outer[7::40], exact.outer, rtol=0, atol=1e-5 * peak)
    np.testing.assert_allclose(swept.radiated[7::40], exact.radiated, rtol=0, atol=2e-5)


def test_short_grid_is_solved_exactly():
    model = SlotMoment(matched((SLOT,)))
    grid = np.linspace(9e9, 9.5e9, 5)
    assert model.sweep(grid).error == 0.0
    np.testing.assert_array_equal(model.sweep(grid).s, model.solve(grid).s)


def test_rational_fit_recovers_a_rational_function():
    x = np.linspace(0, 1, 15)
    poles = np.array([0.2 + 0.01j, 0.5 + 0.1j, 0.9 + 0.02j])
    residues = np.array([[1, 2j, 3], [1j, 1, -1]])

    def columns(t):
        return (residues[:, None, :] / (t[:, None] - poles)).sum(axis=2).T / 100.0

    fine = np.linspace(0, 1, 301)
    # degree 3 from 15 samples: rounding, amplified by 1/0.01
    np.testing.assert_allclose(rational_fit(x, columns(x))(fine), columns(fine), atol=1e-9)


def test_adaptive_sweep_refuses_noise():
    rng = np.random.default_rng(3)

    def noise(t):
        return rng.standard_normal((t.size, 1)) + 0j

    with pytest.raises(NotConvergedError):
        adaptive_sweep(noise, np.linspace(0, 1, 400), 1e-6, max_samples=20)


@each_case(
    "change",
    [
        {"slots": ()},
        {"slots": (SlotAperture(15e-3, WIDTH, 11e-3),)},
        {"slots": (SlotAperture(1e-3, WIDTH, 1e-3),)},
        {"slots": (SlotAperture(15e-3, WIDTH, 0.7e-3, 0.0), SlotAperture(15e-3, WIDTH, -0.7e-3, 10e-3))},
        {"slots": (SlotAperture(15e-3, WIDTH, 1e-3, 0.0), SlotAperture(15e-3, WIDTH, -1e-3, -20e-3))},
        {"far_short": 5e-3},
        {"near_short": 0.0},
        {"near_short": -30e-3, "far_short": 30e-3},
        {"near_short": -30e-3, "far_short": 30e-3, "feed": 30e-3},
        {"feed": -10e-3},
        {"wall": -1e-3},
    ],
)
def test_impossible_guides_are_refused(change):
    good = {"a": A, "b": B, "wall": WALL, "slots": (SLOT,)}
    SlottedGuide(**good)
    with pytest.raises(InputError):
        SlottedGuide(**(good | change))


@pytest.mark.parametrize("frequency", [6e9, 13.5e9])
def test_only_te10_may_travel(frequency):
    with pytest.raises(InputError):
        SlotMoment(matched((SLOT,))).solve(frequency)


def test_centred_slot_has_no_resonant_length():
    with pytest.raises(InputError):
        resonant_length(A, B, WALL, WIDTH, 0.0, F0)
