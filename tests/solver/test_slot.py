"""One longitudinal slot in WR-90, wall and free space endless, between two guide ports.

Layout: width 1.5875 mm, wall 1.27 mm, square ends, four cells across, edges on mesh lines.
Analytic: Stevenson (J. Appl. Phys. 19, 1948, 24-38) for the resonant conductance; the project's own
moment method as a second, independent route (frequency domain, no mesh).
Known bias: aligned edges read high in frequency; the moment method is some 0.1 % low.
Seen: g 0.0957 / 0.1982 / 0.3955 against Stevenson 0.0932 / 0.1973 / 0.3999; resonance 0.2 to 0.4 %
below the moment method.
"""

import numpy as np
import pytest
from textbook_scenes import flange_slot_scene, solved

from simharness.em.slot import stevenson_conductance
from simharness.em.slot_moment import Slot, slot_admittance
from simharness.grid import MeshSettings

A, B, WALL, WIDTH = 22.86e-3, 10.16e-3, 1.27e-3, 1.5875e-3
MESH = MeshSettings(slot_cells=4, per_wavelength=16)
SLOTS = {2.0: 15.3, 3.0: 15.345, 4.5: 15.5}


def resonance(frequency, admittance):
    """Frequency where the susceptance passes zero, and the conductance there."""
    crossing = np.flatnonzero(np.diff(np.sign(admittance.imag)))
    assert len(crossing) == 1
    i = crossing[0]
    part = admittance.imag[i] / (admittance.imag[i] - admittance.imag[i + 1])
    found = frequency[i] + part * (frequency[i + 1] - frequency[i])
    return found, float(np.interp(found, frequency, admittance.real))


@pytest.fixture(scope="module", params=SLOTS)
def slot(request, store):
    offset, length = request.param * 1e-3, SLOTS[request.param] * 1e-3
    results = solved(store, flange_slot_scene(A, B, WALL, offset, length, WIDTH, 8.6e9, 10.2e9), MESH)
    s11 = results["s11"]
    return offset, length, results, *resonance(results["frequency"], -2 * s11 / (1 + s11))


def test_resonant_conductance_within_8_percent_of_stevenson(slot):
    offset, _, _, frequency, conductance = slot
    assert conductance == pytest.approx(float(stevenson_conductance(A, B, offset, frequency)), rel=0.08)


def test_resonance_and_conductance_against_the_moment_method(slot):
    """Resonance within 0.7 % and conductance within 5 %: the step-by-step sum of both known biases."""
    offset, length, _, frequency, conductance = slot
    f = np.linspace(8.8e9, 10.0e9, 121)
    theirs = resonance(f, slot_admittance(A, B, WALL, Slot(length, WIDTH, offset), f))
    assert frequency == pytest.approx(theirs[0], rel=7e-3)
    assert conductance == pytest.approx(theirs[1], rel=0.05)


def test_no_more_power_leaves_than_comes(slot):
    _, _, results, _, _ = slot
    out = np.abs(results["s11"]) ** 2 + np.abs(results["s21"]) ** 2
    assert np.max(out) < 1.005
