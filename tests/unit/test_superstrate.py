"""Dielectric on a slotted plane: limits with closed forms, passivity, power balance. All from first
principles.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from simharness.constants import C0, ETA0, TWO_PI
from simharness.em.slot.basis import EDGE_FOIL, MomentBasis, SlotAperture, SlottedGuide
from simharness.em.slot.moment import SlotMoment
from simharness.em.slot.outside import HalfSpaceSide
from simharness.em.slot.single import resonant_frequency, slot_admittance
from simharness.em.slot.superstrate import Superstrate, superstrate_waves, trench_capacitance

A, B = 40.386e-3, 20.193e-3
SLOT = SlotAperture(22.5e-3, 2.5e-3, 4e-3)
K = TWO_PI * 5.5e9 / C0
DISTANCE = np.geomspace(1e-5, 0.03, 9)
FEW = MomentBasis(orders=(1, 3), exponent=EDGE_FOIL, modes=(20, 12))


@pytest.mark.parametrize(
    "superstrate", [Superstrate(0.0, 4.4, 0.02), Superstrate(1e-3, 1.0)], ids=["no thickness", "air"]
)
def test_nothing_changes_nothing(superstrate):
    for wave in superstrate_waves(superstrate, K, DISTANCE):
        assert np.array_equal(wave, np.exp(-1j * K * DISTANCE))


def test_effect_of_a_thin_sheet_falls_as_its_thickness():
    thin, thinner = (
        np.abs(
            superstrate_waves(Superstrate(h, 4.4), K, np.array([5e-3, 0.02]))
            - np.exp(-1j * K * np.array([5e-3, 0.02]))
        )
        for h in (2e-5, 1e-5)
    )
    assert np.all(thinner < 0.01)
    # first order in h / R, which is 4e-3 here; the second order is as large again in units of h / R
    assert thin / thinner == pytest.approx(2.0, rel=0.02)


def test_thick_lossy_sheet_is_a_half_space():
    """Its far face is not felt: the waves are those of the dielectric alone. Tolerance: that of the table,
    1e-4 of W_A at R = 0.
    """
    superstrate = Superstrate(0.3, 4.4, 0.3)
    wave = np.exp(-1j * K * np.sqrt(superstrate.relative) * DISTANCE)
    field, charge = superstrate_waves(superstrate, K, DISTANCE)
    assert field == pytest.approx(superstrate.relative * wave, abs=5e-4)
    assert charge == pytest.approx(wave, abs=5e-4)


def test_static_limit_is_the_series_of_images():
    """eps [1 + 2 sum (-r)^n R / sqrt(R^2 + (2 n h)^2)], r = (eps - 1) / (eps + 1); charges see no
    dielectric.
    """
    eps, h = 4.4, 1e-3
    n, r = np.arange(1, 60)[:, None], (eps - 1) / (eps + 1)
    series = eps * (1 + 2 * ((-r) ** n * DISTANCE / np.hypot(DISTANCE, 2 * n * h)).sum(axis=0))
    field, charge = superstrate_waves(Superstrate(h, eps), 1e-3, DISTANCE)
    assert field == pytest.approx(series, abs=5e-4)
    assert charge == pytest.approx(np.ones(DISTANCE.size), abs=5e-4)


def test_matrix_is_symmetric_and_passive_and_loss_adds_to_it():
    slots = (SLOT, SlotAperture(22.5e-3, 2.5e-3, -4e-3, 33e-3))
    side = HalfSpaceSide(slots, np.array([1, 2, 3]), EDGE_FOIL, superstrate=Superstrate(0.8e-3, 4.4, 0.02))
    lossy, lossless = side.admittance(K), side.admittance(K, lossless=True)
    assert np.array_equal(lossy, lossy.T)
    # rounding and quadrature: 1e-5 of the largest element
    assert np.linalg.eigvalsh(lossless.real).min() > -1e-5 * np.abs(lossless).max()
    assert np.linalg.eigvalsh((lossy - lossless).real).min() > -1e-5 * np.abs(lossless).max()


@pytest.mark.parametrize("loss", [0.0, 0.02])
def test_power_balance(loss):
    """What is neither reflected nor passed on leaves, or heats the sheet."""
    guide = SlottedGuide(A, B, 0.0, (SLOT,), superstrate=Superstrate(0.8e-3, 2.2, loss))
    found = SlotMoment(guide, FEW).solve(np.array([5.4e9]))
    taken = 1.0 - float((np.abs(found.s[0, :, 0]) ** 2).sum())
    radiated = float(found.radiated[0, 0])
    if loss:
        assert 0.8 * taken < radiated < 0.99 * taken
    else:
        assert radiated == pytest.approx(taken, rel=1e-6)


def test_admittance_without_effect_is_the_bare_one():
    bare = slot_admittance(A, B, 0.0, SLOT, np.array([5.6e9]), FEW)
    assert slot_admittance(A, B, 0.0, SLOT, np.array([5.6e9]), FEW, Superstrate(1e-3, 1.0)) == pytest.approx(
        bare, rel=1e-12
    )
    # 1 nm of dielectric: its effect is h / width, 4e-7, times the sharpness of the resonance
    assert slot_admittance(A, B, 0.0, SLOT, np.array([5.6e9]), FEW, Superstrate(1e-9, 4.4)) == pytest.approx(
        bare, rel=1e-4
    )


@pytest.mark.parametrize("permittivity", [2.2, 4.4])
def test_resonance_falls_with_thickness_between_its_limits(permittivity):
    """Below that of the bare slot, above that of a slot with dielectric on the whole outer side: sqrt((1 +
    eps) / 2).
    """
    slot = SlotAperture(19.5e-3, 2.5e-3, 4e-3)
    found = [
        resonant_frequency(A, B, 0.0, slot, Superstrate(h, permittivity))
        for h in (0.0, 0.2e-3, 0.4e-3, 0.8e-3)
    ]
    assert np.all(np.diff(found) < 0)
    assert found[-1] > found[0] / math.sqrt((1 + permittivity) / 2)


def test_trench_in_a_weak_dielectric():
    """First order: the part of the field's energy that lies in the trench.

    With x + jy = (w/2) cosh(u + jv) the potential goes as v and the energy density is even over u and v, so
    that energies are areas there: the sheet ends at sinh u sin v = 2h/w, the edge of the slot is cosh u cos v
    = 1. Tolerance: of the lattice (0.5 %, seen to fall with its cells).
    """
    h, half = 0.7e-3, 1.0e-3
    v = (np.arange(200_000) + 0.5) * np.pi / 2 / 200_000
    top, edge = np.arcsinh(h / half / np.sin(v)), np.arccosh(1 / np.cos(v))
    first = np.minimum(top, edge).mean() / np.pi
    assert trench_capacitance(Superstrate(h, 1.001), 2 * half) / 0.001 == pytest.approx(first, rel=0.007)


def test_loss_of_a_trench_is_that_of_its_dielectric():
    """In a weak dielectric the loss of a sheet and of a trench in it is its susceptibility's imaginary
    part.
    """
    lossy = trench_capacitance(Superstrate(1e-3, 1.001, 0.02), 2.5e-3)
    # second order in the susceptibility is left out: 1e-3; the slope is taken over 1 %, ten times the
    # susceptibility
    assert -lossy.imag / lossy.real == pytest.approx(0.02 * 1.001 / 0.001, rel=0.01)


def test_trench_takes_capacitance_off_the_slot_alone():
    """Off the diagonal of the slot's own block, and off what two slots do to each other, nothing changes."""
    slots = (SLOT, SlotAperture(22.5e-3, 2.5e-3, -4e-3, 33e-3))
    whole, cut = (
        HalfSpaceSide(
            slots, np.array([1, 2]), EDGE_FOIL, superstrate=Superstrate(0.8e-3, 4.4, 0.0, routed)
        ).admittance(K)
        for routed in (False, True)
    )
    lost = K / ETA0 * trench_capacitance(Superstrate(0.8e-3, 4.4), SLOT.width) * SLOT.length / 2
    assert whole - cut == pytest.approx(1j * lost * np.eye(4), abs=1e-12)
    assert lost.real > 0


def test_routed_slot_lies_between_bare_and_coated():
    found = [
        resonant_frequency(A, B, 0.0, SLOT, Superstrate(h, 4.4, 0.0, routed))
        for h, routed in ((0.0, False), (0.8e-3, True), (0.8e-3, False))
    ]
    assert found[0] > found[1] > found[2]
