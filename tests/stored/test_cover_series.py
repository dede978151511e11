"""Resonance of one covered slot against thickness and gap of the cover, for three plastics: the estimate
beside full-wave runs of a stored table.

Exact: full-wave runs of one slot (24 x 2.5 mm, 4 mm off the centre line of a guide of 40.386 x 20.193 mm, in
a wall of 1 mm, plane and cover endless) with four cells across it; the folder's README says how they were
made.
Known bias: of the mesh, the bare slot resonates 0.3 % lower with eight cells than with four, 0.1 mm of
permittivity 4.4 the same within 0.3 %; of the model, the bare slot 0.2 % higher. A full vector aperture
(`tests/unit/test_slot_vector_aperture.py`) lies 0.2 % under the estimate at most, so the rest of the 0.6 %
that sheets on the wall show is the full wave's. Seen: within 0.8 %, but for `APART`.
Tolerance: 1 %, what is asked of the estimate; the shift by the cover within 6 % of it or 0.7 % of the
frequency, which 2 mm of permittivity 2.9 at 6 mm needs (1.2 % by the estimate, 1.8 % by the full wave).
"""

from __future__ import annotations

import csv
from functools import lru_cache

import pytest
from full_wave_tables import REFERENCES

from simharness.em.slot.basis import SlotAperture
from simharness.em.slot.single import resonant_frequency
from simharness.em.slot.superstrate import Layer, under_cover

A, B, WALL, SLOT = 40.386e-3, 20.193e-3, 1e-3, SlotAperture(24e-3, 2.5e-3, 4e-3)
CLOSE, CELLS = 0.01, 4
APART = {(4.4, 1.0, 0.2, 0.02): 0.015}
"""1 mm of permittivity 4.4 over 0.2 mm of air, which is about a cell there: the estimate is 1.4 % higher.
The full vector aperture of `tests/unit/test_slot_vector_aperture.py` puts the resonance 0.05 % under the
estimate, so it is the mesh that is low.
"""
with open(REFERENCES / "covered-slot.csv", newline="", encoding="utf-8") as file:
    ROWS = list(csv.DictReader(line for line in file if not line.startswith("#")))
CASES = {
    tuple(float(row[name]) for name in ("permittivity", "thickness_mm", "gap_mm", "loss_tangent")): 1e9
    * float(row["resonance_ghz"])
    for row in ROWS
    if int(row["cells"]) == CELLS
}
BARE = next(found for (_, thickness, *_), found in CASES.items() if thickness == 0.0)


@lru_cache
def estimated(permittivity: float, thickness_mm: float, gap_mm: float, loss_tangent: float = 0.0) -> float:
    """Resonance by the method of moments, Hz."""
    cover = Layer(1e-3 * gap_mm, 1.0), Layer(1e-3 * thickness_mm, permittivity, loss_tangent)
    return resonant_frequency(A, B, WALL, SLOT, under_cover(None, cover))


@pytest.mark.parametrize("case", CASES, ids=lambda case: "-".join(map(str, case)))
def test_estimate_is_close_to_the_full_wave(case):
    found = CASES[case]
    assert estimated(*case) == pytest.approx(found, rel=APART.get(case, CLOSE))
    shift, seen = estimated(*case) - estimated(1.0, 0.0, 0.0), found - BARE
    if case not in APART:
        assert shift == pytest.approx(seen, rel=0.06, abs=0.007 * BARE)


def test_the_table_holds_three_plastics_on_the_slot_and_held_off():
    for permittivity in (2.1, 2.9, 4.4):
        assert len([case for case in CASES if case[0] == permittivity]) >= 2
    assert len([case for case in CASES if case[2] > 0]) >= 4


def test_the_full_wave_has_the_order_of_thickness_and_gap():
    """Thicker is lower, farther is higher, and none is above the bare slot by more than the mesh scatters."""
    for permittivity in (2.1, 2.9, 4.4):
        on = sorted(
            (case[1], found) for case, found in CASES.items() if (case[0], case[2]) == (permittivity, 0.0)
        )
        assert [found for _, found in on] == sorted((found for _, found in on), reverse=True)
    off = sorted((case[2], found) for case, found in CASES.items() if case[:2] == (2.9, 2.0))
    assert [found for _, found in off] == sorted(found for _, found in off) and len(off) >= 3
    assert max(CASES.values()) <= 1.003 * BARE
