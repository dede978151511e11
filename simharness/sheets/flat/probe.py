"""The probe as a part: what to cut off where, so that wire and pin stand as in the solver's model."""

from __future__ import annotations

from dataclasses import dataclass

from simharness.records import Probe, Record

OVERLAP = 2.0
"""Length of the joint of pin and wire, in diameters of the thinner one; common practice, no source."""
SAME = 1e-7
"""Diameters that differ by less need no joint, m."""
MIN_BORE_WALL = 0.3e-3
"""Metal that a wire bored for a pin must keep around it, m; where it would be less, both are filed to half and lapped; a judgement."""
MIN_PIN_WALL = 0.2e-3
"""The same of a pin bored for a wire; where it would be less, the pin is filed down to the wire's thickness; a judgement."""
LONG_PIN = 20e-3
"""Pins of panel connectors are rarely longer, m; common practice, no source."""


def mm(length: float) -> str:
    """A length in m as it is written in sentences."""
    return f"{length * 1e3:.2f} mm"


class JoinedWire:
    """Pin of the connector, or inner conductor of the cable, and the wire soldered to it.

    `wall`, `wire`, `pin`, `overlap`, `stripped`, `dielectric` and `inside` are as `ProbePart` has them.
    """

    wall: float
    wire: float
    pin: float
    overlap: float
    stripped: bool
    dielectric: float

    @property
    def core(self) -> str:
        """What the pin is called."""
        return "inner conductor" if self.stripped else "pin"

    @property
    def insulator(self) -> str:
        """What lies around it."""
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
        """Of the pin from the outer face of the wall, where the connector sits, m."""
        if not self.overlap:
            return self.wall + self.inside
        return self.wall + (self.overlap if self.wire > self.pin else 0.0)

    @property
    def insulator_length(self) -> float:
        """Of the dielectric from the outer face of the wall, m."""
        return self.wall + self.dielectric

    @property
    def wire_length(self) -> float:
        """Of the piece of wire or tube soldered to the pin, m; 0 where the pin itself is the probe."""
        if not self.overlap:
            return 0.0
        return self.inside + (0.0 if self.wire > self.pin else self.overlap)

    def end_words(self) -> str:
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
                f"Cable: take the outer conductor off over {mm(max(self.pin_length, self.insulator_length))}; leave {mm(self.insulator_length)} of "
                f"the dielectric standing beyond it; inner conductor, {mm(self.pin)} thick: {left}{thin}."
            )
        rare = (
            ". Pins this long are rare; where yours is shorter, connector = 'stripped' has no such limit"
            if self.pin_length > LONG_PIN
            else ""
        )
        return (
            f"Connector's pin, {mm(self.pin)} thick: cut to {mm(self.pin_length)} from the face that sits on the wall, its insulator to "
            f"{mm(self.insulator_length)}{thin}{rare}."
        )

    def joint_words(self) -> str:
        """How wire and pin become one, a sentence; empty where the pin is the wire."""
        if not self.overlap:
            return ""
        piece = f"Wire, {mm(self.wire)} thick, {mm(self.wire_length)} long"
        if self.lapped:
            how = f"file it and the {self.core} to half over {mm(self.overlap)}, lay them together, solder"
        elif self.wire > self.pin:
            how = f"bore it {mm(self.overlap)} deep with {mm(self.pin)} to take the {self.core}; solder in the bore only"
        else:
            how = f"bore the end of the {self.core} {mm(self.overlap)} deep with {mm(self.wire)} to take it; solder in the bore only"
        level = "the lower end of the wire" if self.wire > self.pin else f"the end of the {self.core}"
        bore = (
            f" Open the {self.insulator} to {mm(self.wire)} where it stands inside."
            if self.dielectric and self.wire > self.pin
            else ""
        )
        return f"{piece}: {how}; {level} lies level with the inner face of the wall.{bore}"


def joint_length(wire: float, pin: float, most: float, overlap: float | None = None) -> float:
    """Length of the joint of wire and pin, m; 0 where the pin, filed down or not, is the wire.

    Parameters
    ----------
    wire, pin : diameters, m.
    most : what the wire's length leaves for it, m.
    overlap : what is asked for, m; None: `OVERLAP` diameters.
    """
    if abs(wire - pin) < SAME or 0 < (pin - wire) / 2 < MIN_PIN_WALL:
        return 0.0
    return min(OVERLAP * min(wire, pin) if overlap is None else overlap, most)


@dataclass(frozen=True)
class ProbePart(JoinedWire):
    """Lengths and diameters of the probe, m.

    Attributes
    ----------
    height : tip over the inner face of the wall.
    wall : thickness of the wall that it comes through.
    wire, pin, hole : diameters of wire, pin in the wall and hole in the wall.
    overlap : length of the soldered joint; 0 where pin and wire are of one diameter.
    wall_name : 'back' or 'front'.
    stripped : whether the coax is a cable without connector.
    dielectric : how far its dielectric stands over the inner face.
    """

    height: float
    wall: float
    wire: float
    pin: float
    hole: float
    overlap: float
    wall_name: str
    stripped: bool = False
    dielectric: float = 0.0

    @property
    def inside(self) -> float:
        """Length of the probe inside the guide, m."""
        return self.height

    def words(self) -> tuple[str, ...]:
        """How it is made, a sentence each."""
        first = f"Tip {mm(self.height)} over the inner face of the {self.wall_name} wall, {mm(self.height + self.wall)} over its outer face."
        return tuple(words for words in (first, self.end_words(), self.joint_words()) if words)


def probe_part(record: Record, overlap: float | None = None) -> ProbePart | None:
    """The probe of a record, or None if it has none.

    Parameters
    ----------
    overlap : length of the joint of pin and wire, m; None: `OVERLAP` diameters.
    """
    feed = record.feed
    if not isinstance(feed, Probe):
        return None
    wall = record.guide.thickness_mm(feed.wall)
    wire, pin = feed.wire_diameter, feed.coax_inner
    # A bored wire must keep metal over its bore.
    joint = joint_length(wire, pin, 0.5e-3 * feed.height_mm, overlap)
    return ProbePart(
        feed.height,
        wall * 1e-3,
        wire,
        pin,
        feed.coax_outer,
        joint,
        feed.wall,
        feed.connector == "stripped",
        feed.dielectric,
    )
