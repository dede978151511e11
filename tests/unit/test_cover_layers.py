"""Layers of dielectric before a slotted plane: limits with closed forms, and what must hold. All from first
principles.
"""

from __future__ import annotations

import numpy as np
import pytest

from simharness.constants import C0, TWO_PI
from simharness.em.slot.basis import EDGE_FOIL, MomentBasis, SlotAperture, SlottedGuide
from simharness.em.slot.faces import OuterSides, with_opposite_slots
from simharness.em.slot.moment import SlotMoment
from simharness.em.slot.single import resonant_frequency, slot_admittance
from simharness.em.slot.superstrate import Layer, Superstrate, superstrate_waves, under_cover

A, B, WALL = 40.386e-3, 20.193e-3, 1e-3
SLOT = SlotAperture(24e-3, 2.5e-3, 4e-3)
K = TWO_PI * 5.5e9 / C0
DISTANCE = np.geomspace(1e-5, 0.03, 9)
AIR = np.exp(-1j * K * DISTANCE)
FEW = MomentBasis(orders=(1, 3), modes=(20, 12))


def covered(gap: float, thickness: float, permittivity: float, loss: float = 0.0) -> Superstrate:
    found = under_cover(None, (Layer(gap, 1.0), Layer(thickness, permittivity, loss)))
    assert found is not None
    return found


@pytest.mark.parametrize(
    "nothing",
    [covered(1e-3, 2e-3, 1.0), covered(0.0, 2e-3, 1.0), covered(2e-3, 0.0, 4.4)],
    ids=["air held off", "air on the wall", "no thickness"],
)
def test_a_cover_of_air_or_of_no_thickness_is_none(nothing):
    """To the last bit, in the waves and in the admittance of a slot."""
    for wave in superstrate_waves(nothing, K, DISTANCE):
        assert np.array_equal(wave, AIR)
    at = np.array([5.6e9])
    assert np.array_equal(
        slot_admittance(A, B, WALL, SLOT, at, FEW, nothing), slot_admittance(A, B, WALL, SLOT, at, FEW)
    )


def test_a_cover_on_the_wall_is_a_sheet_on_it():
    """Gap 0, and a sheet cut in two: the very table of the one sheet."""
    one = superstrate_waves(Superstrate(2e-3, 2.85, 0.008), K, DISTANCE)
    half = Layer(1e-3, 2.85, 0.008)
    for same in (covered(0.0, 2e-3, 2.85, 0.008), Superstrate(0.0, 1.0, beyond=(half, half))):
        assert np.array_equal(superstrate_waves(same, K, DISTANCE), one)


def test_layers_of_nearly_one_permittivity_are_one_layer():
    """The recursion from layer to layer against the single layer."""
    one = superstrate_waves(Superstrate(2e-3, 2.85), K, DISTANCE)
    two = superstrate_waves(Superstrate(0.7e-3, 2.85, beyond=(Layer(1.3e-3, 2.850001),)), K, DISTANCE)
    # the interface at 0.7 mm is the nearer mirror: its table has other nodes, each within 1e-4
    assert np.array(two) == pytest.approx(np.array(one), abs=3e-4)


def test_a_hair_of_air_changes_nothing():
    """A gap of a nanometre, seen from where the sheet's own fields are told: R far above it."""
    far = np.geomspace(1e-3, 0.03, 6)
    on = superstrate_waves(Superstrate(2e-3, 2.85), K, far)
    assert np.array(superstrate_waves(covered(1e-9, 2e-3, 2.85), K, far)) == pytest.approx(
        np.array(on), abs=5e-4
    )


def test_static_limit_of_a_gap_is_the_series_of_images():
    """1 + 2 sum r^n R / sqrt(R^2 + (2 n g)^2), r = (eps - 1) / (eps + 1), under a dielectric half space a gap
    g above the plane; charges see no dielectric. The sheet of 3 km stands for the half space.
    """
    eps, g = 4.4, 1e-3
    n, r = np.arange(1, 90)[:, None], (eps - 1) / (eps + 1)
    series = 1 + 2 * (r**n * DISTANCE / np.hypot(DISTANCE, 2 * n * g)).sum(axis=0)
    field, charge = superstrate_waves(covered(g, 3e3, eps), 1e-6, DISTANCE)
    assert field == pytest.approx(series, abs=5e-4)
    assert charge == pytest.approx(np.ones(DISTANCE.size), abs=5e-4)


def test_far_cover_throws_back_what_a_slab_reflects():
    """2 (-rho) R exp(-2 j k g) / 2g beside exp(-jkR) at R far below g: the image of the current in the sheet,
    rho the reflection of E by a slab at normal incidence (any book on optics). Next order: 1 / (2 k g) of it,
    and the second reflection, rho of it. (The wave of the charges weighs the difference of both
    polarizations, which normal incidence does not show.)
    """
    g, h, eps = 0.25, 0.5e-3, 2.0
    n, face = np.sqrt(eps), (1 - np.sqrt(eps)) / (1 + np.sqrt(eps))
    turn = np.exp(-2j * n * K * h)
    rho = face * (1 - turn) / (1 - face**2 * turn)
    near = np.array([5e-3, 10e-3])
    expected = -2 * rho * near * np.exp(-2j * K * g) / (2 * g)
    field, _ = superstrate_waves(covered(g, h, eps), K, near)
    assert field - np.exp(-1j * K * near) == pytest.approx(expected, rel=0.06)


def test_effect_falls_with_the_gap_and_rises_with_the_thickness():
    bare = resonant_frequency(A, B, WALL, SLOT)
    by_gap = [resonant_frequency(A, B, WALL, SLOT, covered(g, 1e-3, 2.85)) for g in (0.0, 0.2e-3, 1e-3, 4e-3)]
    assert np.all(np.diff([*by_gap, bare]) > 0)
    by_thickness = [
        resonant_frequency(A, B, WALL, SLOT, covered(1e-3, h, 2.85)) for h in (0.1e-3, 0.5e-3, 2e-3)
    ]
    assert np.all(np.diff([bare, *by_thickness]) < 0)


@pytest.mark.parametrize("loss", [0.0, 0.03])
def test_power_balance(loss):
    """What is neither reflected nor passed on leaves, or heats the cover."""
    guide = SlottedGuide(A, B, WALL, (SLOT,), superstrate=covered(0.5e-3, 2e-3, 3.0, loss))
    found = SlotMoment(guide, FEW).solve(np.array([5.2e9]))
    taken = 1.0 - float((np.abs(found.s[0, :, 0]) ** 2).sum())
    radiated = float(found.radiated[0, 0])
    if loss:
        assert 0.8 * taken < radiated < 0.995 * taken
    else:
        assert radiated == pytest.approx(taken, rel=1e-6)


def test_cover_over_a_substrate_lowers_it_further():
    board, lid = Superstrate(0.8e-3, 4.4, 0.02), (Layer(0.0, 1.0), Layer(1e-3, 2.85, 0.008))
    slot = SlotAperture(19.5e-3, 2.5e-3, 4e-3)
    alone, both = (resonant_frequency(A, B, 0.0, slot, under_cover(board, own)) for own in ((), lid))
    assert 0.9 * alone < both < 0.99 * alone
    assert under_cover(board, ()) is board


def test_the_back_is_covered_where_it_says_so():
    """The half space over the back wall is the bare one, or that of the front."""
    slots = with_opposite_slots([SLOT], -1)
    lid = (Layer(0.5e-3, 1.0), Layer(2e-3, 2.85))
    front, both = (
        OuterSides(slots, np.array([1, 2]), EDGE_FOIL, under_cover(None, lid, over)).admittance(K)
        for over in (False, True)
    )
    bare = OuterSides(slots, np.array([1, 2]), EDGE_FOIL).admittance(K)
    assert np.array_equal(front[2:, 2:], bare[2:, 2:]) and not np.allclose(front[:2, :2], bare[:2, :2])
    assert np.array_equal(both[2:, 2:], both[:2, :2]) and np.array_equal(both[:2, :2], front[:2, :2])
