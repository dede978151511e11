"""What is meant by a run: the file of a record, the name of one, the full name of a run, or its beginning.

A run answers for what the solver saw. A record brings the rest: what the antenna is called, how it hangs,
what is wanted of it. So whatever is named, a record is found first, and with it the runs of its geometry,
whoever asked for them:

    a file               the record in it, as it now stands a record's name      the record that last asked
    under it; else the one record that runs were made for by that name a full name          this very run,
    and the record that asked for it under that name a beginning          the same, where it fits one run
    only
"""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import Any

from simharness.errors import InputError, StoreError
from simharness.geometry import antenna_scene
from simharness.mesh.settings import QUALITIES
from simharness.records import Record, parse_record, read_record
from simharness.runs.leftovers import key_part
from simharness.runs.manifest import (
    FAILED,
    RECORD_NAME,
    Run,
    plain_provenance,
    plain_record,
    read_manifest,
    stored_json,
)
from simharness.runs.names import NAMES_FOLDER, Name
from simharness.runs.store import Store, resolved
from simharness.runs.writer import own_label

_LISTED = 5
"""Runs that are named one by one in a sentence."""


@dataclass(frozen=True)
class Asked:
    """A run, and the record to judge it by.

    Attributes
    ----------
    run : Run
    record : Record or None
        None where the run was made for no record.
    remarks : tuple of str
        What was chosen from several, and what else the run is called, in sentences.
    """

    run: Run
    record: Record | None
    remarks: tuple[str, ...] = ()


def asked_run(store: Store, words: str, quality: str | None = None) -> Asked:
    """The run that is meant.

    Parameters
    ----------
    words : str
        See the head of this module.
    quality : str, optional
        Of the mesh, one of `mesh_settings.QUALITIES`. Without it, the finest one is taken, of the newest run.

    Raises
    ------
    StoreError
        No run, or more than one, is meant; or it is damaged.
    InputError
        The record does not hold, or the run is of another quality.
    """
    path, shelf = Path(words), _Shelf(store)
    # `isfile` is false, not an error, for what can be no name of a file.
    if path.suffix.lower() == ".toml" or os.path.isfile(path):
        record = read_record(path)
        return shelf.of_record(record, quality, f"{record.name} as it stands in {path}")
    if words in shelf.full_names:
        return shelf.by_full_name(words, quality)
    named = [name for name in shelf.names if name.name == words]
    if named:
        return shelf.of_record(_parsed(named[-1]), quality, f"{words} as it last stood")
    return shelf.by_label(words, quality) or shelf.by_full_name(
        resolved(store.root, words, shelf.full_names), quality
    )


def other_name(run: Run, record: Record | None) -> tuple[str, ...]:
    """What a run is called, in a sentence, where that is not the name of the record."""
    if record is None or record.name == run.manifest.label:
        return ()
    return (f"The same antenna was first solved as {run.manifest.label}: the run is {run.path.name}.",)


def named_folder(store: Store, words: str) -> str:
    """Folder of the one run of a name, whatever state it is in; StoreError where several are meant, or
    none."""
    shelf = _Shelf(store)
    if words not in shelf.full_names:
        found = sorted(
            {shelf.full_names[name.full] for name in shelf.names if name.name == words}
            | set(shelf.labelled(words))
        )
        if len(found) == 1:
            return found[0]
    return shelf.full_names[resolved(store.root, words, shelf.full_names)]


def same_antenna(one: Record, other: Record) -> bool:
    """Whether the solver sees the same in two records, whatever they are called and wanted for.

    That of which a scene is made is compared first, since a scene takes some hundredths of a second to lay
    out.
    """
    if _seen(one) == _seen(other):
        return True
    if one.band.model_dump(exclude={"target_s11_db"}) != other.band.model_dump(exclude={"target_s11_db"}):
        return False
    return replace(antenna_scene(one), name="") == replace(antenna_scene(other), name="")


def _seen(record: Record) -> tuple[Any, ...]:  # all that may matter to the solver
    return record.band.model_copy(update={"target_s11_db": 0.0}), *record.antenna


class _Shelf:
    """The finished runs of a store with everything they are known by, read once."""

    def __init__(self, store: Store):
        self._store = store
        self.folders = store.folders()
        several: dict[str, list[str]] = {}
        for folder in self.folders:
            if not folder.startswith(f"{FAILED}-"):
                several.setdefault(key_part(folder), []).append(folder)
        # Where somebody copied a run folder by hand, the copy is none.
        finished = {
            key: f"{own_label(store.root, found, key)}-{key}" if len(found) > 1 else found[0]
            for key, found in several.items()
        }
        self._finished = sorted(finished.values())
        self.names = [name for name in store.names() if name.key in finished]
        self._by_full = {name.full: name for name in self.names}
        self.full_names = {name.full: finished[name.key] for name in self.names} | {
            folder: folder for folder in self.folders
        }

    def labelled(self, label: str) -> list[str]:
        """Folders of the runs that were made under a name."""
        return [folder for folder in self._finished if folder == f"{label}-{key_part(folder)}"]

    def by_full_name(self, full: str, quality: str | None) -> Asked:
        """This very run, with the record that asked for it by this name."""
        run = self._store.opened(self.full_names[full])
        found = self._quality(self.full_names[full])
        if quality is not None and found != quality:
            raise InputError(
                "--quality",
                quality,
                f"the run {full} is of the quality {found or 'unknown'}: leave this option out, or "
                "name the record instead of the run",
            )
        name = self._by_full.get(full)
        record = _parsed(name) if name is not None else _own_record(run.path)
        return Asked(run, record, other_name(run, record))

    def by_label(self, label: str, quality: str | None) -> Asked | None:
        """The run made under a name, where all of that name are of one antenna; None where there are none."""
        folders = sorted(self.labelled(label), key=lambda folder: _when(self._store.root / folder))
        if not folders:
            failed = [
                folder
                for folder in self.folders
                if folder.startswith(f"{FAILED}-{label}-{key_part(folder)}-")
            ]
            return self.by_full_name(failed[-1], quality) if failed else None
        records = [_own_record(self._store.root / folder) for folder in folders]
        newest = records[-1]
        if newest is None and len(folders) == 1:
            return self.by_full_name(folders[0], quality)
        if newest is None or not all(
            record is not None and same_antenna(record, newest) for record in records
        ):
            raise StoreError(
                f"{label!r} may mean {len(folders)} runs, which are not of one antenna: "
                f"{', '.join(folders[:_LISTED])}{', ...' if len(folders) > _LISTED else ''}"
            )
        return self.of_record(newest, quality, label)

    def of_record(self, record: Record, quality: str | None, what: str) -> Asked:
        """The best run of a record's geometry."""
        found = sorted(self._runs_of(record), key=self._rank)
        wanted = [folder for folder in found if quality is None or self._quality(folder) == quality]
        if not wanted:
            raise StoreError(self._none_of(record, quality, what, found))
        run = self._store.opened(wanted[-1])
        remarks = other_name(run, record)
        if quality is None and len(found) > 1:
            best, others = self._quality_and_feed(found[-1]), self._listed(reversed(found[:-1]))
            remark = (
                f"Of {len(found)} runs of this antenna this is the best: {best}. "
                f"Besides there are: {others}; --quality or the full name chooses another."
            )
            remarks = (remark, *remarks)
        return Asked(run, record, remarks)

    def _runs_of(self, record: Record) -> list[str]:
        """Folders of all runs that saw the same antenna."""
        like = [
            (folder, other)
            for folder, data in self._known
            if _same_band(data, record) and (other := _parsed_or_none(data)) is not None
        ]
        seen = _seen(record)
        return sorted(
            {folder for folder, other in like if _seen(other) == seen}
            or {folder for folder, other in like if same_antenna(other, record)}
        )

    @cached_property
    def _known(self) -> tuple[tuple[str, Mapping[str, Any]], ...]:
        """Every finished folder with the record it was made for, and those that asked for it."""
        own = ((folder, plain_record(self._store.root / folder)) for folder in self._finished)
        return (*own, *((self.full_names[name.full], name.record) for name in self.names))

    def _none_of(self, record: Record, quality: str | None, what: str, found: list[str]) -> str:
        if found:
            return f"there is no {quality} run of {what}: there are {self._listed(found)}"
        others = self.labelled(record.name)
        verb = "is" if len(others) == 1 else "are"
        hint = f"; {len(others)} of that name {verb} of other dimensions" if others else ""
        return f"there is no run of {what} in {self._store.root}{hint}: 'simharness solve' makes one"

    def _quality(self, folder: str) -> str:
        return str(plain_provenance(self._store.root / folder).get("quality", ""))

    def _listed(self, folders: Iterable[str]) -> str:
        """The first runs with what they are, and how many there are besides, in one line."""
        every = list(folders)
        said = [f"{self._quality_and_feed(folder)} ({folder})" for folder in every[:_LISTED]]
        return ", ".join(said + [f"{len(every) - _LISTED} more"] * (len(every) > _LISTED))

    def _quality_and_feed(self, folder: str) -> str:
        """Quality of a run, and its feed where that is the less accurate one."""
        about = plain_provenance(self._store.root / folder)
        gap = ", lumped gap" if about.get("feed") == "GapPort" else ""
        return f"{about.get('quality', 'unknown quality')}{gap}"

    def _rank(self, folder: str) -> tuple[Any, ...]:
        """The truer, the greater: model of the feed, quality of the mesh, and the later of two alike."""
        about, qualities = plain_provenance(self._store.root / folder), list(QUALITIES)
        quality, cells = about.get("quality"), about.get("cells", 0)
        rank = qualities.index(quality) if quality in qualities else -1
        size = cells if rank < 0 and isinstance(cells, int) else 0
        return about.get("feed") != "GapPort", rank, size, _when(self._store.root / folder)


def _same_band(data: Mapping[str, Any], record: Record) -> bool:
    """Whether plain data may be of the same antenna: the solver sees the band, and most others differ in
    it."""
    band = data.get("band")
    return isinstance(band, Mapping) and all(
        band.get(name) == getattr(record.band, name) for name in ("low_ghz", "centre_ghz", "high_ghz")
    )


def _parsed(name: Name) -> Record:
    return parse_record(dict(name.record), f"{NAMES_FOLDER}/{name.full}.json")


def _parsed_or_none(data: Mapping[str, Any]) -> Record | None:
    try:
        return parse_record(dict(data))
    except InputError:
        return None


def _own_record(folder: Path) -> Record | None:
    """The record that a run was made for, as it was then; None where its manifest names none."""
    try:
        if RECORD_NAME not in read_manifest(folder).files:
            return None
        return parse_record(stored_json(folder, RECORD_NAME), f"{folder.name}/{RECORD_NAME}")
    except InputError as error:
        # A finished run is not edited: another one is wanted.
        raise StoreError(f"{error}; solve the record again") from None


def _when(folder: Path) -> str:
    """When a run was finished; empty where its manifest does not tell."""
    try:
        return read_manifest(folder).created
    except StoreError:
        return ""
