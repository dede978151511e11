"""From a design record (mm) to the scene (m): the one place where the antenna's geometry is laid out.

Axes: z along the guide from the inner face of the near end, x across the broad wall from the
centre line, y normal to the broad walls with the inner face of the front wall at 0 and +y outward. A round
tube touches y = 0 with its front line.
"""

from __future__ import annotations

from collections.abc import Iterator

from simharness.geometry.laminate import substrate_pieces
from simharness.geometry.pieces import Pieces
from simharness.geometry.ports import far_load, guide_port, port_extension, spectrum
from simharness.geometry.probe import coax_feed, gap_feed
from simharness.geometry.round_tube import (
    tube_features,
    tube_slot_features,
    tube_slot_mark,
    tube_walls,
    unrolled_openings,
)
from simharness.geometry.scene import Scene
from simharness.geometry.slots import front_outline, slot_features, slot_mark
from simharness.geometry.walls import guide_features, walls
from simharness.records import CoaxFeed, Record, RoundGuide
from simharness.records.materials import wall_conductivity
from simharness.records.outlines import slot_outline

__all__ = ["antenna_scene", "front_outline", "slot_outline"]


def antenna_scene(record: Record, feed: str = "coax") -> Scene:
    """Scene of a record.

    Parameters
    ----------
    feed : 'coax' (a short coax line, waves counted at the outer face of the wall) or
        'gap' (a lumped source in a cut of the probe: cheaper, no line, less true).
    """
    guide, wanted = record.guide, spectrum(record)
    length = guide.length
    near, far = port_extension(record, wanted)
    tube = isinstance(guide, RoundGuide)
    pieces = list((_tube if tube else _box)(record, near, far, feed))
    if isinstance(record.feed, CoaxFeed):
        pieces.append((coax_feed if feed == "coax" else gap_feed)(guide, record.feed))
    pieces += [
        guide_port(record, wanted, end) for end in ("near", "far") if getattr(guide, f"{end}_end") == "port"
    ]
    if guide.far_end == "load":
        pieces.append(far_load(record, wanted))
    width, height = guide.width, guide.height
    return Scene(
        name=record.name,
        prisms=tuple(p for piece in pieces for p in piece.prisms),
        ports=tuple(piece.port for piece in pieces if piece.port is not None),
        features=tuple(f for piece in pieces for f in piece.features),
        spectrum=wanted,
        conductivity=wall_conductivity(guide)[0],
        inside=(-width / 2, width / 2, -height, 0.0, 0.0, length),
        slots=tuple((tube_slot_mark if tube else slot_mark)(slot, guide) for slot in record.slots),
        bore=width if tube else 0.0,
        unrolled=unrolled_openings(record) if tube else (),
    )


def _box(record: Record, near: float, far: float, feed: str) -> Iterator[Pieces]:
    """Walls, slots and laminate of a rectangular guide."""
    yield Pieces(tuple(walls(record, near, far, feed)), tuple(guide_features(record, near, far)))
    for slot in record.slots:
        yield Pieces((), slot_features(slot, record.guide))
    if record.guide.substrate is not None:
        yield substrate_pieces(record, near, far, record.band.centre)


def _tube(record: Record, near: float, far: float, feed: str) -> Iterator[Pieces]:
    """Wall and slots of a round tube; the coax cuts its own hole into it."""
    yield Pieces(tuple(tube_walls(record, near, far)), tuple(tube_features(record, near, far)))
    for slot in record.slots:
        yield Pieces((), tube_slot_features(record.guide, slot))
