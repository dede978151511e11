"""Wings, a pole, a wall or a second antenna beside the antenna, as far as the full wave holds them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace

from shapely import affinity

from simharness.constants import C0
from simharness.geometry.pieces import Pieces
from simharness.geometry.scene import CoaxPort, Feature, Port
from simharness.geometry.solids import METAL, Outline, Prism, SlantedStrip, rectangle
from simharness.records import Record
from simharness.records.mast import mast_section, outer_section, wall_place, wing_section

BEYOND = 0.5
"""How far the pole or the wall goes beyond both ends of the antenna, in wavelengths: from there on what it
does to a cut across the antenna no longer changes by as much as the mesh does. It ends inside the recording
box, through which no metal may pass."""

WALL_ASIDE = 1.5
"""How far a wall of no stated width goes beyond the antenna to either side, in wavelengths."""


WINGS = ("right wing", "left wing")
"""Names of the strips beside the slotted face, towards +x and -x."""
_EDGE_CELL = 1 / 40
"""Cells at the free edge of a wing, and all over one that stands aslant, in wavelengths at most."""


def wing_pieces(record: Record) -> Iterator[Pieces]:
    """The wings of a record, as long as the guide inside with its load."""
    wings, guide = record.wings, record.guide
    if wings is None:
        return
    z0, z1 = 0.0, guide.length + guide.load
    section, cell = wing_section(guide, wings), _EDGE_CELL * C0 / record.band.centre
    x0, _, x1, _ = section.bounds
    front = guide.thickness("front")
    for part, sign in zip(WINGS, (1, -1)):
        low, high = sorted((sign * x0, sign * x1))
        edge = sign * x1
        if not wings.angle_deg:
            flat = Prism(part, METAL, 1, 0.0, front, rectangle(low, high, z0, z1))
            yield Pieces((flat,), (Feature("wing edge", 0, edge, edge, scale=cell),))
            continue
        strip = SlantedStrip(
            part,
            METAL,
            2,
            z0,
            z1,
            Outline.of(affinity.scale(section, xfact=sign, origin=(0.0, 0.0))),
            foot=(sign * (guide.width / 2 + guide.thickness("side")), front),
            width=wings.width,
            angle=wings.angle,
            thickness=front,
        )
        (u0, v0), (u1, v1) = strip.foot, strip.tip
        yield Pieces(
            (strip,),
            (
                Feature("wing", 0, min(u0, u1), max(u0, u1), scale=cell, soft=True),
                Feature("wing", 1, min(v0, v1), max(v0, v1), scale=cell, soft=True),
            ),
        )


def mast_pieces(record: Record, near: float, far: float) -> Pieces:
    """The pole or the wall of a record; `near`, `far` the lengths of guide beyond its ends, m."""
    mast, guide, wave = record.mast, record.guide, C0 / record.band.centre
    assert mast is not None
    plate, beyond = guide.thickness("near"), BEYOND * wave
    z0, z1 = -near - plate - beyond, guide.length + far + plate + beyond
    ends = Feature("mast end", 2, z0, z0, soft=True), Feature("mast end", 2, z1, z1, soft=True)
    if mast.shape == "pole":
        section = mast_section(guide, mast)
        x0, y0, x1, y1 = section.bounds
        prism = Prism("pole", METAL, 2, z0, z1, Outline.of(section))
        return Pieces(
            (prism,), (Feature("pole", 0, x0, x1, soft=True), Feature("pole", 1, y0, y1, soft=True), *ends)
        )
    axis, place = wall_place(guide, mast)
    across = outer_section(guide).bounds
    half = (across[3] - across[1] if axis == 0 else across[2] - across[0]) / 2 + WALL_ASIDE * wave
    u0, v0, u1, v1 = mast_section(guide, mast, half).bounds
    part, low, high = ("wall beside", v0, v1) if axis == 0 else ("wall behind", u0, u1)
    return Pieces(
        (Prism(part, METAL, axis, place, place, rectangle(low, high, z0, z1)),),
        (
            Feature("mast face", axis, place, place),
            Feature("mast side", 1 - axis, low, high, soft=True),
            *ends,
        ),
    )


SECOND = "second "
"""Before the names of the parts of the second antenna, and of its materials that follow the mesh."""


@dataclass(frozen=True)
class Move:
    """A shift along each axis, m, and before it half a turn about the z axis where `turned`."""

    shift: tuple[float, float, float]
    turned: bool = False

    def sign(self, axis: int) -> int:
        """-1 on the axes that the turn mirrors."""
        return -1 if self.turned and axis < 2 else 1

    def place(self, axis: int, value: float) -> float:
        """A coordinate after the move."""
        return self.sign(axis) * value + self.shift[axis]

    def span(self, axis: int, low: float, high: float) -> tuple[float, float]:
        """An interval after the move, its lower end first."""
        first, last = sorted((self.place(axis, low), self.place(axis, high)))
        return first, last


def pair_move(record: Record) -> Move:
    """From the first antenna to the second."""
    pair, guide = record.pair, record.guide
    assert pair is not None
    if pair.place == "beside":
        return Move((pair.distance, 0.0, 0.0))
    if pair.place == "above":
        ends = guide.thickness("near") + guide.thickness("far")
        return Move((0.0, 0.0, guide.length + guide.load + ends + pair.distance))
    return Move((0.0, 2 * outer_section(guide).bounds[1] - pair.distance, 0.0), turned=True)


def second_antenna(record: Record, first: Iterable[Pieces]) -> Iterator[Pieces]:
    """The pieces of the second antenna; `first` are those of the first."""
    move = pair_move(record)
    assert record.pair is not None
    drive = 0.0 if record.pair.fed == "alone" else -1.0 if move.turned else 1.0
    for piece in first:
        port = None if piece.port is None else _moved_port(piece.port, move, drive)
        yield Pieces(
            tuple(_moved(prism, move) for prism in piece.prisms),
            tuple(_moved_feature(feature, move) for feature in piece.features),
            port,
        )


def _moved(prism: Prism, move: Move) -> Prism:
    low, high = move.span(prism.axis, prism.low, prism.high)
    material = prism.material
    if material.name == "coax filling":
        material = replace(material, name=SECOND + material.name)
    return replace(
        prism,
        part=SECOND + prism.part,
        material=material,
        low=low,
        high=high,
        outline=_moved_outline(prism.outline, prism.axis, move),
        meshed=None if prism.meshed is None else _moved_outline(prism.meshed, prism.axis, move),
    )


def _moved_outline(outline: Outline, axis: int, move: Move) -> Outline:
    first, second = (i for i in range(3) if i != axis)
    polygon = outline.polygon()
    matrix = [move.sign(first), 0, 0, move.sign(second), move.shift[first], move.shift[second]]
    return Outline.of(affinity.affine_transform(polygon, matrix))


def _moved_feature(feature: Feature, move: Move) -> Feature:
    low, high = move.span(feature.axis, feature.low, feature.high)
    return replace(feature, low=low, high=high, outward=move.sign(feature.axis) * feature.outward)


def _moved_port(port: Port, move: Move, drive: float) -> CoaxPort:
    assert isinstance(port, CoaxPort)
    return replace(
        port,
        x=move.place(0, port.x),
        y=move.place(1, port.y),
        z=move.place(2, port.z),
        reference=move.place(port.axis, port.reference),
        direction=move.sign(port.axis) * port.direction,
        drive=drive,
    )


def unsolvable(record: Record, feed: str = "coax") -> tuple[str, object, str] | None:
    """What of a pair the full wave does not hold: field, value, why; None: nothing. `feed` as of
    `antenna_scene`."""
    pair, guide = record.pair, record.guide
    if pair is None:
        return None
    if feed != "coax":
        return "feed", feed, "a pair is solved with its coax lines; must be 'coax'"
    if guide.shape == "round" and pair.place != "above":
        return "pair.place", pair.place, "of two round tubes the full wave holds those above each other only"
    if guide.substrate is not None or guide.load:
        what = "a substrate" if guide.substrate is not None else "an absorber"
        return "pair", pair.place, f"the full wave of a pair does not count the heat in {what}"
    if any(slot.off_grid for slot in record.slots):
        return "pair", pair.place, "the full wave holds pairs of antennas with straight slots only"
    return None
