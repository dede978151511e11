"""Dimensions on leaders: diameters of holes, lands and discs, sides of flanges, and places for them; m."""

from __future__ import annotations

import itertools
import math
from collections.abc import Iterator, Sequence

from simharness.sheets.drawing.dimension_lines import leader, number
from simharness.sheets.flat.part import Part
from simharness.sheets.flat.paths import Dimensions, Pair

_REACHES = (5e-3, 8e-3, 12e-3, 17e-3, 23e-3, 30e-3, 40e-3, 55e-3)
"""Lengths of leaders that are tried, m."""
ANGLES = (45, 135, -45, -135, 30, 150, -30, -150, 60, 120, -60, -120, 75, 105, -75, -105, 15, 165, -15, -165)
"""Directions of leaders that are tried, degrees."""


def part_leaders(part: Part) -> Iterator[Iterator[Dimensions]]:
    """Diameters of holes, lands and discs, and sides of flanges, each with the places where it may stand."""
    screws = [o for o in part.openings if o.kind == "screw"]
    for o in part.openings:
        if o.kind in ("hole", "tip", "tuning"):
            yield around(o.centre, o.width / 2, f"\u2300{number(o.width)}")
    if screws:
        (u, v), spacing = screws[0].centre, screws[1].centre[1] - screws[0].centre[1]
        yield around(
            (u, v),
            screws[0].width / 2,
            f"{len(screws)}\u00d7 \u2300{number(screws[0].width)} on \u25a1{number(spacing)}",
        )
    for land in part.lands:
        whole, (u0, v0, u1, v1) = land.circle(), land.polygon().bounds
        if whole is not None:
            yield around(whole.centre, whole.radius, f"\u2300{number(2 * whole.radius)}")
        else:
            yield around(
                ((u0 + u1) / 2, (v0 + v1) / 2), (u1 - u0) / 2, f"\u25a1{number(u1 - u0)}", square=True
            )
    disc = part.outline.circle()
    if disc is not None:
        words = f"\u2300{number(2 * disc.radius)}"
        yield itertools.chain(
            around(disc.centre, disc.radius, words, inwards=True), around(disc.centre, disc.radius, words)
        )


def around(
    centre: Pair, radius: float, words: str, square: bool = False, inwards: bool = False
) -> Iterator[Dimensions]:
    """Leaders to an edge from all sides, the short ones first."""
    for reach, angle in itertools.product(_REACHES, ANGLES):
        turn = math.radians(angle)
        u, v = math.cos(turn), math.sin(turn)
        edge = radius / max(abs(u), abs(v)) if square else radius
        far = edge - reach if inwards else edge + reach
        yield leader(
            (centre[0] + edge * u, centre[1] + edge * v), (centre[0] + far * u, centre[1] + far * v), words
        )


def pointing(tip: Pair, words: str, angles: Sequence[float] = ANGLES) -> Iterator[Dimensions]:
    """Leaders to one point from all sides, the short ones first."""
    for reach, angle in itertools.product(_REACHES, angles):
        turn = math.radians(angle)
        yield leader(tip, (tip[0] + reach * math.cos(turn), tip[1] + reach * math.sin(turn)), words)
