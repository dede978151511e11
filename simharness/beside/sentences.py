"""What sides that stand beside each other say: the better match, what really differs, what is the same."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations

from simharness.beside.rows import AGREE, DIFFER, ComparedField, ComparedFigure, at_coax
from simharness.beside.side import ESTIMATE, MEASURED, WORST, Side
from simharness.figures import Figure, number

_LEVELS = ("dB", "dBi", "dBm")
_MEGAHERTZ = 1e6
_FEW_FIELDS = 3
"""Records that differ in no more fields are nearly of the same antenna; a choice. What one dimension does to
S11 by the estimate is held against the full wave in `tests/stored/test_sensitivities_full_wave.py`."""


def sentences(
    sides: Sequence[Side], figures: Sequence[ComparedFigure], fields: Sequence[ComparedField], same: int
) -> tuple[str, ...]:
    """The match, the figures, the fields, and what to mind, each in a sentence.

    Parameters
    ----------
    sides : sequence of Side
    figures : sequence of ComparedFigure
    fields : sequence of ComparedField
        In which the records differ.
    same : int
        Number of the other fields.
    """
    said = [
        *_better_match(sides, figures),
        *_differences(sides, figures),
        *_alike(figures),
        *_fields(sides, fields, same),
        *_shared_errors(sides, fields),
        *_cautions(sides),
    ]
    return tuple(said)


def _listed(words: Sequence[str]) -> str:
    return " and ".join([", ".join(words[:-1]), words[-1]] if len(words) > 1 else words)


def _better_match(sides: Sequence[Side], figures: Sequence[ComparedFigure]) -> Iterator[str]:
    """Which has the least S11 at the worst place of its band, and whether that is certain."""
    row = next((row for row in figures if row.name == WORST), None)
    if row is None:
        return
    known = [(figure.value, n) for n, figure in enumerate(row.values) if figure is not None]
    if len(known) < 2:
        return
    order = [n for _, n in sorted(known)]
    best, others = order[0], order[1:]
    levels = "; ".join(f"{sides[n].label} {number(row.values[n])}" for n in order)
    where = "in the band" if len(_bands(sides)) < 2 else "each in its own band"
    behind = [n for n in others if tuple(sorted((best, n))) in row.apart]
    said = f"Worst S11 {where}: {levels}."
    if row.state == "":
        yield f"{said} There are no error bars to say which match is the better one."
    elif not behind:
        yield f"{said} No match is certainly the better one: the error bars overlap."
    else:
        close = [sides[n].label for n in others if n not in behind]
        unless = f", but not certainly than {_listed(close)}" if close else ""
        worse = _listed([sides[n].label for n in behind])
        yield (
            f"{said} {sides[best].label} has a better match than {worse} by more than the error bars{unless}."
        )


def _bands(sides: Sequence[Side]) -> set[tuple[float, float]]:
    return {
        (side.record.band.low_ghz, side.record.band.high_ghz) for side in sides if side.record is not None
    }


def _differences(sides: Sequence[Side], figures: Sequence[ComparedFigure]) -> Iterator[str]:
    """Each figure in which two sides differ beyond their bars, with the amount; the match is told before."""
    for row in figures:
        if row.state != DIFFER or row.name == WORST:
            continue
        parts = [_amount(row, sides, pair) for pair in row.apart]
        yield f"Beyond the error bars, {row.label}: {'; '.join(parts)}."


def _amount(row: ComparedFigure, sides: Sequence[Side], pair: tuple[int, int]) -> str:
    """By how much one side has more than the other, in the unit that people read."""
    one, two = (row.values[n] for n in pair)
    assert one is not None and two is not None
    first, second = (sides[n].label for n in pair)
    if isinstance(one.value, complex) or isinstance(two.value, complex):
        return f"{first} and {second} lie {number(Figure(abs(one.value - two.value), one.unit, ''))} apart"
    if one.value > two.value:
        one, two, first, second = two, one, second, first
    more = two.value - one.value
    if one.unit == "Hz":
        size = f"{more / _MEGAHERTZ:.0f} MHz" if more < 1e9 else number(Figure(more, "Hz", ""))
        amount = f"{size} ({100 * more / one.value:.1f} %)"
    else:
        amount = number(Figure(more, "dB" if one.unit in _LEVELS else one.unit, ""))
    return f"{second} is {amount} above {first}"


def _alike(figures: Sequence[ComparedFigure]) -> Iterator[str]:
    count = sum(row.state == AGREE for row in figures)
    if any(row.state == DIFFER for row in figures) and count:
        what = "figure agrees" if count == 1 else "figures agree"
        yield f"{count} other {what} within the error bars."
    elif count:
        yield "In no figure do they differ by more than their error bars."


def _fields(sides: Sequence[Side], fields: Sequence[ComparedField], same: int) -> Iterator[str]:
    """How alike the records are."""
    if fields:
        rest = f"; all other {same} are the same" if same > 1 else ""
        what = "one field" if len(fields) == 1 else f"{len(fields)} fields"
        yield f"The records differ in {what}{rest}."
    elif same:
        yield (
            f"The records say the same in all {same} fields: what differs comes from how the figures were "
            "found."
        )


def _shared_errors(sides: Sequence[Side], fields: Sequence[ComparedField]) -> Iterator[str]:
    """That bars say too little of the difference of two estimates which are alike in all but a few fields."""
    for i, j in combinations(range(len(sides)), 2):
        apart = sum(row.values[i] != row.values[j] for row in fields)
        if sides[i].kind == sides[j].kind == ESTIMATE and 0 < apart <= _FEW_FIELDS:
            yield (
                f"{sides[i].label} and {sides[j].label} are estimates of nearly the same antenna: errors "
                "that both share cancel in their difference, which may be real where the bars overlap."
            )


def _cautions(sides: Sequence[Side]) -> Iterator[str]:
    """What the curves refer to, where that is not the same, and what was changed in a file."""
    for one, two in combinations(sides, 2):
        if at_coax(one) != at_coax(two):
            coax, guide = (one, two) if at_coax(one) else (two, one)
            yield (
                f"S11 of {coax.label} is that at a coax of 50 ohm, S11 of {guide.label} that of the wave in "
                "the guide before any feed: they are not the same quantity."
            )
    for side in sides:
        if side.kind == MEASURED:
            yield (
                f"{side.label} stands at the plane where it was measured, and has no error bar of its own; "
                "held against one run alone ('compare') it is moved to the plane of the run, and the cause "
                "is sought."
            )
        for remark in side.remarks:
            yield f"{side.label}: {remark}."
