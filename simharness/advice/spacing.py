"""What is likely to go wrong with the places of the slots of one wall."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from simharness.advice.quantities import free_wavelength, gaps, guide_wavelength, last_gap
from simharness.records import Record, Slot

_SPACING_TOLERANCE = 0.03
"""Of half a guide wavelength; phase error 5 deg per slot."""
_QUARTER_TOLERANCE = 0.03
"""Guide wavelengths; 11 deg off the peak of the standing wave."""
_MAX_TURN = 75.0
"""Deg; S11 of designed rows of 12, 20 and 40 slots (WR-159, by the estimate) passes -10 dB at 75 to 95
deg."""
_GRATING_SPACING = 0.9
"""Free-space wavelengths; a grating lobe enters at the horizon at 1."""


def spacing_warnings(record: Record, slots: Sequence[Slot]) -> Iterator[str]:
    """Sentences about the spacing, the sides and the ends of the slots of one wall, in order along the
    guide."""
    halves = [gap / (guide_wavelength(record) / 2) for gap in gaps(slots)]
    yield from _step_warnings(record, slots, halves)
    yield from _side_warnings(slots, halves)
    yield from _row_warnings(record, slots, halves)
    yield from _end_warnings(record, slots)


def _step_warnings(record: Record, slots: Sequence[Slot], halves: Sequence[float]) -> Iterator[str]:
    """Spacing that is half a guide wavelength before a load, or is not before a short."""
    if not halves:
        return
    half, load = guide_wavelength(record) * 500, record.guide.far_end == "load"
    step = f"slot spacing is {_range(gaps(slots))} mm, half a guide wavelength is {half:.1f} mm"
    if load and any(abs(h - 1) < _SPACING_TOLERANCE for h in halves):
        yield (
            f"{step}: before a load what the slots reflect adds up to a poor match; make the spacing longer "
            "by half a guide wavelength over the number of slots"
        )
    if not load and any(abs(h - 1) > _SPACING_TOLERANCE for h in halves):
        yield f"{step}: the phase runs along the guide and the beam leaves broadside or splits"


def _side_warnings(slots: Sequence[Slot], halves: Sequence[float]) -> Iterator[str]:
    """Neighbours in opposite phase."""
    pairs = list(zip(halves, slots, slots[1:]))
    same = [abs(h - 1) < 0.25 and p.offset_mm * q.offset_mm > 0 for h, p, q in pairs]
    if any(same):
        yield (
            f"{sum(same)} pairs of neighbours half a guide wavelength apart lie on the same side of the "
            "centre line: their phases are opposite and the beam splits; let the offsets alternate"
        )
    if any(abs(h - 2) < 0.25 and p.offset_mm * q.offset_mm < 0 for h, p, q in pairs):
        yield "neighbours a whole guide wavelength apart lie on opposite sides: their phases are opposite"


def _row_warnings(record: Record, slots: Sequence[Slot], halves: Sequence[float]) -> Iterator[str]:
    """Grating lobes, and a row that is too long for its band."""
    band, wave, free = record.band, guide_wavelength(record), free_wavelength(record)
    widest = max(gaps(slots), default=0.0)
    if widest > _GRATING_SPACING * free:
        yield (
            f"slot spacing {widest * 1e3:.1f} mm is {widest / free:.2f} free-space wavelengths: grating "
            f"lobes rise near the axis (keep below {_GRATING_SPACING:g})"
        )
    aside = max(band.high_ghz / band.centre_ghz, 2 - band.low_ghz / band.centre_ghz) - 1
    turn = 180 * sum(halves) * (wave / free) ** 2 * aside
    if record.guide.far_end == "short" and turn > _MAX_TURN:
        yield (
            f"{len(slots)} slots on a standing wave are too narrow-banded for {band.low_ghz:g} to "
            f"{band.high_ghz:g} GHz: at the edge of the band the phase along the row is {turn:.0f} deg off; "
            f"{_wider_band(record)}"
        )


def _wider_band(record: Record) -> str:
    """What makes the band of a standing wave wider; a travelling wave only where 'design' makes one."""
    if record.guide.shape != "rectangular" or record.two_faced or record.guide.substrate is not None:
        return "fewer slots make the band wider"
    return "fewer slots, or a travelling wave (far_end = 'load'), make the band wider"


def _end_warnings(record: Record, slots: Sequence[Slot]) -> Iterator[str]:
    """Slots off the peaks of the standing wave."""
    wave, last = guide_wavelength(record), last_gap(record, slots)
    quarters = last / (wave / 4)
    nearest = max(1, 2 * round((quarters - 1) / 2) + 1)
    if record.guide.far_end == "short" and abs(quarters - nearest) > 4 * _QUARTER_TOLERANCE:
        yield (
            f"the last slot is {last * 1e3:.1f} mm from the far short; an odd quarter of a guide "
            f"wavelength, {nearest * wave * 250:.1f} mm, puts the slots on the peaks of the standing wave"
        )


def _range(lengths: Sequence[float]) -> str:
    """Smallest and largest of some lengths (m), in mm."""
    low, high = (f"{pick(lengths) * 1e3:.1f}" for pick in (min, max))
    return low if low == high else f"{low} to {high}"
