"""What was read on a finished antenna, as it is typed; no browser in it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any
from weakref import WeakKeyDictionary

from simharness.errors import HarnessError, InputError
from simharness.files import decoded
from simharness.page.built.answers import Asked

if TYPE_CHECKING:
    from pathlib import Path

    from simharness.page.aside import Aside
    from simharness.page.bench import Bench
    from simharness.page.compare.dropped import Dropped
    from simharness.page.desk import Desk
    from simharness.records import Record
    from simharness.workshop.dimensions import Dimension

LONGEST = 20
"""Characters of what is typed into a cell."""

READ, WITHIN = "read_mm", "within_mm"


class Sheet:
    """The readings of one record.

    Attributes
    ----------
    typed : dict of str to list of str
        What was read and what it is right within, as typed, by the name of the dimension.
    before : dict or None
        The same before all of it was replaced.
    file : Dropped or None
        S11 of the finished antenna.
    options : dict
        Of the last time that it was worked out: `tools`, `caliper_mm`, `rule_mm`, `delay_ps`.
    step_mm : float
        What can be marked.
    asked : Asked or None
        What `aside` was asked.
    aside : Aside or None
        The work, under way or ended.
    """

    def __init__(self) -> None:
        from simharness.constants import MARKED_MM
        from simharness.workshop.readings import CALIPER_MM, RULE_MM

        self.typed: dict[str, list[str]] = {}
        self.before: dict[str, list[str]] | None = None
        self.file: Dropped | None = None
        self.options: dict[str, Any] = {
            "tools": "hand",
            "caliper_mm": CALIPER_MM,
            "rule_mm": RULE_MM,
            "delay_ps": None,
        }
        self.step_mm = MARKED_MM
        self.asked: Asked | None = None
        self.aside: Aside | None = None

    def cells(self, name: str) -> list[str]:
        """What is typed for a dimension."""
        return self.typed.get(name, ["", ""])

    def type(self, name: str, column: str, words: str) -> None:
        """Take what is typed into a cell."""
        cells = self.typed.setdefault(name, ["", ""])
        cells[column == WITHIN] = words[:LONGEST]

    def replace(self, typed: dict[str, list[str]]) -> None:
        """Take all that is typed at once; what stood there before can be taken back."""
        if any(any(cells) for cells in self.typed.values()):
            self.before = self.typed
        self.typed = typed

    def take_back(self) -> None:
        """What stood there before, in the place of what stands there now."""
        if self.before is not None:
            self.typed, self.before = self.before, None

    def refused(self, record: Record, dimension: Dimension) -> str:
        """Why what is typed for a dimension cannot be; "" where it can."""
        from simharness.workshop.readings import judged_reading

        read, within = map(_plain, self.cells(dimension.name))
        cells = {"drawn_mm": "", READ: read, WITHIN: within}
        try:
            judged_reading(dimension.name, cells, dimension, record)
        except InputError as error:
            return str(error).replace(f"{dimension.name}, {READ}", f"{dimension.name}, read in mm")
        if within and not read:
            return f"{dimension.name}: right within {within} mm, but what was read is blank; type it"
        return ""

    def table(self, record: Record) -> str | None:
        """The table of readings; None where nothing was read.

        Raises
        ------
        InputError
            Something that is typed cannot be.
        """
        from simharness.workshop.dimensions import dimensions
        from simharness.workshop.form import form_text

        found = {}
        for one in dimensions(record):
            if said := self.refused(record, one):
                raise RefusedCellError(said)
            read, within = map(_plain, self.cells(one.name))
            found[one.name] = read, within
        return form_text(record, found) if any(read for read, _ in found.values()) else None

    def fill(self, record: Record, name: str, data: bytes) -> int:
        """Fill in what a table of readings says, in the place of all that is typed; how many were read.

        Raises
        ------
        InputError
            It is no such table, or is of another record; nothing is filled in.
        """
        from simharness.workshop.readings import MAX_BYTES, parsed_readings, usual_within

        if len(data) > MAX_BYTES:
            raise InputError("readings", name, f"must be at most {MAX_BYTES // 1000} kB")
        found = parsed_readings(decoded("readings", name, data), name, record)
        usual = {row.dimension.name: usual_within(row.dimension) for row in found.read}
        self.replace(
            {
                name: [f"{row.read:g}", "" if row.within == usual[name] else f"{row.within:g}"]
                for name, row in ((row.dimension.name, row) for row in found.read)
            }
        )
        return len(found.read)

    def ask(self, record: Record, runs: Path) -> Asked:
        """What a process is asked about the antenna.

        Raises
        ------
        InputError
            Something that is typed cannot be, or nothing is known of the antenna.
        """
        from simharness.records.text import record_text

        readings = self.table(record)
        if readings is None and self.file is None:
            allowed = "type at least one of them, or drop S11 of the finished antenna (.s1p)"
            raise InputError("readings", "(none)", allowed)
        text = record_text(record)
        return Asked(record.name, text, str(runs), readings, self.file, dict(self.options), self.step_mm)

    def is_old(self, record: Record, runs: Path) -> bool:
        """Whether something has changed since it was worked out."""
        try:
            return self.asked is not None and self.ask(record, runs) != self.asked
        except HarnessError:
            return True


class RefusedCellError(HarnessError):
    """What is typed into a cell cannot be."""


def _plain(words: str) -> str:
    """A number as it is typed, with a decimal comma too."""
    return words.strip().replace(",", ".")


class Sheets:
    """Those of one tab: each record that was on its desk has its own."""

    def __init__(self) -> None:
        self._by_name: dict[str, Sheet] = {}
        self._desk: Desk | None = None
        self._now = Sheet()

    def of(self, desk: Desk) -> Sheet:
        """The sheet of the record on the desk; it stays with it when the record is renamed."""
        if desk is not self._desk:
            self._desk, self._now = desk, self._by_name.get(desk.record.name) or Sheet()
        self._by_name[desk.record.name] = self._now
        return self._now


_OF_BENCH: WeakKeyDictionary[Bench, Sheets] = WeakKeyDictionary()


def sheet_of(bench: Bench) -> Sheet | None:
    """The sheet of the record on the desk, kept while the bench is; None where there is no record."""
    if bench.desk is None:
        return None
    return _OF_BENCH.setdefault(bench, Sheets()).of(bench.desk)
