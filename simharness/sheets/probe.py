"""The probe as a part: what to cut off where, so that wire and pin stand as in the solver's model."""

from __future__ import annotations

from dataclasses import dataclass

from simharness.records import Probe, Record

OVERLAP = 2.0
"""Length of the joint of pin and wire, in diameters of the thinner one; common practice, no source."""
SAME = 1e-7
"""Diameters that differ by less need no joint, m."""


class JoinedWire:
    """Pin of the connector and the wire soldered to it: `wall`, `wire`, `pin`, `overlap` and `inside` as `ProbePart` has them, m."""

    wall: float
    wire: float
    pin: float
    overlap: float

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
    def wire_length(self) -> float:
        """Of the piece of wire or tube soldered to the pin, m; 0 where the pin itself is the probe."""
        if not self.overlap:
            return 0.0
        return self.inside + (0.0 if self.wire > self.pin else self.overlap)


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
    """

    height: float
    wall: float
    wire: float
    pin: float
    hole: float
    overlap: float
    wall_name: str

    @property
    def inside(self) -> float:
        """Length of the probe inside the guide, m."""
        return self.height

    def words(self) -> tuple[str, ...]:
        """How it is made, a sentence each."""
        mm = lambda length: f"{length * 1e3:.2f} mm"  # noqa: E731 - one number as it is written here
        first = f"Tip {mm(self.height)} over the inner face of the {self.wall_name} wall, {mm(self.height + self.wall)} over its outer face."
        if not self.overlap:
            return first, f"The connector's own pin, {mm(self.pin)} thick, cut to {mm(self.pin_length)} from the connector's face."
        pin = f"Connector's pin, {mm(self.pin)} thick: cut to {mm(self.pin_length)} from the connector's face."
        if self.wire > self.pin:
            return first, pin, (
                f"Wire or tube, {mm(self.wire)} thick, {mm(self.wire_length)} long: bore {mm(self.overlap)} deep to take the pin; "
                f"its lower end is level with the inner face; solder in the bore only."
            )
        return first, pin, (
            f"Wire, {mm(self.wire)} thick, {mm(self.wire_length)} long: {mm(self.overlap)} of it in a bore in the pin's end, soldered; "
            f"the pin ends level with the inner face."
        )


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
    wire, pin = feed.wire_diameter_mm * 1e-3, feed.coax_inner_mm * 1e-3
    joint = OVERLAP * min(wire, pin) if overlap is None else overlap
    # A bored wire must keep metal over its bore.
    joint = 0.0 if abs(wire - pin) < SAME else min(joint, 0.5e-3 * feed.height_mm)
    return ProbePart(feed.height_mm * 1e-3, wall * 1e-3, wire, pin, feed.coax_outer_mm * 1e-3, joint, feed.wall)
