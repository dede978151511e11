"""A finished design in sentences: what was chosen and why, and what rounding changed."""

from __future__ import annotations

import math
import textwrap

import numpy as np
from numpy.typing import NDArray

from simharness.constants import C0
from simharness.design.feeds import feed_design, feed_text
from simharness.design.proposal import Design
from simharness.em.guide.rectangular import cutoff_frequency
from simharness.figures import Figure, number
from simharness.records import Record

_LINE = 110

MODEL_BIAS = (
    "slots in a full-wave computation resonate 0.1 to 0.35 % lower than in the model of this design, up to "
    "0.7 % where the wall is much thinner than the slot is wide: expect the best match that much below the "
    "centre"
)

COVERED_BIAS = (
    "slots under a cover that lies on the wall resonate about 1 % lower in a full-wave computation on the "
    "normal mesh than in the model of this design, half of it an error of that mesh: expect the band that "
    "much lower, and where the match is flat its deepest point farther off"
)


def model_bias(record: Record) -> str:
    """By how much the models of a design are known to be off, in a sentence."""
    return COVERED_BIAS if record.cover is not None and not record.cover.gap else MODEL_BIAS


def choices(design: Design) -> list[str]:
    """What was chosen and why, one sentence each, in the order of making."""
    requirements, made = design.requirements, design.rounded
    guide, wave, count = requirements.guide, requirements.guide_wavelength, design.weights.size
    free, ratio = C0 / requirements.frequency, requirements.frequency / cutoff_frequency(guide.a)
    lengths = feed_design(requirements.feed).lengths_text(made.wire, made.probe_place, design.record.feed)
    found = [
        f"guide: {guide.name}, {guide.inside_text}, wall {guide.wall * 1e3:g} mm; "
        f"{shown(requirements.frequency)} is {ratio:.2f} times its cutoff, the guide wavelength "
        f"{wave * 1e3:.1f} mm",
        f"slots: {_count_reason(design)}",
    ]
    if requirements.opposite:
        found.append(_walls_reason(requirements.opposite))
    if requirements.superstrate is not None:
        found.append(
            f"front: etched in {requirements.superstrate.thickness * 1e3:g} mm laminate of permittivity "
            f"{requirements.superstrate.permittivity:g}, copper inside: the dielectric on the slots "
            "shortens them"
        )
    if requirements.cover is not None:
        found.append(
            f"cover: {requirements.cover.text}; its dielectric is in all that follows, so do not leave the "
            "sheet out"
        )
    if count > 1:
        found.append(f"voltages: {_taper(design)}")
    found += _standing_choices(design) if requirements.far_end == "short" else _travelling_choices(design)
    found += [
        (
            f"slot width: {requirements.slot_width * 1e3:g} mm with {requirements.ends} ends, "
            f"{requirements.slot_width / free:.3f} of a wavelength"
        ),
        f"feed: {feed_text(requirements.feed)}; {lengths}, fitted for the best match over the "
        f"band; {(made.places[0] - made.probe_place) * 1e3:.1f} mm from there to the first slot",
    ]
    return found


def _standing_choices(design: Design) -> list[str]:
    """Spacing, end, offsets and lengths of slots on a standing wave."""
    made, wave, count = design.rounded, design.requirements.guide_wavelength, design.weights.size
    spacing = (
        f"spacing: {wave * 500:.1f} mm, half a guide wavelength, on alternate sides, so that all radiate in "
        "phase"
    )
    quarters = round((design.exact.end - design.exact.places[-1]) / (wave / 4))
    room = "" if quarters == 1 else "; a quarter would leave no metal before the end"
    part = "a quarter" if quarters == 1 else f"{quarters} quarters"
    return [spacing] * (count > 1) + [
        f"far end: {(made.end - made.places[-1]) * 1e3:.1f} mm beyond the last slot, {part} of a guide "
        f"wavelength, which puts the slots on the peaks of the standing wave{room}",
        f"offsets: {_range(np.abs(made.offsets))}, so that {'all slots' if count > 1 else 'the slot'} "
        f"together load the guide with {design.load:.2f} of its wave admittance, with coupling inside and "
        "outside the guide",
        f"lengths: {_range(made.lengths)}, each in resonance among its neighbours",
    ]


def _travelling_choices(design: Design) -> list[str]:
    """Spacing, end, offsets and lengths of slots along a travelling wave."""
    requirements, made, count = design.requirements, design.rounded, design.weights.size
    spacing = float(np.diff(design.exact.places).mean())
    lean = design.after.beam
    return [
        f"spacing: {spacing * 1e3:.1f} mm, half a guide wavelength and a {count}th of it, on alternate "
        f"sides, so that reflections of the slots cancel; the beam leans {math.degrees(lean.angle):.1f} deg "
        "from broadside to the far end, and turns with frequency; straight out of the slots the gain is "
        f"{lean.loss_db:.1f} dB less: tilt the antenna by that angle when you aim it",
        f"far end: an absorber {design.record.guide.load_mm:g} mm long, a guide wavelength, from "
        f"{made.end * 1e3:.1f} mm on takes {100 * requirements.residual_power:g} % of the power; it is "
        "assumed to reflect nothing; a wedge of lossy foam or wood comes close",
        (
            f"offsets: {_range(np.abs(made.offsets))}, rising to the far end, as each slot takes its share "
            "of a weaker wave"
        ),
        f"lengths: {_range(made.lengths)}, for voltages that follow the wave, with coupling",
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
        f"rounding to {requirements.step * 1e3:g} mm moves slot voltages by up to {100 * moved:.1f} % of "
        f"the largest{lobes}, S11 at the centre "
        f"{_change(match_text(before.s11_db[1]), match_text(after.s11_db[1]))}"
    )


def noted_record(design: Design) -> Record:
    """The record with a note of what was wanted.

    It names no dimension that may be tuned or corrected later: the note stays true of a record that is.
    """
    requirements, band, count = design.requirements, design.record.band, design.weights.size
    voltages = f", voltages {_taper(design)}" if count > 1 else ""
    wave = "a standing wave" if requirements.far_end == "short" else "a travelling wave into an absorber"
    faces = " in each broad wall" if requirements.opposite else ""
    front = " with a front of laminate" if requirements.superstrate is not None else ""
    front += " under a cover" if requirements.cover is not None else ""
    note = (
        f"Designed for S11 of at most {band.target_s11_db:g} dB from {band.low_ghz:g} to {band.high_ghz:g} "
        f"GHz, with {_count_reason(design)}{faces}{voltages}; {wave} in {requirements.guide.name}, "
        f"{requirements.guide.material}{front}, fed by {feed_text(requirements.feed)}."
    )
    return design.record.model_copy(update={"note": note})


def as_made(design: Design) -> str:
    """Choices and rounding as comment lines above the record, for the dimensions as first written."""
    texts = [
        "As first written, by the models of the design:",
        *(f"- {text}" for text in [*choices(design), rounding(design)]),
    ]
    return "\n".join(textwrap.fill(text, _LINE, subsequent_indent="  ") for text in texts)


def _count_reason(design: Design) -> str:
    requirements, count = design.requirements, design.weights.size
    what = f"{count} slot{'s' if count > 1 else ''}"
    fewest = "the fewest of an even number" if requirements.guide.even_rows else "the fewest"
    if requirements.beamwidth is not None:
        return (
            f"{what}, {fewest} whose beam along the guide is at most "
            f"{math.degrees(requirements.beamwidth):g} deg wide"
        )
    if requirements.gain is not None:
        return f"{what}, {fewest} with a directivity of {requirements.gain:g} dBi"
    return f"{what}, as asked for"


def _walls_reason(opposite: int) -> str:
    if opposite > 0:
        return (
            "walls: as many slots in the back, each opposite a slot of the front at the same offset, so "
            "that each pair drives the field around the guide in one direction"
        )
    return (
        "walls: as many slots in the back, each opposite a slot of the front on the other side of the "
        "centre line, so that front and back cancel to either side of the guide and are even elsewhere"
    )


def _taper(design: Design) -> str:
    requirements, weights = design.requirements, design.weights
    if requirements.taper == "uniform":
        return "equal: the narrowest beam and most gain, side lobes near -13 dB"
    name = "Dolph-Chebyshev" if requirements.taper == "dolph" else f"Taylor, nbar {requirements.nbar}"
    return (
        f"{name} for side lobes of -{requirements.side_lobe_db:g} dB, {weights.min():.2f} to 1 of the largest"
    )


def _scaled(voltages: NDArray, wanted: NDArray) -> NDArray:
    """Voltages times the common factor that brings them nearest to the wanted ones."""
    return voltages * np.vdot(voltages, wanted) / np.vdot(voltages, voltages).real


def match_text(s11_db: float) -> str:
    """S11 in dB; a deep match is shown as a limit."""
    return number(Figure(float(s11_db), "dB", ""))


def _change(before: str, after: str) -> str:
    return f"stays {after}" if before == after else f"goes from {before} to {after}"


def _range(values: NDArray) -> str:
    low, high = (
        f"{np.min(values) * 1e3:.2f}".rstrip("0").rstrip("."),
        f"{np.max(values) * 1e3:.2f}".rstrip("0").rstrip("."),
    )
    return f"{low} mm" if low == high else f"{low} to {high} mm"


def shown(frequency: float) -> str:
    """A frequency (Hz) in GHz."""
    return f"{frequency / 1e9:g} GHz"
