"""Lengths and frequencies of a record in SI units, and what every kind of feed and shape of guide answers.

Expected values: those written in the shipped records, times 1e-3 and 1e9; positions from the axes drawn in
models/README.md.
"""

import pytest
from shaped_records import SHIPPED

from simharness.em.guide.rectangular import cutoff_frequency
from simharness.records import Band, Slot
from simharness.records.parts import Part, hertz, metres

LENGTHS = ("_mm", 1e-3)
FREQUENCIES = ("_ghz", 1e9)


@pytest.mark.parametrize("name", SHIPPED)
def test_a_property_for_each_field(name):
    """Exact: the same product of the same two numbers."""
    record = SHIPPED[name]
    for part in (record.band, record.guide, record.feed, *record.slots):
        for field in type(part).model_fields:
            for ending, factor in (LENGTHS, FREQUENCIES):
                short = field.removesuffix(ending)
                if field.endswith(ending) and hasattr(part, short) and getattr(part, field) is not None:
                    assert getattr(part, short) == getattr(part, field) * factor, field


def test_no_field_of_a_slot_or_a_band_lacks_its_property():
    """The length of a tapered tip is left out: it may be None."""
    for part in (Slot, Band):
        lengths = [f for f in part.model_fields if f.endswith(("_mm", "_ghz")) and f != "taper_mm"]
        assert all(hasattr(part, f.removesuffix("_mm").removesuffix("_ghz")) for f in lengths)


def test_the_property_of_a_class_explains_itself():
    assert Band.low.__doc__ == "`low_ghz` in Hz."
    assert Slot.length.__doc__ == "`length_mm` in m."


def test_a_table_of_its_own():
    class Table(Part):
        edge_ghz: float
        side_mm: float
        edge = hertz()
        side = metres()

    table = Table(edge_ghz=2.5, side_mm=40.0)
    assert (table.edge, table.side) == (2.5e9, 0.04)
    assert set(Table.model_fields) == {"edge_ghz", "side_mm"}


def test_where_the_wire_stands_and_its_coax_comes_through():
    straight, bent = SHIPPED["eight-slot-5g8"].feed, SHIPPED["bent-probe-5g8"].feed
    assert straight.position == straight.position_mm * 1e-3 and straight.coax_wall == straight.wall
    assert bent.position == bent.run_mm * 1e-3 and bent.coax_wall == "near"
    assert straight.has_coax and bent.has_coax and bent.soldered_tip and not straight.soldered_tip


@pytest.mark.parametrize("name", SHIPPED)
def test_shape_of_the_guide(name):
    guide = SHIPPED[name].guide
    assert getattr(guide, guide.width_field) == guide.width_mm
    assert getattr(guide, guide.height_field) == guide.height_mm
    assert getattr(guide, guide.front_wall_field) == guide.thickness_mm("front")
    assert guide.bore == (guide.width_mm * 1e-3 if guide.noun == "tube" else 0.0)
    assert guide.cutoff == pytest.approx(cutoff_frequency(guide.line[0]), rel=1e-12)
