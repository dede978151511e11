"""Front, side and end of the antenna, true to scale, with what can be grabbed in them; mm.

The front view looks at the slotted wall with the near end on the left; positive offsets are above the centre
line. The side view below it is the section along the middle, and the end view beside that is seen from the
far end: front wall above in both.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from simharness.geometry import antenna_scene
from simharness.geometry.solids import FAR_LOAD
from simharness.page.drawing.around import add_around, add_tape
from simharness.page.drawing.elements import (
    Dimension,
    Handle,
    Pair,
    Shape,
    View,
    Words,
    millimetres,
    path,
    plain,
    record_move,
    rectangle,
)
from simharness.page.drawing.feeds import ViewedFeed, viewed_feed
from simharness.page.drawing.shapes import ViewedShape, viewed_shape
from simharness.page.drawing.slots import add_front, slot_fields
from simharness.records import Record

_PLAIN = ("label", "box", "body", "pads")
_PARTS = ("shapes", "dimensions", "words", "handles")
_WORD_GAP = 8.0
"""Pixels between an end and what is written beside it."""


def views(record: Record) -> dict[str, dict[str, Any]]:
    """The three views of a record, 'front', 'side' and 'end', as plain values; see `elements`."""
    scene = antenna_scene(record)
    shape = viewed_shape(record, scene)
    feed = viewed_feed(record, shape.probe_aside)
    found = {
        "front": _front(record, shape, feed),
        "side": _side(record, shape, feed),
        "end": _end(record, shape, feed),
    }
    add_tape(found, record, scene)
    add_around(found, record)
    return {name: plain(view) for name, view in found.items()}


def overall_size(drawn: Mapping[str, Any]) -> tuple[float, float, float]:
    """Length, width and height outside, mm, of what `views` has drawn, without what sits on the walls."""
    u0, v0, u1, v1 = drawn["front"]["body"]
    _, top, _, bottom = drawn["side"]["body"]
    return u1 - u0, v1 - v0, bottom - top


def caption(drawn: Mapping[str, Any]) -> str:
    """The overall size of what `views` has drawn, as a sentence."""
    length, width, height = (f"{round(each, 2):g}" for each in overall_size(drawn))
    return f"Outside {length} x {width} x {height} mm: length, width, height, without connector."


def difference(old: Mapping[str, Any], new: Mapping[str, Any]) -> dict[str, Any]:
    """What must be sent of new views to a browser that shows old ones.

    A view has its `label`, `box`, `body` and `pads`, and of each part only what has changed; where names
    came or went, the part is whole and named in `whole`.
    """
    changes = {}
    for name, view in new.items():
        before = old[name]
        if view == before:
            continue
        change: dict[str, Any] = {key: view[key] for key in _PLAIN}
        change["whole"] = [part for part in _PARTS if list(view[part]) != list(before[part])]
        for part in _PARTS:
            change[part] = {
                key: value
                for key, value in view[part].items()
                if part in change["whole"] or before[part][key] != value
            }
        changes[name] = change
    return changes


def _front(record: Record, shape: ViewedShape, feed: ViewedFeed) -> View:
    (x0, x1), _ = shape.outside()
    inner, outer = shape.spans
    box = outer[0], -x1, outer[1], -x0
    view = View("Front view: the slotted wall, near end on the left", box, box, (12, 36, 12, 46))
    view.shapes["outside"] = Shape(rectangle(*outer, -x1, -x0), "metal")
    for end, at in (("near", inner[0]), ("far", inner[1])):
        view.shapes[f"inside of the {end} end"] = Shape(path([(at, -x1), (at, -x0)], False), "line hidden")
    view.shapes["centre line"] = Shape(path([(outer[0], 0.0), (outer[1], 0.0)], False), "centre")
    add_front(view, record, shape)
    feed.front(view)
    view.handles["length"] = _length_handle(record, -x0 - 0.15 * (x1 - x0), True)
    length = record.guide.length_mm
    view.dimensions["length"] = Dimension(millimetres(length), "u", 0.0, length, -x0, 1)
    places = [slot.position_mm for slot in record.slots if slot.face == "front"]
    for i, (low, high) in enumerate(zip([0.0, *places], places[:2]), 1):
        view.dimensions[f"place {i}"] = Dimension(millimetres(high - low), "u", low, high, -x1, -1)
    below = 0.0, 36.0
    view.words["near"] = Words("near end", (outer[0], -x0), "start", below)
    view.words["far"] = Words("far end", (outer[1], -x0), "end", below)
    return view


def _length_handle(record: Record, v: float, tab: bool) -> Handle:
    guide = record.guide
    label = "inner length of the guide, from end to end"
    move = record_move(record, "guide.length_mm", "u", 1.0, label, "length", (1.0, 5000.0))
    name = "far end" if guide.far_end != "load" else "start of the absorber"
    return Handle((guide.length_mm, v), name, (move,), tab=tab)


def _side(record: Record, shape: ViewedShape, feed: ViewedFeed) -> View:
    _, (y0, y1) = shape.outside()
    inner, outer = shape.spans
    guide = record.guide
    box = outer[0], -y1, outer[1], -y0
    view = View("Side view: section along the middle", box, box, (12, 12, 12, 12))
    if guide.far_end == "load":
        _add_load(view, record, inner)
    view.shapes |= dict(shape.section())
    for each in slot_fields(record):
        for i, piece in enumerate(shape.opening(each.slot)):
            view.shapes[f"{each.key}/{i}"] = piece
    feed.side(view)
    view.handles["length"] = _length_handle(record, guide.height_mm / 2, False)
    middle = guide.height_mm / 2
    if guide.near_end == "port":
        view.words["near"] = Words("port", (inner[0], middle), "start", (_WORD_GAP, 0.0))
    if guide.far_end == "port":
        view.words["far"] = Words("port", (inner[1], middle), "end", (-3 * _WORD_GAP, 0.0))
    return view


def _add_load(view: View, record: Record, inner: Pair) -> None:
    """The absorber, and its length."""
    guide = record.guide
    start, end = guide.length_mm, inner[1]
    view.shapes[FAR_LOAD] = Shape(rectangle(start, end, 0.0, guide.height_mm), "absorber")
    view.words["absorber"] = Words("absorber", ((start + end) / 2, guide.height_mm / 2), room=end - start)
    label = "length of the absorber beyond the full length"
    if guide.load_mm is not None:
        move = record_move(record, "guide.load_mm", "u", 1.0, label, "absorber", (0.1, 5000.0))
        view.handles["load"] = Handle((end, 0.75 * guide.height_mm), "end of the absorber", (move,))


def _end(record: Record, shape: ViewedShape, feed: ViewedFeed) -> View:
    (x0, x1), (y0, y1) = shape.outside()
    box = x0, -y1, x1, -y0
    view = View("End view: seen from the far end", box, box, (100, 36, 16, 12))
    shape.cross(view)
    feed.end(view)
    return view
