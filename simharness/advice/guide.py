"""What is likely to go wrong with the cross-section, the metal and a laminate front of a guide."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from simharness.advice.quantities import free_wavelength
from simharness.advice.shapes import shape_advice
from simharness.em.guide.rectangular import attenuation_db
from simharness.estimate.shapes import shape_inputs
from simharness.records import Record
from simharness.records.materials import material, wall_conductivity

_MIN_CUTOFF_RATIO = 1.25
"""Lower edge of the band over the cutoff: common practice, as the standard bands begin at 1.25."""
_MAX_NEXT_RATIO = 0.95
"""Upper edge of the band over the cutoff of the next mode: common practice, as the standard bands end at
0.95."""

_MAX_THICKNESS = 0.1
"""Free-space wavelengths after sqrt(permittivity - 1), a judgement; the first TE wave along the sheet begins
at 0.25."""
_MAX_LOSS_TANGENT = 0.01
"""Glass epoxy has 0.02, laminates for microwaves 0.001 to 0.004 (common practice)."""


def guide_warnings(record: Record) -> Iterator[str]:
    """Sentences about band and cross-section, the metal, and what its shape brings with it."""
    guide, band, shape = record.guide, record.band, shape_advice(record)
    cutoff, (mode, following) = guide.cutoff, guide.next_mode
    if band.low < _MIN_CUTOFF_RATIO * cutoff:
        yield (
            f"band.low_ghz {band.low_ghz:g} is only {band.low / cutoff:.2f} times the cutoff of "
            f"{cutoff / 1e9:.3f} GHz: the guide wavelength changes fast with frequency and with "
            f"{shape.size_field} (standard bands begin at 1.25)"
        )
    if band.high > _MAX_NEXT_RATIO * following:
        yield (
            f"band.high_ghz {band.high_ghz:g} comes within 5 % of the next mode, {mode} from "
            f"{following / 1e9:.3f} GHz: {shape.excites} may excite it"
        )
    if guide.conductivity_s_per_m is None and material(guide.material).uncertain:
        losses = [
            float(attenuation_db(shape_inputs(guide).wall_loss(band.centre, conductivity)))
            for conductivity in wall_conductivity(guide)[1:]
        ]
        yield (
            f"the loss of {guide.material} is known only as a range, {losses[1]:.2g} to {losses[0]:.2g} "
            f"dB/m: {material(guide.material).source}"
        )
    yield from shape.guide_warnings()


def laminate_warnings(record: Record) -> Iterator[str]:
    """Sentences about a copper-clad front wall."""
    board = record.guide.laminate
    if board is None:
        return
    if board.copper == "both":
        yield (
            "copper on both faces with routed slots is computed as a metal wall of this thickness: line "
            "the edges of every slot with copper soldered to both faces, or plate them, and close the "
            "board's own edges to the box"
        )
        return
    thickness = record.guide.thickness("front")
    electrical = thickness * np.sqrt(board.permittivity - 1) / free_wavelength(record)
    if electrical > _MAX_THICKNESS:
        yield (
            f"the substrate is thick ({electrical:.2f} wavelengths, after sqrt(permittivity - 1)): it "
            "carries a wave along its face to its edges, which spoils the pattern, and the estimate leaves "
            "those edges out"
        )
    if board.slots == "routed" and board.permittivity > 1:
        yield (
            "beside a routed slot the solver's mesh takes away a little more of the substrate than the "
            "cutter does, and the slot resonates high: by 3 % in 1.6 mm of glass epoxy with the two cells "
            "of 'draft', by 1.2 % with four; so solve it on a finer mesh before you cut"
        )
    if board.loss_tangent >= _MAX_LOSS_TANGENT:
        yield (
            f"a substrate with a loss tangent of {board.loss_tangent:g} takes part of the power as heat, "
            "and its permittivity varies from one board to the next: cut one front, measure, then correct "
            "the slot lengths"
        )
