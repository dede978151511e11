"""What is likely to go wrong with the cross-section, the metal, a laminate front and a cover of a guide."""

from __future__ import annotations

import math
from bisect import bisect_left
from collections.abc import Iterator

import numpy as np

from simharness.advice.quantities import free_wavelength, resonance_near, slot_resonance, uncovered_resonance
from simharness.advice.shapes import shape_advice
from simharness.constants import C0, MM, TWO_PI
from simharness.em.guide.rectangular import attenuation_db
from simharness.errors import InputError
from simharness.estimate.antenna import exact_reflection
from simharness.estimate.model_inputs import screw_admittance
from simharness.estimate.shapes import shape_inputs
from simharness.records import Cover, GuidePort, Record, Screw, Slot, parse_record
from simharness.records.materials import material, wall_conductivity
from simharness.records.text import plain_data

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

_LITTLE = 0.005
"""Share of its resonance by which a cover may move a slot before it counts: half of what the mesh of a draft
leaves open; a judgement."""
_GAPS = (0.5, 1.0, 1.5, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0, 20.0, 25.0, 30.0)
"""Spacers to be had, mm; a choice."""
_TURN_MM = 0.1
"""A little deeper: a seventh of a turn of an M4 screw."""
_NEAR_FIELD = 1.5
"""Decay of TE11 and TM11 between a screw and the probe below which it is told: what is left out there is then
a fifth of the field at the screw or more; a judgement."""
_FAR_GAP = 0.25
"""Free-space wavelengths between wall and cover, a judgement."""


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


def cover_warnings(record: Record) -> Iterator[str]:
    """What a cover does to the slots, how surely, and how far off it would matter little: by the model."""
    cover = record.cover
    if cover is None:
        return
    slot = min(
        (s for s in record.slots if s.face == "front"), key=lambda s: abs(abs(s.offset) - _middle(record))
    )
    with_it, bare = slot_resonance(record, slot), uncovered_resonance(record, slot)
    if with_it is None or bare is None:
        return
    share = 100 * (with_it / bare - 1)
    number = record.slots.index(slot) + 1
    said = [
        f"{cover.text} moves the resonance of slot {number} alone from {bare / 1e9:.3f} to "
        f"{with_it / 1e9:.3f} GHz, {abs(share):.1f} % {'down' if share < 0 else 'up'} by the model"
    ]
    low, high = cover.spread
    if high > low:
        ends = [
            100 * (resonance_near(record, slot, _of(cover, permittivity), with_it) / with_it - 1)
            for permittivity in (low, high)
        ]
        said.append(f"its permittivity, {low:g} to {high:g}, leaves {ends[0]:+.1f} to {ends[1]:+.1f} % open")
    far = None if abs(share) < 100 * _LITTLE else _harmless_gap(record, slot, cover, bare)
    if far is not None:
        said.append(f"{far:g} mm off the wall it would move it by less than {100 * _LITTLE:g} %")
    yield "; ".join(said)
    if cover.gap > _FAR_GAP * free_wavelength(record):
        yield (
            f"the cover stands {cover.gap_mm:g} mm off, over a quarter of a wavelength: what it throws back "
            "depends on its edges too, which the estimate leaves out; trust the full-wave run"
        )


def screw_warnings(record: Record) -> Iterator[str]:
    """What every screw does, by the model, and where the model leaves something out."""
    if not record.screw:
        return
    guide, centre = record.guide, record.band.centre
    at = np.array([centre])
    now = exact_reflection(record, at)[0]
    square = (math.pi / guide.width) ** 2 + (math.pi / guide.height) ** 2 - (TWO_PI * centre / C0) ** 2
    decay = math.sqrt(max(square, 0.0))
    for i, screw in enumerate(record.screw, 1):
        name = f"screw {i}"
        alone = screw_admittance(record, screw)
        kind = "a capacitor" if alone.imag >= 0 else "an inductor, beyond its resonance,"
        said = (
            f"{name}, {screw.diameter_mm:g} mm thick and {screw.depth_mm:g} mm deep, acts alone at "
            f"{record.band.centre_ghz:g} GHz like {kind} of {abs(alone.imag):.2g} times the admittance of "
            "the guide across it"
        )
        try:
            deeper = exact_reflection(_deeper(record, i - 1), at)[0]
        except InputError:
            yield said
        else:
            yield f"{said}; {_TURN_MM:g} mm deeper changes S11 there by {abs(deeper - now):.2g}"
        if screw.depth < screw.diameter / 2:
            yield (
                f"{name} is less deep than half as wide, more of a boss than a post: the estimate of its "
                "effect may be off by a third"
            )
        away = _from_probe(record, screw)
        if away * decay < _NEAR_FIELD:
            yield (
                f"{name} stands {away / MM:.3g} mm from the probe, in its near field, which the estimate "
                "leaves out; trust the full-wave run"
            )


def _deeper(record: Record, index: int) -> Record:
    data = plain_data(record)
    data["screw"][index]["depth_mm"] += _TURN_MM
    return parse_record(data)


def _from_probe(record: Record, screw: Screw) -> float:
    """Distance of a screw from the wire of the feed along and across the guide, m; infinite without one."""
    feed = record.feed
    if isinstance(feed, GuidePort):
        return math.inf
    return math.hypot(screw.position - feed.position, screw.offset - feed.offset)


def _middle(record: Record) -> float:
    """Median distance of the slots of the front from the centre line, m."""
    return float(np.median([abs(slot.offset) for slot in record.slots if slot.face == "front"]))


def _of(cover: Cover, permittivity: float) -> Cover:
    """The cover with another permittivity."""
    return cover.model_copy(
        update={"material": None, "permittivity": permittivity, "loss_tangent": cover.constants[1]}
    )


def _harmless_gap(record: Record, slot: Slot, cover: Cover, bare: float) -> float | None:
    """The least of a few gaps beyond that of the cover at which it moves a slot by little, mm."""
    wider = [gap for gap in _GAPS if gap > cover.gap_mm and gap * MM < _FAR_GAP * free_wavelength(record)]

    def little(gap: float) -> bool:
        held = cover.model_copy(update={"gap_mm": gap})
        return abs(resonance_near(record, slot, held, bare) / bare - 1) < _LITTLE

    place = bisect_left(wider, True, key=little)
    return wider[place] if place < len(wider) else None


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
