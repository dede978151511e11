"""The slot model against a full vector treatment of the aperture.

The model under test keeps only E_x, with a fixed profile across the slot. Here both
apertures are expanded in all modes of the L x w cut (E_x and E_z, TE and TM, harmonics in
x and z), which makes the treatment of the wall exact mode matching; the half space sees the
full magnetic current and charge. The guide differs from a half space only by distant
images: that smooth difference is taken for the plain sines. Single slot, z-symmetric part.
"""

import numpy as np
import pytest
from scipy.optimize import brentq

from simharness.constants import C0, ETA0, TWO_PI
from simharness.em.slot.basis import MomentBasis, SlotAperture
from simharness.em.slot.inside import GuideSide
from simharness.em.slot.outside import HalfSpaceSide
from simharness.em.slot.ports import te10_coupling
from simharness.em.slot.single import resonant_frequency, resonant_length
from simharness.em.slot.superstrate import Layer, superstrate_waves, under_cover

A, B, WIDTH, OFFSET, F0 = 22.86e-3, 10.16e-3, 1.5875e-3, 3e-3, 9.375e9
K0 = TWO_PI * F0 / C0


def lag_products(lag, length, kp, sine):
    """Correlations, both signs of the lag, of sines or cosines of one parity."""
    out = np.zeros((kp.size, kp.size, lag.size))
    sign = 1.0 if sine else -1.0
    for i, p in enumerate(kp):
        for j, q in enumerate(kp):
            if i != j:
                first, second = (p, q) if sine else (q, p)
                out[i, j] = 2 * (first * np.sin(q * lag) - second * np.sin(p * lag)) / (p**2 - q**2)
            elif p > 0:
                out[i, i] = (length - lag) * np.cos(p * lag) + sign * np.sin(p * lag) / p
            else:
                out[i, i] = 0.0 if sine else 2 * (length - lag)
    return out


def half_space_matrix(slot, kz, kx, k, superstrate=None):
    """Y of all (E_x, E_z) modes: k^2 <M, G M'> - <rho, G rho'>, rho = dM_z/dz + dM_x/dx.

    E_x = sin(kz z) cos(kx x), M_z = E_x; E_z = cos(kz z) sin(kx x), M_x = -E_z. Under a superstrate currents
    and charges have waves of their own.
    """
    g, dg = np.polynomial.legendre.leggauss(28)
    u, du = 0.5 * (g + 1), 0.5 * dg
    xi, w_xi = slot.width * u**3, 3 * slot.width * u**2 * du
    g, dg = np.polynomial.legendre.leggauss(90)
    top = np.arcsinh(slot.length / xi)  # zeta = xi sinh(sigma): d zeta / R = d sigma
    sigma = 0.5 * top[:, None] * (g + 1)
    weight = (w_xi[:, None] * 0.5 * top[:, None] * dg).ravel() / TWO_PI
    zeta, across = (xi[:, None] * np.sinh(sigma)).ravel(), np.repeat(xi, g.size)
    distance = np.hypot(zeta, across)
    waves = np.exp(-1j * k * distance) if superstrate is None else None
    current, charges = (waves, waves) if superstrate is None else superstrate_waves(superstrate, k, distance)

    def reaction(along_sine, across_sine, wave):
        z = lag_products(zeta, slot.length, kz, along_sine).reshape(kz.size**2, -1)
        x = lag_products(across, slot.width, kx, across_sine).reshape(kx.size**2, -1)
        m = ((z * weight * wave) @ x.T).reshape(kz.size, kz.size, kx.size, kx.size)
        return m.transpose(0, 2, 1, 3).reshape(kz.size * kx.size, -1)

    p, q = (v.ravel() for v in np.meshgrid(kz, kx, indexing="ij"))
    charge = reaction(False, False, charges)
    xx = k**2 * reaction(True, False, current) - np.outer(p, p) * charge
    zz = k**2 * reaction(False, True, current) - np.outer(q, q) * charge
    xz = np.outer(p, q) * charge
    return np.block([[xx, xz], [xz.T, zz]]) * 1j / (k * ETA0)


def wall_matrices(slot, kz, kx, k, wall):
    """Chain of the cut: TE and TM modes with E along (kz, -kx) and (kx, kz)."""
    p, q = (v.ravel() for v in np.meshgrid(kz, kx, indexing="ij"))
    kc = np.hypot(p, q)
    gam = np.sqrt(kc**2 - k**2 + 0j)
    norm = np.where(q > 0, 1.0, 2.0) * slot.length * slot.width / 4
    sinh = np.sinh(gam * wall)
    te, tm = gam / (1j * k * ETA0), 1j * k / (gam * ETA0)

    def tensor(along_te, along_tm):
        c, s = p / kc, q / kc
        cross = np.diag((along_tm - along_te) * c * s)
        return np.block(
            [
                [np.diag(along_te * c**2 + along_tm * s**2), cross],
                [cross, np.diag(along_te * s**2 + along_tm * c**2)],
            ]
        )

    return (
        np.diag(np.tile(np.cosh(gam * wall), 2)),
        tensor(sinh / te / norm, sinh / tm / norm),
        tensor(sinh * te * norm, sinh * tm * norm),
    )


def vector_admittance(slot, wall, k, top, harmonics, superstrate=None, size=(A, B)):
    orders = np.arange(1, top + 1, 2)
    kz = orders * np.pi / slot.length
    kx = 2 * np.arange(harmonics + 1) * np.pi / slot.width
    y_out = half_space_matrix(slot, kz, kx, k, superstrate)
    guide = GuideSide(*size, [slot], orders, 0.0, modes=(100, 60))
    images = guide.admittance(k) - HalfSpaceSide([slot], orders, 0.0, (28, 90)).admittance(k)
    plain = np.arange(orders.size) * kx.size  # cos(0) = 1 against a profile of 1/w there
    y_in = y_out.copy() if superstrate is None else half_space_matrix(slot, kz, kx, k)
    y_in[np.ix_(plain, plain)] += images * slot.width**2
    drive = np.zeros(len(y_in), dtype=complex)
    drive[plain] = te10_coupling(guide, k)[0] * slot.width
    keep = np.concatenate([np.ones(y_in.shape[0] // 2, bool), np.tile(kx > 0, orders.size)])
    kept = np.ix_(keep, keep)
    cosh, z, s = (m[kept] for m in wall_matrices(slot, kz, kx, k, wall))
    y_out, y_in, drive = y_out[kept], y_in[kept], drive[keep]
    inner = cosh + z @ y_out
    scale = 1 / np.abs(np.diag(cosh))
    outer = -scale * np.linalg.solve((y_in @ inner + s + cosh @ y_out) * scale, drive)
    s11 = -0.5 * drive @ (inner @ outer)
    return -2 * s11 / (1 + s11)


def vector_resonance(wall, top, harmonics):
    def y(length):
        return vector_admittance(SlotAperture(length, WIDTH, OFFSET), wall, K0, top, harmonics)

    length = brentq(lambda v: y(v).imag, 14e-3, 16e-3, xtol=2e-6)
    return length, y(length).real


@pytest.mark.parametrize(("wall", "reason"), [(1.27e-3, 1.5e-3), (0.0, 5e-3)])
def test_default_basis_against_the_vector_aperture(wall, reason):
    # Both fall with the number of functions, the vector model (to order 21) from 0.1 % (wall)
    # or 0.3 % (no wall: stronger singularity) above its limit. Seen: wall 15.367 mm against
    # 15.36; no wall 14.78 against 14.79. g has the neglected E_z in it: 0.3 %.
    length, g = vector_resonance(wall, 21, 2)
    found, conductance = resonant_length(A, B, wall, WIDTH, OFFSET, F0)
    assert found == pytest.approx(length, rel=reason)
    assert conductance == pytest.approx(g, rel=4e-3)


def test_vector_code_reduces_to_the_plain_model():
    # no wall, no harmonics: the same basis by two codes. xtol of the root is 1e-4 of L
    length, g = vector_resonance(0.0, 9, 0)
    basis = MomentBasis(orders=(1, 3, 5, 7, 9), exponent=0.0)
    found, conductance = resonant_length(A, B, 0.0, WIDTH, OFFSET, F0, basis)
    assert found == pytest.approx(length, rel=2e-4)
    assert conductance == pytest.approx(g, rel=1e-4)


@pytest.mark.parametrize(
    ("permittivity", "thickness", "gap"),
    [(2.9, 2e-3, 0.0), (4.4, 1e-3, 0.0), (4.4, 0.1e-3, 0.0), (2.1, 3e-3, 0.0), (4.4, 1e-3, 0.2e-3)],
)
def test_resonance_under_a_cover_against_the_vector_aperture(permittivity, thickness, gap):
    """The slot of the covered series. Seen: the one profile across is 0.2 % higher at most (glass epoxy on
    the wall), 0.05 % for the same 0.2 mm before it; bare, 0.04 %.
    """
    size, wall, slot = (40.386e-3, 20.193e-3), 1e-3, SlotAperture(24e-3, 2.5e-3, 4e-3)
    cover = under_cover(None, (Layer(gap, 1.0), Layer(thickness, permittivity, 0.01)))
    found = resonant_frequency(*size, wall, slot, cover)

    def imaginary(frequency):
        k = TWO_PI * frequency / C0
        return vector_admittance(slot, wall, k, 21, 5, cover, size).imag

    exact = brentq(imaginary, 0.97 * found, 1.02 * found, xtol=1e5)
    assert found == pytest.approx(exact, rel=3e-3)
