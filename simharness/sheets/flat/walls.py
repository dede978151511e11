"""The inside of the guide, its walls and what is cut into them, read from the scene that is solved."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass, replace

from shapely.geometry import Point, Polygon

from simharness.constants import MM
from simharness.errors import InputError
from simharness.geometry.mast import WINGS
from simharness.geometry.scene import Scene
from simharness.geometry.solids import (
    FAR_LOAD,
    SCREW_PART,
    SQUARE_CAPACITY,
    TAPE_PART,
    Bounds,
    Prism,
    SlantedStrip,
)
from simharness.sheets.flat.fabrication import Fabrication
from simharness.sheets.flat.part import Opening, Place, opening
from simharness.sheets.flat.paths import LETTERS, Path, Text, circle_path, rectangle_path, straight

PITCHES = {2.0: 0.4, 2.5: 0.45, 3.0: 0.5, 4.0: 0.7, 5.0: 0.8, 6.0: 1.0, 8.0: 1.25, 10.0: 1.5}
"""Pitch of the coarse metric thread by its diameter, mm (ISO 262)."""
_TURNS = 2.5
"""Turns of a thread in a wall from which on it holds a screw; common practice."""
SAME = 1e-9
"""Coordinates that differ by less are the same, m."""


def is_tapped(diameter_mm: float, wall_mm: float) -> bool:
    """Whether a screw has its thread in the wall itself; else a nut holds it.

    Examples
    --------
    >>> is_tapped(4.0, 2.0), is_tapped(4.0, 1.0), is_tapped(4.5, 5.0)
    (True, False, False)
    """
    return diameter_mm in PITCHES and wall_mm >= _TURNS * PITCHES[diameter_mm]


def wall(scene: Scene, name: str) -> Prism:
    """The first solid of this name."""
    return next(prism for prism in scene.prisms if prism.part == name)


def thickness(prism: Prism) -> float:
    """Thickness of a wall, m."""
    return round(prism.high - prism.low, 12)


@dataclass(frozen=True)
class Wing:
    """A strip beside the front wall: width of its front, length and thickness, m; `angle` forward from the
    plane of the wall, deg."""

    width: float
    length: float
    thickness: float
    angle: float


def wings(scene: Scene) -> Wing | None:
    """The strips beside the front wall, which are alike; None without."""
    strip = next((prism for prism in scene.prisms if prism.part == WINGS[0]), None)
    if strip is None:
        return None
    x0, x1, _, _, z0, z1 = strip.bounds()
    if isinstance(strip, SlantedStrip):
        return Wing(strip.width, z1 - z0, strip.thickness, round(math.degrees(strip.angle), 9))
    return Wing(x1 - x0, z1 - z0, thickness(strip), 0.0)


def absorber_room(scene: Scene) -> tuple[float, float] | None:
    """From where to where along the guide the absorber lies, m; None without one."""
    return next((prism.bounds()[4:] for prism in scene.prisms if prism.part == FAR_LOAD), None)


def inside(scene: Scene) -> Bounds:
    """Inner bounds of the guide as it is built, from end plate to end plate, with an absorber inside; m.

    Raises
    ------
    InputError
        The scene is no guide.
    """
    if scene.inside is None:
        raise InputError("scene", scene.name, "must have the inner size of a guide")
    room = absorber_room(scene)
    *across, z0, z1 = scene.inside
    parts = {prism.part for prism in scene.prisms}
    z0 = wall(scene, "near end").high if "near plate" in parts else z0
    z1 = wall(scene, "far end").low if "far plate" in parts else z1
    return (*across, z0, z1 if room is None else room[1])  # type: ignore[return-value]


def absorber_mark(scene: Scene, low: float, high: float) -> tuple[tuple[Path, ...], tuple[Text, ...]]:
    """A broken line across a wall where the absorber begins, and its label; nothing without one.

    Parameters
    ----------
    low, high : v from where to where the line is drawn, m.
    """
    room = absorber_room(scene)
    if room is None:
        return (), ()
    start, end = room
    label = Text(((start + end) / 2, low + 2 * LETTERS), "absorber inside", LETTERS)
    return (straight((start, low), (start, high), dashed=True),), (label,)


def tape_marks(scene: Scene, name: str, mirror: bool = False) -> tuple[Path, ...]:
    """Broken outlines of the tape on a broad wall; `name` and `mirror` as for `wall_openings`."""
    found, sign = [], -1 if mirror else 1
    for prism in scene.prisms:
        if prism.part == TAPE_PART and (prism.low < 0) == (name == "back wall"):
            x0, z0, x1, z1 = prism.outline.polygon().bounds
            low, high = sorted((sign * x0, sign * x1))
            found.append(replace(rectangle_path(z0, z1, low, high, "note"), dashed=True))
    return tuple(found)


def closed_ends(scene: Scene) -> tuple[Place, ...]:
    """The ends of the guide that have a plate, 'near' and 'far'; one that is a port has none."""
    *_, z0, z1 = inside(scene)
    faces: tuple[tuple[Place, float], ...] = (
        ("near", wall(scene, "near end").high - z0),
        ("far", wall(scene, "far end").low - z1),
    )
    return tuple(end for end, apart in faces if abs(apart) <= SAME)


def wall_openings(scene: Scene, name: str, mirror: bool = False) -> tuple[Opening, ...]:
    """Openings of a broad wall: slots numbered along the guide, then the feed hole, then tuning screws.

    Parameters
    ----------
    name : 'front wall' or 'back wall'.
    mirror : the wall is seen from its other face.
    """
    found, sign, face = [], -1 if mirror else 1, name.removesuffix(" wall")
    marks = [(i, mark) for i, mark in enumerate(scene.slots, 1) if mark.face == face]
    for ring in wall(scene, name).outline.holes:
        hole, area = opening(Polygon([(z, sign * x) for x, z in ring]), "hole"), Polygon(ring)
        number = next((i for i, mark in marks if area.contains(Point(mark.x, mark.z))), 0)
        found.append(replace(hole, kind="slot", number=number) if number else hole)
    found.sort(key=lambda each: each.number or math.inf)
    return (*found, *_screw_openings(scene, sign)) if face == "back" else tuple(found)


def _screw_openings(scene: Scene, sign: int) -> Iterator[Opening]:
    """Holes for tuning screws: the core of the thread where the wall takes it, else as wide as they are."""
    deep = thickness(wall(scene, "back wall")) / MM
    for number, post in enumerate((p for p in scene.prisms if p.part == SCREW_PART), 1):
        x0, x1, _, _, z0, z1 = post.bounds()
        across, centre = round(2 * SQUARE_CAPACITY * (x1 - x0) / MM, 6), ((z0 + z1) / 2, sign * (x0 + x1) / 2)
        size = (across - (PITCHES[across] if is_tapped(across, deep) else 0.0)) * MM
        yield Opening("tuning", number, circle_path(centre, size), centre, size, size, "round")


def lands(openings: tuple[Opening, ...], fabrication: Fabrication) -> tuple[Path, ...]:
    """Circles to be bared for the coax around feed holes."""
    return tuple(
        circle_path(
            hole.centre,
            3 * hole.width if fabrication.land is None else fabrication.land,
            "note",
            dashed=True,
        )
        for hole in openings
        if hole.kind == "hole"
    )
