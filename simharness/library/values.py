"""Small things that the functions of the interface share."""

from __future__ import annotations

import math
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simharness.errors import CancelledError, InputError
from simharness.figures import Figure
from simharness.progress import MatchListener, Progress, Silent, match_listener

if TYPE_CHECKING:
    from simharness.records import Record
    from simharness.results.outputs import Results
    from simharness.solver.process import Cancel

MIN_IN_BAND, MIN_ANGLES = 3, 9
"""Frequencies in the band, and directions along each angle, without which nothing can be said; a run has
hundreds and dozens.
"""


class ShortRepr:
    """A result that shows itself in a few words, since its arrays would fill pages."""

    def __repr__(self) -> str:
        return f"<{type(self).__name__} of {getattr(self, 'record').name}>"  # noqa: B009


def plain(value: Any) -> Any:
    """The value in types that JSON knows; figures become objects in SI units.

    Examples
    --------
    >>> plain({"gain": Figure(12.5, "dBi", "full wave", 0.2), "s11": 0.1 - 0.2j, "none": math.nan})
    {'gain': {'value': 12.5, 'unit': 'dBi', 'basis': 'full wave', 'error': 0.2},
     's11': {'re': 0.1, 'im': -0.2}, 'none': None}
    """
    if isinstance(value, Figure):
        found = {"value": plain(value.value), "unit": value.unit, "basis": value.basis}
        return found if value.error is None else found | {"error": value.error}
    if isinstance(value, complex):
        return {"re": value.real, "im": value.imag}
    if isinstance(value, float) and not math.isfinite(value):
        return None
    if isinstance(value, dict):
        return {k: plain(v) for k, v in value.items()}
    if isinstance(value, (list, tuple)):
        return [plain(v) for v in value]
    return value.item() if hasattr(value, "item") else value


def changed(record: Record, fields: Mapping[str, float | int | str | bool]) -> Record:
    """The record with some fields at other values, validated as a whole.

    Parameters
    ----------
    record : Record
    fields : mapping of str to number, str or bool
        Dotted names as in the file, ``feed.height_mm``, ``slot.3.length_mm`` (slots are counted from 1) or
        ``name``, and the values in the units of the names.

    Returns
    -------
    Record
        Another record; the one given is never edited.

    Raises
    ------
    InputError
        There is no such field, or no such antenna.

    Examples
    --------
    >>> import simharness
    >>> record = simharness.read_record("models/five-slot-2g45.toml")
    >>> shorter = simharness.changed(record, {"name": "shorter", "feed.height_mm": 23.5})
    >>> shorter.name, shorter.feed.height_mm
    ('shorter', 23.5)
    """
    from simharness.sweep.points import Variable, varied_record

    if not fields:
        return record
    return varied_record(
        record, [Variable(name, (value,)) for name, value in fields.items()], list(fields.values())
    )


def require_free(path: Path, replace: bool) -> None:
    """Refuse a place where no file can go, or where one is already.

    Raises
    ------
    InputError
    """
    if path.is_dir():
        raise InputError("out", path, "that is a folder; name a file in it")
    if not path.parent.is_dir():
        raise InputError("out", path, f"there is no folder {path.parent}; make it first")
    if path.exists() and not replace:
        raise InputError(
            "out", path, "the file is there already; take another name, or --replace to write over it"
        )


def write_text(path: Path | str, text: str, replace: bool) -> Path:
    """Write a text file in one step where none is, or over one with `replace`; see `require_free`."""
    from simharness.files import atomic_write_text

    path = Path(path)
    require_free(path, replace)
    atomic_write_text(path, text)
    return path


class Cancellable:
    """Progress of a study that can be cancelled: what is told passes on, and the question is asked each time.

    Parameters
    ----------
    progress : Progress or None
        Who is told; nobody by default.
    cancel : threading.Event or callable, optional
        See `simharness.solver.process.Cancel`. Where it says so, `CancelledError` ends the work: what is
        finished stays stored, and nothing half done is kept.
    """

    def __init__(self, progress: Progress | None, cancel: Cancel | None):
        from simharness.solver.process import cancel_question

        self._progress = progress or Silent()
        self._asked = cancel_question(cancel)

    def note(self, text: str) -> None:
        self._ask()
        self._progress.note(text)

    def advance(self, share: float, seconds_left: float, text: str) -> None:
        self._ask()
        self._progress.advance(share, seconds_left, text)

    def done(self) -> None:
        self._progress.done()

    @property
    def interim_match(self) -> MatchListener | None:
        """That of who is told, if any."""
        return match_listener(self._progress)

    def _ask(self) -> None:
        if self._asked():
            raise CancelledError("interrupted: what was finished before is stored")


def misfit(results: Results, record: Record) -> str:
    """What in the results cannot come from solving the record; empty if nothing."""
    from simharness.em.pattern.far_field import sphere_weights

    frequency, band = results.get("frequency", ()), record.band
    inside = sum(band.low_ghz <= value / 1e9 <= band.high_ghz for value in frequency)
    if inside < MIN_IN_BAND:
        return f"{inside} frequencies lie in the band"
    if "slot_z" in results and len(results["slot_z"]) != len(record.slots):
        return f"{len(results['slot_z'])} slots instead of {len(record.slots)}"
    if "theta" in results and "phi" in results:
        try:
            sphere_weights(results["theta"], results["phi"])
        except InputError as error:
            return str(error)
        if min(results["theta"].size, results["phi"].size) < MIN_ANGLES:
            return "too few directions"
    return ""
