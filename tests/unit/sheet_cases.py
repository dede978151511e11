"""Records and small geometry for the tests of cut sheets."""

from __future__ import annotations

from shaped_records import SHIPPED, WR90, varied
from shapely.geometry import Polygon

from simharness.geometry import antenna_scene
from simharness.geometry.scene import Scene
from simharness.records import Record

MM = 1e-3


def rows_of_slots(count: int, **changes) -> Record:
    """The shipped WR-90 record with another number of slots and the length that they need; invented."""
    return varied(
        slot_rule={"count": count},
        guide={"length_mm": 34.9 + 18.66 * (count - 1)} | changes.pop("guide", {}),
        **changes,
    )


THREE = rows_of_slots(3, guide={"front_wall_mm": 0.5, "other_walls_mm": 0.5})
FORTY = rows_of_slots(40)
_BENT = {
    "position_mm": 25.6,
    "offset_mm": 1.0,
    "length_mm": 14.0,
    "width_mm": 1.6,
    "ends": "round",
    "shape": "bent",
    "aside_mm": 3.0,
}
CURVED = varied(
    THREE,
    slot_rule=None,
    slot=[
        _BENT,
        {**_BENT, "position_mm": 44.0, "offset_mm": -3.0, "shape": "s", "aside_mm": -1.5, "ends": "square"},
        {
            **_BENT,
            "position_mm": 61.0,
            "offset_mm": 3.0,
            "shape": "straight",
            "aside_mm": 0.0,
            "ends": "tapered",
            "taper_mm": 4.0,
        },
    ],
)
"""One slot of each kind that is no rectangle."""
TUBE = SHIPPED["eight-slot-5g8"]
SHEET = SHIPPED["five-slot-2g45"]
TWO_FACED = SHIPPED["two-faced-5g8"]
CASES = {
    "three": THREE,
    "forty": FORTY,
    "tube": TUBE,
    "sheet": SHEET,
    "wr90": SHIPPED[WR90],
    "two-faced": TWO_FACED,
    "curved": CURVED,
    "travelling": SHIPPED["sixteen-slot-5g8-travelling"],
    "bent probe": SHIPPED["bent-probe-5g8"],
    "panel": SHIPPED["panel-probe-5g8"],
}
SCENES: dict[str, Scene] = {name: antenna_scene(record) for name, record in CASES.items()}


def wall(scene: Scene, name: str):
    """The prism of this name."""
    return next(p for p in scene.prisms if p.part == name)


def holes(scene: Scene, name: str, scale: float = 1.0, mirror: bool = False) -> list[Polygon]:
    """Openings of a broad wall as (z, x), times `scale`, in order along the guide."""
    sign = -1 if mirror else 1
    rings = [
        Polygon([(scale * z, sign * scale * x) for x, z in ring]) for ring in wall(scene, name).outline.holes
    ]
    return sorted(rings, key=lambda p: p.bounds[0])
