"""Scene on the mesh: the boxes are the scene, to the cell. Expectations from shapely areas and from the rules
of the module.
"""

from __future__ import annotations

import math

import numpy as np
import pytest
from each_case import each_case
from shaped_records import BOXES, SHIPPED, STRAIGHT, WR90, mirrored, two_port, varied, with_slots

from simharness.constants import C0, EPS0, MU0
from simharness.geometry import antenna_scene
from simharness.geometry.scene import CoaxPort
from simharness.mesh.grid import grid
from simharness.mesh.raster import _boxes, coax_cells, meshed_coax_permittivity, tiles
from simharness.mesh.settings import QUALITIES

CASES = [
    pytest.param(name, feed, q, id=f"{name}-{feed}-{q}")
    for name in SHIPPED
    for feed in ("coax", "gap")
    for q in QUALITIES
]
BOX_CASES = [case for case in CASES if case.values[0] in BOXES]


def meshed(record, quality="draft", feed="coax"):
    """Scene, mesh, tiles of a record."""
    scene = antenna_scene(record, feed)
    mesh = grid(scene, QUALITIES[quality])
    return scene, mesh, tiles(scene, mesh)


def metal_cells(mesh, boxes) -> np.ndarray:
    """How often each cell is covered by a metal tile."""
    count = np.zeros([len(line) - 1 for line in mesh.lines], dtype=int)
    for tile in boxes:
        if tile.material.metal:
            count[tuple(slice(lo, hi) for lo, hi in zip(tile.low, tile.high))] += 1
    return count


def sheet_cells(mesh, boxes, axis: int, line: int) -> np.ndarray:
    """Cells of the plane of one mesh line that metal sheets cover."""
    count = np.zeros([len(one) - 1 for i, one in enumerate(mesh.lines) if i != axis], dtype=int)
    for tile in boxes:
        if tile.low[axis] == tile.high[axis] == line and tile.material.metal:
            count[tuple(slice(tile.low[i], tile.high[i]) for i in range(3) if i != axis)] += 1
    return count


@each_case("name, feed, quality", CASES)
def test_tiles_are_boxes_of_matter_that_do_not_overlap(name, feed, quality):
    _, mesh, boxes = meshed(SHIPPED[name], quality, feed)
    assert metal_cells(mesh, boxes).max() == 1
    for tile in boxes:
        assert tile.material.metal or tile.material.permittivity > 1 or tile.material.loss > 0
        flat = 0
        for low, high, line in zip(tile.low, tile.high, mesh.lines):
            assert isinstance(low, int) and isinstance(high, int) and 0 <= low <= high < len(line)
            flat += low == high
        assert flat <= 1 and (flat == 0 or tile.material.metal)
    kinds = [tile.material.metal for tile in boxes]
    assert kinds == sorted(kinds), "metal comes last"


@each_case("name, feed, quality", BOX_CASES)
def test_slots_stay_open(name, feed, quality):
    """No metal in a slot, in no layer of the wall, nor on a sheet; along its axis it is open over its
    length.
    """
    scene, mesh, boxes = meshed(SHIPPED[name], quality, feed)
    count = metal_cells(mesh, boxes)
    inner = {"front": mesh.index(1, 0.0), "back": mesh.index(1, -SHIPPED[name].guide.b_mm * 1e-3)}
    for slot, own in zip(scene.slots, SHIPPED[name].slots):
        low, high = sorted((inner[slot.face], mesh.index(1, slot.y)))
        layers = count[:, low:high] if high > low else sheet_cells(mesh, boxes, 1, low)[:, None, :]
        if own.off_grid:
            assert not layers[
                np.searchsorted(mesh.x, slot.x) - 1, :, np.searchsorted(mesh.z, slot.z) - 1
            ].any()
            continue
        i0, i1 = mesh.index(0, slot.x - slot.width / 2), mesh.index(0, slot.x + slot.width / 2)
        k0 = mesh.index(2, slot.z - slot.length / 2 + slot.width / 2)
        k1 = mesh.index(2, slot.z + slot.length / 2 - slot.width / 2)
        assert i1 - i0 >= 1 and not layers[i0:i1, :, k0:k1].any()
        assert layers[i0 - 1, :, k0:k1].all() and layers[i1, :, k0:k1].all(), "metal beside the slot"


@pytest.mark.parametrize("ends", ["square", "round"])
def test_front_wall_has_its_area(ends):
    """Openings on the mesh against the rectangle that the mesh lines draw, and the round ends in it.

    Square ends: exact. Round ends: a cell counts whole or not at all, so that each of the half
    circles is right within half the cells its border runs through (at most 2 n + 2 of n across).
    """
    slots = [
        {
            "position_mm": 40.0 + 20 * i,
            "offset_mm": 3.0 * (-1) ** i,
            "length_mm": 14.2,
            "width_mm": 1.6,
            "ends": ends,
        }
        for i in range(4)
    ]
    scene, mesh, boxes = meshed(with_slots(slots), "fine")
    face, top = mesh.index(1, 0.0), mesh.index(1, 1.27e-3)
    wall = metal_cells(mesh, boxes)[:, (face + top) // 2, :]
    dx, dz = np.diff(mesh.x), np.diff(mesh.z)
    x0, x1, z0, z1 = (
        mesh.index(0, -12.7e-3),
        mesh.index(0, 12.7e-3),
        mesh.index(2, -1.27e-3),
        mesh.index(2, (165.5 + 1.27) * 1e-3),
    )
    open_area = np.sum(np.outer(dx, dz)[x0:x1, z0:z1] * (1 - wall[x0:x1, z0:z1]))
    drawn = tolerance = 0.0
    for slot in scene.slots:
        i = [mesh.index(0, slot.x + s * slot.width / 2) for s in (-1, 1)]
        k = [mesh.index(2, slot.z + s * slot.length / 2) for s in (-1, 1)]
        width, length = np.diff(mesh.x[i])[0], np.diff(mesh.z[k])[0]
        drawn += width * length - ((1 - math.pi / 4) * width**2 if ends == "round" else 0.0)
        across = i[1] - i[0]
        tolerance += (2 * across + 2) * (width / across) ** 2 if ends == "round" else 0.0
    assert open_area == pytest.approx(drawn, rel=1e-9, abs=tolerance)


def test_solid_walls_have_the_volume_of_the_record():
    """A guide without openings: outer box less inner box, on lines that are exact."""
    _, mesh, boxes = meshed(two_port(slot_rule=None), "normal")
    count = metal_cells(mesh, boxes)
    steps = [np.diff(line) for line in mesh.lines]
    volume = np.einsum("ijk,i,j,k->", count.astype(float), *steps)
    inside = [mesh.lines[axis] for axis in range(3)]
    outer = [np.flatnonzero(count.any(axis=tuple(a for a in range(3) if a != axis))) for axis in range(3)]
    size = [inside[i][outer[i][-1] + 1] - inside[i][outer[i][0]] for i in range(3)]
    scene = antenna_scene(two_port(slot_rule=None))
    length = next(p.low for p in scene.prisms if p.part == "far end") - next(
        p.high for p in scene.prisms if p.part == "near end"
    )
    assert volume == pytest.approx(math.prod(size) - 22.86e-3 * 10.16e-3 * length, rel=1e-9)


def test_thin_walls_become_sheets_on_the_right_line():
    """0.3 mm walls on a coarse mesh: six closed sheets on the inner faces, nothing else of the walls."""
    guide = two_port(slot_rule=None).guide.model_dump(exclude_none=True) | {
        "front_wall_mm": 0.3,
        "other_walls_mm": 0.3,
    }
    scene, mesh, boxes = meshed(two_port(slot_rule=None, guide=guide))
    walls = {p.part: p for p in scene.prisms}
    z0, z1 = mesh.index(2, walls["near end"].high), mesh.index(2, walls["far end"].low)
    span = [
        slice(mesh.index(0, -11.43e-3), mesh.index(0, 11.43e-3)),
        slice(mesh.index(1, -10.16e-3), mesh.index(1, 0.0)),
        slice(z0, z1),
    ]
    for axis in range(3):
        across = tuple(s for i, s in enumerate(span) if i != axis)
        for line in (span[axis].start, span[axis].stop):
            assert sheet_cells(mesh, boxes, axis, line)[across].all()
    assert not metal_cells(mesh, boxes).any()


@each_case("quality", QUALITIES)
@each_case("name", STRAIGHT)
@each_case("wall", ["back", "front"])
def test_coax_is_open_inside_and_closed_about(name, quality, wall):
    record = SHIPPED[name]
    if wall == "front":
        if record.guide.laminate is not None:
            pytest.skip("no feed goes through a laminate front")
        record = with_slots(
            [record.slots[0].model_dump()],
            record,
            feed={"wall": "front", "position_mm": record.guide.length_mm / 2},
        )
    scene, mesh, boxes = meshed(record, quality)
    port = next(p for p in scene.ports if isinstance(p, CoaxPort))
    (i0, i1), (k0, k1), (I0, I1), (K0, K1) = coax_cells(port, mesh)
    assert I0 < i0 < i1 < I1 and K0 < k0 < k1 < K1
    metal = metal_cells(mesh, boxes)
    into = port.direction
    end = mesh.index(1, port.reference - into * port.length)
    inner = mesh.index(1, -record.guide.height_mm * 1e-3 if wall == "back" else 0.0)
    line = range(min(end + into, inner), max(end + into, inner))  # clear of the source's gap
    for j in line:
        bore = metal[I0:I1, j, K0:K1]
        pin = np.zeros_like(bore)
        pin[i0 - I0 : i1 - I0, k0 - K0 : k1 - K0] = 1
        assert np.array_equal(bore, pin)
        assert metal[I0 - 1 : I1 + 1, j, [K0 - 1, K1]].all() and metal[[I0 - 1, I1], j, K0 - 1 : K1 + 1].all()
    for j in (min(end, inner), inner, max(end, inner)):  # no sheet across the bore
        hole = sheet_cells(mesh, boxes, 1, j)[I0:I1, K0:K1]
        assert not hole.any()
    gap, plate = (end, end - 1) if into > 0 else (end - 1, end)
    assert not metal[I0:I1, gap, K0:K1].any() and metal[I0:I1, plate, K0:K1].all()
    # The probe stands on the pin and ends at its tip.
    first, last = (inner, mesh.index(1, mesh.y[inner] + into * record.feed.height_mm * 1e-3))
    probe = metal[:, min(first, last) : max(first, last), :]
    x, z = (np.searchsorted(mesh.lines[a], p) - 1 for a, p in ((0, port.x + 1e-6), (2, port.z + 1e-6)))
    assert probe[x, :, z].all() and not metal[x, last if into > 0 else last - 1, z]
    assert i0 <= x < i1 and k0 <= z < k1


@pytest.mark.parametrize("end", ["near", "far"])
def test_absorber_rises_and_is_matched(end):
    """Magnetic loss sigma mu0 / eps0 keeps the wave impedance; layers rise from the structure outwards."""
    scene, mesh, boxes = meshed(two_port())
    layers = sorted(
        (t for t in boxes if t.material.absorber == ("-z" if end == "near" else "+z")), key=lambda t: t.low[2]
    )
    loss = np.array([t.material.loss for t in layers])
    assert len(layers) > 10 and np.all(np.diff(loss) * (1 if end == "far" else -1) > 0)
    assert [t.magnetic_loss for t in layers] == pytest.approx(loss * MU0 / EPS0, rel=1e-12)
    places = [layers[0].low[2]] + [t.high[2] for t in layers]
    assert np.array_equal(places[1:-1], [t.low[2] for t in layers[1:]]), "no gap between layers"
    part = next(p for p in scene.prisms if p.part == f"{end} absorber")
    assert (mesh.z[places[0]], mesh.z[places[-1]]) == pytest.approx(
        (part.low, part.high) if part.axis == 2 else part.bounds()[4:], abs=1e-9
    )


def test_mirrored_record_has_mirrored_metal():
    record = varied(SHIPPED[WR90], feed={"offset_mm": 1.3})
    one, two = (metal_cells(m, t) for _, m, t in (meshed(record), meshed(mirrored(record))))
    assert np.array_equal(one, two[::-1])


@each_case("quality", QUALITIES)
@each_case("name", SHIPPED)
def test_meshed_coax_has_the_impedance_of_the_record(name, quality):
    """Dense solution of the five-point equations on the mesh, written anew: charge on the bore for 1 V on the
    pin.
    """
    scene = antenna_scene(SHIPPED[name])
    mesh = grid(scene, QUALITIES[quality])
    port, *_ = scene.ports  # of two antennas the first; the other lies on lines of its own
    (i0, i1), (k0, k1), (I0, I1), (K0, K1) = coax_cells(port, mesh)
    first, second = (mesh.lines[axis] for axis, _ in port.across)
    x, z = first[I0 : I1 + 1], second[K0 : K1 + 1]
    shape = len(x), len(z)
    matrix = np.zeros((math.prod(shape),) * 2)
    for i, k in np.ndindex(*shape):
        for di, dk in ((1, 0), (0, 1)):
            if i + di >= shape[0] or k + dk >= shape[1]:
                continue
            line, along, other = (z, x, (i, k)) if di else (x, z, (k, i))
            ahead, beside = other
            width = (line[min(beside + 1, len(line) - 1)] - line[max(beside - 1, 0)]) / 2
            one, two = np.ravel_multi_index(((i, i + di), (k, k + dk)), shape)
            link = width / (along[ahead + 1] - along[ahead])
            matrix[[one, two], [one, two]] += link
            matrix[[one, two], [two, one]] -= link
    value, held = np.zeros(shape), np.ones(shape, dtype=bool)
    held[1:-1, 1:-1] = False
    value[i0 - I0 : i1 - I0 + 1, k0 - K0 : k1 - K0 + 1] = 1.0
    held |= value > 0
    free, value = ~held.ravel(), value.ravel()
    value[free] = np.linalg.solve(matrix[np.ix_(free, free)], -matrix[np.ix_(free, ~free)] @ value[~free])
    capacitance = EPS0 * value @ matrix @ value
    assert math.sqrt(meshed_coax_permittivity(port, mesh)) / (
        C0 * capacitance
    ) * 1 / meshed_coax_permittivity(port, mesh) == pytest.approx(port.impedance, rel=1e-9)
    used = [t.material.permittivity for t in tiles(scene, mesh) if t.material.name == "coax filling"]
    assert used and used == pytest.approx([meshed_coax_permittivity(port, mesh)] * len(used))


def test_boxes_cover_a_mask_once():
    rng = np.random.default_rng(7)
    for density in (0.05, 0.3, 0.6, 0.9, 1.0):
        for shape in ((7, 5, 9), (1, 6, 8), (4, 1, 5), (3, 4, 1)):
            mask = rng.random(shape) < density
            count = np.zeros(shape, dtype=int)
            for low, high in _boxes(mask):
                count[tuple(slice(a, b) for a, b in zip(low, high))] += 1
            assert np.array_equal(count, mask.astype(int))
