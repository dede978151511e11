"""Outlines across the axis, as the kernel takes them: the antenna and its wings, pole, wall, second
antenna."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from shapely.affinity import translate
from shapely.geometry import Point, Polygon, box

from simharness.constants import C0, TWO_PI
from simharness.em.pattern.aperture import Aperture, Tube, radiated_field
from simharness.em.scatter.bodies import Bodies, Plane
from simharness.em.scatter.tube import StackedTubes, TubeAmongBodies
from simharness.geometry.mast import pair_move
from simharness.records import Record, Slot
from simharness.records.mast import mast_section, outer_section, wall_place, winged_section

_SIDES = 24
"""Quarter of the corners of a circle."""
_PER_TURN = 3.0
"""Directions around for each radian from the origin to the farthest body."""
_THICK = 2e-3
"""Thickness that a wall of finite width is given beyond its face, m."""

_THINNEST = 1 / 150
"""Thickness that wings are given at least, in wavelengths: what thinner ones do is the same within 0.1 dB."""


def antenna_alone(record: Record) -> Record:
    """The record without what stands beside its guide, wings too."""
    return record.model_copy(update={"mast": None, "pair": None, "wings": None})


def has_bodies(record: Record) -> bool:
    """Whether the pattern is that of more bodies than the bare guide."""
    if record.wings is not None:
        return True
    return record.mast is not None or (record.pair is not None and record.pair.place != "above")


def tube_at_site(record: Record, alone: Tube, coupled: complex = 0.0) -> Tube:
    """The antenna of a record among its pole, wall or second antenna.

    Parameters
    ----------
    record : Record
    alone : Tube
        The tube without them.
    coupled : complex
        Voltages in a second antenna that is not fed, over those of the first.
    """
    if has_bodies(record):
        return tube_of(record, coupled)
    pair = record.pair
    if pair is None or pair.fed == "alone":
        return alone
    return StackedTubes(alone, TWO_PI * record.band.centre / C0, pair_move(record).shift[2])


def azimuths(record: Record, least: int) -> int:
    """Directions around the axis that an integral over the sphere wants; `least` for the antenna alone."""
    if not has_bodies(record):
        return least
    turn = TWO_PI * record.band.centre / C0 * tube_of(record).bodies.reach
    return max(least, math.ceil(_PER_TURN * turn / 4) * 4)


def tube_of(record: Record, coupled: complex = 0.0) -> TubeAmongBodies:
    """The antenna of a record among its bodies, with its slots; `coupled` as of `tube_at_site`."""
    guide = record.guide
    least = _THINNEST * C0 / record.band.centre
    section = _rounded(winged_section(guide, record.wings, least), guide.shape == "round")
    thin = math.inf if record.wings is None else max(guide.thickness("front"), least)
    outlines, plane = [section], None
    if record.mast is not None:
        mast = record.mast
        if mast.shape == "wall" and mast.width_mm is None:
            plane = Plane(*wall_place(guide, mast))
        elif mast.shape == "wall":
            sheet = mast_section(guide, mast)
            behind = translate(sheet, *(_THICK * part for part in mast.towards))
            outlines.append(box(*sheet.union(behind).bounds))
        else:
            outlines.append(_rounded(mast_section(guide, mast), True))
    points = slot_points(record, section)
    if record.pair is not None and record.pair.place != "above":
        outlines.append(Polygon(second_points(record, np.array(section.exterior.coords)[:-1])))
    share = 1.0 if record.pair is not None and record.pair.fed == "in phase" else coupled
    second = second_points(record, points) if record.pair is not None and share else None
    return TubeAmongBodies(Bodies(tuple(_vertices(o) for o in outlines), plane, thin), points, second, share)


def power_across(record: Record, aperture: Aperture, angle: NDArray) -> NDArray:
    """Power across over its mean around the antenna, (n,); `angle` over a full turn, rad from the front."""
    front = np.pi / 2
    field = radiated_field(tube_of(record), aperture, record.band.centre, np.array([front]), front - angle)
    power = np.abs(field[0]) ** 2
    return power / power[:-1].mean()


def slot_points(record: Record, section: Polygon) -> NDArray:
    """Where the slots lie on the outline of the antenna, (n, 2) in m."""
    places = []
    for slot in record.slots:
        near = Point(*_slot_place(record, slot))
        there = section.exterior.interpolate(section.exterior.project(near))
        places.append((there.x, there.y))
    return np.array(places).reshape(-1, 2)


def second_points(record: Record, points: NDArray) -> NDArray:
    """Points of the first antenna (n, 2) moved to the second, m."""
    move = pair_move(record)
    return np.stack([np.array([move.place(axis, v) for v in points[:, axis]]) for axis in (0, 1)], axis=1)


def _slot_place(record: Record, slot: Slot) -> tuple[float, float]:
    guide = record.guide
    if guide.shape == "round":
        angle = slot.offset / guide.outer_radius
        away = guide.outer_radius
        return away * math.sin(angle), away * math.cos(angle) - guide.diameter / 2
    _, low, _, high = outer_section(guide).bounds
    return slot.offset, high if slot.face == "front" else low


def _rounded(section: Polygon, circle: bool) -> Polygon:
    """A circle with as many corners as it needs, of the circle's own area."""
    if not circle:
        return section
    middle, x0, x1 = section.centroid, section.bounds[0], section.bounds[2]
    count = 4 * _SIDES
    grown = math.sqrt(2 * math.pi / (count * math.sin(2 * math.pi / count)))
    return Point(middle.x, middle.y).buffer((x1 - x0) / 2 * grown, quad_segs=_SIDES)


def _vertices(polygon: Polygon) -> NDArray:
    """Vertices (v, 2) counter-clockwise."""
    ring = np.array(polygon.exterior.coords)[:-1]
    return ring if polygon.exterior.is_ccw else ring[::-1]
