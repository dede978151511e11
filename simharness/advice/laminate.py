"""What a builder would be warned of in a front wall of laminate."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from simharness.records import Guide

_THICK_SUBSTRATE = 0.1  # a judgement; the first TE wave along the sheet begins at 0.25
_LOSSY = 0.01  # glass epoxy has 0.02, laminates for microwaves 0.001 to 0.004 (common practice)


def laminate_warnings(guide: Guide, free: float) -> Iterator[str]:
    """What a copper-clad front wall asks for; `free`: wavelength in free space at the design frequency, m."""
    board = guide.laminate
    if board is None:
        return
    if board.copper == "both":
        yield (
            "copper on both faces with routed slots is computed as a metal wall of this thickness: line the edges of every "
            "slot with copper soldered to both faces, or plate them, and close the board's own edges to the box"
        )
        return
    electrical = guide.front_wall * np.sqrt(board.permittivity - 1) / free
    if electrical > _THICK_SUBSTRATE:
        yield (
            f"the substrate is thick ({electrical:.2f} wavelengths, after sqrt(permittivity - 1)): it carries a wave along its "
            f"face to its edges, which spoils the pattern, and the estimate does not see those edges"
        )
    if board.slots == "routed" and board.permittivity > 1:
        yield (
            "the solver's mesh takes a little more of the substrate away beside a routed slot than the cutter does, and resonates high: "
            "by 3 % seen in 1.6 mm of glass epoxy with the two cells of 'draft', by 1.2 % with four, so solve it finer before you cut"
        )
    if board.loss_tangent >= _LOSSY:
        yield (
            f"a substrate with a loss tangent of {board.loss_tangent:g} takes part of the power as heat, and its permittivity "
            f"varies from one board to the next: cut one front, measure, then correct the slot lengths"
        )
