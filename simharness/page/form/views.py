"""The drawings behind all sketches: end, side and front of an antenna, a slot, a coax, a board, a match."""

from __future__ import annotations

from collections.abc import Iterator

from simharness.page.form.lines import circle, dielectric, path, rectangle, slot, thin, wall, wire

MIDDLE = 80.0
"""The centre line of the end view."""


def end_view(front: bool = False, others: bool = False, probe: float = MIDDLE, hole: bool = False) -> str:
    """A rectangular guide cut across, seen along it; some walls marked, a probe or a hole in the near end."""
    walls = [wall(25, 20, 70, 6, front), wall(105, 20, 30, 6, front)]
    walls += [wall(25, 26, 5, 50, others), wall(130, 26, 5, 50, others)]
    if hole:
        coax = circle(probe, 58, 6) + circle(probe, 58, 1.5)
        walls.append(wall(25, 76, 110, 6, others))
    else:
        coax = wire((probe, 90), (probe, 50))
        walls += [
            wall(25, 76, probe - 29, 6, others),
            wall(probe + 4, 76, 131 - probe, 6, others),
        ]
    return "".join(walls) + coax


def round_view(marked: bool = False) -> str:
    """A round tube cut across, with a slot in front and a probe from the back."""
    style = (
        ' fill="var(--link, currentColor)" fill-opacity="0.55"'
        if marked
        else ' fill="currentColor" fill-opacity="0.2"'
    )
    ring = "M80 10 A40 40 0 1 0 80.01 10 Z M80 15 A35 35 0 1 1 79.99 15 Z"
    gap = path("M94 11 L92 17 M101 14 L98 20")
    return path(ring, f'{style} fill-rule="evenodd"') + gap + wire((80, 98), (80, 66))


def side_view(probe: bool = True, absorber: bool = False, bent: bool = False) -> str:
    """A guide cut along its middle, near end on the left, slots above."""
    top = [(10, 45), (65, 25), (100, 25), (135, 15)]
    parts = [wall(x, 20, width, 6) for x, width in top]
    parts += [wall(145, 26, 5, 46), *_near_and_back(probe, bent)]
    if absorber:
        parts.append(path("M118 72 L145 72 L145 26 Z", ' fill="currentColor" fill-opacity="0.35"'))
    return "".join(parts)


def _near_and_back(probe: bool, bent: bool) -> Iterator[str]:
    """The near end, the back wall, and the wire through one of them."""
    if bent:
        yield wall(10, 26, 5, 22) + wall(10, 56, 5, 16) + wall(10, 72, 140, 6)
        yield wire((4, 52), (36, 52), (36, 34))
        return
    yield wall(10, 26, 5, 46)
    if probe:
        yield wall(10, 72, 22, 6) + wall(40, 72, 110, 6) + wire((36, 86), (36, 46))
    else:
        yield wall(10, 72, 140, 6)


FRONT_SLOTS = ((55.0, 39.0), (90.0, 61.0), (125.0, 39.0))
"""Centres of the slots of the front view."""


def front_view(marked: bool = False, back: bool = False) -> str:
    """The slotted wall from the front, near end on the left; slots of the back dashed."""
    parts = [rectangle(10, 24, 140, 52), thin(4, 50, 156, 50), circle(28, 50, 3)]
    parts += [slot(x, y, 24, 6, marked) for x, y in FRONT_SLOTS]
    if back:
        parts += [slot(x + 12, 100 - y, 24, 6, dashed=True) for x, y in FRONT_SLOTS[:2]]
    return "".join(parts)


def one_slot(ends: str = "round", shape: str = "straight") -> str:
    """One slot, large."""
    if shape != "straight":
        return path("M22 66 Q80 6 138 66 L130 72 Q80 22 30 72 Z") + thin(14, 69, 146, 69)
    if ends == "tapered":
        return path("M20 50 L50 38 L110 38 L140 50 L110 62 L50 62 Z")
    return slot(80, 50, 120, 24)


def coax_view(filling: bool = False, protruding: bool = False, flange: bool = False) -> str:
    """A coax through a wall, cut along: the guide above, the connector below."""
    top = 32 if protruding else 50
    parts = [wall(10, 50, 50, 14), wall(100, 50, 50, 14)]
    parts += [dielectric(60, top, 14, 98 - top, filling), dielectric(86, top, 14, 98 - top, filling)]
    parts += [wall(74, 6, 12, 92), wall(55, 64, 5, 34), wall(100, 64, 5, 34)]
    if flange:
        parts += [wall(30, 64, 25, 9), wall(105, 64, 25, 9)]
    return "".join(parts)


def board(filling: bool = False) -> str:
    """A front of laminate, cut: the substrate with copper below, a slot etched in it."""
    return dielectric(15, 30, 125, 30, filling) + wall(15, 60, 45, 8) + wall(95, 60, 45, 8)


def covered(filling: bool = False) -> str:
    """A slotted wall, cut, and a sheet before it."""
    return dielectric(10, 24, 130, 14, filling) + wall(25, 60, 40, 12) + wall(85, 60, 40, 12)


def match_view() -> str:
    """|S11| over frequency with the band and the level wanted."""
    axes = path("M18 10 L18 88 L152 88")
    curve = path("M20 18 C50 20 62 30 72 52 C78 66 82 78 86 78 C92 78 98 48 112 32 C122 22 140 18 150 18")
    return (
        axes
        + curve
        + thin(18, 44, 152, 44)
        + thin(64, 10, 64, 88)
        + thin(86, 10, 86, 88)
        + thin(108, 10, 108, 88)
    )
