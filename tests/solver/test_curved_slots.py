"""Straight, bent and S-shaped slots of one centre-line length, endless wall, between two guide ports, on the
'draft' mesh.

Layout: WR-90, 15.345 x 1.5875 mm in a wall of 1.27 mm, square ends, four cells across the curved ones.
Expected: the straight equivalent of each (`simharness.em.slot.curved`: moments of TE10 along the centre line)
by the moment method, an independent route without a mesh. Resonance is where y = 2 (1/S21 - 1) is real: of a
slot of one mode that holds for any mixture of shunt and series. Known bias: stairs, made up for to some 0.6 %
(`simharness.mesh.staircasing`) up to arcs of 25 degrees either way; an arc of 47 degrees (aside 3 mm, offset
1.5 mm) read 2.0 % low on this mesh, while several meshes continued to the limit put it 0.6 % low. Seen: bent
-0.3 %, S -0.2 % in resonance, conductance +1 and +3 %, phase of the S 0.15 rad more.
"""

from dataclasses import replace

import numpy as np
import pytest
from textbook_scenes import shaped_slot_scene, solved

from simharness.em.guide.rectangular import phase_constant
from simharness.em.slot.basis import SlotAperture, SlottedGuide
from simharness.em.slot.curved import CentreLine, straight_equivalent
from simharness.em.slot.moment import SlotMoment
from simharness.mesh.settings import QUALITIES
from simharness.records import Slot

A, B, WALL = 22.86e-3, 10.16e-3, 1.27e-3
LENGTH, WIDTH = 15.345, 1.5875
MESH = replace(QUALITIES["draft"], absorber_cells=8)
SLOTS = {"straight": (0.0, 3.0), "bent": (1.5, 2.0), "s": (1.5, 3.0)}


def resonance(frequency, s21):
    """Frequency where the transmission says that the slot is resonant, and the conductance there."""
    admittance = 2 * (1 / s21 - 1)
    (crossing,) = np.flatnonzero((admittance.imag[:-1] > 0) & (admittance.imag[1:] <= 0))
    part = admittance.imag[crossing] / (admittance.imag[crossing] - admittance.imag[crossing + 1])
    found = frequency[crossing] + part * (frequency[crossing + 1] - frequency[crossing])
    return found, float(np.interp(found, frequency, admittance.real))


@pytest.mark.parametrize("shape", SLOTS)
def test_resonance_conductance_and_phase_against_the_straight_equivalent(store, shape):
    aside, offset = SLOTS[shape]
    slot = Slot(
        position_mm=0.0,
        offset_mm=offset,
        length_mm=LENGTH,
        width_mm=WIDTH,
        ends="square",
        shape=shape,
        aside_mm=aside,
    )
    results = solved(store, shaped_slot_scene(A, B, WALL, slot, 8.7e9, 10.3e9), MESH)
    found, conductance = resonance(results["frequency"], results["s21"])

    line = CentreLine(shape, LENGTH * 1e-3, aside * 1e-3, offset * 1e-3)
    equal = straight_equivalent(line, LENGTH * 1e-3, A, 9.4e9)
    guide = SlottedGuide(A, B, WALL, (SlotAperture(equal.length, WIDTH * 1e-3, equal.offset),))
    f = np.linspace(8.8e9, 10.4e9, 65)
    expected, theirs = resonance(f, SlotMoment(guide).solve(f).s[:, 1, 0])
    # what the rule and the mesh are trusted to; six other shapes lay within 1.4 % and 11 %
    assert found == pytest.approx(expected, rel=0.015)
    assert conductance == pytest.approx(theirs, rel=0.10)

    at = int(np.argmin(np.abs(results["frequency"] - found)))
    turn = np.angle(-results["s11"][at])
    # S11 of a slot beside its middle turns by twice the way there; 0.2 rad is 0.7 mm of it
    assert turn == pytest.approx(-2 * float(phase_constant(A, found)) * equal.shift, abs=0.2)
