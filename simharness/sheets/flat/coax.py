"""What every coax feed has: its wire joined to the pin, and the screw holes of its flange."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Literal

from simharness.constants import MM
from simharness.records import CoaxFeed
from simharness.sheets.flat.part import Opening, Part
from simharness.sheets.flat.paths import Pair, circle_path, rectangle_path

OVERLAP = 2.0
"""Length of the joint of pin and wire, in diameters of the thinner one; common practice, no source."""
SAME = 1e-7
"""Diameters that differ by less need no joint, m."""
MIN_BORE_WALL = 0.3e-3
"""Metal that a wire bored for a pin must keep around it, m; where it would be less, both are filed to half
and lapped; a judgement."""
MIN_PIN_WALL = 0.2e-3
"""The same of a pin bored for a wire; where it would be less, the pin is filed down to the thickness of the
wire; a judgement."""
LONG_PIN = 20e-3
"""Greatest usual length of the pin of a panel connector, m; common practice, no source."""


def mm(length: float) -> str:
    """A length in m as it is written in sentences."""
    return f"{length * 1e3:.2f} mm"


@dataclass(frozen=True, kw_only=True)
class ProbePart:
    """The pin of the connector, or the inner conductor of the cable, and the wire soldered to it; m.

    Attributes
    ----------
    wall : thickness of the wall that it comes through.
    wire, pin, hole : diameters of the wire, of the pin in the wall, and of the hole in the wall.
    overlap : length of the soldered joint of pin and wire; 0 where they are of one diameter.
    stripped : whether the coax is a cable without connector.
    dielectric : how far its dielectric stands over the inner face.
    """

    wall: float
    wire: float
    pin: float
    hole: float
    overlap: float
    stripped: bool
    dielectric: float

    def instructions(self) -> tuple[str, ...]:
        """How it is made, a sentence each."""
        raise NotImplementedError

    @property
    def core(self) -> str:
        """What the pin is called."""
        return "inner conductor" if self.stripped else "pin"

    @property
    def insulator(self) -> str:
        """What the material around the pin is called."""
        return "dielectric" if self.stripped else "insulator"

    @property
    def lapped(self) -> bool:
        """Whether the wire is too thin to be bored for the pin."""
        return bool(self.overlap) and 0 < (self.wire - self.pin) / 2 < MIN_BORE_WALL

    @property
    def filed(self) -> bool:
        """Whether the pin is filed down to be the wire."""
        return not self.overlap and self.wire < self.pin - SAME

    @property
    def inside(self) -> float:
        """Length of the probe inside the guide, before any bend, m."""
        raise NotImplementedError

    @property
    def pin_length(self) -> float:
        """Length of the pin from the outer face of the wall, where the connector sits, m."""
        if not self.overlap:
            return self.wall + self.inside
        return self.wall + (self.overlap if self.wire > self.pin else 0.0)

    @property
    def insulator_length(self) -> float:
        """Length of the dielectric from the outer face of the wall, m."""
        return self.wall + self.dielectric

    @property
    def wire_length(self) -> float:
        """Length of the wire or tube soldered to the pin, m; 0 where the pin itself is the probe."""
        if not self.overlap:
            return 0.0
        return self.inside + (0.0 if self.wire > self.pin else self.overlap)

    def end_message(self) -> str:
        """How the end of the coax is prepared, a sentence."""
        thin = f"; file it down to {mm(self.wire)} over what stands inside" if self.filed else ""
        if self.stripped:
            bare = self.pin_length - self.insulator_length
            left = (
                f"{mm(bare)} of it are bare"
                if bare > SAME
                else "it ends flush with that"
                if bare > -SAME
                else f"it ends {mm(-bare)} inside that"
            )
            return (
                "Cable: take the outer conductor off over "
                f"{mm(max(self.pin_length, self.insulator_length))}; leave {mm(self.insulator_length)} of "
                f"the dielectric standing beyond it; inner conductor, {mm(self.pin)} thick: {left}{thin}."
            )
        rare = (
            ". Pins this long are rare; where yours is shorter, connector = 'stripped' has no such limit"
            if self.pin_length > LONG_PIN
            else ""
        )
        return (
            f"Connector's pin, {mm(self.pin)} thick: cut to {mm(self.pin_length)} from the face that sits on "
            f"the wall, its insulator to {mm(self.insulator_length)}{thin}{rare}."
        )

    def joint_message(self) -> str:
        """How wire and pin are joined, a sentence; empty where the pin is the wire."""
        if not self.overlap:
            return ""
        piece = f"Wire, {mm(self.wire)} thick, {mm(self.wire_length)} long"
        if self.lapped:
            how = f"file it and the {self.core} to half over {mm(self.overlap)}, lay them together, solder"
        elif self.wire > self.pin:
            how = (
                f"bore it {mm(self.overlap)} deep with {mm(self.pin)} to take the {self.core}; solder in the "
                "bore only"
            )
        else:
            how = (
                f"bore the end of the {self.core} {mm(self.overlap)} deep with {mm(self.wire)} to take it; "
                "solder in the bore only"
            )
        level = "the lower end of the wire" if self.wire > self.pin else f"the end of the {self.core}"
        bore = (
            f" Open the {self.insulator} to {mm(self.wire)} where it stands inside."
            if self.dielectric and self.wire > self.pin
            else ""
        )
        return f"{piece}: {how}; {level} lies level with the inner face of the wall.{bore}"


def joint_length(wire: float, pin: float, longest: float) -> float:
    """Length of the joint of wire and pin, m; 0 where the pin, filed down or not, is the wire.

    Parameters
    ----------
    wire, pin : diameters, m.
    longest : what the length of the wire leaves for it, m.
    """
    if abs(wire - pin) < SAME or 0 < (pin - wire) / 2 < MIN_PIN_WALL:
        return 0.0
    return min(OVERLAP * min(wire, pin), longest)


@dataclass(frozen=True)
class ScrewPattern:
    """Four holes at the corners of a square; m. `known`: whether it is that of a common flange."""

    spacing: float
    diameter: float
    known: bool


_FLANGES = {12.7: (8.64, 2.6), 17.5: (12.7, 3.2), 25.4: (18.26, 3.3)}
"""Side of a square flange, spacing of its four holes, clearance drill; mm. Common practice (memory): the
small, the middle and the large kind of panel connector. Makers differ: the list says to measure."""
_SAME_KIND = 0.4
"""Flanges whose sides differ by less are of one kind, mm."""
_USUAL = 0.70, 0.18
"""Spacing and drill over the side of a flange of no common kind: a guess between those above."""


def screw_pattern(side_mm: float) -> ScrewPattern:
    """Holes of a square flange of four screws.

    Examples
    --------
    >>> screw_pattern(12.7)
    ScrewPattern(spacing=0.00864, diameter=0.0026, known=True)
    """
    nearest = min(_FLANGES, key=lambda side: abs(side - side_mm))
    known = abs(nearest - side_mm) < _SAME_KIND
    spacing, drill = _FLANGES[nearest] if known else (share * side_mm for share in _USUAL)
    return ScrewPattern(round(spacing * MM, 9), round(drill * MM, 9), known)


def with_screws(part: Part, feed: CoaxFeed) -> Part:
    """A part with the screw holes of a panel connector, where the coax comes through it and they fit."""
    hole = next((each for each in part.openings if each.kind == "hole"), None)
    if hole is None or feed.connector != "panel" or feed.flange_mm is None:
        return part
    pattern, (u, v), metal = screw_pattern(feed.flange_mm), hole.centre, part.metal()
    half = pattern.spacing / 2
    screws = tuple(
        round_hole("screw", (u + i * half, v + j * half), pattern.diameter) for i in (-1, 1) for j in (-1, 1)
    )
    if not all(metal.contains(screw.path.polygon()) for screw in screws):
        return part
    side = feed.flange_mm * MM / 2
    flange = replace(rectangle_path(u - side, u + side, v - side, v + side, "note"), dashed=True)
    return replace(part, openings=(*part.openings, *screws), lands=(flange,))


def has_screws(parts: tuple[Part, ...]) -> bool:
    """Whether a part has screw holes."""
    return any(each.kind == "screw" for part in parts for each in part.openings)


def round_hole(kind: Literal["screw", "tip"], centre: Pair, diameter: float) -> Opening:
    """A round hole that is drilled, m."""
    return Opening(kind, 0, circle_path(centre, diameter), centre, diameter, diameter, "round")
