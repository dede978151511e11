"""What `check` shows before anything is run: derived figures and warnings.

The rules of thumb carry their reason in the sentence; limits without a source are
common practice and say so in the constants below.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from simharness.advice.fabrication import fabrication_warnings
from simharness.advice.feed import feed_warnings
from simharness.advice.joining import joining_warnings
from simharness.advice.laminate import laminate_warnings
from simharness.advice.row import resonates_in_company, row_warnings
from simharness.constants import C0
from simharness.em.guide.coax import coax_impedance
from simharness.em.guide.coax_mode import coax_cutoff_frequency
from simharness.em.guide.rectangular import attenuation_db, guide_wavelength
from simharness.em.slot import single
from simharness.em.slot.basis import SlotAperture
from simharness.em.slot.one_term import (
    SlotShape,
    resonant_frequency,
    shunt_admittance,
    stevenson_conductance,
)
from simharness.errors import InputError
from simharness.estimate import model_inputs
from simharness.figures import Figure
from simharness.numerics.decibels import amplitude_decibels
from simharness.records import (
    BentProbe,
    CoaxFeed,
    Guide,
    Probe,
    Record,
    RoundGuide,
    Slot,
    slot_clearance,
)
from simharness.records.materials import material, wall_conductivity
from simharness.records.outlines import slot_outline
from simharness.records.problems import ROUNDING_MM

_SPACING_TOLERANCE = 0.03  # of half a guide wavelength; phase error 5 deg per slot
_QUARTER_TOLERANCE = 0.03  # guide wavelengths; 11 deg off the peak of the standing wave
_MAX_TURN = 75.0  # deg; S11 of designed rows of 12, 20 and 40 slots (WR-159, by the estimate) passes -10 dB at 75 to 95 deg
_MIN_CUTOFF_RATIO = 1.25  # common practice, as the standard bands begin at 1.25 fc
_MAX_NEXT_RATIO = 0.95  # common practice, as the standard bands end at 0.95 of the next mode
_GRATING_SPACING = 0.9  # free-space wavelengths; a lobe enters at the horizon at 1
_DETUNING = 0.05  # of the design frequency; about the half-conductance width of a slot
_MIN_BRIDGE_MM = 1.0  # common practice for sheet cut by hand
TURN_LIMIT = math.radians(5)  # a choice: 20 log tan(5 deg) = -21 dB of the mode in the wrong direction
SPLIT = 0.918
"""Relative difference of the two cutoffs of TE11 over that of the diameters of a slightly elliptic tube, (1 + 1/p^2) / (2 (1 - 1/p^2))
with p = 1.8412: perturbation of the wall, own derivation, held by `tests/unit/test_tube_cells.py`."""


CAUTIONS = (
    "Cut sheet and slots have edges like blades: gloves, eye protection, and take the burr off.",
    "Solder and torch with fresh air; never heat zinc-coated sheet with a torch, its fumes make you ill.",
    "Stay out of the beam while it transmits; limits of power, gain and exposure are set by your local rules: "
    "ask a licensed operator where in doubt.",
)
"""What is shown wherever a record is checked; local rules and licensed practice decide."""


def derived(record: Record) -> dict[str, Figure]:
    """Figures that follow from the record by closed forms, in the order of reading."""
    guide, band = record.guide, record.band
    line, _ = model_inputs.line_size(guide)
    centre = band.centre
    mode, following = guide.next_mode
    nominal, least, most = wall_conductivity(guide)
    figures = {
        "cutoff": Figure(guide.cutoff, "Hz", f"{guide.mode}, exact"),
        "next_mode": Figure(following, "Hz", f"{mode}, exact"),
    }
    for edge in ("low", "centre", "high"):
        frequency = getattr(band, edge)
        figures[f"guide_wavelength_{edge}"] = Figure(
            float(guide_wavelength(line, frequency)), "m", f"{guide.mode}, exact"
        )
    figures["free_space_wavelength"] = Figure(C0 / centre, "m", "at the design frequency")
    for name, value in (("wall_loss", nominal), ("wall_loss_least", most), ("wall_loss_most", least)):
        loss = float(attenuation_db(model_inputs.wall_loss(guide, centre, value)))
        figures[name] = Figure(loss, "dB/m", f"{guide.mode} power-loss method, {value:.3g} S/m")
    if isinstance(record.feed, CoaxFeed):
        figures |= _feed_figures(record, record.feed)
    if record.slots:
        figures |= _slot_figures(record)
    figures["polarization"] = Figure(model_inputs.polarization(record), "", "longitudinal slots")
    return figures


def _feed_figures(record: Record, feed: CoaxFeed) -> dict[str, Figure]:
    wave = _guide_wavelength(record)
    coax = (feed.coax_inner, feed.coax_outer, feed.coax_permittivity)
    return {
        "probe_to_near_end": Figure(feed.position / wave, "guide wavelengths", "at the design frequency"),
        **_wire_figures(record, feed),
        "coax_impedance": Figure(coax_impedance(*coax), "ohm", "TEM, exact"),
        "coax_next_mode": Figure(coax_cutoff_frequency(*coax), "Hz", "TE11, exact"),
    }


def _wire_figures(record: Record, feed: CoaxFeed) -> dict[str, Figure]:
    free = _free(record)
    if isinstance(feed, BentProbe):
        rises = feed.riser_mm(record.guide.height_mm)
        words = "to the wall that it is soldered to" if feed.tip == "soldered" else "to the open tip"
        return {
            "probe_rise": Figure(rises * 1e-3 / free, "free-space wavelengths", words),
            "probe_wire": Figure(
                (feed.run_mm + rises) * 1e-3, "m", "run and rise along the axis, sharp bend"
            ),
        }
    return {"probe_height": Figure(feed.height / free, "free-space wavelengths", "without the tip")}


def _slot_figures(record: Record) -> dict[str, Figure]:
    wave = _guide_wavelength(record)
    figures = {}
    gaps = [gap for row in _rows(record) for gap in _gaps(row)]
    for name, pick in (("slot_spacing_least", min), ("slot_spacing_most", max)):
        if gaps:
            figures[name] = Figure(pick(gaps) / wave, "guide wavelengths", "between neighbouring centres")
    figures["last_slot_to_far_end"] = Figure(
        _last_gap(record, record.slots) / wave, "guide wavelengths", "from the centre"
    )
    resonances = [_resonance(record, record.slots.index(s)) for s in _distinct(record)]
    known = [f for f in resonances if f is not None]
    model = "one-term slot model" if record.guide.substrate is None else "method of moments with the laminate"
    figures["slot_resonance_least"] = Figure(min(known, default=None), "Hz", f"{model}, isolated slot")
    figures["slot_resonance_most"] = Figure(max(known, default=None), "Hz", f"{model}, isolated slot")
    conductance = _conductances(record)
    figures["stevenson_conductance_least"] = Figure(float(conductance.min()), "", "Stevenson, resonant slot")
    figures["stevenson_conductance_most"] = Figure(float(conductance.max()), "", "Stevenson, resonant slot")
    figures["stevenson_conductance_sum"] = Figure(float(conductance.sum()), "", "Stevenson, resonant slots")
    loads = {shape: _load(record, shape) for shape in set(model_inputs.slot_shapes(record))}
    total = sum(loads[shape] for shape in model_inputs.slot_shapes(record))
    figures["slot_admittance_sum"] = Figure(total, "", f"{model} at the design frequency, no coupling")
    return figures


def warnings(record: Record) -> list[str]:
    """Sentences about what is likely to go wrong, most basic first."""
    found = [*_guide_warnings(record), *laminate_warnings(record.guide, _free(record))]
    if record.slots:
        for row in _rows(record):
            found += [text for text in _spacing_warnings(record, row) if text not in found]
        found += [*row_warnings(record), *_slot_warnings(record), *_metal_warnings(record)]
    found += fabrication_warnings(record)
    if isinstance(record.feed, CoaxFeed):
        found += feed_warnings(record, record.feed, _guide_wavelength(record))
    return [*found, *joining_warnings(record)]


def _guide_warnings(record: Record) -> Iterator[str]:
    guide, band = record.guide, record.band
    cutoff, (mode, following) = guide.cutoff, guide.next_mode
    size = "diameter_mm" if isinstance(guide, RoundGuide) else "a_mm"
    if band.low < _MIN_CUTOFF_RATIO * cutoff:
        yield (
            f"band.low_ghz {band.low_ghz:g} is only {band.low / cutoff:.2f} times the cutoff of {cutoff / 1e9:.3f} GHz: "
            f"the guide wavelength changes fast with frequency and with {size} (standard bands begin at 1.25)"
        )
    if band.high > _MAX_NEXT_RATIO * following:
        yield (
            f"band.high_ghz {band.high_ghz:g} comes within 5 % of the next mode, {mode} from "
            f"{following / 1e9:.3f} GHz: {'the' if isinstance(guide, RoundGuide) else 'an uneven fold or the'} feed may excite it"
        )
    if guide.conductivity_s_per_m is None and material(guide.material).uncertain:
        losses = [
            float(attenuation_db(model_inputs.wall_loss(guide, band.centre, s)))
            for s in wall_conductivity(guide)[1:]
        ]
        yield (
            f"the loss of {guide.material} is known only as a range, {losses[1]:.2g} to {losses[0]:.2g} dB/m: "
            f"{material(guide.material).source}"
        )
    if isinstance(guide, RoundGuide):
        yield from _turning_warnings(record, guide)


def _turning_warnings(record: Record, guide: RoundGuide) -> Iterator[str]:
    """What turns the mode of a round tube, where nothing but the probe holds E to one direction."""
    if isinstance(record.feed, Probe):
        turn = math.degrees(1 / guide.outer_radius_mm)
        hold = f"the probe alone holds it: drilled 1 mm beside the {record.feed.wall} line it turns the mode by {turn:.1f} degrees"
    else:
        hold = "whatever feeds the tube holds it"
    yield (
        f"in a round tube E may lie in any direction, and {hold}, and slots on the front line, which should be silent, begin to "
        f"radiate: scribe front and back line from one set-up"
    )
    wave, length = _guide_wavelength(record), guide.length
    out_of_round = TURN_LIMIT / (SPLIT * math.pi * length / wave * (wave * guide.cutoff / C0) ** 2)
    yield (
        f"a dent or a tube that is not round splits {guide.mode} into two waves of unlike speed, and E turns on its way: over this "
        f"length keep the largest and the smallest diameter within {max(out_of_round * guide.diameter_mm, 0.1):.1f} mm of each other"
    )
    if any(slot.offset_mm for slot in record.slots):
        angle = max(abs(slot.offset_mm) for slot in record.slots) / guide.outer_radius_mm
        yield (
            f"slots {math.degrees(angle):.0f} degrees off the front line couple {1 / math.tan(angle):.1f} times as strongly to the wave turned by "
            f"90 degrees as to that of the probe: a tube that is not round, or a probe beside its line, changes match and pattern"
        )
    if len({slot.offset_mm > 0 for slot in record.slots if slot.offset_mm}) == 1:
        yield "all slots lie on one side of the front line: each couples to the mode turned by 90 degrees, and here nothing cancels that"


def _spacing_warnings(record: Record, slots: Sequence[Slot]) -> Iterator[str]:
    wave, free = _guide_wavelength(record), _free(record)
    gaps, last = _gaps(slots), _last_gap(record, slots)
    halves = [gap / (wave / 2) for gap in gaps]
    if record.guide.far_end == "load" and any(abs(h - 1) < _SPACING_TOLERANCE for h in halves):
        yield (
            f"slot spacing is {_span(gaps)} mm, half a guide wavelength is {wave * 500:.1f} mm: before a load what the slots "
            f"reflect adds up to a poor match; make the spacing longer by half a guide wavelength over the number of slots"
        )
    if record.guide.far_end != "load" and any(abs(h - 1) > _SPACING_TOLERANCE for h in halves):
        yield (
            f"slot spacing is {_span(gaps)} mm, half a guide wavelength is {wave * 500:.1f} mm: the phase runs along "
            f"the guide and the beam leaves broadside or splits"
        )
    same = [abs(h - 1) < 0.25 and p.offset_mm * q.offset_mm > 0 for h, p, q in zip(halves, slots, slots[1:])]
    if any(same):
        yield (
            f"{sum(same)} pairs of neighbours half a guide wavelength apart lie on the same side of the centre line: "
            f"their phases are opposite and the beam splits; let the offsets alternate"
        )
    turned = [
        abs(h - 2) < 0.25 and p.offset_mm * q.offset_mm < 0 for h, p, q in zip(halves, slots, slots[1:])
    ]
    if any(turned):
        yield "neighbours a whole guide wavelength apart lie on opposite sides: their phases are opposite"
    if gaps and max(gaps) > _GRATING_SPACING * free:
        yield (
            f"slot spacing {max(gaps) * 1e3:.1f} mm is {max(gaps) / free:.2f} free-space wavelengths: grating lobes "
            f"rise near the axis (keep below {_GRATING_SPACING:g})"
        )
    band = record.band
    aside = max(band.high_ghz / band.centre_ghz, 2 - band.low_ghz / band.centre_ghz) - 1
    turn = 180 * sum(halves) * (wave / free) ** 2 * aside
    if record.guide.far_end == "short" and turn > _MAX_TURN:
        yield (
            f"{len(slots)} slots on a standing wave are too narrow for a band of {band.low_ghz:g} to {band.high_ghz:g} GHz: at its "
            f"edge the phase along the row is {turn:.0f} deg off; fewer slots, or a travelling wave (far_end = 'load') make it wider"
        )
    quarters = last / (wave / 4)
    nearest = max(1, 2 * round((quarters - 1) / 2) + 1)
    if record.guide.far_end == "short" and abs(quarters - nearest) > 4 * _QUARTER_TOLERANCE:
        yield (
            f"the last slot is {last * 1e3:.1f} mm from the far short; an odd quarter of a guide "
            f"wavelength, {nearest * wave * 250:.1f} mm, puts the slots on the peaks of the standing wave"
        )


def _slot_warnings(record: Record) -> Iterator[str]:
    centre, free = record.band.centre, _free(record)
    alone = {slot: _resonance(record, record.slots.index(slot)) for slot in _distinct(record)}
    off = {
        slot
        for slot, resonance in alone.items()
        if resonance is None or abs(resonance / centre - 1) > _DETUNING
    }
    excused = bool(off) and resonates_in_company(record, list(alone.values()))
    for slot, resonance in alone.items():
        where = f"slot {record.slots.index(slot) + 1}"
        if slot in off and not excused:
            text = (
                "has no resonance near"
                if resonance is None
                else f"resonates near {resonance / 1e9:.3f} GHz, not"
            )
            yield f"{where} ({slot.length_mm:g} x {slot.width_mm:g} mm) {text} {record.band.centre_ghz:g} GHz; it will take little power"
        if slot.width > free / 10:
            yield f"{where} is {slot.width_mm:g} mm wide, over a tenth of a wavelength: thin-slot formulas fail"
        if slot.offset_mm == 0 and slot.shape == "straight":
            yield f"{where} lies on the centre line, where a longitudinal slot does not radiate"
    guide = record.guide
    total = float(np.sum(_conductances(record)))
    if record.feed.kind == "guide-port" and guide.far_end == "short" and not 0.7 <= total <= 1.4:
        yield (
            f"the slot conductances add up to {total:.2f}; an end-fed array is matched when they add up to 1 "
            f"(best |S11| {amplitude_decibels(abs((1 - total) / (1 + total))):.0f} dB)"
        )
    if isinstance(record.feed, CoaxFeed) and not 0.4 <= total <= 4:
        yield (
            f"the slot conductances add up to {total:.2f}: "
            + (
                "a high standing wave in the guide, narrow band and more loss"
                if total < 1
                else "hard to match by a probe"
            )
        )


def _metal_warnings(record: Record) -> Iterator[str]:
    bridge = slot_clearance(record.slots)
    least = max(_MIN_BRIDGE_MM, *(record.guide.thickness_mm(slot.face) for slot in record.slots))
    if bridge < least:
        yield f"only {bridge:.2f} mm of metal between two slots; leave at least {least:g} mm or it tears"
    for i, slot in enumerate(record.slots):
        left, first, right, last = (v * 1e3 for v in slot_outline(slot).bounds)
        edge = math.inf if isinstance(record.guide, RoundGuide) else record.guide.a_mm / 2 - max(right, -left)
        end = min(first, record.guide.length_mm - last)
        if min(edge, end) < least - ROUNDING_MM:
            yield f"slot {i + 1} leaves only {min(edge, end):.2f} mm to a wall; leave at least {least:g} mm"


def _free(record: Record) -> float:
    return C0 / record.band.centre


def _guide_wavelength(record: Record) -> float:
    return float(guide_wavelength(model_inputs.line_size(record.guide)[0], record.band.centre))


def _conductances(record: Record) -> NDArray:
    """Stevenson's conductance of every slot at the design frequency."""
    offsets = np.array([shape.offset for shape in model_inputs.slot_shapes(record)])
    return stevenson_conductance(*model_inputs.line_size(record.guide), offsets, record.band.centre)


def _rows(record: Record) -> list[list[Slot]]:
    """The slots of each broad wall that has any, in order along the guide."""
    rows = ([slot for slot in record.slots if slot.face == face] for face in ("front", "back"))
    return [row for row in rows if row]


def _gaps(slots: Sequence[Slot]) -> list[float]:
    """Distances between the centres of neighbours in one wall, m."""
    places = [s.position for s in slots]
    return [q - p for p, q in zip(places, places[1:])]


def _last_gap(record: Record, slots: Sequence[Slot]) -> float:
    return (record.guide.length_mm - slots[-1].position_mm) * 1e-3


def _span(values: list[float]) -> str:
    low, high = f"{min(values) * 1e3:.1f}", f"{max(values) * 1e3:.1f}"
    return low if low == high else f"{low} to {high}"


def _distinct(record: Record) -> list:
    """The first slot of every size, distance from the centre line and thickness of its wall."""
    seen = {}
    for slot in record.slots:
        size = (slot.length_mm, slot.width_mm, slot.ends, slot.tip_mm, slot.shape, _lean(slot))
        seen.setdefault((abs(slot.offset_mm), *size, record.guide.thickness_mm(slot.face)), slot)
    return list(seen.values())


def _lean(slot: Slot) -> float:
    """How far a curved slot stands towards its own side of the centre line, mm; mirrored slots have the same."""
    return math.copysign(1.0, slot.offset_mm) * slot.aside_mm


def _resonance(record: Record, index: int) -> float | None:
    """Resonant frequency of one slot alone, Hz; None when it is not in the band of the guide."""
    shape = model_inputs.slot_shapes(record)[index]
    size, board, diameter = (
        model_inputs.line_size(record.guide),
        model_inputs.superstrate(record),
        _diameter(record.guide),
    )
    try:
        if board is None and diameter is None:
            return resonant_frequency(*size, shape)
        return single.resonant_frequency(*size, shape.wall, _alone(shape), board, diameter)
    except InputError:
        return None


def _load(record: Record, shape: SlotShape) -> complex:
    """Shunt admittance of one slot alone at the design frequency, normalised."""
    size, board, diameter = (
        model_inputs.line_size(record.guide),
        model_inputs.superstrate(record),
        _diameter(record.guide),
    )
    centre = record.band.centre
    if board is None and diameter is None:
        return complex(shunt_admittance(*size, shape, centre))
    return complex(
        single.slot_admittance(
            *size, shape.wall, _alone(shape), np.array([centre]), superstrate=board, diameter=diameter
        )[0]
    )


def _diameter(guide: Guide) -> float | None:
    """Of a round tube, m."""
    return guide.diameter if isinstance(guide, RoundGuide) else None


def _alone(shape: SlotShape) -> SlotAperture:
    return SlotAperture(shape.length, min(shape.width, 0.9 * shape.length), shape.offset)
