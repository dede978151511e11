"""What the views ask of each shape of guide: its walls in front, in section and in the end, and its size."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any, Protocol

from shapely.geometry import Polygon

from simharness.constants import MM
from simharness.geometry import front_outline
from simharness.geometry.scene import Scene
from simharness.geometry.solids import COVERS, SUBSTRATE
from simharness.page.drawing.elements import (
    Dimension,
    Handle,
    Pair,
    Shape,
    View,
    circle,
    millimetres,
    path,
    record_move,
    rectangle,
)
from simharness.records import Record, Slot
from simharness.sheets.flat.walls import closed_ends, inside, wall


class ViewedShape(Protocol):
    """A guide of one shape on the views, mm; y is drawn downwards as -y.

    Attributes
    ----------
    widest_offset_mm : of a slot.
    bend_mm : radius of the wall on which offsets of slots are arcs; None where it is flat.
    probe_aside : whether a probe may stand beside the centre line.
    """

    widest_offset_mm: float
    bend_mm: float | None
    probe_aside: bool

    def __init__(self, record: Record, scene: Scene): ...

    def outside(self) -> tuple[Pair, Pair]:
        """Lowest and highest x, and y, of the walls outside."""
        ...

    def across(self, offset_mm: float) -> float:
        """x of an offset as seen from the front."""
        ...

    def section(self) -> Iterator[tuple[str, Shape]]:
        """Walls along the guide on the side view."""
        ...

    def cross(self, view: View) -> None:
        """Walls, slots, size and handles of the end view."""
        ...

    def opening(self, slot: Slot) -> tuple[Shape, ...]:
        """A slot on the side view: what is open, where that is cut, and its edges."""
        ...

    @property
    def spans(self) -> tuple[Pair, Pair]:
        """Inner z from end to end as built, and outer z, mm."""
        ...


class _Ends:
    """The ends of a guide as it is built: plates where it is closed, and the edge where it is a port."""

    def __init__(self, record: Record, scene: Scene):
        self.record, self.scene = record, scene
        *_, z0, z1 = inside(scene)
        plate = wall(scene, "near end")
        thick, closed = plate.high - plate.low, closed_ends(scene)
        self.inner = z0 / MM, z1 / MM
        self.outer = (z0 - thick * ("near" in closed)) / MM, (z1 + thick * ("far" in closed)) / MM
        self.closed = closed

    @property
    def spans(self) -> tuple[Pair, Pair]:
        """Inner z from end to end as built, and outer z, mm."""
        return self.inner, self.outer

    def plates(self, y0: float, y1: float) -> Iterator[tuple[str, Shape]]:
        """End plates on the side view, between two y in mm."""
        for end, (low, high) in (
            ("near", (self.outer[0], self.inner[0])),
            ("far", (self.inner[1], self.outer[1])),
        ):
            if end in self.closed:
                yield f"{end} end", Shape(rectangle(low, high, -y1, -y0), "metal")


class RectangularViews(_Ends):
    """Answers `ViewedShape` for a rectangular guide."""

    bend_mm = None
    probe_aside = True

    def __init__(self, record: Record, scene: Scene):
        super().__init__(record, scene)
        self.widest_offset_mm = record.guide.width_mm / 2
        names = ("back wall", "left side wall", "right side wall", "front wall", SUBSTRATE, *COVERS.values())
        self.walls: dict[str, tuple[float, ...]] = {
            prism.part: tuple(each / MM for each in prism.bounds())
            for prism in scene.prisms
            if prism.part in names
        }

    def across(self, offset_mm: float) -> float:
        """The offset itself."""
        return offset_mm

    def outside(self) -> tuple[Pair, Pair]:
        """The box around the walls and the substrate."""
        boxes = self.walls.values()
        x0, x1, y0, y1 = ((min if i % 2 == 0 else max)(box[i] for box in boxes) for i in range(4))
        return (x0, x1), (y0, y1)

    def section(self) -> Iterator[tuple[str, Shape]]:
        """Back and front wall cut along the middle, end plates, substrate, cover."""
        for name, (_, _, y0, y1, z0, z1) in self.walls.items():
            if "side" not in name:
                low, high = (z0, z1) if name in COVERS.values() else self.outer
                yield name, Shape(rectangle(low, high, -y1, -y0), _material(name))
        yield from self.plates(self.walls["back wall"][2], self.walls["front wall"][3])

    def opening(self, slot: Slot) -> tuple[Shape, ...]:
        """From face to face of its wall, and as long as it reaches along the guide."""
        z0, z1 = _reach(self.record, slot)
        v0, v1 = self._levels(slot)
        return _gap((z0, v0), (z0, v1), (z1, v1), (z1, v0))

    def _levels(self, slot: Slot) -> Pair:
        """v of the faces of the wall that a slot is in; of a routed laminate, those of the substrate."""
        boxes, laminate = [self.walls[f"{slot.face} wall"]], self.record.guide.laminate
        if slot.face == "front" and SUBSTRATE in self.walls and laminate and laminate.slots == "routed":
            boxes.append(self.walls[SUBSTRATE])
        return -max(box[3] for box in boxes), -min(box[2] for box in boxes)

    def cross(self, view: View) -> None:
        """Walls across, every slot as it opens its wall, a and b."""
        for name, (x0, x1, y0, y1, _, _) in self.walls.items():
            view.shapes[name] = Shape(rectangle(x0, x1, -y1, -y0), _material(name))
        for i, slot in enumerate(self.record.slots, 1):
            x0, _, x1, _ = (each / MM for each in front_outline(self.record.guide, slot).bounds)
            v0, v1 = self._levels(slot)
            gap, edges = _gap((x0, v0), (x0, v1), (x1, v1), (x1, v0))
            view.shapes |= {f"slot {i}": gap, f"edges {i}": edges}
        a, b = self.record.guide.width_mm, self.record.guide.height_mm
        (_, right), (_, high) = self.outside()
        view.dimensions["a"] = Dimension(millimetres(a), "u", -a / 2, a / 2, -high, -1)
        view.dimensions["b"] = Dimension(millimetres(b), "v", 0.0, b, -right, -1)
        half = record_move(
            self.record, "guide.a_mm", "u", 0.5, "inner broad dimension", "width", (1.0, 500.0)
        )
        deep = record_move(
            self.record, "guide.b_mm", "v", 1.0, "inner narrow dimension", "height", (0.5, 500.0)
        )
        view.handles["a"] = Handle((a / 2, b / 2), "inner side of the right wall", (half,))
        view.handles["b"] = Handle((0.3 * a, b), "inner side of the back wall", (deep,))


class RoundViews(_Ends):
    """Answers `ViewedShape` for a round tube."""

    probe_aside = False

    def __init__(self, record: Record, scene: Scene):
        super().__init__(record, scene)
        self.inner_mm = record.guide.width_mm / 2
        self.outer_mm = self.inner_mm + record.guide.thickness_mm("front")
        self.bend_mm = self.outer_mm
        self.widest_offset_mm = math.pi / 2 * self.outer_mm

    def across(self, offset_mm: float) -> float:
        """The offset is an arc on the outer surface."""
        return self.outer_mm * math.sin(offset_mm / self.outer_mm)

    def outside(self) -> tuple[Pair, Pair]:
        """The box around the tube."""
        r = self.outer_mm
        return (-r, r), (-self.inner_mm - r, r - self.inner_mm)

    def section(self) -> Iterator[tuple[str, Shape]]:
        """The tube cut along its front and back line, end plates."""
        wall_mm, depth = self.outer_mm - self.inner_mm, 2 * self.inner_mm
        yield "front wall", Shape(rectangle(*self.outer, -wall_mm, 0.0), "metal")
        yield "back wall", Shape(rectangle(*self.outer, depth, depth + wall_mm), "metal")
        yield from self.plates(*self.outside()[1])

    def opening(self, slot: Slot) -> tuple[Shape, ...]:
        """Its edge on the outer surface, seen from the side."""
        z0, z1 = _reach(self.record, slot)
        angles = [(slot.offset_mm + s * slot.width_mm / 2) / self.outer_mm for s in (-1, 1)]
        levels = sorted(self.inner_mm - self.outer_mm * math.cos(angle) for angle in angles)
        return (Shape(rectangle(z0, z1, levels[0], levels[1]), "line"),)

    def cross(self, view: View) -> None:
        """The ring, its slots as they open it, the diameter."""
        r, ring = self.inner_mm, 2 * self.outer_mm
        view.shapes["tube"] = Shape(circle((0.0, r), ring) + circle((0.0, r), 2 * r), "metal")
        for i, slot in enumerate(self.record.slots, 1):
            gap, edges = self._gap(slot)
            view.shapes |= {f"slot {i}": gap, f"edges {i}": edges}
        view.dimensions["diameter"] = Dimension(millimetres(2 * r), "u", -r, r, r - self.outer_mm, -1)
        name, label = "guide.diameter_mm", "inner diameter"
        wide = record_move(self.record, name, "u", 0.5, label, "diameter", (1.0, 500.0))
        deep = record_move(self.record, name, "v", 1.0, label, "diameter", (1.0, 500.0))
        view.handles["diameter"] = Handle((r, r), "inner side of the tube", (wide,))
        view.handles["depth"] = Handle((0.0, 2 * r), "inner side of the tube at the back", (deep,), tab=False)

    def _gap(self, slot: Slot) -> tuple[Shape, Shape]:
        """A slot across: between parallel sides that are radii in the middle of the wall."""
        middle = slot.offset_mm / self.outer_mm
        half = slot.width_mm / (self.inner_mm + self.outer_mm)
        corners = ((self.inner_mm, -1), (self.outer_mm, -1), (self.outer_mm, 1), (self.inner_mm, 1))
        angles = [(radius, middle + side * half) for radius, side in corners]
        first, second, third, fourth = (
            (radius * math.sin(angle), self.inner_mm - radius * math.cos(angle)) for radius, angle in angles
        )
        return _gap(first, second, third, fourth)


def _gap(first: Pair, second: Pair, third: Pair, fourth: Pair) -> tuple[Shape, Shape]:
    """What a slot opens of a wall in section, and its two edges, from corner to corner."""
    edges = path([first, second], False) + path([third, fourth], False)
    return Shape(path([first, second, third, fourth]), "gap"), Shape(edges, "line")


def _material(name: str) -> str:
    return "substrate" if name in (SUBSTRATE, *COVERS.values()) else "metal"


def _reach(record: Record, slot: Slot) -> Pair:
    """Lowest and highest z of a slot, mm."""
    outline: Polygon = front_outline(record.guide, slot)
    _, z0, _, z1 = outline.bounds
    return z0 / MM, z1 / MM


_SHAPES: dict[str, Any] = {"rectangular": RectangularViews, "round": RoundViews}


def viewed_shape(record: Record, scene: Scene) -> ViewedShape:
    """The views of a guide by its shape."""
    found: ViewedShape = _SHAPES[record.guide.shape](record, scene)
    return found
