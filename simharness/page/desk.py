"""One record while it is changed: its values, what is refused of them, every step back, and its file."""

from __future__ import annotations

import copy
import hashlib
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simharness.errors import InputError
from simharness.page import edits, keeping, rows, tables
from simharness.page.problems import judged

if TYPE_CHECKING:
    from simharness.records import Record

Value = float | int | str | bool | None
Data = dict[str, Any]

DRAFT_VERSION = 1


class Desk:
    """The state of one record that is being changed.

    Made by `opened`, `from_text`, `from_record`, `empty` or `from_draft`.

    Attributes
    ----------
    record : Record
        The last valid one.
    data : dict
        Plain data as in the file, with refused values too; not to be edited.
    problems : dict of str to str
        The sentence about each refused field, by its dotted name (slots counted from 1 as listed); what
        belongs to no field stands under "".
    path : Path or None
        The file that it was opened from or saved to.
    folder : Path
        Where it is saved.
    """

    def __init__(self, data: Data, record: Record, *, text: str = "", folder: Path | str = "."):
        self.record = record
        self.data = data
        self.problems: dict[str, str] = {}
        self.path: Path | None = None
        self.folder = Path(folder)
        self._text = text
        self._on_disk: str | None = None
        self._saved: Data | None = data
        # States share the tables that did not change, so that a step costs little.
        self._before: list[Data] = []
        self._after: list[Data] = []
        self._gesture: str | None = None

    @classmethod
    def opened(cls, path: Path | str) -> Desk:
        """A record from its file, to be saved there or beside it.

        Raises
        ------
        InputError
            The file cannot be read or holds no valid record.
        """
        from simharness.files import decoded, input_bytes
        from simharness.records.reading import MAX_BYTES

        path = Path(path)
        content = input_bytes("record", path, MAX_BYTES, "TOML file")
        desk = cls.from_text(decoded("record", path, content, "TOML file"), path.parent, origin=path)
        desk.path, desk._on_disk = path, hashlib.sha256(content).hexdigest()
        return desk

    @classmethod
    def from_text(
        cls, text: str, folder: Path | str = ".", origin: Path | str = "record", saved: bool = True
    ) -> Desk:
        """A record from its text, without a file of its own as yet; work to be lost unless `saved`.

        Raises
        ------
        InputError
            As `opened` does.
        """
        from simharness.records import parse_record
        from simharness.records.reading import data_of_text

        data = data_of_text(text, origin)
        desk = cls(data, parse_record(data, str(origin)), text=text, folder=folder)
        desk._saved = data if saved else None
        return desk

    @classmethod
    def from_record(cls, record: Record, folder: Path | str = ".") -> Desk:
        """A record that was made, and is not saved yet."""
        from simharness.records.text import record_text

        return cls.from_text(record_text(record), folder, saved=False)

    @classmethod
    def empty(cls, folder: Path | str = ".") -> Desk:
        """An empty box: one slot and a probe."""
        from simharness.records import parse_record
        from simharness.records.text import record_text

        return cls.from_text(record_text(parse_record(rows.smallest())), folder)

    def set(self, field: str, value: Value, gesture: str | None = None) -> None:
        """Another value of a field, None to leave it out: one step back.

        Parameters
        ----------
        field : str
            Dotted name, as in `simharness.changed`; a table of `tables.STARTS` takes True or False. A
            numbered slot of a record with a rule has the rule written out.
        value : number, str, bool or None
            In the unit of the name; one that is refused stays until it is changed.
        gesture : str, optional
            Changes one after the other with the same name make one step back together.

        Raises
        ------
        InputError
            A record has no such field.
        """
        self.set_many({field: value}, gesture)

    def set_many(self, fields: Mapping[str, Value], gesture: str | None = None) -> None:
        """Other values of several fields in one step back; see `set`."""
        data = self.data
        for field, value in fields.items():
            data = edits.with_value(data, self.record, field, value)
        self._take(data, gesture)

    def add_row(self, table: str) -> None:
        """One table more of "slot", behind the last in a guide that is longer by as much, or of "tape"."""
        self._take(tables.with_row(self.data, self.record, table))

    def remove_row(self, table: str, number: int) -> None:
        """Without one of these, counted from 1 as listed; raises `InputError` where there is none."""
        self._take(tables.without_row(self.data, self.record, table, number))

    def rule_to_slots(self) -> None:
        """Every slot of the rule by itself; raises `InputError` where the rule is refused."""
        self._take(rows.rule_as_slots(self.data, self.record))

    def _take(self, data: Data, gesture: str | None = None) -> None:
        going_on = gesture is not None and gesture == self._gesture and bool(self._before)
        self._gesture = gesture
        if data == self.data:
            return
        if not going_on:
            self._before.append(self.data)
        self._after.clear()
        self._show(data)

    def _show(self, data: Data) -> None:
        record, self.problems = judged(data)
        self.data = data
        if record is not None:
            self.record = record

    @property
    def can_undo(self) -> bool:
        """Whether there is a step to take back."""
        return bool(self._before)

    @property
    def can_redo(self) -> bool:
        """Whether there is a step to take again."""
        return bool(self._after)

    def undo(self) -> None:
        """Take the last step back; nothing where there is none."""
        self._step(self._before, self._after)

    def redo(self) -> None:
        """Take again what was taken back last."""
        self._step(self._after, self._before)

    def _step(self, out_of: list[Data], onto: list[Data]) -> None:
        self._gesture = None
        if out_of:
            onto.append(self.data)
            self._show(out_of.pop())

    @property
    def dirty(self) -> bool:
        """Whether something is here that no file holds."""
        return self._saved is None or self.data != self._saved

    def text(self) -> str:
        """The record as TOML; remarks and order of what was opened stay.

        Raises
        ------
        InputError
            Something is refused: only a valid record can be saved.
        """
        from simharness.records.text import text_with_record

        if self.problems:
            raise InputError(
                "record",
                f"{len(self.problems)} refused",
                f"only a valid record can be saved; first: {next(iter(self.problems.values()))}",
            )
        return text_with_record(self._text, self.record)

    def save(self, name: str | Path | None = None) -> Path:
        """Write the record to its file, or to another one of the folder, in one step.

        Parameters
        ----------
        name : str or Path, optional
            Plain name of a file of the folder, ending in ``.toml``, or its path; the record takes this name.
            Without it, the file that was opened; of a new record, its own name.

        Returns
        -------
        Path

        Raises
        ------
        InputError
            Something is refused, the name is none, the file is there already, or it was changed by others
            since it was opened.
        MachineError
            The file cannot be written; the old one is untouched.
        """
        from simharness.files import atomic_write_text

        path, before = self._place(name), self.data
        if path == self.path:
            keeping.require_unchanged(path, self._on_disk)
        else:
            keeping.require_absent(path)
            self.set("name", path.stem)
        try:
            text = self.text()
            atomic_write_text(path, text)
        except Exception:
            if self.data is not before:
                self.undo()
                self._after.pop()
            raise
        self.path, self._on_disk = path, hashlib.sha256(text.encode("utf-8")).hexdigest()
        self._saved = self.data
        return path

    def _place(self, name: str | Path | None) -> Path:
        """Where to save: the file that was opened, or a plain name in the folder."""
        if self.path is not None and (name is None or name in (self.path, self.path.name)):
            return self.path
        wanted = f"{self.record.name}.toml" if name is None else name
        if isinstance(wanted, Path) and wanted.parent == self.folder:
            wanted = wanted.name
        return self.folder / keeping.file_name(str(wanted))

    def draft(self) -> dict[str, Any]:
        """All but the steps back, in types that JSON knows, so that a browser can keep unsaved work."""
        from simharness.records.text import plain_data

        return {
            "version": DRAFT_VERSION,
            "text": self._text,
            "data": copy.deepcopy(self.data),
            "valid": plain_data(self.record) if self.problems else None,
            "saved": copy.deepcopy(self._saved),
            "file": None if self.path is None else self.path.name,
            "sha256": self._on_disk,
        }

    @classmethod
    def from_draft(cls, draft: Mapping[str, Any], folder: Path | str = ".") -> Desk:
        """The state of `draft`, its file in the folder; nothing of it is trusted.

        Raises
        ------
        InputError
            It is no draft, or holds no record.
        """
        from simharness.records import parse_record

        kept = keeping.checked_draft(draft, DRAFT_VERSION)
        desk = cls.from_text(kept["text"], folder)
        if kept["valid"] is not None:
            desk.record = parse_record(kept["valid"], "draft")
        desk._saved = kept["saved"]
        if kept["file"] is not None:
            desk.path, desk._on_disk = Path(folder) / kept["file"], kept["sha256"]
        base = desk.data
        desk._show(kept["data"])
        if desk.problems and kept["valid"] is None:
            raise InputError("draft", "(refused)", "must hold a valid record beside refused values")
        if desk.data != base:
            desk._before.append(base)
        return desk
