"""What the views ask of each kind of feed: coax and wire on every view, and what they are grabbed by."""

from __future__ import annotations

from typing import Any, Protocol

from simharness.constants import MM
from simharness.geometry.feeds import BentFeed, StraightFeed
from simharness.page.drawing.elements import (
    Axis,
    Dimension,
    Handle,
    Move,
    Pair,
    Shape,
    View,
    circle,
    millimetres,
    record_move,
    rectangle,
)
from simharness.records import Record

_STUB = 2.2
"""Length of coax drawn behind its wall, in diameters of its outer conductor: as long as the solved one."""
_GROUP = ("bore", "dielectric", "pin", "wire", "riser", "flange")


class ViewedFeed(Protocol):
    """A feed of one kind on the views."""

    def __init__(self, record: Record, aside: bool): ...

    def front(self, view: View) -> None:
        """Add it to the front view."""
        ...

    def side(self, view: View) -> None:
        """Add it to the side view."""
        ...

    def end(self, view: View) -> None:
        """Add it to the end view."""
        ...


class PortViews:
    """The guide itself is the port: there is nothing to draw."""

    def __init__(self, record: Record, aside: bool):
        self.record = record

    def front(self, view: View) -> None:
        """Nothing."""

    side = end = front


class _CoaxViews:
    """What a coax through any wall has on the views; lengths in mm."""

    def __init__(self, record: Record, aside: bool):
        self.record, self.guide, self.aside = record, record.guide, aside
        feed: Any = record.feed
        self.feed = feed

    def bounded(self, name: str, axis: Axis, scale: float, label: str, short: str, bounds: Pair) -> Move:
        """The move of a field of the feed."""
        return record_move(self.record, f"feed.{name}", axis, scale, label, short, bounds)

    def offset(self, axis: Axis, scale: float) -> tuple[Move, ...]:
        """Offset of the coax from the centre line; nothing where there can be none."""
        if not self.aside:
            return ()
        half = self.guide.width_mm / 2
        label = "offset of the coax from the centre line"
        return (self.bounded("offset_mm", axis, scale, label, "across", (-half, half)),)

    def coax(self, view: View, lying: bool, at: float, outer: float, inner: float) -> None:
        """Flange, line, pin and dielectric in section.

        Parameters
        ----------
        lying : whether the coax runs along u.
        at : its axis on the other coordinate.
        outer, inner : where it enters and leaves its wall, on its own coordinate.
        """
        feed, into = self.feed, 1 if inner > outer else -1
        end = outer - into * _STUB * feed.coax_outer_mm
        view.reach(*((end, at) if lying else (at, end)))
        parts = [("bore", "dielectric", feed.coax_outer_mm, end, inner)]
        if feed.dielectric_mm:
            parts.append(
                ("dielectric", "dielectric", feed.coax_outer_mm, inner, inner + into * feed.dielectric_mm)
            )
        parts.append(("pin", "wire", feed.coax_inner_mm, end, inner))
        if feed.flange_mm is not None:
            face = outer - into * feed.flange_thickness_mm
            view.shapes["flange"] = Shape(_bar(lying, at, feed.flange_mm, outer, face), "metal")
        for name, kind, width, low, high in parts:
            view.shapes[name] = Shape(_bar(lying, at, width, low, high), kind)

    def hole(self, view: View, centre: Pair, hidden: str) -> None:
        """Hole, pin and flange in plan."""
        feed = self.feed
        if feed.flange_mm is not None:
            half, (u, v) = feed.flange_mm / 2, centre
            view.shapes["flange"] = Shape(rectangle(u - half, u + half, v - half, v + half), "line hidden")
        view.shapes["bore"] = Shape(circle(centre, feed.coax_outer_mm), f"line{hidden}")
        view.shapes["pin"] = Shape(circle(centre, feed.wire_diameter_mm), f"wire{hidden}")


def _bar(lying: bool, at: float, width: float, start: float, stop: float) -> str:
    """A bar about an axis, from place to place along it."""
    low, high = sorted((start, stop))
    sides = at - width / 2, at + width / 2
    return rectangle(low, high, *sides) if lying else rectangle(*sides, low, high)


class ProbeViews(_CoaxViews):
    """A straight probe through a broad wall."""

    def __init__(self, record: Record, aside: bool):
        super().__init__(record, aside)
        at = StraightFeed(self.feed, self.guide).passage
        self.inner, self.outer = -at.inner / MM, -at.outer / MM
        self.tip = self.inner - at.into * self.feed.height_mm
        self.into = -at.into  # v counts downwards
        (_, x), (_, z) = at.across
        self.x, self.z = x / MM, z / MM

    def _along(self) -> Move:
        label = "distance of the probe from the near end"
        return self.bounded("position_mm", "u", 1.0, label, "along", (0.0, self.guide.length_mm))

    def _height(self) -> Move:
        label = "height of the tip of the probe above the inner face of its wall"
        return self.bounded("height_mm", "v", self.into, label, "height", (0.1, self.guide.height_mm))

    def front(self, view: View) -> None:
        """Its hole, and its place along and across."""
        centre = self.z, -self.x
        self.hole(view, centre, " hidden" if self.feed.wall == "back" else "")
        moves = self._along(), *self.offset("v", -1.0)
        view.handles["probe"] = Handle(centre, "probe", moves, _held(view), room=2 * self.feed.coax_outer_mm)

    def side(self, view: View) -> None:
        """Its height, and its place along."""
        feed = self.feed
        self.coax(view, False, self.z, self.outer, self.inner)
        view.shapes["wire"] = Shape(_bar(False, self.z, feed.wire_diameter_mm, self.inner, self.tip), "wire")
        view.handles["probe.tip"] = Handle(
            (self.z, self.tip), "tip of the probe", (self._height(),), ("wire",), anchor=(self.z, self.inner)
        )
        foot = self.z, (self.inner + self.outer) / 2
        view.handles["probe.foot"] = Handle(foot, "probe", (self._along(),), _held(view), tab=False)
        low, high = sorted((self.inner, self.tip))
        edge = self.z + feed.wire_diameter_mm / 2
        view.dimensions["height"] = Dimension(millimetres(feed.height_mm), "v", low, high, edge, 1)

    def end(self, view: View) -> None:
        """Height and offset at once."""
        self.coax(view, False, self.x, self.outer, self.inner)
        view.shapes["wire"] = Shape(
            _bar(False, self.x, self.feed.wire_diameter_mm, self.inner, self.tip), "wire"
        )
        moves = *self.offset("u", 1.0), self._height()
        view.handles["probe.tip"] = Handle(
            (self.x, self.tip), "tip of the probe", moves, ("wire",), tab=False
        )


class BentViews(_CoaxViews):
    """A coax through the near end, its wire bent towards a broad wall."""

    def __init__(self, record: Record, aside: bool):
        super().__init__(record, aside)
        at = BentFeed(self.feed, self.guide).passage
        self.inner, self.outer = at.inner / MM, at.outer / MM
        (_, x), (_, y) = at.across
        self.x, self.v = x / MM, -y / MM
        self.up = -1 if self.feed.towards == "front" else 1
        self.tip = self.v + self.up * self.feed.riser_mm(self.guide.height_mm)

    def _run(self) -> Move:
        label = "distance from the near end to the riser of the wire"
        return self.bounded("run_mm", "u", 1.0, label, "run", (0.0, self.guide.length_mm))

    def _hole(self) -> Move:
        label = "height of the hole in the near end above the inner face of the back wall"
        return self.bounded("hole_height_mm", "v", -1.0, label, "hole", (0.0, self.guide.height_mm))

    def _rise(self) -> Move:
        label = "length of the riser from the axis of the run to its tip"
        return self.bounded("rise_mm", "v", self.up, label, "rise", (0.0, self.guide.height_mm))

    @property
    def _open(self) -> bool:
        """Whether the riser has a length of its own."""
        return not self.feed.soldered_tip and self.feed.rise_mm is not None

    def front(self, view: View) -> None:
        """The wire as seen through the front wall."""
        width = self.feed.wire_diameter_mm
        self.coax(view, True, -self.x, self.outer, self.inner)
        view.shapes["wire"] = Shape(_bar(True, -self.x, width, self.inner, self.feed.run_mm), "wire hidden")
        view.shapes["riser"] = Shape(circle((self.feed.run_mm, -self.x), width), "wire hidden")
        moves = self._run(), *self.offset("v", -1.0)
        view.handles["riser"] = Handle((self.feed.run_mm, -self.x), "riser of the wire", moves, ("riser",))

    def side(self, view: View) -> None:
        """Run, riser and hole."""
        feed, v = self.feed, self.v
        width = feed.wire_diameter_mm
        self.coax(view, True, v, self.outer, self.inner)
        view.shapes["wire"] = Shape(_bar(True, v, width, self.inner, feed.run_mm + width / 2), "wire")
        base = v - self.up * width / 2
        view.shapes["riser"] = Shape(_bar(False, feed.run_mm, width, base, self.tip), "wire")
        middle = feed.run_mm, (v + self.tip) / 2
        view.handles["riser"] = Handle(middle, "riser of the wire", (self._run(),), ("riser",), tab=False)
        hole = (self.inner + self.outer) / 2, v
        view.handles["hole"] = Handle(hole, "hole in the near end", (self._hole(),), _held(view))
        if self._open:
            view.handles["riser.tip"] = Handle(
                (feed.run_mm, self.tip), "tip of the riser", (self._rise(),), ("riser",), (feed.run_mm, v)
            )

    def end(self, view: View) -> None:
        """The hole, and the riser."""
        feed, width = self.feed, self.feed.wire_diameter_mm
        self.hole(view, (self.x, self.v), " hidden")
        base = self.v - self.up * width / 2
        view.shapes["riser"] = Shape(_bar(False, self.x, width, base, self.tip), "wire")
        moves = *self.offset("u", 1.0), self._hole()
        view.handles["hole"] = Handle(
            (self.x, self.v),
            "hole in the near end",
            moves,
            _held(view),
            room=2 * feed.coax_outer_mm,
            tab=False,
        )


def _held(view: View) -> tuple[str, ...]:
    """The shapes of the feed that are on a view."""
    return tuple(name for name in _GROUP if name in view.shapes)


_KINDS: dict[str, Any] = {"probe": ProbeViews, "bent-probe": BentViews, "guide-port": PortViews}


def viewed_feed(record: Record, aside: bool) -> ViewedFeed:
    """The views of a feed by its kind; `aside`: whether it may stand beside the centre line."""
    found: ViewedFeed = _KINDS[record.feed.kind](record, aside)
    return found
