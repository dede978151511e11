"""What would bring a design that misses its target nearer to it: other wishes, each designed and estimated."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

from simharness.errors import HarnessError
from simharness.proposal import Design, designed
from simharness.wish import Wish

_LEAST_GAIN = 0.5
"""What is worth a word, dB."""


@dataclass(frozen=True)
class Remedy:
    """Another wish in the words of the command line, and the worst |S11| in the band that the estimate sees with it, dB."""

    words: str
    worst: float


def remedy_words(design: Design) -> str:
    """What to change, the end of a sentence: the first change that meets the target, or the best of those that were tried."""
    tried, target = [], design.wish.target_db
    for remedy in _remedies(design):
        if remedy.worst <= target:
            return f"with {remedy.words} the estimate meets it, {remedy.worst:.1f} dB at most"
        tried.append(remedy)
    best = min(tried, key=lambda remedy: remedy.worst, default=None)
    if best is None or best.worst > design.match.worst - _LEAST_GAIN:
        return "no other row or feed that was tried comes nearer: ask for a narrower band, or a target that is nearer to 0 dB"
    return f"with {best.words} it would come to {best.worst:.1f} dB, nearer than with the others that were tried"


def _remedies(design: Design) -> Iterator[Remedy]:
    for words, wish in _changes(design):
        try:
            yield Remedy(words, designed(wish).match.worst)
        except HarnessError:
            continue


def _changes(design: Design) -> Iterator[tuple[str, Wish]]:
    """Other wishes, those that give away least first."""
    wish, count = design.wish, design.weights.size
    if wish.load is None and wish.far_end == "short":
        yield "--load 1.5", replace(wish, load=1.5)
    if wish.feed.kind == "bent-probe":
        if wish.feed.tip == "open":
            yield "--tip soldered", replace(wish, feed=replace(wish.feed, tip="soldered"))
        yield "--feed probe", replace(wish, feed=replace(wish.feed, kind="probe"))
    if wish.far_end == "short" and wish.load is None and not wish.mate and wish.cover is None and wish.guide.diameter is None and count > 3:
        yield "--far-end load", replace(wish, far_end="load")
    if wish.slots is not None:
        for fewer in sorted({round(0.7 * count), count // 2} - {0, count}, reverse=True):
            yield f"--slots {fewer}", replace(wish, slots=fewer)
