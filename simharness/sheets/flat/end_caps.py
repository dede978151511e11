"""The ends of a rectangular guide: plain plates, or caps with tabs over the outside of the box."""

from __future__ import annotations

from shapely import affinity
from shapely.geometry import Polygon

from simharness.geometry.scene import Scene
from simharness.geometry.solids import SUBSTRATE
from simharness.sheets.flat.fabrication import Fabrication
from simharness.sheets.flat.part import Part, Place, opening
from simharness.sheets.flat.paths import Path, polygon_path
from simharness.sheets.flat.pattern import Bend, Flap, Side, flat_pattern
from simharness.sheets.flat.walls import SAME, closed_ends, inside, lands, thickness, wall, wall_openings

CLEARANCE = 1e-3
"""Distance of a tab or lip from the next opening, land or flap, m; a choice."""
MIN_TAB = 3e-3
"""Tabs lower than this are left off, m; a choice."""


def end_caps(scene: Scene, fabrication: Fabrication) -> tuple[Part, ...]:
    """Plates over the ends of the box, with tabs over its outside; an end that is a port has none."""
    found = []
    for end in closed_ends(scene):
        prism = wall(scene, f"{end} end")
        face = prism.outline.polygon()
        if end == "far":
            face = affinity.scale(face, xfact=-1, origin=(0, 0))
        holes = tuple(opening(Polygon(ring), "hole") for ring in face.interiors)
        face = Polygon(face.exterior)
        outline, bends = (
            _with_tabs(scene, fabrication, end, face) if fabrication.tab else (polygon_path(face), ())
        )
        found.append(
            Part(
                place=end,
                name=f"{end}-end",
                title=f"{end.capitalize()} end {'cap' if bends else 'plate'}",
                view="from inside the guide",
                thickness=thickness(prism),
                outline=outline,
                openings=holes,
                bends=bends,
                lands=lands(holes, fabrication),
            )
        )
    return tuple(found)


def _with_tabs(
    scene: Scene, fabrication: Fabrication, end: Place, face: Polygon
) -> tuple[Path, tuple[Bend, ...]]:
    """A cap whose tabs bend outside its face: the face stays whole and seats on the edges of the box."""
    fold = fabrication.fold(thickness(wall(scene, f"{end} end")))
    u0, v0, u1, v1 = face.bounds
    corner = fold.radius + fold.thickness
    under_laminate = any(prism.part == SUBSTRATE for prism in scene.prisms)
    heights: dict[Side, float] = {
        "v+": 0.0 if under_laminate else _tab_height(scene, fabrication, "front wall", end),
        "v-": _tab_height(scene, fabrication, "back wall", end),
        "u-": fabrication.tab,
        "u+": fabrication.tab,
    }
    across, upward = (u0 + corner, u1 - corner), (v0 + corner, v1 - corner)
    flaps = tuple(
        Flap(side, height, *(across if side.startswith("v") else upward))
        for side, height in heights.items()
        if height
    )
    grown = {side: fold.radius if height else 0.0 for side, height in heights.items()}
    face_and_bends = (u0 - grown["u-"], u1 + grown["u+"], v0 - grown["v-"], v1 + grown["v+"])
    return flat_pattern(face_and_bends, flaps, fold)


def _tab_height(scene: Scene, fabrication: Fabrication, name: str, end: Place) -> float:
    """Height of a tab, m: as asked for, less where something in the wall is near; 0 if too little is left."""
    *_, z0, z1 = inside(scene)
    holes = wall_openings(scene, name)
    paths = (*(hole.path for hole in holes), *lands(holes, fabrication))
    spans = [*_spans(paths), *_tip_spans(scene, name)]
    free = min(
        (low - z0 if end == "near" else z1 - high for low, high in spans),
        default=fabrication.tab + CLEARANCE,
    )
    height = min(fabrication.tab, free - CLEARANCE)
    return height if height >= min(MIN_TAB, fabrication.tab) else 0.0


def _spans(paths: tuple[Path, ...]) -> list[tuple[float, float]]:
    """What paths in a wall take along the guide, u from low to high, m."""
    bounds = [path.polygon().bounds for path in paths]
    return [(low, high) for low, _, high, _ in bounds]


def _tip_spans(scene: Scene, name: str) -> list[tuple[float, float]]:
    """What the tip of a wire takes of the broad wall that it is soldered to, u from low to high, m."""
    _, _, y0, y1, _, _ = inside(scene)
    found = []
    for _, _, low, high, z0, z1 in (p.bounds() for p in scene.prisms if p.part == "probe riser"):
        if (high > y1 - SAME) if name == "front wall" else (low < y0 + SAME):
            found.append((z0, z1))
    return found
