"""The parts of a round tube: a template to be wrapped around it, and discs for its ends.

The template is the outer surface unrolled, (u, v): u along the tube, v the arc from the front line, + towards +x. Its
seam lies at the side, a quarter of the circumference from the front line, where there is neither slot nor feed.
"""

from __future__ import annotations

import math

from shapely.geometry import Polygon

from simharness.geometry.scene import Scene
from simharness.geometry.solids import TubePart
from simharness.sheets.flat.interior import absorber_mark, inside
from simharness.sheets.flat.shapes import (
    LETTERS,
    Opening,
    Path,
    Text,
    circle_path,
    opening,
    rectangle_path,
    straight,
)

PASTE = 10e-3
"""Strip beyond the seam on which the template is pasted to itself, m; a choice."""


def tube_wall(scene: Scene) -> TubePart:
    """A piece of the wall of the tube: its radii."""
    return next(p for p in scene.prisms if isinstance(p, TubePart) and p.kind == "wall")


def wrap_span(scene: Scene) -> tuple[float, float]:
    """v at the two edges of the template that meet at the seam, m."""
    around = 2 * math.pi * tube_wall(scene).outer
    return -around / 4, 3 * around / 4


def wrap_outline(scene: Scene) -> Path:
    """The outer surface between the end plates, unrolled."""
    *_, z0, z1 = inside(scene)
    return rectangle_path(z0, z1, *wrap_span(scene), "note")


def wrap_openings(scene: Scene) -> tuple[Opening, ...]:
    """Slots numbered along the tube, then the feed hole, on the unrolled surface."""
    slots, found = len(scene.slots), []
    for i, outline in enumerate(scene.unrolled):
        polygon = Polygon([(z, arc) for arc, z in outline.exterior])
        found.append(opening(polygon, "slot", i + 1) if i < slots else opening(polygon, "hole"))
    return tuple(found)


def wrap_guides(scene: Scene) -> tuple[tuple[Path, ...], tuple[Text, ...]]:
    """Back line, strip for the paste, and their names."""
    *_, z0, z1 = inside(scene)
    low, high = wrap_span(scene)
    middle, back = z0 + 0.2 * (z1 - z0), (low + high) / 2 + (high - low) / 4
    paths = (
        straight((z0, back), (z1, back), dashed=True),
        straight((z0, high), (z0, high + PASTE), (z1, high + PASTE), (z1, high), dashed=True),
    )
    texts = (
        Text((middle, back + LETTERS), "back line", LETTERS),
        Text((middle, LETTERS), "front line", LETTERS),
        Text((middle, high + PASTE / 2), "paste under the other edge", LETTERS),
    )
    lines, words = absorber_mark(scene, low, high)
    return (*paths, *lines), (*texts, *words)


def disc(scene: Scene) -> Path:
    """An end plate as wide as the outside of the tube."""
    return circle_path((0.0, 0.0), 2 * tube_wall(scene).outer)
