"""Textbook structures as scenes: a guide, an iris, a post, a dipole, a slot in an infinite wall."""

from __future__ import annotations

import math
from dataclasses import replace

from simharness.constants import C0, EPS0, MM, TWO_PI
from simharness.geometry.scene import Feature, GapPort, ModePort, Scene, SlotMark, Spectrum
from simharness.geometry.shape_rectangular import slot_features, slot_mark
from simharness.geometry.solids import (
    COVERS,
    METAL,
    SUBSTRATE,
    Material,
    Prism,
    Sheet,
    block,
    equivalent_square_side,
    rectangle,
)
from simharness.mesh.settings import MeshSettings
from simharness.records import RectangularGuide, Slot
from simharness.records.outlines import constant_width_outline, slot_outline, squared_outline, squared_slot
from simharness.runs.execution import solve
from simharness.runs.planning import plan
from simharness.runs.store import Store
from simharness.solver.settings import SolverSettings

CLOSED = ("metal", "metal", "metal", "metal", "open", "open")


def solved(store: Store, scene: Scene, mesh: MeshSettings, **settings):
    """Result arrays of a scene."""
    return solve(plan(scene, SolverSettings(mesh, **settings)), store).results()


def guide_scene(
    name: str,
    a: float,
    b: float,
    low: float,
    high: float,
    *,
    prisms: tuple = (),
    features: tuple = (),
    half: float,
    far: tuple = (),
) -> Scene:
    """Matched guide along z from -half to +half with an obstacle about z = 0; all in m and Hz."""
    ports = (
        ModePort(a, b, 0.0, -b, +1, plane=-0.5 * half, reference=0.0, source=-0.9 * half),
        ModePort(a, b, 0.0, -b, -1, plane=+0.5 * half, reference=0.0),
    )
    marks = (
        Feature("guide width", 0, -a / 2, a / 2),
        Feature("guide height", 1, -b, 0.0),
        *(Feature("plane", 2, z, z) for z in (-0.9 * half, -0.5 * half, 0.5 * half)),
    )
    return Scene(
        name,
        tuple(prisms),
        ports,
        marks + tuple(features),
        Spectrum((low + high) / 2, low, high, far),
        boundaries=CLOSED,
        radiates=False,
        domain=(-a / 2, a / 2, -b, 0.0, -half, half),
    )


def iris_scene(a: float, opening: float, thickness: float, cell: float) -> Scene:
    """Symmetrical thick inductive iris; the height of the guide does not matter for TEm0 modes."""
    b = 3e-3
    prisms = [
        block(f"iris {side}", METAL, (x0, x1, -b, 0.0, -thickness / 2, thickness / 2))
        for side, x0, x1 in (("left", -a / 2, -opening / 2), ("right", opening / 2, a / 2))
    ]
    features = [
        Feature("iris", 2, -thickness / 2, thickness / 2),
        Feature("iris", 0, -opening / 2, opening / 2),
    ]
    for edge in (-opening / 2, opening / 2):
        features += [Feature("cell", 0, edge - cell, edge), Feature("cell", 0, edge, edge + cell)]
    for edge in (-thickness / 2, thickness / 2):
        features += [Feature("cell", 2, edge - cell, edge), Feature("cell", 2, edge, edge + cell)]
    features += [Feature("cell", 1, -b + i * b / 3, -b + (i + 1) * b / 3) for i in range(3)]
    return guide_scene(
        "iris", a, b, 8.2e9, 12.4e9, prisms=tuple(prisms), features=tuple(features), half=45e-3
    )


def post_scene(a: float, radius: float) -> Scene:
    """Centred round post through the guide, as the equivalent square."""
    b, side = 3e-3, equivalent_square_side(2 * radius)
    post = block("post", METAL, (-side / 2, side / 2, -b, 0.0, -side / 2, side / 2))
    features = [Feature("post", axis, -side / 2, side / 2) for axis in (0, 2)]
    features += [Feature("cell", 1, -b + i * b / 3, -b + (i + 1) * b / 3) for i in range(3)]
    return guide_scene("post", a, b, 9.0e9, 11.0e9, prisms=(post,), features=tuple(features), half=45e-3)


def dipole_scene(length: float, diameter: float, gap: float) -> Scene:
    """Centre-fed wire along z in free space, as a square of equivalent radius."""
    side = equivalent_square_side(diameter)
    arms = [
        block(name, METAL, (-side / 2, side / 2, -side / 2, side / 2, z0, z1))
        for name, z0, z1 in (("lower arm", -length / 2, -gap / 2), ("upper arm", gap / 2, length / 2))
    ]
    features = [Feature("post", axis, -side / 2, side / 2) for axis in (0, 1)]
    features += [Feature("gap", 2, -gap / 2, gap / 2)]
    features += [
        Feature("tip", 2, end * length / 2, end * length / 2, scale=side, outward=end) for end in (-1, 1)
    ]
    centre = 0.955 * C0 / (2 * length)
    return Scene(
        "dipole",
        tuple(arms),
        (GapPort(0.0, 0.0, 0.0, 2, side, -gap / 2, gap / 2, 73.0),),
        tuple(features),
        Spectrum(centre, 0.9 * centre, 1.1 * centre, (centre,)),
    )


def flange_slot_scene(
    a: float,
    b: float,
    wall: float,
    offset: float,
    length: float,
    width: float,
    low: float,
    high: float,
    ends: str = "square",
    substrate: tuple[float, float, float] | None = None,
    routed: bool = False,
    cover: tuple[float, float, float, float] | None = None,
) -> Scene:
    """One longitudinal slot in the broad wall of an endless guide, the wall endless too.

    Wall, guide and free space above run into the absorber on all sides. `substrate`: thickness (m),
    permittivity and loss tangent of a dielectric on the wall, which is then a foil; `routed`: the slot goes
    through it. `cover`: gap (m) before a sheet, and those three of the sheet.
    """
    wave = C0 / (0.5 * (low + high))
    cutoff = C0 / (2 * a)
    guide_wave = C0 / low / math.sqrt(1 - (cutoff / low) ** 2)
    x, half = a / 2 + 0.55 * wave, 1.15 * guide_wave
    outline = constant_width_outline(((offset, -length / 2), (offset, length / 2)), width, ends)
    board, marks = _substrate(substrate, outline, routed, (3 * x, 3 * half), 0.5 * (low + high), width)
    top = wall + (substrate[0] if substrate else 0.0)
    lid, lid_marks = _cover(cover, top, (3 * x, 3 * half), 0.5 * (low + high), width)
    top += (cover[0] + cover[1] if cover else 0.0) + 0.55 * wave
    far_out, reach = 3 * x, 3 * half
    side = 0.06 * a
    prisms = (
        Prism("front wall", METAL, 1, 0.0, wall, rectangle(-far_out, far_out, -reach, reach, (outline,))),
        Prism("back wall", METAL, 1, -b - side, -b, rectangle(-a / 2 - side, a / 2 + side, -reach, reach)),
        block("left side wall", METAL, (-a / 2 - side, -a / 2, -b - side, 0.0, -reach, reach)),
        block("right side wall", METAL, (a / 2, a / 2 + side, -b - side, 0.0, -reach, reach)),
        *board,
        *lid,
    )
    ports = (
        ModePort(a, b, 0.0, -b, +1, plane=-0.72 * half, reference=0.0, source=-0.93 * half),
        ModePort(a, b, 0.0, -b, -1, plane=+0.72 * half, reference=0.0),
    )
    features = (
        Feature("guide width", 0, -a / 2, a / 2),
        Feature("guide height", 1, -b, 0.0),
        Feature("wall", 0, -a / 2 - side, -a / 2, soft=True),
        Feature("wall", 0, a / 2, a / 2 + side, soft=True),
        Feature("wall", 1, -b - side, -b, soft=True),
        *(marks or (Feature("front wall", 1, 0.0, wall, scale=width),)),
        *lid_marks,
        Feature("slot width", 0, offset - width / 2, offset + width / 2, depth=wall),
        Feature("slot length", 2, -length / 2, length / 2, scale=width, depth=wall),
        *(Feature("plane", 2, z, z) for z in (-0.93 * half, -0.72 * half, 0.72 * half)),
    )
    return Scene(
        "slot",
        prisms,
        ports,
        features,
        Spectrum(0.5 * (low + high), low, high),
        radiates=False,
        inside=(-a / 2, a / 2, -b, 0.0, -half, half),
        domain=(-x, x, -b - 0.1 * b, top, -half, half),
        slots=(SlotMark(offset, 0.0, width, length, wall),),
    )


def shaped_slot_scene(a: float, b: float, wall: float, slot: Slot, low: float, high: float) -> Scene:
    """The same for a slot of a record about z = 0 with any centre line and ends; lengths in m but for the
    slot's own.
    """
    scene = flange_slot_scene(
        a, b, wall, slot.offset_mm * MM, slot.length_mm * MM, slot.width_mm * MM, low, high
    )
    guide = RectangularGuide(
        a_mm=a / MM, b_mm=b / MM, length_mm=100.0, front_wall_mm=wall / MM, other_walls_mm=wall / MM
    )
    front, *others = scene.prisms
    x0, z0, x1, z1 = front.outline.polygon().bounds
    front = Prism(
        "front wall",
        METAL,
        1,
        0.0,
        wall,
        rectangle(x0, x1, z0, z1, (slot_outline(slot),)),
        rectangle(x0, x1, z0, z1, (squared_outline(slot),)),
        (squared_slot(slot),) if slot.off_grid else (),
    )
    features = tuple(f for f in scene.features if not f.kind.startswith("slot")) + slot_features(slot, guide)
    return replace(scene, prisms=(front, *others), features=features, slots=(slot_mark(slot, guide),))


def _substrate(substrate, outline, routed: bool, reach: tuple[float, float], frequency: float, width: float):
    """Prisms and features of a dielectric on the wall; none without one."""
    if substrate is None:
        return (), ()
    thickness, permittivity, loss_tangent = substrate
    material = Material(
        "substrate", permittivity=permittivity, loss=TWO_PI * frequency * EPS0 * permittivity * loss_tangent
    )
    sheet = rectangle(-reach[0], reach[0], -reach[1], reach[1], (outline,) if routed else ())
    return (Prism(SUBSTRATE, material, 1, 0.0, thickness, sheet),), (
        Feature("substrate", 1, 0.0, thickness, scale=width),
    )


def _cover(cover, outside: float, reach: tuple[float, float], frequency: float, width: float):
    """Prisms and features of a sheet before the wall; none without one."""
    if cover is None:
        return (), ()
    gap, thickness, permittivity, loss_tangent = cover
    loss = TWO_PI * frequency * EPS0 * permittivity * loss_tangent
    material = Material("cover", permittivity=permittivity, loss=loss)
    low, high = outside + gap, outside + gap + thickness
    sheet = rectangle(-reach[0], reach[0], -reach[1], reach[1])
    return (Sheet(COVERS["front"], material, 1, low, high, sheet),), (
        Feature("cover", 1, low, high, scale=width, soft=True, depth=gap),
    )
