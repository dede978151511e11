"""What the process does that works out a finished antenna: as built first, then what can still be done."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from simharness.library import BuiltResult, MendResult
    from simharness.library.solved_run import SolvedRun
    from simharness.page.aside import Teller
    from simharness.page.built.answers import Asked, BuiltAnswer, Curves, MendAnswer
    from simharness.records import Record
    from simharness.workshop.study import BuiltStudy

_MEASURED = Path("measured.s1p")


def work(asked: Asked, teller: Teller) -> MendAnswer:
    """Tell what the antenna does as built, a `BuiltAnswer`, then return what can be done.

    Raises
    ------
    HarnessError
        A reading that cannot be, or a curve that does not cover the band, called as its owner does.
    """
    from simharness import mend, read_record
    from simharness.files import atomic_write_text
    from simharness.page.compare.dropped import called

    path = Path(f"{asked.name}.toml")
    atomic_write_text(path, asked.record)
    record = read_record(path)
    run, remarks = _known_run(path, asked.runs)
    if asked.measured is None:
        built = _built(record, run, asked, None, teller)
    else:
        with called(_MEASURED, asked.measured):
            built = _built(record, run, asked, _MEASURED, teller)
    teller.found(_answer(built, remarks))
    return _mend_answer(mend(built, step_mm=asked.step_mm, progress=teller))


def _known_run(record: Path, runs: str) -> tuple[SolvedRun | None, tuple[str, ...]]:
    """The finest run that is stored of the record as it is, and remarks; none where there is none."""
    from simharness import open_run
    from simharness.errors import StoreError

    try:
        found = open_run(str(record), runs=runs)
    except StoreError:
        return None, (
            "No stored run of the record as drawn calibrates the model; one under 'Full wave' makes all this "
            "more exact.",
        )
    return found, found.remarks


def _built(
    record: Record, run: SolvedRun | None, asked: Asked, measured: Path | None, teller: Teller
) -> BuiltResult:
    from simharness import as_built
    from simharness.workshop.readings import parsed_readings

    options = dict(asked.options)
    delay = options.pop("delay_ps")
    readings = None
    if asked.readings is not None:
        readings = parsed_readings(asked.readings, "readings", record, **options)
    return as_built(record, readings, run=run, measured=measured, delay_ps=delay, progress=teller, **options)


def _answer(built: BuiltResult, remarks: tuple[str, ...]) -> BuiltAnswer:
    from simharness.page.built.answers import BuiltAnswer
    from simharness.records.text import record_text
    from simharness.workshop.messages import FIGURE_HEAD, figure_rows

    study = built.study
    head = ("figure", *FIGURE_HEAD[1:])
    return BuiltAnswer(
        study.state.name.lower(),
        (*built.sentences, *remarks),
        (head, *figure_rows(study)),
        _dimensions(study),
        _curves(study),
        record_text(built.record, "As built."),
    )


def _dimensions(study: BuiltStudy) -> tuple[tuple[str, ...], ...]:
    import numpy as np

    spread = 2 * np.sqrt(np.diag(study.antenna.covariance))
    rows = (
        (
            row.dimension.name,
            f"{row.dimension.drawn:.2f} mm",
            "-" if row.read is None else f"{row.read:.2f} mm",
            f"{row.dimension.drawn + amount:.2f} ± {within:.2f} mm",
        )
        for row, amount, within in zip(study.antenna.rows, study.amounts, spread)
    )
    return ("dimension", "drawn", "read", "as built"), *rows


def _curves(study: BuiltStudy) -> Curves:
    from simharness.numerics.decibels import decibels
    from simharness.page.built.answers import Curves

    base, antenna, told = study.base, study.antenna, study.weighed
    least, most = (decibels(level**2) for level in antenna.levels(study.whole_error))
    return Curves(
        base.frequency,
        base.s11(base.calibrated),
        antenna.s11,
        antenna.frequency,
        least,
        most,
        None if told is None else told.measured,
    )


def _mend_answer(found: MendResult) -> MendAnswer:
    from simharness.improvement.messages import proposal_text
    from simharness.numerics.decibels import decibels
    from simharness.page.built.answers import Curves, MendAnswer, Operation
    from simharness.records.text import record_text
    from simharness.workshop.mend_messages import told_in_parts

    told, base, before = told_in_parts(found.study), found.study.built.base, found.study.built.antenna
    operations = []
    for number, (mend, record) in enumerate(zip(found.study.mends, found.records)):
        done = proposal_text(mend.proposal)
        least, most = (decibels(level**2) for level in mend.antenna.levels(mend.error))
        grid = mend.antenna.frequency
        curves = Curves(base.frequency, before.s11, mend.antenna.s11, grid, least, most)
        sentences = told.operations[number] if told.operations else ()
        text = record_text(record, f"As built, then: {done}.")
        operations.append(Operation(done[0].upper() + done[1:], sentences, curves, text))
    return MendAnswer(told.head, tuple(operations), told.rest)
