"""Wall materials: effective microwave conductivity, how far it may be off, and why.

The nominal values of the pure metals are recalled from Pozar, Microwave Engineering,
appendix F (memory). `low` and `high` bracket what a builder may have bought; they are
judgements with the stated reason, not measurements.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

from simharness.errors import InputError
from simharness.records import Guide


@dataclass(frozen=True)
class WallMaterial:
    """Effective conductivity at microwave frequencies, S/m, with its range and source."""

    name: str
    conductivity: float
    low: float
    high: float
    source: str

    @property
    def uncertain(self) -> bool:
        """Whether the loss (it goes as the square root) may be off by more than a factor 1.5."""
        return self.high > 1.5**2 * self.low


_PERFECT = WallMaterial("perfect", math.inf, math.inf, math.inf, "no loss, by definition")

_MATERIALS = (
    _PERFECT,
    WallMaterial(
        "silver",
        6.173e7,
        5.0e7,
        6.173e7,
        "Pozar app. F, from memory; low: tarnish and roughness, a judgement",
    ),
    WallMaterial(
        "copper", 5.813e7, 4.5e7, 5.813e7, "Pozar app. F, from memory; low: oxide and roughness, a judgement"
    ),
    WallMaterial(
        "aluminium",
        3.816e7,
        1.9e7,
        3.816e7,
        "Pozar app. F, from memory; low: magnesium alloys of sheet, from memory",
    ),
    WallMaterial(
        "brass",
        2.564e7,
        1.4e7,
        2.564e7,
        "Pozar app. F, from memory; another alloy 1.67e7, seen in a printed table, less roughness",
    ),
    WallMaterial(
        "tin plate",
        1.4e6,
        2.8e5,
        7.4e6,
        "0.4-0.8 um of tin (9.2e6 S/m) on steel (7e6 S/m) of relative permeability 1 to 100 at 2.45 GHz, "
        "computed as layers from inputs recalled from memory; the value used is the geometric mean of "
        "both ends",
    ),
    WallMaterial(
        "zinc-coated steel",
        1.6e7,
        4.0e6,
        1.67e7,
        "zinc 1.67e7, from memory; a coating from 5 um is over two skin depths and hides the steel; "
        "low: zinc-iron alloy layers and roughness, a judgement",
    ),
    WallMaterial(
        "stainless steel", 1.1e6, 1.0e6, 1.45e6, "Pozar app. F, from memory; high: type 304, from memory"
    ),
)


def material(name: str) -> WallMaterial:
    """The material of this name.

    Raises
    ------
    InputError
        The name is not in the table.

    Examples
    --------
    >>> material("brass").conductivity
    25640000.0
    """
    for entry in _MATERIALS:
        if entry.name == name:
            return entry
    raise InputError("guide.material", name, f"must be one of {', '.join(m.name for m in _MATERIALS)}")


def materials() -> tuple[WallMaterial, ...]:
    """All materials known here."""
    return _MATERIALS


def wall_conductivity(guide: Guide) -> tuple[float, float, float]:
    """Nominal, lowest and highest effective conductivity of the walls, S/m.

    A conductivity written in the record stands for all three.
    """
    if guide.conductivity_s_per_m is not None:
        return (guide.conductivity_s_per_m,) * 3
    entry = material(guide.material)
    return entry.conductivity, entry.low, entry.high
