"""Resonance of one slot in foil on a dielectric sheet against the sheet's thickness: the estimate beside
full-wave runs of a stored table.

Exact: full-wave runs of one slot (20.5 x 2.5 mm, 4 mm off the centre line of a guide of 40.386 x 20.193 mm)
with four cells across it or eight; the folder's README says how they were made. Known bias: of the mesh, 0.6
to 1.1 % lower with four cells than with two, most under thin sheets; a routed slot reads high, by 0.5 to 1 %
as electrostatics of its widened trench has it. Tolerance: 1.5 %, what is asked of the estimate. Permittivity
1 is the bare foil: no thickness, and air.
"""

from __future__ import annotations

import csv
from functools import lru_cache

import pytest
from full_wave_tables import REFERENCES

from simharness.em.slot.basis import SlotAperture
from simharness.em.slot.single import resonant_frequency
from simharness.em.slot.superstrate import Superstrate

A, B, SLOT = 40.386e-3, 20.193e-3, SlotAperture(20.5e-3, 2.5e-3, 4e-3)
CLOSE = 0.015
with open(REFERENCES / "laminate-slot.csv", newline="", encoding="utf-8") as file:
    ROWS = tuple(csv.DictReader(file))
FOUND = {
    (row["slots"], float(row["permittivity"]), float(row["thickness_mm"])): 1e9 * float(row["resonance_ghz"])
    for row in ROWS
}
COVERS = {
    (slots, eps, mm): Superstrate(1e-3 * mm, eps, loss, slots == "routed")
    for slots, eps, mm, loss in (
        (r["slots"], float(r["permittivity"]), float(r["thickness_mm"]), float(r["loss_tangent"]))
        for r in ROWS
    )
}
BARE = next(f for (_, eps, _), f in FOUND.items() if eps == 1.0)


@lru_cache
def estimated(superstrate: Superstrate | None) -> float:
    """Resonance by the method of moments, Hz."""
    return resonant_frequency(A, B, 0.0, SLOT, superstrate)


@pytest.mark.parametrize("case", FOUND, ids=lambda case: "-".join(map(str, case)))
def test_estimate_is_close_to_the_full_wave(case):
    assert estimated(COVERS[case]) == pytest.approx(FOUND[case], rel=CLOSE)


@pytest.mark.parametrize("permittivity", [2.2, 4.4])
def test_resonance_falls_with_thickness_in_both(permittivity):
    """Down from the bare slot, but not below a dielectric on the whole outer side: over sqrt((1 + eps) /
    2).
    """
    cases = sorted(case for case in FOUND if case[:2] == ("etched", permittivity))
    for bare, series in (
        (BARE, [FOUND[c] for c in cases]),
        (estimated(Superstrate(0.0, 1.0)), [estimated(COVERS[c]) for c in cases]),
    ):
        assert len(series) >= 3 and all(one > two for one, two in zip([bare, *series], series))
        assert series[-1] > bare / ((1 + permittivity) / 2) ** 0.5


def test_a_sheet_of_no_thickness_or_of_air_is_none():
    """To rounding; without the edge condition of a foil the model's bare slot is 0.1 % lower (seen)."""
    bare = estimated(Superstrate(0.0, 4.4))
    assert estimated(Superstrate(1.6e-3, 1.0)) == bare == pytest.approx(estimated(None), rel=2e-3)
    # a thousandth of a millimetre of glass epoxy: 0.07 % lower (seen)
    assert 0.998 * bare < estimated(Superstrate(1e-6, 4.4)) < bare
