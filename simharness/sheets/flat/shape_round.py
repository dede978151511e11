"""The parts of a round tube: a template to be wrapped around it, and discs for its ends.

The template is the outer surface unrolled, (u, v): u along the tube, v the arc from the front line, + towards
+x. Its seam lies at the side, a quarter of the circumference from the front line, where there is neither slot
nor feed.
"""

from __future__ import annotations

import math

from shapely.geometry import Polygon

from simharness.geometry.scene import Scene
from simharness.geometry.solids import TubePart
from simharness.sheets.flat.fabrication import Fabrication
from simharness.sheets.flat.part import FROM_OUTSIDE, Opening, Part, Place, opening
from simharness.sheets.flat.paths import LETTERS, Path, Text, circle_path, rectangle_path, straight
from simharness.sheets.flat.walls import absorber_mark, closed_ends, inside, lands, thickness, wall

PASTE = 10e-3
"""Strip beyond the seam on which the template is pasted to itself, m; a choice."""


class RoundShape:
    """Answers `shapes.FlatShape` for a round tube."""

    def parts(self, scene: Scene, fabrication: Fabrication) -> tuple[Part, ...]:
        """A template around the tube, and a disc for each closed end."""
        ends = (_end_plate(scene, end) for end in closed_ends(scene))
        return (_template(scene, fabrication), *ends)

    def seam_lengths(self, scene: Scene, fabrication: Fabrication) -> dict[str, float]:
        """Around the ends, m."""
        return {f"{end} end": math.pi * scene.bore for end in closed_ends(scene)}


def _template(scene: Scene, fabrication: Fabrication) -> Part:
    holes, ring = template_openings(scene), tube_wall(scene)
    guides, labels = template_guides(scene)
    return Part(
        place="around",
        name="wrap",
        title="Template around the tube",
        view=FROM_OUTSIDE,
        thickness=round(ring.outer - ring.inner, 12),
        outline=template_outline(scene),
        openings=holes,
        lands=lands(holes, fabrication),
        centre_line=True,
        guides=guides,
        labels=labels,
    )


def _end_plate(scene: Scene, end: Place) -> Part:
    """A disc as wide as the outside of the tube."""
    return Part(
        place=end,
        name=f"{end}-end",
        title=f"{end.capitalize()} end plate",
        view="from inside the guide",
        thickness=thickness(wall(scene, f"{end} end")),
        outline=circle_path((0.0, 0.0), 2 * tube_wall(scene).outer),
    )


def tube_wall(scene: Scene) -> TubePart:
    """A piece of the wall of the tube: its radii."""
    return next(p for p in scene.prisms if isinstance(p, TubePart) and p.kind == "wall")


def template_span(scene: Scene) -> tuple[float, float]:
    """v at the two edges of the template that meet at the seam, m."""
    around = 2 * math.pi * tube_wall(scene).outer
    return -around / 4, 3 * around / 4


def template_outline(scene: Scene) -> Path:
    """The outer surface between the end plates, unrolled."""
    *_, z0, z1 = inside(scene)
    return rectangle_path(z0, z1, *template_span(scene), "note")


def template_openings(scene: Scene) -> tuple[Opening, ...]:
    """Slots numbered along the tube, then the feed hole, on the unrolled surface."""
    slots, found = len(scene.slots), list[Opening]()
    for i, outline in enumerate(scene.unrolled):
        polygon = Polygon([(z, arc) for arc, z in outline.exterior])
        found.append(opening(polygon, "slot", i + 1) if i < slots else opening(polygon, "hole"))
    return tuple(found)


def template_guides(scene: Scene) -> tuple[tuple[Path, ...], tuple[Text, ...]]:
    """Back line, strip for the paste, and their names."""
    *_, z0, z1 = inside(scene)
    low, high = template_span(scene)
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
    lines, labels = absorber_mark(scene, low, high)
    return (*paths, *lines), (*texts, *labels)
