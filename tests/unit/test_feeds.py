"""Coax feeds in record and scene: bent probes, flanges, protruding dielectrics; what is refused, and that old
keys hold.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from each_case import each_case
from shaped_records import SHIPPED, varied
from shapely.geometry import Polygon

from simharness.advice.derived import derived
from simharness.advice.warnings import warnings
from simharness.em.probe.bent import BentShape
from simharness.errors import InputError
from simharness.estimate.deviations import deviations
from simharness.estimate.feeds import feed_inputs
from simharness.fingerprint import canonical
from simharness.geometry import antenna_scene
from simharness.geometry.scene import CoaxPort, GapPort
from simharness.geometry.solids import equivalent_square_side
from simharness.mesh.grid import grid
from simharness.mesh.raster import coax_cells, coax_plane, tiles
from simharness.mesh.settings import QUALITIES
from simharness.tuning.variables import point, tuned_record, tuning_variables

NANOMETRE = 1e-9
LOOP = SHIPPED["bent-probe-2g45"]
PANEL = SHIPPED["panel-probe-5g8"]
OPEN = varied(LOOP, feed={"tip": "open", "rise_mm": 20.0})

REFUSED = {
    "hole over the back wall": (
        LOOP,
        {"hole_height_mm": 2.0},
        "feed.hole_height_mm = 2.0",
        "allowed 2.05 to 42.95",
    ),
    "hole over the side wall": (LOOP, {"offset_mm": 43.0}, "feed.offset_mm = 43.0", "less than 42.95"),
    "riser in the end": (LOOP, {"run_mm": 0.5}, "feed.run_mm = 0.5", "allowed 0.635 to"),
    "soldered with another rise": (
        LOOP,
        {"rise_mm": 20.0},
        "feed.rise_mm = 20.0",
        "leave rise_mm out, or write 30.5",
    ),
    "open without a rise": (LOOP, {"tip": "open"}, "feed.rise_mm = (missing)", "tip = 'soldered'"),
    "open through the wall": (OPEN, {"rise_mm": 30.5}, "feed.rise_mm = 30.5", "end short of the front wall"),
    "down through the wall": (
        OPEN,
        {"towards": "back"},
        "feed.rise_mm = 20.0",
        "end short of the back wall; allowed 0.635 to 14.5",
    ),
    "dielectric past the bend": (
        LOOP,
        {"dielectric_mm": 29.0},
        "feed.dielectric_mm = 29.0",
        "end before the bend",
    ),
    "dielectric longer than the wire": (
        PANEL,
        {"dielectric_mm": 12.0},
        "feed.dielectric_mm = 12.0",
        "at most 11.5",
    ),
    "wire as thick as its dielectric": (
        PANEL,
        {"wire_diameter_mm": 4.1},
        "feed.dielectric_mm = 2.0",
        "as thick as the dielectric",
    ),
    "flange on a stripped coax": (LOOP, {"flange_mm": 12.7}, "feed.flange_mm = 12.7", "has no flange"),
    "panel without a flange": (
        LOOP,
        {"connector": "panel"},
        "feed.flange_mm = (missing)",
        "give the side of its square",
    ),
    "flange smaller than its hole": (
        PANEL,
        {"flange_mm": 4.0},
        "feed.flange_mm = 4.0",
        "greater than coax_outer_mm 4.1",
    ),
    "flange over a slot": (
        PANEL,
        {"wall": "front", "position_mm": 30.0},
        "feed.position_mm = 30.0",
        "flange covers part of slot 1",
    ),
}


@each_case("case", REFUSED)
def test_refused(case):
    record, change, where, allowed = REFUSED[case]
    with pytest.raises(InputError) as error:
        varied(record, feed=change)
    assert where in str(error.value) and allowed in str(error.value)


def test_rise_of_a_soldered_tip_may_be_written():
    assert varied(LOOP, feed={"rise_mm": 30.5}).feed.riser_mm(45.0) == LOOP.feed.riser_mm(45.0) == 30.5
    assert varied(LOOP, feed={"towards": "back"}).feed.riser_mm(45.0) == 14.5


@pytest.mark.parametrize(
    "record",
    [LOOP, OPEN, varied(LOOP, feed={"towards": "back", "offset_mm": 5.0})],
    ids=["loop", "open", "back"],
)
def test_bent_wire_in_the_scene(record):
    """The legs have the section of the equivalent square, meet at the bend, and end where the record says."""
    scene, feed = antenna_scene(record), record.feed
    found = {p.part: p.bounds() for p in scene.prisms}
    side = equivalent_square_side(feed.wire_diameter_mm * 1e-3)
    x, base, run = feed.offset_mm * 1e-3, (feed.hole_height_mm - 45.0) * 1e-3, feed.run_mm * 1e-3
    along = (x - side / 2, x + side / 2, base - side / 2, base + side / 2, 0.0, run + side / 2)
    assert found["probe"] == pytest.approx(along, abs=NANOMETRE)
    up = 1 if feed.towards == "front" else -1
    low, high = sorted((base - up * side / 2, base + up * feed.riser_mm(45.0) * 1e-3))
    assert found["probe riser"] == pytest.approx(
        (x - side / 2, x + side / 2, low, high, run - side / 2, run + side / 2), abs=NANOMETRE
    )
    wall = next(p for p in scene.prisms if p.part == "near end")
    hole = Polygon(wall.outline.holes[0])
    assert (hole.centroid.x, hole.centroid.y) == pytest.approx((x, base), abs=NANOMETRE)
    assert hole.bounds[2] - hole.bounds[0] == pytest.approx(4.1e-3, abs=NANOMETRE)
    (port,) = scene.ports
    assert isinstance(port, CoaxPort) and (port.axis, port.direction, port.reference) == (
        2,
        1,
        pytest.approx(-0.5e-3),
    )
    assert port.across == ((0, pytest.approx(x)), (1, pytest.approx(base)))


@pytest.mark.parametrize("quality", QUALITIES)
def test_bent_wire_on_the_mesh(quality):
    """The metal of the wire is one piece from pin to wall, and the coax is open about its pin."""
    scene = antenna_scene(LOOP)
    mesh = grid(scene, QUALITIES[quality])
    metal = np.zeros(tuple(len(line) - 1 for line in mesh.lines), dtype=bool)
    for tile in tiles(scene, mesh):
        if tile.material.metal:
            metal[tuple(slice(low, high) for low, high in zip(tile.low, tile.high))] = True
    port = scene.ports[0]
    (i0, i1), (j0, j1), (I0, I1), (J0, J1) = coax_cells(port, mesh)
    plane = metal[I0:I1, J0:J1, coax_plane(port, mesh)]
    pin = np.zeros_like(plane)
    pin[i0 - I0 : i1 - I0, j0 - J0 : j1 - J0] = True
    assert np.array_equal(plane, pin)
    i, j = mesh.index(0, 0.0), mesh.index(1, port.y)
    k = mesh.index(2, LOOP.feed.run_mm * 1e-3)
    column, row = (slice(at - 1, at + 1) for at in (i, j))
    assert metal[column, row, mesh.index(2, 0.0) : k].any(axis=(0, 1)).all(), "the run"
    assert metal[column, j : mesh.index(1, 0.0), k - 1 : k + 1].any(axis=(0, 2)).all(), "the riser"


def test_gap_stands_at_the_foot_of_the_run():
    (port,) = antenna_scene(LOOP, "gap").ports
    assert isinstance(port, GapPort) and port.axis == 2 and port.low == 0.0
    assert (port.x, port.y) == pytest.approx((0.0, -30.5e-3), abs=NANOMETRE)


def test_flange_and_dielectric_in_the_scene():
    found = {p.part: p for p in antenna_scene(PANEL).prisms}
    assert found["flange"].bounds() == pytest.approx(
        (-6.35e-3, 6.35e-3, -23.6e-3, -22e-3, 5.85e-3, 18.55e-3), abs=NANOMETRE
    )
    assert found["coax dielectric"].bounds()[2:4] == pytest.approx((-20e-3, -18e-3), abs=NANOMETRE)
    assert found["coax dielectric"].material.permittivity == 2.03
    names = [p.part for p in antenna_scene(PANEL).prisms]
    assert names.index("flange") < names.index("coax bore") and names.index("coax dielectric") < names.index(
        "probe"
    )


def test_keys_of_straight_probes_hold():
    """The fields that came with the coax along the guide do not count at their defaults, and do otherwise."""
    port = antenna_scene(SHIPPED["five-slot-2g45"]).ports[0]
    assert set(canonical(port)) == {
        "type",
        "x",
        "z",
        "reference",
        "direction",
        "length",
        "inner_side",
        "outer_side",
        "permittivity",
        "impedance",
    }
    assert {"axis", "y"} <= set(canonical(replace(port, axis=2, y=0.01)))


def test_kernels_get_the_feed_in_metres():
    model = feed_inputs(OPEN).network
    assert model.wire == BentShape(
        0.0, pytest.approx(14.5e-3), pytest.approx(29.4e-3), pytest.approx(20e-3), 1, False, 1.27e-3, 0.0
    )
    assert OPEN.feed.position == pytest.approx(29.4e-3)
    assert model.coax.length == pytest.approx(0.5e-3)


def test_check_knows_the_bent_probe():
    assert derived(LOOP)["probe_wire"].value == pytest.approx(59.9e-3)
    assert not [said for said in warnings(LOOP) if "probe" in said and "null" not in said]
    near_wall = warnings(varied(LOOP, feed={"hole_height_mm": 2.5}))
    assert any("from a broad wall" in said for said in near_wall)
    assert any("gap detunes" in said for said in warnings(varied(OPEN, feed={"rise_mm": 28.0})))


def test_deviations_of_a_bent_probe():
    names = {deviation.name for deviation in deviations(LOOP)}
    assert {"probe run", "hole height", "near end"} <= names and not {
        "probe rise",
        "probe height",
        "probe position",
    } & names
    assert "probe rise" in {deviation.name for deviation in deviations(OPEN)}
    written = varied(LOOP, feed={"rise_mm": 30.5})
    for deviation in deviations(written):
        if deviation.unit:
            moved = deviation.applied(
                written, 0.3 * deviation.limit if deviation.name != "front wall" else 0.1
            )
            assert moved.feed.riser_mm(moved.guide.b_mm) == pytest.approx(
                moved.guide.b_mm - moved.feed.hole_height_mm
            )


def test_variables_of_a_bent_probe():
    """Two at least, of the dimensions that matter; those of the other kind of probe are refused."""
    assert [variable.name for variable in tuning_variables(LOOP)] == ["run", "hole-height"]
    assert [variable.name for variable in tuning_variables(OPEN, ["slots", "hole-height"])] == [
        "rise",
        "run",
        "hole-height",
        "slots",
    ]
    assert [variable.name for variable in tuning_variables(PANEL)] == ["height"]
    with pytest.raises(InputError, match="run, hole-height, slots"):
        tuning_variables(LOOP, ["position"])
    tuned = tuning_variables(varied(LOOP, feed={"rise_mm": 30.5}))
    moved = tuned_record(LOOP, tuned, (31.04, 12.0), 0.1)
    assert point(moved, tuned) == (31.0, 12.0) and moved.feed.riser_mm(45.0) == 33.0
    for variable in tuned:
        assert variable.least < variable.read(LOOP) < variable.most
