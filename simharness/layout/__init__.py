"""From a design record (mm) to the scene (m): the one place where the antenna's geometry is laid out.

Axes: z along the guide from the inner face of the near end, x across the broad wall from the
centre line, y normal to the broad walls with the inner face of the front wall at 0 and +y outward.
"""

from __future__ import annotations

from simharness.constants import MM
from simharness.layout.pieces import Pieces
from simharness.layout.ports import far_load, guide_port, port_extension, spectrum
from simharness.layout.probe import coax_feed, gap_feed
from simharness.layout.laminate import substrate_pieces
from simharness.layout.slots import slot_features, slot_mark
from simharness.layout.walls import guide_features, walls
from simharness.materials import wall_conductivity
from simharness.records import CoaxFeed, Record
from simharness.scene import Scene
from simharness.slot_outlines import slot_outline

__all__ = ["antenna_scene", "slot_outline"]


def antenna_scene(record: Record, feed: str = "coax") -> Scene:
    """Scene of a record.

    Parameters
    ----------
    feed : 'coax' (a short coax line, waves counted at the outer face of the wall) or
        'gap' (a lumped source in a cut of the probe: cheaper, no line, less true).
    """
    guide, wanted = record.guide, spectrum(record)
    length = guide.length_mm * MM
    near, far = port_extension(record, wanted)
    pieces = [Pieces(tuple(walls(record, near, far, feed)), tuple(guide_features(record, near, far)))]
    pieces += [Pieces((), slot_features(slot, guide)) for slot in record.slots]
    if guide.substrate is not None:
        pieces.append(substrate_pieces(record, near, far, wanted.centre))
    if isinstance(record.feed, CoaxFeed):
        pieces.append((coax_feed if feed == "coax" else gap_feed)(guide, record.feed))
    pieces += [guide_port(record, wanted, end) for end in ("near", "far") if getattr(guide, f"{end}_end") == "port"]
    if guide.far_end == "load":
        pieces.append(far_load(record, wanted))
    a, b = guide.a_mm * MM, guide.b_mm * MM
    return Scene(
        name=record.name,
        prisms=tuple(p for piece in pieces for p in piece.prisms),
        ports=tuple(piece.port for piece in pieces if piece.port is not None),
        features=tuple(f for piece in pieces for f in piece.features),
        spectrum=wanted,
        conductivity=wall_conductivity(guide)[0],
        inside=(-a / 2, a / 2, -b, 0.0, 0.0, length),
        slots=tuple(slot_mark(slot, guide) for slot in record.slots),
    )
