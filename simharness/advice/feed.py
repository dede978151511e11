"""What the advice asks of a feed, and the answers of every coax feed."""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Iterator
from typing import ClassVar

from simharness.advice.quantities import guide_wavelength
from simharness.em.guide.coax import coax_impedance
from simharness.em.guide.coax_mode import coax_cutoff_frequency
from simharness.figures import Figure
from simharness.records import REFERENCE_OHM, CoaxFeed, Record, RoundGuide

MIN_WIRE_MM = 0.2
"""Thinnest wire of a probe that stands by itself (common practice)."""
_REFERENCE_SPREAD = 0.15
"""Of the coax impedance about 50 ohm: |S11| -23 dB from the step alone."""
_MAX_COAX_RATIO = 0.9
"""Upper edge of the band over the cutoff of the next mode of the coax."""
_NULL = 0.16
"""Distance of a probe from a null of the standing wave, in half guide wavelengths."""
_SLOT_DISTANCE = 0.1
"""Between probe and slot, in guide wavelengths."""


class FeedAdvice(ABC):
    """What the advice asks of the feed of a record."""

    record: Record
    held_by: ClassVar[str] = "feed"
    """What holds E of a round tube to its direction."""
    turned_by: ClassVar[str] = "a tube that is not round"
    """What turns it."""

    def figures(self) -> dict[str, Figure]:
        """Figures that follow from the feed by closed forms."""
        return {}

    def warnings(self) -> Iterator[str]:
        """What is likely to go wrong with the feed itself."""
        return iter(())

    def fabrication_warnings(self) -> Iterator[str]:
        """What of it cannot be made or does not hold."""
        return iter(())

    @abstractmethod
    def conductance_warnings(self, total: float) -> Iterator[str]:
        """What the sum of the normalised slot conductances means for the match."""

    def direction(self, guide: RoundGuide) -> str:
        """What fixes the direction of E in a round tube."""
        return "only the feed fixes it"

    def tube_warnings(self) -> Iterator[str]:
        """What of it cannot be put into a tube."""
        return iter(())

    def no_solder_warnings(self) -> Iterator[str]:
        """What of it cannot be soldered to walls that take no solder."""
        return iter(())

    def order_warnings(self) -> Iterator[str]:
        """What of it can be joined in one order only."""
        return iter(())


class CoaxAdvice(FeedAdvice):
    """What every coax feed has."""

    feed: CoaxFeed
    held_by: ClassVar[str] = "probe"
    turned_by: ClassVar[str] = "a tube that is not round, or a probe beside its line,"

    @abstractmethod
    def wire_figures(self) -> dict[str, Figure]:
        """The lengths of its wire."""

    @abstractmethod
    def wire_warnings(self) -> Iterator[str]:
        """What is likely to go wrong with its wire."""

    @property
    def _coax(self) -> tuple[float, float, float]:
        return self.feed.coax_inner, self.feed.coax_outer, self.feed.coax_permittivity

    def figures(self) -> dict[str, Figure]:
        """Its place, its wire, its coax."""
        place = self.feed.position / guide_wavelength(self.record)
        return {
            "probe_to_near_end": Figure(place, "guide wavelengths", "at the design frequency"),
            **self.wire_figures(),
            "coax_impedance": Figure(coax_impedance(*self._coax), "ohm", "TEM, exact"),
            "coax_next_mode": Figure(coax_cutoff_frequency(*self._coax), "Hz", "TE11, exact"),
        }

    def warnings(self) -> Iterator[str]:
        """Its coax, its wire, its place."""
        impedance, cutoff = coax_impedance(*self._coax), coax_cutoff_frequency(*self._coax)
        if abs(impedance / REFERENCE_OHM - 1) > _REFERENCE_SPREAD:
            yield f"the coax has {impedance:.1f} ohm, not {REFERENCE_OHM:g}: check diameters and dielectric"
        if self.record.band.high > _MAX_COAX_RATIO * cutoff:
            yield f"the coax carries a second mode from {cutoff / 1e9:.2f} GHz"
        yield from self.wire_warnings()
        yield from self._place_warnings()

    def _place_warnings(self) -> Iterator[str]:
        guide, wave = self.record.guide, guide_wavelength(self.record)
        place, offset = self.feed.position_mm, self.feed.offset_mm
        part = min(place * 1e-3 - guide.near_face, guide.far_face - place * 1e-3) / wave
        if abs((part * 2 + 0.5) % 1 - 0.5) < _NULL:
            yield (
                f"the probe is {part:.2f} guide wavelengths from a short, near a null of the standing wave, "
                f"and couples badly: it couples best near a quarter ({wave * 250:.0f} mm) or somewhat less"
            )
        if abs(offset) > guide.width_mm / 4:
            yield (
                f"the probe is {abs(offset):g} mm off the centre line, where the field is less "
                "than 0.7 of its peak"
            )
        for number, slot in enumerate(self.record.open_slots, 1):
            if abs(slot.position_mm - place) * 1e-3 < slot.length_mm * 0.5e-3 + _SLOT_DISTANCE * wave:
                yield (
                    f"slot {number} is close to the probe: it couples to its near field, which the estimate "
                    "leaves out"
                )

    def fabrication_warnings(self) -> Iterator[str]:
        """A wire that is too thin."""
        if self.feed.wire_diameter_mm < MIN_WIRE_MM:
            yield (
                f"a wire of {self.feed.wire_diameter_mm:g} mm does not stand by itself; take "
                f"{MIN_WIRE_MM:g} mm or more (common practice)"
            )

    def conductance_warnings(self, total: float) -> Iterator[str]:
        """A probe matches a wide range of rows."""
        if 0.4 <= total <= 4:
            return
        effect = (
            "the standing wave in the guide is high, the band narrow and the loss greater"
            if total < 1
            else "the row is hard to match with a probe"
        )
        yield f"the slot conductances add up to {total:.2f}: {effect}"

    def no_solder_warnings(self) -> Iterator[str]:
        """A stripped coax."""
        if self.feed.connector == "stripped":
            yield (
                f"a stripped coax cannot be soldered to {self.record.guide.material}: solder it into a "
                "brass plate that is screwed on, or use connector = 'panel', or brass, copper or tin plate "
                "for the walls"
            )
