"""What would bring a design that misses its target nearer to it: other requirements, each designed and
estimated."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from simharness.design.feeds import feed_design
from simharness.design.proposal import Design, designed
from simharness.design.requirements import Requirements
from simharness.errors import HarnessError

_MIN_GAIN = 0.5
"""Least gain that is named, dB."""


@dataclass(frozen=True)
class Remedy:
    """Other requirements as options of the command line, and the worst |S11| in the band that is estimated
    for them, dB."""

    options: str
    worst: float


def remedy_text(design: Design) -> str:
    """What to change, the end of a sentence: the first change that meets the target, or the best of those
    that were tried."""
    tried, target = [], design.requirements.target_db
    for remedy in _remedies(design):
        if remedy.worst <= target:
            return f"with {remedy.options} the estimate meets it, {remedy.worst:.1f} dB at most"
        tried.append(remedy)
    best = min(tried, key=lambda remedy: remedy.worst, default=None)
    if best is None or best.worst > design.match.worst - _MIN_GAIN:
        return (
            "no other row or feed that was tried comes nearer: ask for a narrower band, or a target nearer "
            "to 0 dB"
        )
    return f"with {best.options} it would be {best.worst:.1f} dB, the best of those that were tried"


def _remedies(design: Design) -> Iterator[Remedy]:
    for options, requirements in _changes(design):
        try:
            yield Remedy(options, designed(requirements).match.worst)
        except HarnessError:
            continue


def _changes(design: Design) -> Iterator[tuple[str, Requirements]]:
    """Other requirements, those that give up least first."""
    requirements, count = design.requirements, design.weights.size
    if requirements.load is None and requirements.far_end == "short":
        yield "--load 1.5", replace(requirements, load=1.5)
    for text, feed in feed_design(requirements.feed).alternatives():
        yield text, replace(requirements, feed=feed)
    if (
        requirements.far_end == "short"
        and requirements.load is None
        and not requirements.opposite
        and requirements.outside is None
        and "load" in requirements.guide.far_ends
        and count > 3
    ):
        yield "--far-end load", replace(requirements, far_end="load")
    if requirements.slots is not None:
        for fewer in sorted({round(0.7 * count), count // 2} - {0, count}, reverse=True):
            yield f"--slots {fewer}", replace(requirements, slots=fewer)
