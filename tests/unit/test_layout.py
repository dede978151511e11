"""From record to scene: every dimension of the record is found again in the parts."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from each_case import each_case
from shaped_records import BOXES, EQUAL, SHIPPED, STRAIGHT, WR90, mirrored, two_port, varied, with_slots
from shapely import unary_union
from shapely.geometry import Point, Polygon, box

from simharness.em.guide.coax import coax_impedance
from simharness.em.guide.rectangular import guide_wavelength
from simharness.errors import InputError
from simharness.geometry import antenna_scene
from simharness.geometry.scene import CoaxPort, GapPort, ModePort
from simharness.geometry.solids import equivalent_square_side
from simharness.records.outlines import slot_outline

FOIL = 1e-6
"""Stands for foil, m."""
NANOMETRE = 1e-9
EACH = each_case("name", BOXES)


def parts(scene) -> dict:
    return {p.part: p for p in scene.prisms}


def section(scene, axis: int, at: float):
    """Metal walls cut by a plane normal to an axis, as one shapely area."""
    cuts = []
    for prism in scene.prisms:
        if not prism.part.endswith(("wall", "end")):
            continue
        if prism.axis == axis:
            if prism.low < at < prism.high:
                cuts.append(prism.outline.polygon())
            continue
        u, v = (i for i in range(3) if i != axis)
        bounds = prism.bounds()
        if not bounds[2 * axis] < at < bounds[2 * axis + 1]:
            continue
        assert not prism.outline.holes or prism.axis == axis, "cut where no opening is"
        cuts.append(box(bounds[2 * u], bounds[2 * v], bounds[2 * u + 1], bounds[2 * v + 1]))
    return unary_union(cuts)


def without_openings(record):
    """The scene of a record with all openings of the walls filled; foil, which has no thickness, as
    `FOIL`.
    """
    scene = antenna_scene(record)
    return replace(
        scene,
        prisms=tuple(
            replace(p, high=max(p.high, p.low + FOIL), outline=replace(p.outline, holes=()))
            for p in scene.prisms
        ),
    )


@each_case("name", sorted(EQUAL.keys() & BOXES.keys()))
def test_inner_size_and_seams(name):
    """Cut by the three planes through the middle, the walls are closed rings about the inner size."""
    record = SHIPPED[name]
    guide = record.guide
    a, b, length = guide.a_mm * 1e-3, guide.b_mm * 1e-3, guide.length_mm * 1e-3
    front, other = guide.front_metal_mm * 1e-3 or FOIL, guide.other_walls_mm * 1e-3
    scene = without_openings(record)
    inner = {0: (-b, 0.0, 0.0, length), 1: (-a / 2, 0.0, a / 2, length), 2: (-a / 2, -b, a / 2, 0.0)}
    for axis, at in ((0, 1e-4), (1, -b / 3), (2, length / 3)):
        ring = section(scene, axis, at)
        assert ring.geom_type == "Polygon" and len(ring.interiors) == 1
        assert ring.interiors[0].bounds == pytest.approx(inner[axis], abs=NANOMETRE)
    assert scene.inside == pytest.approx((-a / 2, a / 2, -b, 0.0, 0.0, length), abs=NANOMETRE)
    walls = [p.bounds() for p in scene.prisms if p.part.endswith(("wall", "end"))]
    outside = [(min if i % 2 == 0 else max)(w[i] for w in walls) for i in range(6)]
    assert outside == pytest.approx(
        (-a / 2 - other, a / 2 + other, -b - other, front, -other, length + other), abs=NANOMETRE
    )


@EACH
def test_slots_stand_at_their_places(name):
    record = SHIPPED[name]
    wall = parts(antenna_scene(record))["front wall"]
    holes = box(*wall.outline.polygon().bounds).difference(wall.outline.polygon())
    slots = [slot for slot in record.slots if slot.face == "front"]
    assert len(wall.outline.holes) == len(slots)
    for slot in slots:
        low, high = slot.position_mm - slot.length_mm / 2, slot.position_mm + slot.length_mm / 2
        hole = holes.intersection(slot_outline(slot).buffer(1e-6))
        left, right = slot.offset_mm - slot.width_mm / 2, slot.offset_mm + slot.width_mm / 2
        if slot.off_grid:
            low, high, left, right = (slot_outline(slot).bounds[i] / 1e-3 for i in (1, 3, 0, 2))
        assert hole.bounds == pytest.approx(
            (left * 1e-3, low * 1e-3, right * 1e-3, high * 1e-3), abs=NANOMETRE
        )
    # Difference of polygons may round a vertex by some 1e-18 m; areas in m2.
    assert holes.area == pytest.approx(sum(slot_outline(s).area for s in slots), rel=1e-9)


@each_case("name", STRAIGHT)
@each_case("wall", ["back", "front"])
def test_probe_and_coax(name, wall):
    feed = {"wall": wall, "offset_mm": 1.5}
    if wall == "front":
        feed |= {"position_mm": SHIPPED[name].guide.length_mm / 2}
        if SHIPPED[name].guide.laminate is not None:
            with pytest.raises(InputError, match="a feed through a laminate"):
                _one_slot(name, feed)
            return
        record = _one_slot(name, feed)
    else:
        record = varied(SHIPPED[name], feed=feed)
    guide, probe = record.guide, record.feed
    scene = antenna_scene(record)
    found = parts(scene)
    into = 1 if wall == "back" else -1
    inner = -guide.b_mm * 1e-3 if wall == "back" else 0.0
    thickness = (guide.other_walls_mm if wall == "back" else guide.front_wall_mm) * 1e-3
    x, z = probe.offset_mm * 1e-3, probe.position_mm * 1e-3
    x0, x1, y0, y1, z0, z1 = found["probe"].bounds()
    tip, root = (y1, y0) if into > 0 else (y0, y1)
    assert tip == pytest.approx(inner + into * probe.height_mm * 1e-3, abs=NANOMETRE)
    assert root == pytest.approx(inner, abs=NANOMETRE)
    assert (x0 + x1) / 2 == pytest.approx(x, abs=NANOMETRE) and (z0 + z1) / 2 == pytest.approx(
        z, abs=NANOMETRE
    )
    assert x1 - x0 == pytest.approx(equivalent_square_side(probe.wire_diameter_mm * 1e-3), abs=NANOMETRE)
    for part in ("coax sleeve", "coax bore", "coax pin"):
        p0, p1, q0, q1, r0, r1 = found[part].bounds()
        assert (p0 + p1) / 2 == pytest.approx(x, abs=NANOMETRE) and (r0 + r1) / 2 == pytest.approx(
            z, abs=NANOMETRE
        )
        assert (q1 if into > 0 else q0) == pytest.approx(inner, abs=NANOMETRE)
    hole = min(found[f"{wall} wall"].outline.holes, key=lambda ring: Point(x, z).distance(Polygon(ring)))
    u0, v0, u1, v1 = Polygon(hole).bounds
    assert ((u0 + u1) / 2, (v0 + v1) / 2) == pytest.approx((x, z), abs=NANOMETRE)
    assert u1 - u0 == pytest.approx(probe.coax_outer_mm * 1e-3, abs=NANOMETRE)
    (port,) = scene.ports
    assert isinstance(port, CoaxPort) and port.direction == into
    assert port.reference == pytest.approx(inner - into * thickness, abs=NANOMETRE)
    # 59.9585 ohm are rounded from eta0 / 2 pi in the seventh digit.
    assert port.impedance == pytest.approx(
        coax_impedance(probe.coax_inner_mm, probe.coax_outer_mm, probe.coax_permittivity), rel=1e-6
    )


def _one_slot(name, feed):
    slot = SHIPPED[name].slots[0].model_dump()
    return with_slots([slot], SHIPPED[name], feed=feed)


@pytest.mark.parametrize("wall", ["back", "front"])
def test_gap_feed_replaces_the_line(wall):
    record = _one_slot(WR90, {"wall": wall, "position_mm": 80.0})
    scene = antenna_scene(record, "gap")
    found = parts(scene)
    assert not [p for p in found if p.startswith("coax")]
    assert not found["back wall"].outline.holes and len(found["front wall"].outline.holes) == 1
    (port,) = scene.ports
    assert isinstance(port, GapPort) and port.axis == 1
    inner = -10.16e-3 if wall == "back" else 0.0
    y0, y1 = found["probe"].bounds()[2:4]
    # The gap reaches from the wall to the post, the post from there to the tip.
    assert (port.low, port.high) == pytest.approx(
        (inner, y0) if wall == "back" else (y1, inner), abs=NANOMETRE
    )
    assert (y1 if wall == "back" else y0) == pytest.approx(
        inner + (6.1e-3 if wall == "back" else -6.1e-3), abs=NANOMETRE
    )


SIDES = ("left", "right"), ("right", "left")


@EACH
def test_mirrored_record_gives_the_mirrored_scene(name):
    record = varied(SHIPPED[name], feed={"offset_mm": 2.0}, pair=None)
    one, two = antenna_scene(record), antenna_scene(mirrored(record))
    swap = {f"{a} {part}": f"{b} {part}" for part in ("side wall", "wing") for a, b in SIDES}
    other = list(two.prisms)
    for prism in one.prisms:
        # In order, as pieces of tape have one name.
        same = next(p for p in other if p.part == swap.get(prism.part, prism.part))
        other.remove(same)
        x0, x1, *rest = prism.bounds()
        assert same.bounds() == pytest.approx((-x1, -x0, *rest), abs=NANOMETRE)
        if prism.axis == 1:
            mirror = unary_union([Polygon([(-x, z) for x, z in ring]) for ring in prism.outline.holes])
            twin = unary_union([Polygon(ring) for ring in same.outline.holes])
            # Vertices agree within 1e-18 m; their areas (1e-5 m2) far better than this.
            assert mirror.symmetric_difference(twin).area < 1e-15


def test_guide_ports_at_both_ends_without_slots():
    record = two_port(slot_rule=None)
    scene = antenna_scene(record)
    found = parts(scene)
    assert not found["front wall"].outline.holes and not found["back wall"].outline.holes
    near, far = scene.ports
    assert isinstance(near, ModePort) and isinstance(far, ModePort)
    assert (near.direction, far.direction) == (1, -1)
    assert near.source is not None and far.source is None
    length = record.guide.length_mm * 1e-3
    assert near.reference == 0.0 and far.reference == pytest.approx(length, abs=NANOMETRE)
    wave = float(guide_wavelength(record.guide.a_mm * 1e-3, scene.spectrum.low))
    for port, end in ((near, "near"), (far, "far")):
        x0, x1, y0, y1, z0, z1 = found[f"{end} absorber"].bounds()
        wall = found[f"{end} end"]
        # The absorber fills the cross-section and ends on the plate that closes the guide.
        assert (x0, x1, y0, y1) == pytest.approx((-11.43e-3, 11.43e-3, -10.16e-3, 0.0), abs=NANOMETRE)
        front, back = (z1, z0) if end == "near" else (z0, z1)
        assert back == pytest.approx(wall.high if end == "near" else wall.low, abs=NANOMETRE)
        # From the structure outwards: reference, measuring plane, source, absorber, plate.
        places = [
            port.reference,
            port.plane,
            *([port.source] if port.source is not None else []),
            front,
            back,
        ]
        outwards = [-port.direction * (p - port.reference) for p in places]
        assert outwards == sorted(outwards) and outwards[-1] == pytest.approx(1.75 * wave, rel=1e-9)
        assert outwards[1] > 0.3 * wave


def test_a_load_lengthens_the_guide_by_its_absorber():
    """Walls and far end move out by the load; the inside that slots and losses count by stays; no second
    port.
    """
    plain, loaded = (antenna_scene(varied(guide=more)) for more in ({}, {"far_end": "load", "load_mm": 40.0}))
    assert loaded.bounds()[5] == pytest.approx(plain.bounds()[5] + 0.04, abs=NANOMETRE)
    assert loaded.inside == plain.inside and len(loaded.ports) == 1
    filling = parts(loaded)["far load"]
    assert filling.material.absorber == "+z"
    assert filling.bounds()[4:] == pytest.approx((plain.inside[5], plain.inside[5] + 0.04), abs=NANOMETRE)


def test_spectrum_holds_the_band_and_keeps_above_cutoff():
    for record in BOXES.values():
        spectrum = antenna_scene(record).spectrum
        band = record.band
        assert spectrum.low <= band.low_ghz * 1e9 and spectrum.high >= band.high_ghz * 1e9
        cutoff = 299_792_458 / (2e-3 * record.guide.a_mm)
        assert spectrum.low > 1.04 * cutoff
        assert spectrum.far == tuple(f * 1e9 for f in (band.low_ghz, band.centre_ghz, band.high_ghz))
        assert math.isclose(spectrum.centre, band.centre_ghz * 1e9)
