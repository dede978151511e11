"""From a design record (mm) to the scene (m): the one place where the antenna's geometry is laid out.

Axes: z along the guide from the inner face of the near end, x across the broad wall from the
centre line, y normal to the broad walls with the inner face of the front wall at 0 and +y outward.
"""

from __future__ import annotations

from shapely.geometry import Polygon

from simharness.em.coax import coax_impedance
from simharness.em.guide import cutoff_frequency, guide_wavelength
from simharness.em.slot import rectangular_length
from simharness.materials import wall_conductivity
from simharness.records import Guide, Probe, Record, Slot
from simharness.scene import (
    METAL, CoaxPort, Feature, GapPort, Material, ModePort, Prism, Scene, SlotMark, Spectrum, block, circle,
    constant_width_outline, equivalent_square_bore, equivalent_square_side, rectangle,
)

MM = 1e-3
FEED_PLANE, FEED_SOURCE, FEED_ABSORBER, FEED_END = 0.4, 0.65, 0.75, 1.75
"""A guide port behind its reference plane, in guide wavelengths at the lowest frequency asked for:
measuring plane, source, start and end of the matched absorber."""



def antenna_scene(record: Record, feed: str = "coax") -> Scene:
    """Scene of a record.

    Parameters
    ----------
    feed : 'coax' (a short coax line, waves counted at the outer face of the wall) or
        'gap' (a lumped source in a cut of the probe: cheaper, no line, less true).
    """
    spectrum = _spectrum(record)
    length = record.guide.length_mm * MM
    near, far = _port_extension(record, spectrum)
    prisms = list(_walls(record, near, far, feed))
    features = list(_guide_features(record, near, far))
    for slot in record.slots:
        features += _slot_features(slot, record.guide.front_wall_mm * MM)
    ports: list = []
    if isinstance(record.feed, Probe):
        part = _coax if feed == "coax" else _gap
        more, port, marks = part(record.guide, record.feed)
        prisms += more
        features += marks
        ports.append(port)
    for end in ("near", "far"):
        if getattr(record.guide, f"{end}_end") == "port":
            more, port, marks = _guide_port(record, spectrum, end)
            prisms += more
            features += marks
            ports.append(port)
    a, b = record.guide.a_mm * MM, record.guide.b_mm * MM
    return Scene(
        name=record.name,
        prisms=tuple(prisms),
        ports=tuple(ports),
        features=tuple(features),
        spectrum=spectrum,
        conductivity=wall_conductivity(record.guide)[0],
        inside=(-a / 2, a / 2, -b, 0.0, 0.0, length),
        slots=tuple(
            SlotMark(s.offset_mm * MM, s.position_mm * MM, s.width_mm * MM, s.length_mm * MM, record.guide.front_wall_mm * MM)
            for s in record.slots
        ),
    )


def _spectrum(record: Record) -> Spectrum:
    band = record.band
    width = band.beyond_ghz
    cutoff = cutoff_frequency(record.guide.a_mm * MM) / 1e9
    low = max(band.low_ghz - width, 1.05 * cutoff, 0.88 * band.centre_ghz)
    low = min(low, band.low_ghz)
    high = max(min(band.high_ghz + width, 1.12 * band.centre_ghz), band.high_ghz)
    far = (band.low_ghz, band.centre_ghz, band.high_ghz)
    return Spectrum(band.centre_ghz * 1e9, low * 1e9, high * 1e9, tuple(f * 1e9 for f in far))


def _longest_wave(guide: Guide, spectrum: Spectrum) -> float:
    """Guide wavelength at the lowest frequency asked for, m."""
    return float(guide_wavelength(guide.a_mm * MM, spectrum.low))


def _port_extension(record: Record, spectrum: Spectrum) -> tuple[float, float]:
    reach = FEED_END * _longest_wave(record.guide, spectrum)
    return (
        reach if record.guide.near_end == "port" else 0.0,
        reach if record.guide.far_end == "port" else 0.0,
    )


def slot_outline(slot: Slot) -> Polygon:
    """Outline of a slot in the plane of the wall, (x, z) in m."""
    x, z, half = slot.offset_mm * MM, slot.position_mm * MM, slot.length_mm * MM / 2
    return constant_width_outline(((x, z - half), (x, z + half)), slot.width_mm * MM, slot.ends)


def _squared(slot: Slot) -> Polygon:
    """The slot as a rectangle of the same width and area."""
    half = rectangular_length(slot.length_mm, slot.width_mm, slot.ends) * MM / 2
    x, z = slot.offset_mm * MM, slot.position_mm * MM
    return constant_width_outline(((x, z - half), (x, z + half)), slot.width_mm * MM, "square")


def _walls(record: Record, near: float, far: float, feed: str):
    guide = record.guide
    a, b, length = guide.a_mm * MM, guide.b_mm * MM, guide.length_mm * MM
    front, other = guide.front_wall_mm * MM, guide.other_walls_mm * MM
    x = a / 2 + other
    z0, z1 = -near - other, length + far + other
    openings = {"front": [slot_outline(s) for s in record.slots], "back": []}
    if isinstance(record.feed, Probe) and feed == "coax":
        probe = record.feed
        openings[probe.wall].append(circle(probe.offset_mm * MM, probe.position_mm * MM, probe.coax_outer_mm * MM))
    squared = [_squared(s) for s in record.slots] + openings["front"][len(record.slots):]
    yield Prism(
        "front wall", METAL, 1, 0.0, front, rectangle(-x, x, z0, z1, tuple(openings["front"])),
        rectangle(-x, x, z0, z1, tuple(squared)),
    )
    yield Prism("back wall", METAL, 1, -b - other, -b, rectangle(-x, x, z0, z1, tuple(openings["back"])))
    for side, low in (("left side wall", -x), ("right side wall", a / 2)):
        yield Prism(side, METAL, 0, low, low + other, rectangle(-b - other, front, z0, z1))
    for end, low in (("near end", z0), ("far end", z1 - other)):
        yield Prism(end, METAL, 2, low, low + other, rectangle(-x, x, -b - other, front))


def _guide_features(record: Record, near: float, far: float):
    guide = record.guide
    a, b, length = guide.a_mm * MM, guide.b_mm * MM, guide.length_mm * MM
    other = guide.other_walls_mm * MM
    yield Feature("guide width", 0, -a / 2, a / 2)
    yield Feature("guide height", 1, -b, 0.0)
    yield Feature("guide length", 2, -near, length + far)
    finest = min((s.width_mm for s in record.slots), default=0.0) * MM
    yield Feature("front wall", 1, 0.0, guide.front_wall_mm * MM, scale=finest)
    yield Feature("wall", 0, -a / 2 - other, -a / 2, soft=True)
    yield Feature("wall", 0, a / 2, a / 2 + other, soft=True)
    yield Feature("wall", 1, -b - other, -b, soft=True)
    yield Feature("wall", 2, -near - other, -near, soft=True)
    yield Feature("wall", 2, length + far, length + far + other, soft=True)


def _slot_features(slot: Slot, wall: float):
    x, z = slot.offset_mm * MM, slot.position_mm * MM
    half_width = slot.width_mm * MM / 2
    half_length = rectangular_length(slot.length_mm, slot.width_mm, slot.ends) * MM / 2
    return [
        Feature("slot width", 0, x - half_width, x + half_width, depth=wall),
        Feature("slot length", 2, z - half_length, z + half_length, scale=2 * half_width, depth=wall),
    ]


def _probe_side(guide: Guide, probe: Probe) -> tuple[float, float, int]:
    """Inner face, outer face (y, m) of the probe's wall and the sign of 'into the guide'."""
    if probe.wall == "back":
        inner = -guide.b_mm * MM
        return inner, inner - guide.other_walls_mm * MM, 1
    return 0.0, guide.front_wall_mm * MM, -1


def _y_block(part: str, material: Material, x: float, z: float, side: float, y0: float, y1: float) -> Prism:
    low, high = min(y0, y1), max(y0, y1)
    return block(part, material, (x - side / 2, x + side / 2, low, high, z - side / 2, z + side / 2))


def _coax(guide: Guide, probe: Probe):
    x, z = probe.offset_mm * MM, probe.position_mm * MM
    inner_face, outer_face, into = _probe_side(guide, probe)
    tip = inner_face + into * probe.height_mm * MM
    wire = equivalent_square_side(probe.wire_diameter_mm * MM)
    pin = equivalent_square_side(probe.coax_inner_mm * MM)
    bore = equivalent_square_bore(probe.coax_outer_mm * MM)
    length = 2.2 * probe.coax_outer_mm * MM
    end = outer_face - into * length
    gap = length / 11
    filling = Material("coax filling", permittivity=probe.coax_permittivity)
    sleeve = bore + 0.5 * probe.coax_outer_mm * MM
    prisms = [
        _y_block("coax sleeve", METAL, x, z, sleeve, end - into * gap, inner_face),
        _y_block("coax bore", filling, x, z, bore, end, inner_face),
        _y_block("coax pin", METAL, x, z, pin, end + into * gap, inner_face),
        _y_block("probe", METAL, x, z, wire, inner_face, tip),
    ]
    impedance = coax_impedance(probe.coax_inner_mm * MM, probe.coax_outer_mm * MM, probe.coax_permittivity)
    port = CoaxPort(x, z, outer_face, into, length, pin, bore, probe.coax_permittivity, impedance)
    features = [Feature("tip", 1, tip, tip, scale=wire, outward=into)]
    for axis, centre in ((0, x), (2, z)):
        features.append(Feature("post", axis, centre - wire / 2, centre + wire / 2))
        features.append(Feature("pin", axis, centre - pin / 2, centre + pin / 2, soft=True))
        features.append(Feature("bore", axis, centre - bore / 2, centre + bore / 2, soft=True))
        features.append(Feature("sleeve", axis, centre - sleeve / 2, centre + sleeve / 2, soft=True))
    low, high = min(end, outer_face), max(end, outer_face)
    features.append(Feature("coax line", 1, low, high))
    features.append(Feature("coax gap", 1, min(end, end + into * gap), max(end, end + into * gap)))
    return prisms, port, features


def _gap(guide: Guide, probe: Probe):
    x, z = probe.offset_mm * MM, probe.position_mm * MM
    inner_face, _, into = _probe_side(guide, probe)
    tip = inner_face + into * probe.height_mm * MM
    wire = equivalent_square_side(probe.wire_diameter_mm * MM)
    cut = inner_face + into * min(wire, 0.1 * probe.height_mm * MM)
    prisms = [_y_block("probe", METAL, x, z, wire, cut, tip)]
    port = GapPort(x, inner_face, z, 1, wire, min(inner_face, cut), max(inner_face, cut))
    features = [Feature("tip", 1, tip, tip, scale=wire, outward=into), Feature("gap", 1, port.low, port.high)]
    for axis, centre in ((0, x), (2, z)):
        features.append(Feature("post", axis, centre - wire / 2, centre + wire / 2))
    return prisms, port, features


def _guide_port(record: Record, spectrum: Spectrum, end: str):
    guide = record.guide
    a, b, length = guide.a_mm * MM, guide.b_mm * MM, guide.length_mm * MM
    wave = _longest_wave(guide, spectrum)
    direction, start = (1, 0.0) if end == "near" else (-1, length)
    at = lambda share: start - direction * share * wave  # noqa: E731 - a coordinate, named where used
    z0, z1 = sorted((at(FEED_ABSORBER), at(FEED_END)))
    absorber = Material(
        "absorber", loss=0.03 / wave, absorber="-z" if direction > 0 else "+z"
    )
    active = end == "near"
    port = ModePort(
        a, b, 0.0, -b, direction, plane=at(FEED_PLANE), reference=start, source=at(FEED_SOURCE) if active else None
    )
    features = [Feature("plane", 2, place, place) for place in (start, at(FEED_PLANE))]
    if active:
        features.append(Feature("plane", 2, at(FEED_SOURCE), at(FEED_SOURCE)))
    features.append(Feature("absorber", 2, z0, z1))
    return [block(f"{end} absorber", absorber, (-a / 2, a / 2, -b, 0.0, z0, z1))], port, features
