"""From the parts of a comparison to errors, ratios of times and tables. Pure."""

from __future__ import annotations

import csv
import io
import itertools
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from simharness.em.signals.match import deepest_match, match_band


@dataclass(frozen=True)
class Reflection:
    """A reflection curve: `frequency` (nf,) in Hz, `s11` (nf,) complex; where it comes from in words."""

    frequency: np.ndarray
    s11: np.ndarray
    source: str = ""


@dataclass(frozen=True)
class Errors:
    """Against the reference: `resonance` (the middle of the -10 dB band) in per cent of its frequency, `s11`
    the largest distance in the complex plane.

    `resonance` is None where the deepest match of either lies at the border of the span, and so is none.
    """

    resonance: float | None
    s11: float


@dataclass(frozen=True)
class Row:
    """One part in the table; times in s.

    `status`: 'finished', 'unfinished' (not within its time), 'failed' or 'cut short' (after a stated number
    of steps).
    """

    record: str
    kind: str
    quality: str
    status: str
    cells: int
    steps: int
    seconds: float
    others: float
    resonance_ghz: float | None = None
    directivity_db: float | None = None
    errors: Errors | None = None
    is_reference: bool = False


@dataclass(frozen=True)
class Ratio:
    """Time of the plain model over ours at equal or smaller error; `how` says how it was found.

    `how`: 'interpolated' (between two of our meshes), 'smaller error' (our cheapest mesh that is better),
    'plain unfinished' (a lower bound, whatever its error would be), 'not reached' (none of our meshes is as
    good), 'no reference', 'no resonance in the span', 'failed', 'cut short'.
    """

    value: float | None
    how: str


def resonance(curve: Reflection) -> float | None:
    """Middle of the -10 dB band (Hz), or the deepest match where a band edge lies outside the span; None at
    its border.

    Not the deepest match in general: in the flat bottom of a well-matched band it wanders by far more than
    the curve itself moves.
    """
    best = int(np.argmin(np.abs(curve.s11)))
    if best in (0, len(curve.s11) - 1):
        return None
    low, high = match_band(curve.frequency, curve.s11)
    if low is None or high is None:
        return deepest_match(curve.frequency, curve.s11)[0]
    return (low + high) / 2


def errors_against(reference: Reflection, found: Reflection, low: float, high: float) -> Errors:
    """Errors of a reflection curve; the distance is taken over the band from low to high (Hz).

    Examples
    --------
    >>> f = np.linspace(1.0, 3.0, 201)
    >>> a, b = (Reflection(f, 0.1 + 1j * (f - centre)) for centre in (2.0, 2.02))
    >>> e = errors_against(a, b, 1.9, 2.1)
    >>> round(e.resonance, 6), round(e.s11, 6)
    (1.0, 0.02)
    """
    true, seen = resonance(reference), resonance(found)
    at = found.frequency[(found.frequency >= low * (1 - 1e-9)) & (found.frequency <= high * (1 + 1e-9))]
    known, other = (np.interp(at, c.frequency, c.s11) for c in (reference, found))
    moved = None if true is None or seen is None else 100 * abs(seen - true) / true
    return Errors(moved, float(np.max(np.abs(known - other))))


def ratio_at_equal_error(plain: tuple[float, float | None], ours: Sequence[tuple[float, float]]) -> Ratio:
    """How many times longer the plain model takes than ours for an error as small.

    Parameters
    ----------
    plain : time (s) and error; None for the error of a run that did not finish.
    ours : time and error of each of our meshes.

    Notes
    -----
    Straight lines in log-log between neighbouring meshes, nothing beyond them: where all our meshes are
    better, the cheapest counts as it is.

    Examples
    --------
    >>> ratio_at_equal_error((1000.0, 0.1), [(10.0, 1.0), (1000.0, 0.01)])
    Ratio(value=10.0, how='interpolated')
    >>> ratio_at_equal_error((100.0, 0.1), [(10.0, 0.05), (50.0, 0.02)])
    Ratio(value=10.0, how='smaller error')
    >>> ratio_at_equal_error((100.0, 0.01), [(10.0, 0.05)])
    Ratio(value=None, how='not reached')
    """
    time, error = plain
    points = sorted(ours)
    if not points:
        return Ratio(None, "not reached")
    if error is None:
        bound = time / points[0][0]
        return Ratio(bound if bound > 1 else None, "plain unfinished")
    best = min(((t, "smaller error") for t, e in points if e <= error), default=(math.inf, "not reached"))
    for (t0, e0), (t1, e1) in itertools.pairwise(points):
        if e0 > error > e1 > 0:
            share = math.log(e0 / error) / math.log(e0 / e1)
            best = min(best, (t0 * (t1 / t0) ** share, "interpolated"))
    return Ratio(None, "not reached") if math.isinf(best[0]) else Ratio(round(time / best[0], 9), best[1])


def record_ratios(rows: Sequence[Row], measure: str) -> dict[str, dict[str, Ratio]]:
    """Ratio of each plain run, by record and mesh, for 'resonance' or 's11'.

    A run of ours that is the reference itself has no error and does not count, nor does one without this
    error.
    """
    found: dict[str, dict[str, Ratio]] = {}
    for plain in (r for r in rows if r.kind == "plain"):
        mine = [
            r
            for r in rows
            if r.record == plain.record and r.kind == "ours" and r.status == "finished" and not r.is_reference
        ]
        ours = [
            (r.seconds, getattr(r.errors, measure))
            for r in mine
            if getattr(r.errors, measure, None) is not None
        ]
        if plain.status in ("failed", "cut short"):
            ratio = Ratio(None, plain.status)
        elif plain.status == "finished" and getattr(plain.errors, measure, None) is None:
            ratio = Ratio(None, "no reference" if plain.errors is None else "no resonance in the span")
        else:
            if (
                plain.status == "unfinished"
            ):  # a bound on time alone: any run of ours that gave results will do
                ours = [(r.seconds, 0.0) for r in mine]
            ratio = ratio_at_equal_error((plain.seconds, getattr(plain.errors, measure, None)), ours)
        found.setdefault(plain.record, {})[plain.quality] = ratio
    return found


COLUMNS = (
    "record",
    "model",
    "mesh",
    "status",
    "cells",
    "steps",
    "seconds",
    "resonance_ghz",
    "resonance_error_percent",
    "s11_error",
    "directivity_dbi",
    "other_load_cores",
    "time_ratio_resonance",
    "time_ratio_s11",
)


def _cells(row: Row, ratios: Mapping[str, Mapping[str, Mapping[str, Ratio]]]) -> list[str]:
    """The columns of one row as text; a missing figure is empty."""

    def text(value: float | None, form: str) -> str:
        return "" if value is None else format(value, form)

    def ratio(measure: str) -> str:
        found = ratios[measure].get(row.record, {}).get(row.quality) if row.kind == "plain" else None
        if found is None:
            return ""
        if found.value is None:
            return found.how
        return f"{'> ' if found.how == 'plain unfinished' else ''}{found.value:.3g} ({found.how})"

    errors = row.errors if not row.is_reference else None
    mark = "reference" if row.is_reference else ""
    return [
        row.record,
        row.kind,
        row.quality,
        row.status,
        str(row.cells),
        str(row.steps),
        f"{row.seconds:.1f}",
        text(row.resonance_ghz, ".4f"),
        mark or text(errors and errors.resonance, ".3f"),
        mark or text(errors and errors.s11, ".4f"),
        text(row.directivity_db, ".2f"),
        f"{row.others:.2f}",
        ratio("resonance"),
        ratio("s11"),
    ]


def table(rows: Sequence[Row]) -> list[list[str]]:
    """Head and rows of the table."""
    ratios = {measure: record_ratios(rows, measure) for measure in ("resonance", "s11")}
    return [list(COLUMNS), *(_cells(row, ratios) for row in rows)]


def csv_text(rows: Sequence[Row]) -> str:
    """The table as CSV."""
    out = io.StringIO()
    csv.writer(out, lineterminator="\n").writerows(table(rows))
    return out.getvalue()


def markdown_text(rows: Sequence[Row]) -> str:
    """The table in Markdown."""
    head, *body = table(rows)
    lines = [head, ["---"] * len(head), *body]
    return "".join(f"| {' | '.join(line)} |\n" for line in lines)
