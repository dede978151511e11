"""Ports of the guide itself, and the frequencies asked for."""

from __future__ import annotations

from simharness.em.guide.rectangular import guide_wavelength
from simharness.geometry.pieces import Pieces
from simharness.geometry.scene import Feature, Spectrum
from simharness.geometry.shapes import guide_shape
from simharness.geometry.solids import FAR_LOAD, Material, Prism
from simharness.records import Guide, Record

FEED_PLANE, FEED_SOURCE, FEED_ABSORBER, FEED_END = 0.4, 0.65, 0.75, 1.75
"""A guide port behind its reference plane, in guide wavelengths at the lowest frequency asked for:
measuring plane, source, start and end of the matched absorber."""


def spectrum(record: Record) -> Spectrum:
    """Frequencies asked for: the band, and as far beyond as a detuned match may lie."""
    band = record.band
    low = max(band.low - band.beyond, 1.05 * record.guide.cutoff, 0.88 * band.centre)
    high = min(band.high + band.beyond, 1.12 * band.centre)
    return Spectrum(band.centre, min(low, band.low), max(high, band.high), (band.low, band.centre, band.high))


def longest_wave(guide: Guide, spectrum: Spectrum) -> float:
    """Guide wavelength at the lowest frequency asked for, m."""
    return float(guide_wavelength(guide.line[0], spectrum.low))


def port_extension(record: Record, spectrum: Spectrum) -> tuple[float, float]:
    """Length of guide behind the near and the far end for a port or a load, m; 0 where there is none."""
    guide, reach = record.guide, FEED_END * longest_wave(record.guide, spectrum)
    return reach if guide.near_end == "port" else 0.0, reach if guide.far_end == "port" else guide.load


def _absorber(part: str, guide: Guide, low: float, high: float, towards: int, wave: float) -> Prism:
    """A filling from z = low to high that takes a wave in `towards` (+1, -1) without reflection."""
    material = Material("absorber", loss=0.03 / wave, absorber="+z" if towards > 0 else "-z")
    return guide_shape(guide).filling(part, material, low, high)


def far_load(record: Record, spectrum: Spectrum) -> Pieces:
    """The absorber behind a far end that is a load."""
    guide = record.guide
    low, high = guide.length, guide.length + guide.load
    filling = _absorber(FAR_LOAD, guide, low, high, 1, min(longest_wave(guide, spectrum), high - low))
    return Pieces((filling,), (Feature("plane", 2, low, low), Feature("absorber", 2, low, high)))


def guide_port(record: Record, spectrum: Spectrum, end: str) -> Pieces:
    """Measuring plane, source and matched absorber behind an end that is a port."""
    guide = record.guide
    wave = longest_wave(guide, spectrum)
    direction, start = (1, 0.0) if end == "near" else (-1, guide.length)
    plane, source, absorber, last = (
        start - direction * share * wave for share in (FEED_PLANE, FEED_SOURCE, FEED_ABSORBER, FEED_END)
    )
    z0, z1 = sorted((absorber, last))
    active = end == "near"
    port = guide_shape(guide).mode_port(direction, plane, start, source if active else None)
    marks = (start, plane, source) if active else (start, plane)
    filling = _absorber(f"{end} absorber", guide, z0, z1, -direction, wave)
    features = (*(Feature("plane", 2, place, place) for place in marks), Feature("absorber", 2, z0, z1))
    return Pieces((filling,), features, port)
