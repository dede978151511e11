"""Wings beside the slotted face: what is refused, the kernel on strips, the mesh, and the sheets."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy.special import mathieu_cem, mathieu_modcem1, mathieu_modsem1, mathieu_modsem2, mathieu_sem
from shaped_records import SHIPPED, varied

from simharness.advice.warnings import warnings
from simharness.em.scatter.bodies import Bodies
from simharness.errors import InputError
from simharness.estimate.antenna import estimate
from simharness.estimate.site.outlines import antenna_alone
from simharness.geometry import antenna_scene
from simharness.geometry.mast import WINGS
from simharness.mesh.grid import grid
from simharness.mesh.raster import tiles
from simharness.mesh.settings import QUALITIES
from simharness.mesh.strips import stairs
from simharness.sheets.build.build_list import build_list, build_of
from simharness.sheets.flat.fabrication import FOLDED, Fabrication

WINGED, TUBE = SHIPPED["winged-5g8"], SHIPPED["eight-slot-5g8"]


def with_wings(record, **wings):
    return varied(record, wings=wings)


@pytest.mark.parametrize(
    ("record", "wings", "what"),
    [
        (WINGED, {"width_mm": 0.0}, "wings.width_mm = 0.0: must be greater than 0"),
        (WINGED, {"angle_deg": 91.0}, "wings.angle_deg = 91.0"),
        (WINGED, {"angle_deg": -61.0}, "wings.angle_deg = -61.0"),
        (WINGED, {"join": "glued"}, "wings.join"),
        (TUBE, {"width_mm": 20.0}, "a stock tube has no sheet to fold them from; must be 'soldered'"),
        (SHIPPED["four-slot-tube-2g44"], {"width_mm": 20.0}, "leave the table out of a round tube"),
        (
            SHIPPED["two-faced-5g8"],
            {"width_mm": 20.0, "join": "soldered"},
            "slots in both walls are not modelled",
        ),
        (
            SHIPPED["five-slot-2g45-laminate"],
            {"width_mm": 20.0},
            "wings on a front wall of laminate are not modelled",
        ),
        (
            SHIPPED["on-mast-5g8"],
            {"width_mm": 20.0, "join": "soldered"},
            "wings and a pole or wall at once are not modelled; leave [wings] or [mast] out",
        ),
        (
            SHIPPED["covered-slot-5g8"],
            {"width_mm": 20.0, "join": "soldered"},
            "wings and a cover at once are not modelled; leave [wings] or [cover] out",
        ),
    ],
)
def test_what_is_refused(record, wings, what):
    with pytest.raises(InputError) as refused:
        with_wings(record, **wings)
    assert what in str(refused.value)


def on_strip(width, places, phi):
    """Total H_z on a strip of no thickness, E across it, over a plane wave of wavelength 1: Mathieu functions
    (Bowman, Senior and Uslenghi, Electromagnetic and Acoustic Scattering by Simple Shapes, ch. 4: the hard
    strip; from memory, in the normalization of scipy). `places`: elliptic angles, `phi`: whence, rad."""
    q = (math.pi * width) ** 2 / 4
    total = np.zeros(places.shape, dtype=complex)
    for m in range(30):
        radial = mathieu_modcem1(m, q, 1e-9)[0]
        angles = mathieu_cem(m, q, np.degrees(places))[0] * mathieu_cem(m, q, math.degrees(phi))[0]
        total += 2 * 1j**m * angles * radial
        if m == 0:
            continue
        (first, slope), (second, other) = (f(m, q, 0.0) for f in (mathieu_modsem1, mathieu_modsem2))
        angles = mathieu_sem(m, q, np.degrees(places))[0] * mathieu_sem(m, q, math.degrees(phi))[0]
        total += 2 * 1j**m * angles * (first - slope / (slope - 1j * other) * (first - 1j * second))
    return total


@pytest.mark.parametrize("width", [1.0, 2.0])
def test_kernel_on_a_strip(width):
    """The thinner a strip of the kernel, the nearer it is to the exact one: seen, rms over both faces, about
    0.07, 0.04 and 0.04 at 0.02, 0.01 and 0.005 wavelengths, of fields up to 2.7."""
    places, phi = np.radians([-150.0, -90, -60, 40, 60, 90, 120, 150]), np.radians([10.0, 50, 90, 170])
    exact = np.stack([on_strip(width, places, each) for each in phi], axis=1)
    off = []
    for thick in (0.02, 0.01, 0.005):
        u, v = width / 2, thick / 2
        outline = np.array([[-u, -v], [u, -v], [u, v], [-u, v]])
        points = np.stack([u * np.cos(places), np.sign(places) * v], axis=1)
        found = Bodies((outline,), thin=thick).solved(2 * math.pi).plane_waves(points, phi)
        off.append(float(np.sqrt(np.mean(np.abs(found - exact) ** 2))))
    assert off[0] < 0.1 and off[2] < 0.05
    assert off[0] > off[1] > off[2]


def test_narrow_wings_are_next_to_none():
    """Half a millimetre at 5.8 GHz, a hundredth of a wavelength."""
    bare = estimate(antenna_alone(WINGED))
    narrow = estimate(with_wings(WINGED, width_mm=0.5, angle_deg=0.0))
    level = bare.across.power > 0.05 * bare.across.power.max()
    apart = np.abs(10 * np.log10(narrow.across.power / bare.across.power))
    assert apart[level].max() < 0.5
    assert np.array_equal(narrow.s11, bare.s11)


def test_words_say_what_wings_do():
    said = " ".join(warnings(WINGED))
    assert "the wings, 20 mm wide bent 30 deg back" in said and "move S11 by about" in said
    assert "the wings" not in " ".join(warnings(antenna_alone(WINGED)))
    short = with_wings(
        SHIPPED["pair-5g8"].model_copy(update={"pair": None}),
        width_mm=15.0,
        angle_deg=90.0,
        join="soldered",
    )
    assert "are a guess; solve the record" in " ".join(warnings(short))


@pytest.mark.parametrize("angle", [-60.0, -30.0, 5.0, 45.0, 90.0])
def test_stairs_are_whole_and_mirrored(angle):
    """Each step begins where the one before ended, the first at the corner of the guide, and both strips are
    mirror images; the free edge is within a cell of its place."""
    scene = antenna_scene(with_wings(WINGED, angle_deg=angle))
    mesh = grid(scene, QUALITIES["draft"])
    right, left = (next(p for p in scene.prisms if p.part == part) for part in WINGS)
    ends = []
    for strip in (right, left):
        here = mesh.index(0, strip.foot[0]), mesh.index(1, strip.foot[1])
        for low, high in stairs(strip, mesh):
            assert here in (low, high) and (low[0] == high[0]) != (low[1] == high[1])
            here = high if here == low else low
        ends.append((mesh.x[here[0]], mesh.y[here[1]]))
        cell = max(np.diff(mesh.x)[here[0]], np.diff(mesh.y)[here[1]])
        assert math.dist(ends[-1], strip.tip) < cell
    assert ends[0] == pytest.approx((-ends[1][0], ends[1][1]), abs=1e-9)
    sheets = [t for t in tiles(scene, mesh) if t.material.metal and (t.low[0] == t.high[0])]
    assert sheets


@pytest.mark.parametrize("angle", [-60.0, -30.0, 0.0, 30.0, 90.0])
def test_folded_blank_gives_the_wing_of_the_scene(angle):
    """Both bends at the edges of the guide, and beyond them the width that the scene has."""
    record = with_wings(WINGED, angle_deg=angle)
    build = build_of(record, FOLDED)
    front = next(part for part in build.parts if part.place == "front")
    length, width = front.size
    outer = record.guide.width + 2 * record.guide.thickness("side")
    if angle == 0.0:
        assert not front.bends
        assert width == pytest.approx(outer + 2 * record.wings.width, abs=1e-9)
    else:
        assert len(front.bends) == 2 and front.away == (angle < 0)
        fold = front.bends[0].fold
        assert fold.angle == abs(angle)
        straight = (width - outer) / 2 - fold.allowance
        assert straight + 2 * fold.setback(angle < 0) == pytest.approx(record.wings.width, abs=1e-9)
    wing = next(p for p in build.scene.prisms if p.part == WINGS[0])
    assert length == pytest.approx(wing.bounds()[5] - wing.bounds()[4], abs=1e-9)


def test_soldered_wings_are_a_part_of_their_own():
    record = with_wings(WINGED, join="soldered")
    build = build_of(record, FOLDED)
    strip = next(part for part in build.parts if part.place == "beside")
    assert strip.size == pytest.approx((record.guide.length, record.wings.width), abs=1e-9)
    text = " ".join(s for section in build_list(build) for s in section.sentences)
    assert "Lay the two wings along the edges" in text and "Wings to the guide: 460 mm of joint." in text


def test_folded_wings_and_lips_do_not_go_together():
    with pytest.raises(InputError, match="can have no lips"):
        build_of(WINGED, Fabrication(lip=8e-3))
