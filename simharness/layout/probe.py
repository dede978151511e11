"""A straight coax probe: conductors, port, and what the mesh must honour of them."""

from __future__ import annotations

from simharness.constants import MM
from simharness.em.coax import coax_impedance
from simharness.layout.pieces import Pieces
from simharness.records import Guide, Probe
from simharness.scene import (
    METAL, CoaxPort, Feature, GapPort, Material, Prism, block, equivalent_square_bore, equivalent_square_side,
)


def _probe_side(guide: Guide, probe: Probe) -> tuple[float, float, int]:
    """Inner face, outer face (y, m) of the probe's wall and the sign of 'into the guide'."""
    if probe.wall == "back":
        inner = -guide.height_mm * MM
        return inner, inner - guide.other_thickness_mm * MM, 1
    return 0.0, guide.front_thickness_mm * MM, -1


def _y_block(part: str, material: Material, x: float, z: float, side: float, y0: float, y1: float) -> Prism:
    low, high = min(y0, y1), max(y0, y1)
    return block(part, material, (x - side / 2, x + side / 2, low, high, z - side / 2, z + side / 2))


def coax_feed(guide: Guide, probe: Probe) -> Pieces:
    """Probe, and the coax line that feeds it through its wall."""
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
    return Pieces(tuple(prisms), tuple(features), port)


def gap_feed(guide: Guide, probe: Probe) -> Pieces:
    """Probe with a lumped source in a cut at its foot."""
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
    return Pieces(tuple(prisms), tuple(features), port)
