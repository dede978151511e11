"""Small invented antennas of two slots for the tests of tolerances: quick, and matched in their band.

The lower edge of the band is the worst matched by far: where two frequencies are worst alike, the worst S11
has a kink.
"""

from __future__ import annotations

from shaped_records import SHIPPED, varied

from simharness.estimate.deviations import deviations
from simharness.records import Record, parse_record

TWO_SLOTS = varied(
    SHIPPED["five-slot-2g45"],
    name="two-slot",
    title="Two slots, invented",
    band={"low_ghz": 2.43, "centre_ghz": 2.445, "high_ghz": 2.46},
    guide={"length_mm": 250.25},
    slot_rule={"count": 2, "first_mm": 125.0, "spacing_mm": 83.5, "offset_mm": 24.0, "length_mm": 62.0},
    feed={"position_mm": 40.0, "height_mm": 26.0},
)


def end_fed(**slot_rule: float) -> Record:
    """The same slots fed by the wave of the guide."""
    data = varied(TWO_SLOTS, slot_rule=slot_rule).model_dump(by_alias=True, exclude_none=True)
    data["feed"] = {"kind": "guide-port"}
    data["guide"] = {**data["guide"], "near_end": "port"}
    return parse_record(data)


def wrong(record: Record, name: str, amount: float) -> Record:
    """The record with one dimension off."""
    return next(deviation for deviation in deviations(record) if deviation.name == name).applied(
        record, amount
    )
