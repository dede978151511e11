"""From a design record (mm) to the scene (m): the one place where the antenna's geometry is laid out.

Axes: z along the guide from the inner face of the near end, x across the broad wall from the
centre line, y normal to the broad walls with the inner face of the front wall at 0 and +y outward. A round
tube touches y = 0 with its front line.
"""

from __future__ import annotations

from simharness.geometry.feeds import feed_geometry
from simharness.geometry.mast import mast_pieces, second_antenna, wing_pieces
from simharness.geometry.mending import screw_pieces, tape_pieces
from simharness.geometry.ports import far_load, guide_port, port_extension, spectrum
from simharness.geometry.scene import Scene
from simharness.geometry.shapes import front_outline, guide_shape
from simharness.records import Record
from simharness.records.materials import wall_conductivity

__all__ = ["antenna_scene", "front_outline"]


def antenna_scene(record: Record, feed: str = "coax") -> Scene:
    """Scene of a record.

    Parameters
    ----------
    feed : 'coax' (a short coax line, waves counted at the outer face of the wall) or
        'gap' (a lumped source in a cut of the probe: faster, no line, less accurate).
    """
    guide, wanted, lumped = record.guide, spectrum(record), feed == "gap"
    shape, probe = guide_shape(guide), feed_geometry(record.feed, guide)
    near, far = port_extension(record, wanted)
    pieces = [*shape.pieces(record, near, far, {} if lumped else probe.holes()), *probe.pieces(lumped)]
    # Over what may lie on the wall: the last solid wins.
    pieces += [*tape_pieces(record), *wing_pieces(record)]
    pieces += screw_pieces(record)
    for end, kind in (("near", guide.near_end), ("far", guide.far_end)):
        if kind == "port":
            pieces.append(guide_port(record, wanted, end))
    if guide.far_end == "load":
        pieces.append(far_load(record, wanted))
    if record.pair is not None and not lumped:
        pieces += list(second_antenna(record, pieces))
    if record.mast is not None:
        pieces.append(mast_pieces(record, near, far))
    width, height = guide.width, guide.height
    return Scene(
        name=record.name,
        prisms=tuple(prism for piece in pieces for prism in piece.prisms),
        ports=tuple(piece.port for piece in pieces if piece.port is not None),
        features=tuple(feature for piece in pieces for feature in piece.features),
        spectrum=wanted,
        conductivity=wall_conductivity(guide)[0],
        inside=(-width / 2, width / 2, -height, 0.0, guide.near_face, guide.far_face),
        slots=tuple(shape.slot_mark(slot) for slot in record.open_slots),
        bore=guide.bore,
        unrolled=shape.unrolled(record.slots, probe.holes()),
    )
