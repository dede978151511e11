"""What would bring a design that misses its target nearer to it: other wishes, each designed and
estimated."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from simharness.design.proposal import Design, designed
from simharness.design.requirements import Requirements
from simharness.errors import HarnessError

_MIN_GAIN = 0.5
"""What is worth a word, dB."""


@dataclass(frozen=True)
class Remedy:
    """Another wish in the words of the command line, and the worst |S11| in the band that the estimate sees
    with it, dB."""

    words: str
    worst: float


def remedy_text(design: Design) -> str:
    """What to change, the end of a sentence: the first change that meets the target, or the best of those
    that were tried."""
    tried, target = [], design.requirements.target_db
    for remedy in _remedies(design):
        if remedy.worst <= target:
            return f"with {remedy.words} the estimate meets it, {remedy.worst:.1f} dB at most"
        tried.append(remedy)
    best = min(tried, key=lambda remedy: remedy.worst, default=None)
    if best is None or best.worst > design.match.worst - _MIN_GAIN:
        return (
            "no other row or feed that was tried comes nearer: ask for a narrower band, or a target that "
            "is nearer to 0 dB"
        )
    return (
        f"with {best.words} it would come to {best.worst:.1f} dB, nearer than with the others that were tried"
    )


def _remedies(design: Design) -> Iterator[Remedy]:
    for words, requirements in _changes(design):
        try:
            yield Remedy(words, designed(requirements).match.worst)
        except HarnessError:
            continue


def _changes(design: Design) -> Iterator[tuple[str, Requirements]]:
    """Other wishes, those that give away least first."""
    requirements, count = design.requirements, design.weights.size
    if requirements.load is None and requirements.far_end == "short":
        yield "--load 1.5", replace(requirements, load=1.5)
    if requirements.feed.kind == "bent-probe":
        if requirements.feed.tip == "open":
            yield "--tip soldered", replace(requirements, feed=replace(requirements.feed, tip="soldered"))
        yield "--feed probe", replace(requirements, feed=replace(requirements.feed, kind="probe"))
    if (
        requirements.far_end == "short"
        and requirements.load is None
        and not requirements.opposite_slots
        and requirements.superstrate is None
        and requirements.guide.diameter is None
        and count > 3
    ):
        yield "--far-end load", replace(requirements, far_end="load")
    if requirements.slots is not None:
        for fewer in sorted({round(0.7 * count), count // 2} - {0, count}, reverse=True):
            yield f"--slots {fewer}", replace(requirements, slots=fewer)
