"""What lies on the antenna and stands around it, on the views: tape, wings, a pole, a wall, another; mm.

What stands far away would make the antenna a dot: it is drawn nearer then, or cut off, and the words say so.
"""

from __future__ import annotations

from collections.abc import Mapping

from shapely.affinity import affine_transform, rotate, scale, translate
from shapely.geometry import LineString, Point, Polygon, box
from shapely.geometry.base import BaseGeometry

from simharness.constants import MM
from simharness.geometry.scene import Scene
from simharness.geometry.solids import TAPE_PART
from simharness.page.drawing.elements import Dimension, Shape, View, Words, millimetres, path, rectangle
from simharness.records import Mast, Pair, Record, Wings
from simharness.records.mast import mast_section, outer_section, pole_centre, wing_section

_ROOM = 0.8
"""Size of the end view with what stands around, over the length of the front view: it is no wider then."""
_NEAREST = 0.4
"""Share of the room beside the antenna that a distance takes at most, beside something that is too large."""
_STUB = 0.12
"""How much of a second antenna beyond the far end is drawn, and how far away at most, over the length."""
_WALL = 0.04
"""Thickness of a wall as drawn, over that room: it has none of its own here."""
_LINE = 16.0
"""Pixels from one line of words to the next."""


def add_tape(drawn: Mapping[str, View], record: Record, scene: Scene) -> None:
    """Copper tape: patches on the front view, their edges on the section."""
    patches = [prism for prism in scene.prisms if prism.part == TAPE_PART]
    for i, (tape, patch) in enumerate(zip(record.tape, patches), 1):
        x0, x1, y0, y1, z0, z1 = (each / MM for each in patch.bounds())
        face = record.slots[tape.slot - 1].face
        hidden = "" if face == "front" else " hidden"
        drawn["front"].shapes[f"tape {i}"] = Shape(rectangle(z0, z1, -x1, -x0), f"tape{hidden}")
        v = -y1 if face == "front" else -y0
        drawn["side"].shapes[f"tape {i}"] = Shape(path([(z0, v), (z1, v)], False), "line tape")


def add_around(drawn: Mapping[str, View], record: Record) -> None:
    """Wings, a pole, a wall or a second antenna on the end view, and on the section where it is seen."""
    if record.wings is not None:
        _add_wings(drawn, record, record.wings)
    if record.mast is not None:
        _add_mast(drawn, record, record.mast)
    if record.pair is not None:
        _add_pair(drawn, record, record.pair)


def _add_wings(drawn: Mapping[str, View], record: Record, wings: Wings) -> None:
    """Both strips, on the end view and on the front view."""
    section, length = wing_section(record.guide, wings), record.guide.length / MM
    for i, sign in enumerate((1, -1), 1):
        seen = _seen(scale(section, xfact=sign, origin=(0.0, 0.0)))
        drawn["end"].shapes[f"wing {i}"] = Shape(_outline(seen), "wall")
        _reach(drawn["end"], seen)
        # +x is up on the front view, and to the right on the end view
        u0, _, u1, _ = seen.bounds
        drawn["front"].shapes[f"wing {i}"] = Shape(rectangle(0.0, length, -u1, -u0), "wall")
        _reach(drawn["front"], box(0.0, -u1, length, -u0))
    _, top, _, bottom = seen.bounds
    drawn["side"].shapes["wings"] = Shape(rectangle(0.0, length, top, bottom), "line hidden")
    _reach(drawn["side"], box(0.0, top, length, bottom))


def _room(drawn: Mapping[str, View], ux: float, uy: float) -> tuple[float, float]:
    """How far the end view may reach beyond the antenna in a direction (x, y), and how wide it may be."""
    u0, v0, u1, v1 = drawn["end"].body
    along = drawn["front"].body
    wide = max(_ROOM * (along[2] - along[0]), u1 - u0, v1 - v0)
    beside, behind = max(wide - (u1 - u0), (u1 - u0) / 2), max(wide - (v1 - v0), (u1 - u0) / 2)
    return min(beside / max(abs(ux), 1e-3), behind / max(abs(uy), 1e-3)), wide


def _add_mast(drawn: Mapping[str, View], record: Record, mast: Mast) -> None:
    guide, (ux, uy) = record.guide, mast.towards
    room, wide = _room(drawn, ux, uy)
    thick = mast.diameter_mm or _WALL * wide
    shown = min(mast.distance_mm, max(room - thick, _NEAREST * room))
    near = mast.model_copy(update={"distance_mm": shown})
    u0, v0, u1, v1 = drawn["end"].body
    middle = (u0 + u1) / 2, (v0 + v1) / 2
    body = box(u0, v0, u1, v1)
    window = translate(body, room * ux, -room * uy).union(body).union(Point(middle).buffer(wide / 2))
    section = mast_section(guide, near, wide / MM)
    if mast.shape == "wall":
        section = section.union(translate(section, ux * thick * MM, uy * thick * MM)).envelope
    outline = _seen(section).intersection(window.envelope)
    end = drawn["end"]
    end.shapes["beside"] = Shape(_outline(outline), "beside")
    _reach(end, outline)
    if mast.shape == "pole":
        x, y = (each / MM for each in pole_centre(guide, near))
        ray = LineString([middle, (x, -y)]).intersection(window.envelope)
        end.shapes["towards"] = Shape(path(ray.coords, False), "centre")
        size = f"pole, {millimetres(mast.diameter_mm or 0.0)} thick"
    else:
        size = "wall" if mast.width_mm is None else f"wall, {millimetres(mast.width_mm)} wide"
    nearer = ", drawn nearer" if shown < mast.distance_mm else ""
    _tell(end, size, f"{millimetres(mast.distance_mm)} clear, {mast.direction_deg:g} deg{nearer}")
    _add_behind(drawn["side"], outline)


def _add_behind(side: View, outline: BaseGeometry) -> None:
    """What runs along the antenna behind it or before it, on the section; beside it would hide that."""
    _, top, _, bottom = outline.bounds
    u0, v0, u1, v1 = side.body
    if top < v1 - 1e-6 and bottom > v0 + 1e-6:
        return
    side.shapes["beside"] = Shape(rectangle(u0, u1, top, bottom), "beside")
    side.reach(u0, top)
    side.reach(u0, bottom)


def _add_pair(drawn: Mapping[str, View], record: Record, pair: Pair) -> None:
    if pair.place == "above":
        _add_above(drawn["side"], pair)
        return
    end, side = drawn["end"], drawn["side"]
    room, _ = _room(drawn, *((1.0, 0.0) if pair.place == "beside" else (0.0, 1.0)))
    outer = _seen(outer_section(record.guide))
    u0, v0, u1, v1 = outer.bounds
    inner = _seen(_inner(record))
    if pair.place == "beside":
        shown = min(pair.distance_mm, max(room, 1.2 * (u1 - u0)))
        ring = translate(outer.difference(inner), shown, 0.0)
        words = f"{millimetres(pair.distance_mm)} from axis to axis"
    else:
        shown = min(pair.distance_mm, max(room - (v1 - v0), _NEAREST * room))
        ring = rotate(outer.difference(inner), 180, origin=((u0 + u1) / 2, v1 + shown / 2))
        words = f"{millimetres(pair.distance_mm)} from back to back"
        side.shapes["beside"] = Shape(rectangle(*side.body[::2], v1 + shown, 2 * v1 + shown - v0), "beside")
        side.reach(side.body[0], 2 * v1 + shown - v0)
    end.shapes["beside"] = Shape(_outline(ring), "beside")
    _reach(end, ring)
    nearer = ", drawn nearer" if shown < pair.distance_mm else ""
    _tell(end, "second antenna", f"{words}{nearer}")


def _add_above(side: View, pair: Pair) -> None:
    """The beginning of the second antenna beyond the far end."""
    u0, v0, u1, v1 = side.body
    stub = _STUB * (u1 - u0)
    shown = min(pair.distance_mm, stub)
    low, high, tooth = u1 + shown, u1 + shown + stub, (v1 - v0) / 8
    cut = [(high + (tooth / 2 if i % 2 else 0.0), v0 + i * tooth) for i in range(9)]
    side.shapes["beside"] = Shape(path([(low, v1), (low, v0), *cut]), "beside")
    side.reach(high + tooth / 2, v0)
    side.dimensions["apart"] = Dimension(millimetres(pair.distance_mm), "u", u1, low, v1, 1)
    _tell(
        side,
        "second antenna beyond the far end,",
        f"{millimetres(pair.distance_mm)} away{', drawn nearer' if shown < pair.distance_mm else ''}",
    )


def _inner(record: Record) -> Polygon:
    guide = record.guide
    if guide.shape == "round":
        return Point(0.0, -guide.diameter / 2).buffer(guide.diameter / 2, quad_segs=64)
    return box(-guide.width / 2, -guide.height, guide.width / 2, 0.0)


def _seen(section: BaseGeometry) -> BaseGeometry:
    """A section (x, y) in m as the end view has it, mm."""
    return affine_transform(section, [1 / MM, 0, 0, -1 / MM, 0, 0])


def _outline(shape: BaseGeometry) -> str:
    if shape.is_empty:
        return ""
    rings = [shape.exterior, *shape.interiors] if isinstance(shape, Polygon) else []
    return "".join(path(list(ring.coords)[:-1]) for ring in rings)


def _reach(view: View, shape: BaseGeometry) -> None:
    u0, v0, u1, v1 = shape.bounds
    view.reach(u0, v0)
    view.reach(u1, v1)


def _tell(view: View, *lines: str) -> None:
    """Words under a view."""
    u0, _, _, v1 = view.box
    left, above, right, _ = view.pads
    for i, line in enumerate(lines, 1):
        view.words[f"beside {i}"] = Words(line, (u0, v1), "start", (12.0 - left, _LINE * (i + 0.5)))
    view.pads = left, above, right, _LINE * (len(lines) + 1.5)
