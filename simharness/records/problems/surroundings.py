"""What contradicts wings, a pole, a wall or a second antenna: (field, value, what would be allowed)."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from shapely.geometry import Polygon, box

from simharness.constants import MM
from simharness.records.cover import Cover
from simharness.records.feeds import CoaxFeed, Feed
from simharness.records.guide import Guide
from simharness.records.mast import (
    WALL_DIRECTIONS,
    Mast,
    Pair,
    Wings,
    mast_section,
    outer_section,
    winged_section,
)
from simharness.records.problems import MISSING, Problem, rounded_up
from simharness.records.slots import Slot

_ENDLESS = 100.0
"""Half width of an endless wall where only its distance matters, m."""
_TOUCH = 1e-9
"""Area in which two parts only touch, m2."""


def mast_problems(guide: Guide, feed: Feed, mast: Mast | None) -> Iterator[Problem]:
    """A pole or a wall against itself and against the coax of the feed."""
    if mast is None:
        return
    if mast.shape == "pole":
        if mast.width_mm is not None:
            yield "mast.width_mm", mast.width_mm, "only with shape = 'wall'"
        if mast.diameter_mm is None:
            yield "mast.diameter_mm", MISSING, "a pole needs its outer diameter"
            return
    else:
        if mast.diameter_mm is not None:
            yield "mast.diameter_mm", mast.diameter_mm, "only with shape = 'pole'"
        if mast.direction_deg not in (*WALL_DIRECTIONS, -180.0):
            yield (
                "mast.direction_deg",
                mast.direction_deg,
                "a wall stands behind (180) or beside the antenna (90, -90): the models hold no slanted wall",
            )
            return
    coax = coax_section(guide, feed)
    if coax is not None and mast_section(guide, mast, _ENDLESS).intersects(coax):
        depth = feed.behind_mm  # type: ignore[union-attr]  # a feed with a coax
        yield (
            "mast.distance_mm",
            mast.distance_mm,
            f"the {mast.noun} would stand in the coax behind the {feed.coax_wall} wall, which takes "
            f"{depth:.1f} mm without its cable: more than {rounded_up(depth):g}",
        )


def coax_section(guide: Guide, feed: Feed) -> Polygon | None:
    """What the coax of a feed through a broad wall covers across the axis, (x, y) in m; None: nothing."""
    if not isinstance(feed, CoaxFeed) or feed.coax_wall == "near":
        return None
    _, y0, _, y1 = outer_section(guide).bounds
    half = max(feed.coax_outer_mm, feed.flange_mm or 0.0) / 2 * MM
    x, depth = feed.offset_mm * MM, feed.behind_mm * MM
    low, high = (y0 - depth, y0) if feed.coax_wall == "back" else (y1, y1 + depth)
    return box(x - half, low, x + half, high)


def pair_problems(guide: Guide, feed: Feed, pair: Pair | None) -> Iterator[Problem]:
    """A second antenna against the first."""
    if pair is None:
        return
    if not isinstance(feed, CoaxFeed):
        yield "pair", pair.place, "a pair needs antennas with a coax each; must be left out with a guide port"
        return
    least = least_apart_mm(guide, feed, pair.place)
    if pair.distance_mm <= least:
        why = "their outer width" if pair.place == "beside" else "the coax between them, without its cable"
        yield (
            "pair.distance_mm",
            pair.distance_mm,
            f"the two antennas would run into each other; more than {rounded_up(least):g}, {why}",
        )


def least_apart_mm(guide: Guide, feed: CoaxFeed, place: str) -> float:
    """Distance of a second antenna at which the two would touch, mm."""
    x0, _, x1, _ = outer_section(guide).bounds
    facing = {"beside": (), "above": ("near",), "back to back": ("back", "back")}[place]
    wide = (x1 - x0) / MM if place == "beside" else 0.0
    return wide + sum(feed.behind_mm for wall in facing if wall == feed.coax_wall)


def apart_problems(mast: Mast | None, pair: Pair | None, cover: Cover | None) -> Iterator[Problem]:
    """The second antenna against the pole or wall, and a cover against both."""
    if cover is not None and (mast is not None or pair is not None):
        table, there = ("mast", f"a {mast.noun}") if mast is not None else ("pair", "a second antenna")
        yield (
            "cover",
            cover.face,
            f"a cover and {there} at once are not modelled; leave [cover] or [{table}] out",
        )
    if mast is None or pair is None:
        return
    yield (
        "pair",
        pair.place,
        f"two antennas and a {mast.noun} at once are not modelled; leave [mast] or [pair] out",
    )


def wing_problems(guide: Guide, feed: Feed, slots: Sequence[Slot], wings: Wings | None) -> Iterator[Problem]:
    """Wings on a guide that no model here holds with them, or in the way of the coax."""
    if wings is None:
        return
    if guide.shape != "rectangular":
        yield (
            "wings",
            guide.shape,
            "wings stand on the edges of a flat face; leave the table out of a round tube",
        )
        return
    if guide.laminate is not None:
        yield (
            "wings",
            "laminate",
            "wings on a front wall of laminate are not modelled; leave [wings] or [guide.laminate] out",
        )
    if not any(slot.face == "front" for slot in slots):
        yield "wings", "no slots", "wings stand beside slots in the front wall, and there are none"
    elif any(slot.face == "back" for slot in slots):
        yield (
            "wings",
            "both walls",
            "wings of an antenna with slots in both walls are not modelled; leave the table out",
        )
    if wings.join == "folded" and guide.make == "tube":
        yield "wings.join", wings.join, "a stock tube has no sheet to fold them from; must be 'soldered'"
    coax = coax_section(guide, feed)
    if coax is not None and winged_section(guide, wings).intersection(coax).area > _TOUCH:
        yield (
            "wings.angle_deg",
            wings.angle_deg,
            f"the wings would stand in the coax before the {feed.coax_wall} wall; bend them the other way",
        )


def winged_problems(
    wings: Wings | None, mast: Mast | None, pair: Pair | None, cover: Cover | None
) -> Iterator[Problem]:
    """What else stands around an antenna with wings."""
    if wings is None:
        return
    for table, there, part in (
        ("mast", "a pole or wall", mast),
        ("pair", "a second antenna", pair),
        ("cover", "a cover", cover),
    ):
        if part is not None:
            yield (
                "wings",
                f"{wings.width_mm:g} mm",
                f"wings and {there} at once are not modelled; leave [wings] or [{table}] out",
            )
