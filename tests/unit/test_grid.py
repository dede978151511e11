"""Mesh lines: edges kept, cells graded, nothing thin, and moves told truly. All expectations are the rules of
the module.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from each_case import each_case
from shaped_records import (
    EQUAL,
    SHIPPED,
    STRAIGHT,
    WR90,
    mirrored,
    tapered_family,
    two_port,
    varied,
    with_slots,
)

from simharness.constants import C0, EPS0
from simharness.em.guide.electrostatics import line_capacitance
from simharness.errors import InputError
from simharness.geometry import antenna_scene
from simharness.geometry.scene import Feature, Scene, Spectrum
from simharness.geometry.solids import METAL, block
from simharness.mesh.edge_correction import EDGE_CORRECTION, EDGE_CORRECTION_SHARE, POSTS, TIP_CORRECTION
from simharness.mesh.grid import grid
from simharness.mesh.lines import SizeHint, _feature_hints, _size
from simharness.mesh.settings import QUALITIES, MeshSettings

PICOMETRE = 1e-12
QUALITY = each_case("quality", QUALITIES)
FEEDS = ("coax", "gap")


@pytest.fixture(scope="module")
def family():
    """Scenes: the shipped records with both feeds, guides with two ports, six arrays with nearly meeting
    edges, taped slots.
    """
    shipped = [antenna_scene(r, feed) for r in EQUAL.values() for feed in FEEDS]
    ports = [antenna_scene(two_port()), antenna_scene(two_port(slot_rule=None))]
    taped = antenna_scene(SHIPPED["taped-four-slot-5g8"])
    return [*shipped, *ports, *(antenna_scene(r) for r in tapered_family(6)), taped]


@pytest.fixture(scope="module")
def meshes(family):
    """Scene and mesh, for each quality."""
    return {name: [(scene, grid(scene, mesh)) for scene in family] for name, mesh in QUALITIES.items()}


def drawn(f: Feature, mesh: MeshSettings, line: np.ndarray) -> Feature:
    """A feature as the mesh is to hold it.

    Posts end on the lines they got (how they act is tested below); a slot's edge is the cut one, drawn out
    by EDGE_CORRECTION_SHARE of EDGE_CORRECTION cells, and so is the edge of tape over it; a tip is drawn
    in by TIP_CORRECTION sides; all others stand as they are.
    """
    if f.kind in POSTS:
        low, high = (float(line[np.argmin(np.abs(line - p))]) for p in (f.low, f.high))
        return replace(f, low=low, high=high)
    if f.kind in EDGE_CORRECTION and f.depth >= 0:
        slot = f.high - f.low if f.kind == "slot width" else f.scale
        cell = slot / mesh.slot_cells
        out = (
            np.interp(f.depth / slot, *EDGE_CORRECTION_SHARE)
            * cell
            * np.interp(f.depth / cell, *EDGE_CORRECTION[f.kind])
        )
        return replace(f, low=f.low - out, high=f.high + out)
    if f.kind == "tape edge":  # an opening's end in a wall of no thickness
        out = EDGE_CORRECTION_SHARE[1][0] * f.scale / mesh.slot_cells * EDGE_CORRECTION["slot length"][1][0]
        return replace(f, low=f.low - f.outward * out, high=f.high - f.outward * out)
    if f.kind == "tip":
        place = f.low - f.outward * f.scale * np.interp(
            1 / mesh.post_cells, *TIP_CORRECTION[mesh.post_cells - 1]
        )
        return replace(f, low=place, high=place)
    return f


def edges(scene, mesh: MeshSettings, axis: int, line: np.ndarray):
    """Hard edges of an axis (position, kind) as the mesh is asked to hold them."""
    features = [drawn(f, mesh, line) for f in scene.features if f.axis == axis and not f.soft]
    return [(p, f.kind) for f in features for p in (f.low, f.high)]


def wanted(scene, mesh: MeshSettings, axis: int, at: np.ndarray, line: np.ndarray) -> np.ndarray:
    """Cell size asked for at some places, m."""
    hints = [h for f in scene.features if f.axis == axis for h in _feature_hints(drawn(f, mesh, line), mesh)]
    near, far = (C0 / scene.spectrum.high / count for count in (mesh.per_wavelength, mesh.air_per_wavelength))
    return _size(
        np.asarray(at), [SizeHint(*near_air(scene, mesh, axis), near), *hints], max(near, far), mesh.growth
    )


def near_air(scene, mesh: MeshSettings, axis: int) -> tuple[float, float]:
    """The antenna with the air up to where the recording box is to stand, m."""
    low, high = scene.bounds()[2 * axis : 2 * axis + 2]
    away = mesh.surface_wavelengths * C0 / scene.spectrum.centre
    return low - away, high + away


@pytest.mark.parametrize("feed", FEEDS)
@pytest.mark.parametrize("name", EQUAL)
@QUALITY
def test_shipped_records_keep_every_hard_edge(name, feed, quality):
    scene = antenna_scene(SHIPPED[name], feed)
    mesh = grid(scene, QUALITIES[quality])
    for axis in range(3):
        for place, kind in edges(scene, QUALITIES[quality], axis, mesh.lines[axis]):
            assert np.min(np.abs(mesh.lines[axis] - place)) < PICOMETRE, kind
    assert mesh.moved < PICOMETRE


@QUALITY
def test_neighbours_and_slivers(meshes, quality):
    """Ratio as set, and no cell below half of `merge` times the size asked for.

    Edges stay `merge` local cells apart. The other half is room for intervals cut into whole numbers of
    cells that keep the ratio to a neighbour (seen on thirty arrays: 0.51 of `merge` at worst).
    """
    settings = QUALITIES[quality]
    for scene, mesh in meshes[quality]:
        assert mesh.largest_ratio <= settings.ratio_limit
        for axis, line in enumerate(mesh.lines):
            assert np.all(np.diff(line) > 0)
            inner = line[slice(*_without_absorber(mesh, axis))]
            share = np.diff(inner) / wanted(scene, settings, axis, (inner[1:] + inner[:-1]) / 2, line)
            assert share.min() > 0.5 * settings.merge


def _without_absorber(mesh, axis: int) -> tuple[int, int]:
    return mesh.absorber[2 * axis], len(mesh.lines[axis]) - mesh.absorber[2 * axis + 1]


@QUALITY
def test_moves_are_bounded_and_told(meshes, quality):
    settings, any_moved = QUALITIES[quality], False
    for scene, mesh in meshes[quality]:
        moves = []
        for axis in range(3):
            for place, kind in edges(scene, settings, axis, mesh.lines[axis]):
                moves.append((np.min(np.abs(mesh.lines[axis] - place)), kind))
                # 1e-9: rounding; the reach is that of a local cell.
                assert moves[-1][0] <= settings.merge * wanted(
                    scene, settings, axis, place, mesh.lines[axis]
                ) * (1 + 1e-9)
                if kind.startswith("guide"):
                    assert moves[-1][0] < PICOMETRE
        largest = max(m for m, _ in moves)
        if mesh.moved_kind == "post":
            # Where a post was asked to end is known to the mesh alone; its reach is that of a cell of its
            # own.
            side = next(f.high - f.low for f in scene.features if f.kind == "post")
            assert largest <= mesh.moved <= settings.merge * side
        else:
            assert mesh.moved == pytest.approx(largest, abs=1e-15)
        if largest > PICOMETRE:
            any_moved = True
            assert mesh.moved_kind == "post" or mesh.moved_kind in {
                kind for move, kind in moves if move > largest - PICOMETRE
            }
    assert any_moved, "the family has edges that merge"


def test_a_thin_wall_gives_way_to_the_guide():
    """Front wall much thinner than a cell and no slot: its outer face moves, the inner one does not."""
    plain = two_port(slot_rule=None).guide.model_dump(exclude_none=True)
    record = two_port(slot_rule=None, guide=plain | {"front_wall_mm": 0.3, "other_walls_mm": 0.3})
    mesh = grid(antenna_scene(record), QUALITIES["draft"])
    assert np.min(np.abs(mesh.y)) < PICOMETRE and np.min(np.abs(mesh.y + 10.16e-3)) < PICOMETRE
    assert (mesh.moved, mesh.moved_kind) == (pytest.approx(0.3e-3, abs=PICOMETRE), "front wall")


@pytest.mark.parametrize("kind", ["front wall", "slot width", "cell"])
def test_a_feature_without_extent_asks_for_no_cells_of_no_size(kind):
    """A foil, say: its place is a line, as it was, and a slot in it has its cells beside it."""
    scene, mesh = antenna_scene(EQUAL[WR90]), QUALITIES["draft"]
    foil = replace(
        scene, features=(*scene.features, Feature(kind, 1, 0.0, 0.0, 1e-3 if kind == "front wall" else 0.0))
    )
    with_it, without = grid(foil, mesh).y, grid(scene, mesh).y
    assert np.min(np.abs(with_it)) < PICOMETRE
    assert np.min(np.diff(with_it)) > 0.5 * min(np.min(np.diff(without)), 1e-3 / mesh.slot_cells)
    if kind != "front wall":
        np.testing.assert_allclose(with_it, without, atol=PICOMETRE)


def test_an_edge_beside_the_guide_face_joins_it():
    """A slot edge 20 um from the side wall, as the mesh is asked to hold it: the edge moves, the wall
    stays.
    """
    slot = {"position_mm": 80.0, "offset_mm": 8.0, "length_mm": 14.2, "width_mm": 1.6}
    scene = antenna_scene(with_slots([slot]))
    drawn_out = max(
        p for p, kind in edges(scene, QUALITIES["normal"], 0, np.zeros(1)) if kind == "slot width"
    )
    slot["offset_mm"] += 11.43 - 0.02 - 1e3 * drawn_out
    mesh = grid(antenna_scene(with_slots([slot])), QUALITIES["normal"])
    assert np.min(np.abs(mesh.x - 11.43e-3)) < PICOMETRE
    assert (mesh.moved, mesh.moved_kind) == (pytest.approx(20e-6, abs=PICOMETRE), "slot width")


@QUALITY
def test_symmetry(quality):
    """Centred probe and slots in mirror pairs: x lines symmetric; mirrored records: mirrored lines."""
    settings = QUALITIES[quality]
    symmetric = [antenna_scene(r, feed) for r in EQUAL.values() for feed in FEEDS]
    # Slot edges at +-0.10 and +-0.14 mm: merging has to choose alike on both sides of the centre line.
    near = [
        {"position_mm": 25.4 + 18.66 * i, "offset_mm": o, "length_mm": 14.0, "width_mm": 1.6}
        for i, o in enumerate((0.9, -0.9, 0.94, -0.94, 0.8, -0.8))
    ]
    symmetric.append(antenna_scene(with_slots(near)))
    for scene in symmetric:
        x = grid(scene, settings).x
        assert np.abs(x + x[::-1]).max() < PICOMETRE
    for record in tapered_family(2):
        record = varied(record, feed={"offset_mm": 1.3})
        one, two = (grid(antenna_scene(r), settings) for r in (record, mirrored(record)))
        assert len(one.x) == len(two.x) and np.abs(one.x + two.x[::-1]).max() < PICOMETRE
        assert np.abs(one.z - two.z).max() < PICOMETRE and np.abs(one.y - two.y).max() < PICOMETRE


def test_draft_and_normal_have_no_layer_and_more_air():
    """Mur's condition in place of a matched layer: it is poor at slanting waves and near fields, hence the
    air.
    """
    layers = {name: mesh.absorber_cells for name, mesh in QUALITIES.items()}
    margin = {name: mesh.margin_wavelengths for name, mesh in QUALITIES.items()}
    assert layers == {"draft": 0, "normal": 0, "fine": 8}
    assert margin == {"draft": 0.75, "normal": 0.75, "fine": 0.25}


@QUALITY
def test_margin_absorber_and_recording_surface(meshes, quality):
    settings = QUALITIES[quality]
    for scene, mesh in meshes[quality][:8]:
        margin = settings.margin_wavelengths * C0 / scene.spectrum.centre
        bounds, layers = scene.bounds(), settings.absorber_cells
        assert mesh.absorber == (layers,) * 6
        for axis, line in enumerate(mesh.lines):
            assert line[layers] == pytest.approx(bounds[2 * axis] - margin, abs=PICOMETRE)
            assert line[-1 - layers] == pytest.approx(bounds[2 * axis + 1] + margin, abs=PICOMETRE)
            for part in (line[: layers + 2], line[-layers - 2 :]) if layers else ():
                assert np.ptp(np.diff(part)) < PICOMETRE
            low, high = mesh.surface[axis]
            # The recording box holds the whole antenna.
            assert line[low] < bounds[2 * axis] and line[high] > bounds[2 * axis + 1]
            clear = layers + settings.surface_cells
            assert min(low, len(line) - 1 - high) >= clear
            for at, place in zip((low, high), near_air(scene, settings, axis)):
                objective = int(np.argmin(np.abs(line - place)))
                assert at == min(max(objective, clear), len(line) - 1 - clear)


def test_the_recording_box_keeps_clear_of_the_end_of_the_air():
    """Air as thin as the box's distance: the box stands nearer to the metal, `surface_cells` from the
    layer.
    """
    settings = replace(QUALITIES["fine"], margin_wavelengths=0.15)
    scene = antenna_scene(SHIPPED[WR90])
    mesh = grid(scene, settings)
    for axis, line in enumerate(mesh.lines):
        outer, bounds = len(line) - 1 - settings.absorber_cells, scene.bounds()[2 * axis : 2 * axis + 2]
        assert mesh.surface[axis] == (
            settings.absorber_cells + settings.surface_cells,
            outer - settings.surface_cells,
        )
        low, high = near_air(scene, settings, axis)
        assert (
            low < line[mesh.surface[axis][0]] < bounds[0] and bounds[1] < line[mesh.surface[axis][1]] < high
        )


@QUALITY
def test_cells_of_the_air_are_coarse_beyond_the_recording_box_alone(meshes, quality):
    """Up to the box `per_wavelength`, beyond it `air_per_wavelength`, at the highest frequency, with growth
    between.

    An interval of n cells holds up to n + 0.35 of the wanted ones: n may be 1 in the antenna and is 7 or more
    in the air, where the lack of half a cell in n is 0.93.
    """
    settings = QUALITIES[quality]
    for scene, mesh in meshes[quality]:
        if not scene.radiates:
            continue
        near, far = (
            C0 / scene.spectrum.high / count
            for count in (settings.per_wavelength, settings.air_per_wavelength)
        )
        for axis, line in enumerate(mesh.lines):
            inner = line[slice(*_without_absorber(mesh, axis))]
            steps, middle = np.diff(inner), (inner[1:] + inner[:-1]) / 2
            low, high = near_air(scene, settings, axis)
            beyond = (middle < low) | (middle > high)
            assert steps[~beyond].max() <= 1.35 * near
            share = steps / wanted(scene, settings, axis, middle, line)
            assert share[beyond].max() <= 1.05
            outermost = steps[[0, -1]]
            assert share[[0, -1]].min() >= 0.93 and outermost.min() > 1.15 * near
            if not settings.absorber_cells:  # the thinner air before a layer ends before its cells have grown
                assert outermost.min() >= 0.93 * far


def test_time_step_is_the_courant_limit():
    """1 / (c sqrt(1/dx^2 + 1/dy^2 + 1/dz^2)) of the smallest cells."""
    mesh = grid(antenna_scene(SHIPPED[WR90]), QUALITIES["draft"])
    dx, dy, dz = (np.min(np.diff(line)) for line in mesh.lines)
    assert mesh.time_step == pytest.approx(1 / C0 / math.sqrt(dx**-2 + dy**-2 + dz**-2), rel=1e-14)
    assert mesh.cells == (len(mesh.x) - 1) * (len(mesh.y) - 1) * (len(mesh.z) - 1)


def lattice_radius(name: str, feed: str, settings: MeshSettings) -> float:
    """Electrostatic radius of the probe on its own mesh over that of the record's wire.

    The probe stands between side walls a apart, p from the short. A thin wire of radius r there has
    C = 2 pi eps0 / ln(R / r), R = (2 a / pi) tanh(pi p / a) (images in a strip, first principles).
    """
    record = SHIPPED[name]
    scene = antenna_scene(record, feed)
    mesh = grid(scene, settings)
    a, p, wire = (
        record.guide.width_mm * 1e-3,
        record.feed.position_mm * 1e-3,
        record.feed.wire_diameter_mm * 1e-3,
    )
    x0, x1 = mesh.index(0, -a / 2), mesh.index(0, a / 2)
    z0, z1 = mesh.index(2, 0.0), mesh.index(2, p + 2.5 * a)  # the field falls as exp(-pi z / a)
    # The solver's post ends on the lines nearest to the faces of its square.
    post = [f for f in scene.features if f.kind == "post"]
    (i0, i1), (k0, k1) = ((mesh.index(f.axis, f.low), mesh.index(f.axis, f.high)) for f in post)
    capacitance = line_capacitance(
        mesh.x[x0 : x1 + 1], mesh.z[z0 : z1 + 1], (i0 - x0, i1 - x0), (k0 - z0, k1 - z0)
    )
    return (
        2
        * a
        / math.pi
        * math.tanh(math.pi * p / a)
        * math.exp(-2 * math.pi * EPS0 / capacitance)
        / (wire / 2)
    )


@pytest.mark.parametrize("feed", FEEDS)
@pytest.mark.parametrize("name", STRAIGHT)
@QUALITY
def test_the_solver_finds_the_drawn_in_tip(name, feed, quality):
    """Metal ends on the line nearest to its end: that is the line drawn in.

    How far that line is drawn in is tested in `test_edge_correction`.
    """
    settings, scene = QUALITIES[quality], antenna_scene(SHIPPED[name], feed)
    mesh = grid(scene, settings)
    (tip,) = (f for f in scene.features if f.kind == "tip")
    side = {f.high - f.low for f in scene.features if f.kind == "post"}
    assert tip.scale == pytest.approx(side.pop(), rel=1e-12) and tip.outward in (-1, 1)
    j = mesh.index(1, tip.low)
    drawn_in = tip.outward * (tip.low - mesh.y[j]) / tip.scale
    assert drawn_in == pytest.approx(
        np.interp(1 / settings.post_cells, *TIP_CORRECTION[settings.post_cells - 1]), abs=1e-9
    )
    # Cells on both sides of it are about those of the table: an interval of n cells holds up to n + 0.35 of
    # the wanted ones, one cell up to 1.35 (seen: 0.87 to 1.19, and 1.23 behind wings that are bent back).
    assert np.diff(mesh.y[j - 1 : j + 2]) == pytest.approx(tip.scale / settings.post_cells, rel=0.25)


@pytest.mark.parametrize("feed", FEEDS)
@pytest.mark.parametrize("name", STRAIGHT)
@QUALITY
def test_a_meshed_post_acts_as_the_wanted_wire(name, feed, quality):
    """4.5 %: two axes have their own cells, the rule takes each alone and growth by 1.2 (seen: -4.1 to +0.9
    %).

    Cells that do not grow, as those beside the probe of WR-90 on the normal mesh, make a post 3.3 % thinner
    than those (from `em.laplace`, one cell across). The reactance of a probe goes as 60 ohm times the
    logarithm of its radius: 2.8 ohm at most.
    """
    assert lattice_radius(name, feed, QUALITIES[quality]) == pytest.approx(1.0, rel=0.045)


def test_unlike_faces_are_refused():
    part = block("part", METAL, (0.0, 0.1, 0.0, 0.1, 0.0, 0.1))
    scene = Scene(
        "odd",
        (part,),
        (),
        (Feature("part", 0, 0.0, 0.1),),
        Spectrum(1e9, 0.9e9, 1.1e9),
        boundaries=("open", "metal", "open", "open", "open", "open"),
    )
    with pytest.raises(InputError, match="both faces"):
        grid(scene, MeshSettings())
