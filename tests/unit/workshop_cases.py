"""Invented records of every kind that a workshop may build, varied from the shipped ones, each as it is
built.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from typing import Any

from shaped_records import SHIPPED

from simharness.errors import InputError
from simharness.records import parse_record
from simharness.sheets.build.build_list import build_of
from simharness.sheets.build.facts import Build
from simharness.sheets.flat.fabrication import Fabrication

BASES = {
    "box": SHIPPED["five-slot-2g45"],
    "bent": SHIPPED["bent-probe-2g45"],
    "round": SHIPPED["four-slot-tube-2g44"],
}
_BOARD = {"permittivity": 4.4, "loss_tangent": 0.02}
FRONTS: dict[str, dict[str, Any] | None] = {
    "sheet": None,
    "etched": {**_BOARD, "copper": "inside", "slots": "etched"},
    "routed": {**_BOARD, "copper": "inside", "slots": "routed"},
    "both faces": {**_BOARD, "copper": "both", "slots": "routed"},
}
MAKES = ("folded", "tube", "round")
_OPEN, _SOLDERED = {"tip": "open", "rise_mm": 12.0}, {"tip": "soldered"}
FEEDS: dict[str, dict[str, Any]] = {
    "back": {"kind": "probe", "wall": "back"},
    "front": {"kind": "probe", "wall": "front"},
    "bent, open": {"kind": "bent-probe", "towards": "front", **_OPEN},
    "bent, soldered": {"kind": "bent-probe", "towards": "front", **_SOLDERED},
    "bent, soldered, back": {"kind": "bent-probe", "towards": "back", **_SOLDERED},
    "guide": {"kind": "guide-port"},
}
FAR: dict[str, dict[str, Any]] = {
    "short": {"far_end": "short"},
    "load": {"far_end": "load", "load_mm": 150.0},
    "port": {"far_end": "port"},
}
FACES = ("front", "both")
SHAPES: dict[str, dict[str, Any]] = {
    "round": {"ends": "round"},
    "square": {"ends": "square"},
    "tapered": {"ends": "tapered"},
    "bent": {"shape": "bent", "aside_mm": 6.0},
    "s": {"shape": "s", "aside_mm": 3.0, "ends": "tapered"},
}
COAX: dict[str, dict[str, Any]] = {
    "bare": {"connector": "bare"},
    "bare with flange": {"connector": "bare", "flange_mm": 12.7},
    "panel": {"connector": "panel", "flange_mm": 12.7},
    "panel of no kind": {"connector": "panel", "flange_mm": 15.0},
    "panel too large": {"connector": "panel", "flange_mm": 34.0, "hole_height_mm": 12.0},
    "stripped": {"connector": "stripped"},
}
WIRES = (1.27, 2.0, 1.5, 0.8, 1.1, 5.0)
MATERIALS = ("brass", "aluminium", "copper", "tin plate", "zinc-coated steel", "stainless steel", "perfect")


def built(
    front: str = "sheet",
    make: str = "folded",
    feed: str = "back",
    far: str = "short",
    faces: str = "front",
    shape: str = "round",
    fabrication: dict[str, Any] = {},
    cutter: float = 0.0,
    guide: dict[str, Any] = {},
    coax: dict[str, Any] = {},
) -> Build:
    """What becomes of these choices; `guide` and `coax` change more of the record, `fabrication` how it is
    made.

    Raises
    ------
    InputError
        As for anybody who chooses so.
    """
    base = BASES["round" if make == "round" else "bent" if feed.startswith("bent") else "box"]
    data = base.model_dump(by_alias=True, exclude_none=True)
    data.pop("slot", None)
    of_guide = {**data["guide"], **FAR[far], "near_end": "port" if feed == "guide" else "short", **guide}
    if make != "round":
        of_guide["make"] = make
    if FRONTS[front] is not None:
        of_guide |= {"laminate": FRONTS[front], "front_wall_mm": 0.8}
    of_feed = FEEDS[feed]
    if feed != "guide":
        of_feed = (
            {
                key: value
                for key, value in data["feed"].items()
                if key not in ("wall", "connector", "flange_mm")
            }
            | of_feed
            | coax
        )
        if of_feed["kind"] == "probe":
            of_feed.pop("hole_height_mm", None)
    rule = {**data["slot_rule"], **SHAPES[shape], "faces": faces, "count": 1}
    of_guide["length_mm"] = rule["first_mm"] + rule["spacing_mm"]
    record = parse_record(data | {"guide": of_guide, "feed": of_feed, "slot_rule": rule})
    return build_of(record, Fabrication(**{"make": record.guide.make, **fabrication}), cutter)


def kinds() -> Iterator[tuple[str, Build]]:
    """Every front with every make, feed, far end, faces and shape of slots, but those that are refused."""
    for choice in itertools.product(FRONTS, MAKES, FEEDS, FAR, FACES, SHAPES):
        yield from _if_allowed(", ".join(choice), *choice)


def details() -> Iterator[tuple[str, Build]]:
    """Connectors, wires, metals, and ways of making, with some fronts and feeds."""
    for front, feed, (coax, fields), metal in itertools.product(
        ("sheet", "etched"), FEEDS, COAX.items(), ("brass", "aluminium")
    ):
        yield from _if_allowed(
            f"{front}, {feed}, {coax}, {metal}", front, feed=feed, coax=fields, guide={"material": metal}
        )
    for metal, make in itertools.product(MATERIALS, MAKES):
        yield from _if_allowed(f"{metal}, {make}", make=make, guide={"material": metal})
    for feed, wire, kind, dielectric in itertools.product(
        ("back", "bent, soldered"), WIRES, ("bare", "stripped"), (0.0, 2.0)
    ):
        fields = {"wire_diameter_mm": wire, "connector": kind, "dielectric_mm": dielectric}
        yield from _if_allowed(
            f"{feed}, {wire} mm, {kind}, dielectric {dielectric} mm", feed=feed, coax=fields
        )
    ways = [{"tab": tab, "lip": lip} for tab in (0.0, 8e-3) for lip in (0.0, 6e-3)]
    feeds = ("back", "bent, soldered", "bent, soldered, back")
    for front, feed, way, metal in itertools.product(
        ("sheet", "etched"), feeds, ways, ("brass", "aluminium")
    ):
        yield from _if_allowed(
            f"{front}, {feed}, {way}, {metal}", front, feed=feed, fabrication=way, guide={"material": metal}
        )
    for make, feed, (coax, fields), metal in itertools.product(
        ("tube", "round"), ("back", "bent, soldered"), COAX.items(), ("brass", "aluminium")
    ):
        yield from _if_allowed(
            f"{make}, {feed}, {coax}, {metal}", make=make, feed=feed, coax=fields, guide={"material": metal}
        )
    for front, shape, faces in itertools.product(("sheet", "etched", "routed"), SHAPES, FACES):
        yield from _if_allowed(
            f"{front}, milled {shape}, {faces}", front, shape=shape, faces=faces, cutter=2e-3
        )


def _if_allowed(name: str, *args: Any, **more: Any) -> Iterator[tuple[str, Build]]:
    try:
        yield name, built(*args, **more)
    except InputError:
        return
