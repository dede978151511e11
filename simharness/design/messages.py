"""A finished design in sentences: what was chosen and why, what rounding did, what to look out for."""

from __future__ import annotations

import math
import textwrap
from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray

from simharness.advice import warnings
from simharness.constants import C0
from simharness.design.feed_requirements import feed_words
from simharness.design.proposal import Design
from simharness.design.remedies import remedy_words
from simharness.design.stock_choice import suitable_stock, suits
from simharness.em.guide.rectangular import cutoff_frequency
from simharness.em.probe.shape import ProbeShape
from simharness.figures import Figure, number
from simharness.records import Record

_LARGE_OFFSET = 0.3  # of the width, common practice: beyond it the conductance hardly grows with the offset
_COARSE = 0.05  # of the offset: a step that moves the slot's voltage by as much
_TURN = 10.0  # degrees of the standing wave from one end of the row to the other
_WIDTH_ERROR = 1e-4  # m, what a caliper and a fold may miss
_SIDE_LOBES_LOST = 1.0  # dB
_MANY_SUGGESTIONS = 4
_LINE = 110

MODEL_BIAS = (
    "slots in a full-wave computation resonate 0.1 to 0.35 % lower than in the model of this design, up to 0.7 % where the "
    "wall is much thinner than the slot is wide: expect the best match that much below the centre"
)


def choices(design: Design) -> list[str]:
    """What was chosen and why, one sentence each, in the order of making."""
    requirements, made = design.requirements, design.rounded
    guide, wave, count = requirements.guide, requirements.guide_wavelength, design.weights.size
    free, ratio = C0 / requirements.frequency, requirements.frequency / cutoff_frequency(guide.a)
    found = [
        f"guide: {guide.name}, {guide.inside_words}, wall {guide.wall * 1e3:g} mm; "
        f"{_shown(requirements.frequency)} is {ratio:.2f} times its cutoff, the guide wavelength {wave * 1e3:.1f} mm",
        f"slots: {_count_reason(design)}",
    ]
    if requirements.mate:
        found.append(_walls_reason(requirements.mate))
    if requirements.cover is not None:
        found.append(
            f"front: etched in {requirements.cover.thickness * 1e3:g} mm laminate of permittivity {requirements.cover.permittivity:g}, copper inside: "
            f"the dielectric on the slots makes them that much shorter"
        )
    if count > 1:
        found.append(f"voltages: {_taper(design)}")
    found += _standing_choices(design) if requirements.far_end == "short" else _travelling_choices(design)
    found += [
        f"slot width: {requirements.slot_width * 1e3:g} mm with {requirements.ends} ends, {requirements.slot_width / free:.3f} of a wavelength",
        f"feed: {feed_words(requirements.feed)}; {_feed_lengths(design)}, fitted for the best match over the band; "
        f"{(made.places[0] - made.probe_place) * 1e3:.1f} mm from there to the first slot",
    ]
    return found


def _feed_lengths(design: Design) -> str:
    """The lengths of the feed that were fitted."""
    made, record = design.rounded, design.record
    wire, place = made.wire, f"{made.probe_place * 1e3:.1f} mm"
    if isinstance(wire, ProbeShape):
        return f"{wire.height * 1e3:.1f} mm high, {place} from the near end"
    end = (
        f"its tip soldered to the {record.feed.towards} wall"
        if wire.soldered
        else f"rise {record.feed.rise_mm:.1f} mm to its open tip"
    )
    return f"its hole {record.feed.hole_height_mm:.1f} mm above the back wall, run {place}, {end}"


def _standing_choices(design: Design) -> list[str]:
    """Spacing, end, offsets and lengths of slots on a standing wave."""
    made, wave, count = design.rounded, design.requirements.guide_wavelength, design.weights.size
    spacing = f"spacing: {wave * 500:.1f} mm, half a guide wavelength, on alternate sides, so that all radiate in phase"
    quarters = round((design.exact.end - design.exact.places[-1]) / (wave / 4))
    room = "" if quarters == 1 else "; a quarter would leave no metal before the end"
    part = "a quarter" if quarters == 1 else f"{quarters} quarters"
    return [spacing] * (count > 1) + [
        f"far end: {(made.end - made.places[-1]) * 1e3:.1f} mm beyond the last slot, {part} of a guide wavelength, which puts "
        f"the slots on the peaks of the standing wave{room}",
        f"offsets: {_range(np.abs(made.offsets))}, so that {'all slots' if count > 1 else 'the slot'} together load the guide "
        f"with {design.load:.2f} of its wave admittance, coupling inside and outside counted",
        f"lengths: {_range(made.lengths)}, each in resonance among its neighbours",
    ]


def _travelling_choices(design: Design) -> list[str]:
    """Spacing, end, offsets and lengths of slots along a travelling wave."""
    requirements, made, count = design.requirements, design.rounded, design.weights.size
    spacing = float(np.diff(design.exact.places).mean())
    lean = design.after.beam
    return [
        f"spacing: {spacing * 1e3:.1f} mm, half a guide wavelength and a {count}th of it, on alternate sides, so that "
        f"reflections of the slots cancel; the beam leans {math.degrees(lean.angle):.1f} deg from broadside to the far end, and turns with frequency; straight out of the "
        f"slots the gain is {lean.loss_db:.1f} dB less: tilt the antenna by as much when you aim it",
        f"far end: an absorber {design.record.guide.load_mm:g} mm long, a guide wavelength, from {made.end * 1e3:.1f} mm on takes "
        f"{100 * requirements.left_over:g} % of the power; it is taken for one that reflects nothing, a wedge of lossy foam or wood comes near",
        f"offsets: {_range(np.abs(made.offsets))}, rising to the far end, as each slot takes its share of a weaker wave",
        f"lengths: {_range(made.lengths)}, for voltages that follow the wave, coupling counted",
    ]


def rounding(design: Design) -> str:
    """What rounding to the marking step cost, in one sentence."""
    before, after, requirements = design.before, design.after, design.requirements
    moved = float(np.max(np.abs(_scaled(after.voltages, before.voltages) - before.voltages)))
    lobes = ""
    if np.isfinite(before.side_lobe_db) and np.isfinite(after.side_lobe_db):
        lobes = ", the highest side lobe " + _change(
            *(f"{row.side_lobe_db:.1f} dB" for row in (before, after))
        )
    return (
        f"rounding to {requirements.step * 1e3:g} mm moves slot voltages by up to {100 * moved:.1f} % of the largest{lobes}, "
        f"S11 at the centre {_change(_match(before.s11_db[1]), _match(after.s11_db[1]))}"
    )


def cautions(design: Design) -> list[str]:
    """What to look out for, the guide first, then the row, then what `check` says."""
    found = [*_guide_cautions(design), *_row_cautions(design)]
    return found + [text for text in warnings.warnings(design.record) if text not in found]


def noted_record(design: Design) -> Record:
    """The record with a note of what was wanted.

    It names no dimension that may be tuned or corrected later: the note stays true of a record that is.
    """
    requirements, band, count = design.requirements, design.record.band, design.weights.size
    voltages = f", voltages {_taper(design)}" if count > 1 else ""
    wave = "a standing wave" if requirements.far_end == "short" else "a travelling wave into an absorber"
    faces = " in each broad wall" if requirements.mate else ""
    front = " with a front of laminate" if requirements.cover is not None else ""
    note = (
        f"Designed for S11 of at most {band.target_s11_db:g} dB from {band.low_ghz:g} to {band.high_ghz:g} GHz, with "
        f"{_count_reason(design)}{faces}{voltages}; {wave} in {requirements.guide.name}, {requirements.guide.material}{front}, fed by {feed_words(requirements.feed)}."
    )
    return design.record.model_copy(update={"note": note})


def as_made(design: Design) -> str:
    """Choices and rounding as lines that stand above the record, for the dimensions as they were first written."""
    texts = [
        "As first written, by the models of the design:",
        *(f"- {text}" for text in [*choices(design), rounding(design)]),
    ]
    return "\n".join(textwrap.fill(text, _LINE, subsequent_indent="  ") for text in texts)


def _count_reason(design: Design) -> str:
    requirements, count = design.requirements, design.weights.size
    what = f"{count} slot{'s' if count > 1 else ''}"
    fewest = "the fewest" if requirements.guide.diameter is None else "the fewest of an even number"
    if requirements.beamwidth is not None:
        return f"{what}, {fewest} whose beam along the guide is at most {math.degrees(requirements.beamwidth):g} deg wide"
    if requirements.gain is not None:
        return f"{what}, {fewest} with a directivity of {requirements.gain:g} dBi"
    return f"{what}, as asked for"


def _walls_reason(mate: int) -> str:
    if mate > 0:
        return (
            "walls: as many slots in the back, each behind its mate at the same offset, so that a pair drives the field around "
            "the guide one way"
        )
    return (
        "walls: as many slots in the back, each behind its mate on the other side of the centre line, so that front and back "
        "cancel to either side of the guide and the rest is even"
    )


def _taper(design: Design) -> str:
    requirements, weights = design.requirements, design.weights
    if requirements.taper == "uniform":
        return "equal: the narrowest beam and most gain, side lobes near -13 dB"
    name = "Dolph-Chebyshev" if requirements.taper == "dolph" else f"Taylor, nbar {requirements.nbar}"
    return (
        f"{name} for side lobes of -{requirements.side_lobe_db:g} dB, {weights.min():.2f} to 1 of the largest"
    )


def _guide_cautions(design: Design) -> Iterator[str]:
    guide, frequency = design.requirements.guide, design.requirements.frequency
    if not suits(guide, frequency):
        better = suitable_stock(frequency)[:_MANY_SUGGESTIONS]
        hint = f"; {', '.join(better)} would suit it better" if better else ""
        yield f"{guide.name} is a poor choice for {_shown(frequency)}{hint}"


def _row_cautions(design: Design) -> Iterator[str]:
    requirements, made, after = design.requirements, design.rounded, design.after
    guide, count = requirements.guide, design.weights.size
    offsets = np.abs(made.offsets)
    if guide.diameter is None and offsets.max() > _LARGE_OFFSET * guide.a:
        yield (
            f"the largest offset, {offsets.max() * 1e3:.1f} mm, is {offsets.max() / guide.a:.2f} of the width: so near the "
            f"side wall the model is less sure, and slots off the centre line raise lobes outside the main planes; more "
            f"slots need smaller offsets"
        )
    if 0.5 * requirements.step > _COARSE * offsets.min():
        yield (
            f"the smallest offset is {offsets.min() * 1e3:.2f} mm: half a step of {requirements.step * 1e3:g} mm moves the voltage "
            f"of that slot by {50 * requirements.step / offsets.min():.0f} %"
        )
    if count > 1 and made.lengths.max() >= np.diff(made.places).min():
        yield "the slots are as long as their spacing: neighbours run side by side, and the wall between them bends"
    turn = 180 * (count - 1) * (requirements.guide_wavelength / (2 * guide.a)) ** 2 * _WIDTH_ERROR / guide.a
    if turn > _TURN and requirements.far_end == "short":
        yield (
            f"{count} slots in a row: {_WIDTH_ERROR * 1e3:g} mm more or less in the inner width moves the first slot off the "
            f"peak of the standing wave by {turn:.0f} deg, and match and side lobes suffer; measure the guide, and design "
            f"for what you measured"
        )
    yield from _match_cautions(design)
    if (
        np.isfinite(design.before.side_lobe_db)
        and after.side_lobe_db > design.before.side_lobe_db + _SIDE_LOBES_LOST
    ):
        yield f"rounding raises the side lobes to {after.side_lobe_db:.1f} dB: mark to a finer step than {requirements.step * 1e3:g} mm"


def _match_cautions(design: Design) -> Iterator[str]:
    match, band = design.match, design.record.band
    outside = not band.low <= match.best_at <= band.high
    best = f"its best, {_match(match.best)} at {match.best_at / 1e9:.3f} GHz"
    if outside:
        best += f", lies {'below' if match.best_at < band.low else 'above'} the band of {band.low_ghz:g} to {band.high_ghz:g} GHz"
    if match.worst > band.target_s11_db:
        worst = f"S11 rises to {match.worst:.{1 if match.worst - band.target_s11_db > 0.05 else 3}f} dB at {match.worst_at / 1e9:.3f} GHz"
        yield f"the estimate misses the target of {band.target_s11_db:g} dB: {worst}; {best}{_reason(design, outside)}; {remedy_words(design)}"
    elif outside:
        also = "" if design.requirements.feed.kind == "bent-probe" else " --also back-short"
        yield (
            f"S11 meets the target in the whole band, but {best}: 'simharness tune' with --over centre{also} brings it to the centre "
            f"where that is wanted more than even edges"
        )


def _reason(design: Design, outside: bool) -> str:
    """Why a target is missed, the end of a sentence."""
    if design.match.best > design.record.band.target_s11_db:
        return ": no lengths of this feed that are easily made match this row"
    if outside:
        return ""
    count = design.weights.size
    return (
        f": {count} slot{'s' if count > 1 else ''} with this feed are too narrow for the band"
        if count > 1
        else ": one slot with this feed is too narrow for the band"
    )


def _scaled(voltages: NDArray, wanted: NDArray) -> NDArray:
    """Voltages in size and phase as near the wanted ones as one common factor brings them."""
    return voltages * np.vdot(voltages, wanted) / np.vdot(voltages, voltages).real


def _match(s11_db: float) -> str:
    """Deep matches mean nothing to the decibel."""
    return number(Figure(float(s11_db), "dB", ""))


def _change(before: str, after: str) -> str:
    return f"stays {after}" if before == after else f"goes from {before} to {after}"


def _range(values: NDArray) -> str:
    low, high = (
        f"{np.min(values) * 1e3:.2f}".rstrip("0").rstrip("."),
        f"{np.max(values) * 1e3:.2f}".rstrip("0").rstrip("."),
    )
    return f"{low} mm" if low == high else f"{low} to {high} mm"


def _shown(frequency: float) -> str:
    return f"{frequency / 1e9:g} GHz"
