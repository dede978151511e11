"""Records for the tests of geometry and mesh: the shipped ones, and variations of one of them."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from simharness.records import Record, parse_record, read_record

MODELS = Path(__file__).parents[2] / "models"
SHIPPED = {path.stem: read_record(path) for path in sorted(MODELS.glob("*.toml"))}
BOXES = {name: record for name, record in SHIPPED.items() if record.guide.shape == "rectangular"}
"""Those in a rectangular guide."""
EQUAL = {
    name: record
    for name, record in BOXES.items()
    if record.slot_rule is not None
    and record.slot_rule.faces == "front"
    and record.guide.far_end == "short"
    and record.slot_rule.shape == "straight"
    and not record.tape
    and record.mast is None
    and record.pair is None
}
"""Of equal straight slots in one wall of a rectangular guide, between two shorts and by itself:
mirror-symmetric, and no two edges of their slots nearly coincide."""
STRAIGHT = {name: record for name, record in EQUAL.items() if record.feed.kind == "probe"}
"""Those of them whose probe is straight."""
WR90 = "eight-slot-wr90-10g37"


def varied(record: Record = SHIPPED[WR90], **changes) -> Record:
    """A record with some tables changed; `guide={"far_end": "port"}` replaces single keys, None drops a
    table.
    """
    data = record.model_dump(by_alias=True, exclude_none=True)
    for table, values in changes.items():
        if values is None:
            data.pop(table, None)
        else:
            data[table] = {**data.get(table, {}), **values} if isinstance(values, dict) else values
    return parse_record(data)


def with_slots(slots: list[dict], record: Record = SHIPPED[WR90], **changes) -> Record:
    """A record with listed slots in place of a rule."""
    return varied(record, slot_rule=None, slot=slots, **changes)


def mirrored(record: Record) -> Record:
    """The same antenna seen in a mirror at x = 0, a pole too; of two, the first alone."""
    slots = [{**s.model_dump(), "offset_mm": -s.offset_mm, "aside_mm": -s.aside_mm} for s in record.slots]
    feed = record.feed.model_dump()
    if "offset_mm" in feed:
        feed["offset_mm"] = -feed["offset_mm"]
    mast = record.mast and record.mast.model_dump(exclude_none=True)
    if mast:
        mast["direction_deg"] = -mast["direction_deg"]
    return with_slots(slots, record, feed=feed, mast=mast, pair=None)


def two_port(record: Record = SHIPPED[WR90], **changes) -> Record:
    """The guide of a record with a guide port at each end and no probe."""
    data = record.model_dump(by_alias=True, exclude_none=True)
    data |= {"feed": {"kind": "guide-port"}, **changes}
    data["guide"] = {**data["guide"], "near_end": "port", "far_end": "port"}
    data = {key: value for key, value in data.items() if value is not None}
    return parse_record(data)


def tapered_family(count: int = 50, seed: int = 20240) -> list[Record]:
    """Arrays of 8 to 16 slots in WR-90 with mirror pairs of offsets from 0.9 to 3 mm.

    Offsets are rounded to 0.05 mm with a scatter of a few micrometres: many slot edges nearly coincide.
    """
    rng = np.random.default_rng(seed)
    family = []
    for _ in range(count):
        number = int(rng.integers(8, 17))
        peak = rng.uniform(0.95, 3.0)
        taper = np.clip(
            peak * np.sin(np.pi * (np.arange(number) + 0.5) / number) ** rng.uniform(0.3, 1.0), 0.9, 3.0
        )
        offsets = np.round(taper / 0.05) * 0.05 + rng.normal(0, 0.003, number)
        width = float(rng.choice([1.0, 1.5875, 2.0]))
        slots = [
            {
                "position_mm": 25.4 + 18.66 * i,
                "offset_mm": float((-1) ** i * offset),
                "length_mm": float(rng.uniform(13.5, 14.9)),
                "width_mm": width,
                "ends": str(rng.choice(["round", "square"])),
            }
            for i, offset in enumerate(offsets)
        ]
        family.append(with_slots(slots, guide={"length_mm": 25.4 + 18.66 * number}))
    return family
