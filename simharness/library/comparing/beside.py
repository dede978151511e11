"""Records, runs and measurements side by side."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeAlias

from simharness.errors import InputError
from simharness.library.values import plain

if TYPE_CHECKING:
    import skrf

    from simharness.beside.rows import ComparedField, ComparedFigure
    from simharness.beside.side import Side
    from simharness.library.analysis import EstimateResult
    from simharness.library.solved_run import SolvedRun
    from simharness.measurement.files import OnePort
    from simharness.records import Record

    Item: TypeAlias = SolvedRun | Record | EstimateResult | Path | str | skrf.Network | OnePort

FEWEST, MOST = 2, 3
"""Number of things that can be set side by side."""

LONGEST = 60
"""Characters of a label, which stands in the head of a table; longer ones are cut."""


@dataclass(frozen=True)
class SideBySide:
    """Two or three things over each other.

    Attributes
    ----------
    sides : tuple of Side
        Each with `label`, `kind`, `detail`, curve (`frequency` in Hz, `s11`), `cuts` (realized gain in dBi
        over rad) and `figures`.
    """

    sides: tuple[Side, ...]

    @cached_property
    def figures(self) -> tuple[ComparedFigure, ...]:
        """A row for each figure: values with error bars, and whether sides differ by more than these."""
        from simharness.beside.rows import compared_figures

        return compared_figures(self.sides)

    @cached_property
    def _compared_fields(self) -> tuple[tuple[ComparedField, ...], int]:
        from simharness.beside.rows import compared_fields

        return compared_fields(self.sides)

    @property
    def fields(self) -> tuple[ComparedField, ...]:
        """A row for each field in which the records differ."""
        return self._compared_fields[0]

    @property
    def same(self) -> int:
        """Number of the other fields, in which all records say the same."""
        return self._compared_fields[1]

    @cached_property
    def sentences(self) -> tuple[str, ...]:
        """Which is the better match, in what they differ by more than their bars, and what to mind."""
        from simharness.beside.sentences import sentences

        return sentences(self.sides, self.figures, self.fields, self.same)

    def write_picture(self, path: Path | str) -> Path:
        """Draw reflection and both cuts over each other, as PNG; MachineError where the file cannot be
        written."""
        from simharness.beside.picture import beside_figure
        from simharness.plot import write_figure

        return write_figure(path, beside_figure, self.sides)

    def as_dict(self) -> dict[str, Any]:
        """Curves, figures and fields in types that JSON knows."""
        return plain(
            {
                "sides": [
                    {
                        "label": side.label,
                        "kind": side.kind,
                        "detail": side.detail,
                        "record": None if side.record is None else side.record.name,
                        "frequency_hz": side.frequency.tolist(),
                        "s11": [[value.real, value.imag] for value in side.s11.tolist()],
                        "cuts": {
                            name: {"angle_rad": cut.angle.tolist(), "gain_dbi": cut.gain.tolist()}
                            for name, cut in side.cuts.items()
                        },
                    }
                    for side in self.sides
                ],
                "figures": {
                    row.name: {"values": row.values, "state": row.state, "apart": row.apart}
                    for row in self.figures
                },
                "fields": {row.name: {"unit": row.unit, "values": row.values} for row in self.fields},
                "same_fields": self.same,
                "sentences": self.sentences,
            }
        )


def side_by_side(items: Sequence[Item], labels: Sequence[str | None] | None = None) -> SideBySide:
    """Set two or three records, stored runs and measured reflections side by side.

    Parameters
    ----------
    items : sequence of SolvedRun, Record, EstimateResult, Path, str, skrf.Network or OnePort
        A record stands by its estimate, a second or so each. A path is that of a Touchstone one-port (.s1p);
        it counts over the span of the first record among the items.
    labels : sequence of str or None, optional
        What the items are called, one for each; None, or without them all, is the name of the record or file.

    Returns
    -------
    SideBySide

    Raises
    ------
    InputError
        There are fewer than two items or more than three, or a file cannot be read.

    Examples
    --------
    >>> import simharness
    >>> run = simharness.open_run("four-slot-9g6", runs="docs/runs")
    >>> shorter = simharness.changed(run.record, {"name": "shorter", "feed.height_mm": 5.0})
    >>> found = simharness.side_by_side([run, shorter])
    >>> [(row.name, row.values, row.unit) for row in found.fields]
    [('feed.height_mm', ('6.3', '5'), 'mm')]
    >>> next(row.state for row in found.figures if row.name == "directivity")
    'agree'
    """
    if not FEWEST <= len(items) <= MOST:
        raise InputError("side by side", f"{len(items)} given", f"must be {FEWEST} or {MOST}")
    if labels is not None and len(labels) != len(items):
        raise InputError("labels", f"{len(labels)} given", f"must be one for each of the {len(items)} items")
    from simharness.beside.side import measured_side
    from simharness.library.comparing.measured import measured_one_port
    from simharness.printable import printable

    own = _labels(items)
    names = [printable(name) if name else other for name, other in zip(labels or own, own)]
    names = [name if len(name) <= LONGEST else f"{name[: LONGEST - 1]}…" for name in names]
    records = [getattr(item, "record", None) or _as_record(item) for item in items]
    first = next((record for record in records if record is not None), None)
    sides = []
    for item, name, record in zip(items, names, records):
        if record is None:
            sides.append(measured_side(name, measured_one_port(item), first))
        else:
            sides.append(_side(name, item, record))
    return SideBySide(tuple(sides))


def _as_record(item: object) -> Record | None:
    from simharness.records import Record

    return item if isinstance(item, Record) else None


def _side(name: str, item: Any, record: Record) -> Side:
    """A run, an estimate that is there already, or a record that is yet to be estimated."""
    from simharness.beside.side import estimate_side, run_side
    from simharness.library.analysis import EstimateResult
    from simharness.library.solved_run import SolvedRun

    if isinstance(item, SolvedRun):
        return run_side(name, record, item.results, item.quality)
    if isinstance(item, EstimateResult):
        return estimate_side(name, record, item.model)
    from simharness.estimate.antenna import estimate

    return estimate_side(name, record, estimate(record))


def _labels(items: Sequence[Item]) -> list[str]:
    """Names of the items, each one different: as short as that allows."""
    forms = [_forms(item) for item in items]
    names = [form[0] for form in forms]
    for step in range(1, max(map(len, forms))):
        often = Counter(names)
        names = [
            form[min(step, len(form) - 1)] if often[name] > 1 else name for name, form in zip(names, forms)
        ]
    often, seen, found = Counter(names), Counter[str](), []
    for name in names:
        seen[name] += 1
        found.append(f"{name} ({seen[name]})" if often[name] > 1 else name)
    return found


def _forms(item: Any) -> tuple[str, ...]:
    """What an item may be called, the shortest first."""
    from simharness.library.solved_run import SolvedRun
    from simharness.printable import printable

    if isinstance(item, SolvedRun):
        return item.record.name, f"{item.record.name} ({item.quality})", item.name
    if isinstance(item, (str, Path)):
        return (printable(Path(item).name),)
    record = getattr(item, "record", item)
    name = printable(str(getattr(record, "name", None) or "measured"))
    return (name, f"{name} (estimate)") if hasattr(record, "slots") else (name,)
