"""What a practitioner would question about a coax feed."""

from __future__ import annotations

from collections.abc import Iterator

from simharness.constants import C0, MM
from simharness.em.guide.coax import coax_impedance
from simharness.em.guide.coax_mode import coax_cutoff_frequency
from simharness.records import REFERENCE_OHM, BentProbe, CoaxFeed, Probe, Record
from simharness.records.outlines import slot_outline

_REFERENCE_SPREAD = 0.15  # of 50 ohm; |S11| -23 dB from the step alone
_NEAR_WALL = 2.0
"""Diameters of a wire: nearer to a wall its current crowds on one side, which the estimate does not see."""


def feed_warnings(record: Record, feed: CoaxFeed, wave: float) -> Iterator[str]:
    """Sentences about a coax feed.

    Parameters
    ----------
    record : Record
    feed : CoaxFeed
        Its feed.
    wave : float
        Guide wavelength at the design frequency, m.
    """
    coax = (feed.coax_inner, feed.coax_outer, feed.coax_permittivity)
    impedance = coax_impedance(*coax)
    if abs(impedance / REFERENCE_OHM - 1) > _REFERENCE_SPREAD:
        yield f"the coax has {impedance:.1f} ohm, not {REFERENCE_OHM:g}: check diameters and dielectric"
    if record.band.high > 0.9 * coax_cutoff_frequency(*coax):
        yield f"the coax carries a second mode from {coax_cutoff_frequency(*coax) / 1e9:.2f} GHz"
    if isinstance(feed, BentProbe):
        yield from _bent_warnings(record, feed)
    elif isinstance(feed, Probe):
        yield from _straight_warnings(record, feed)
    place = feed.position_mm
    part = min(place, record.guide.length_mm - place) * 1e-3 / wave
    if abs((part * 2 + 0.5) % 1 - 0.5) < 0.16:
        yield (
            f"the probe is {part:.2f} guide wavelengths from a short, near a null of the standing wave: "
            f"it couples badly; near a quarter ({wave * 250:.0f} mm) or somewhat less it couples best"
        )
    if abs(feed.offset_mm) > record.guide.width_mm / 4:
        yield f"the probe is {abs(feed.offset_mm):g} mm off the centre line, where the field is less than 0.7 of its peak"
    for i, slot in enumerate(record.slots):
        if abs(slot.position_mm - place) * 1e-3 < slot.length_mm * 0.5e-3 + 0.1 * wave:
            yield f"slot {i + 1} is close to the probe: its near field couples, which the estimate does not see"


def _straight_warnings(record: Record, feed: Probe) -> Iterator[str]:
    free = C0 / record.band.centre
    height = feed.height
    if not 0.12 * free <= height <= 0.28 * free:
        yield (
            f"a probe of {feed.height_mm:g} mm is {height / free:.2f} wavelengths high; probes are matched near "
            f"0.19, {0.19 * free * 1e3:.0f} mm (common practice: 3/16 wavelength)"
        )
    if feed.height_mm > 0.85 * record.guide.height_mm:
        yield (
            f"the probe ends {record.guide.height_mm - feed.height_mm:.1f} mm below the opposite wall: the gap detunes it, "
            f"and sets the greatest power"
        )


def _bent_warnings(record: Record, feed: BentProbe) -> Iterator[str]:
    wire, b = feed.wire_diameter_mm, record.guide.height_mm
    gap = min(feed.hole_height_mm, b - feed.hole_height_mm) - wire / 2
    if gap < _NEAR_WALL * wire:
        yield (
            f"the run passes {gap:.1f} mm from a broad wall, less than twice its thickness: the estimate is less true there, "
            "and the gap sets the greatest power"
        )
    left = feed.riser_room_mm(b) - feed.riser_mm(b)
    if feed.tip == "open" and left < 0.15 * b:
        yield f"the probe ends {left:.1f} mm before the {feed.towards} wall: the gap detunes it, and sets the greatest power"
    if min(feed.run_mm, feed.riser_mm(b)) < 3 * wire:
        yield f"a leg of the probe is shorter than three times its thickness of {wire:g} mm: it cannot be bent so sharply"
    if feed.tip == "soldered":
        for i, slot in enumerate(record.slots):
            left, first, right, last = (v / MM for v in slot_outline(slot).bounds)
            along = max(first - feed.run_mm, feed.run_mm - last)
            across = max(left - feed.offset_mm, feed.offset_mm - right)
            if slot.face == feed.towards and along < 2 * wire and across < 2 * wire:
                yield f"the soldered tip lies at the edge of slot {i + 1}: solder would run into it"
