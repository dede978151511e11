"""A finished antenna: what it does by what was read on it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simharness.library.values import Cancellable, ShortRepr, plain, write_text

if TYPE_CHECKING:
    import skrf

    from simharness.library.solved_run import SolvedRun
    from simharness.measurement.files import OnePort
    from simharness.progress import Progress
    from simharness.records import Record
    from simharness.solver.process import Cancel
    from simharness.workshop.readings import Readings
    from simharness.workshop.study import BuiltStudy


@dataclass(frozen=True, repr=False)
class BuiltResult(ShortRepr):
    """A finished antenna beside its drawing.

    Attributes
    ----------
    record : Record
        As built, every slot by itself.
    study : simharness.workshop.study.BuiltStudy
        Its figures with what is not known of them, and which readings matter.
    """

    record: Record
    study: BuiltStudy

    @property
    def worst_s11_db(self) -> float:
        """Largest |S11| in the band, dB."""
        return self.study.figures["worst_s11"].value

    @cached_property
    def sentences(self) -> tuple[str, ...]:
        """All of it in words."""
        from simharness.workshop.messages import built_sentences

        return tuple(built_sentences(self.study))

    def write_picture(self, path: Path | str) -> Path:
        """Draw S11 and dimensions as drawn and as built, as PNG; MachineError where it cannot be written."""
        from simharness.plot import write_figure
        from simharness.workshop.picture import built_figure

        return write_figure(path, built_figure, self.study)

    def write_record(self, path: Path | str, replace: bool = False) -> Path:
        """Write the record as built; InputError where a file is and `replace` is not given."""
        from simharness.records.text import record_text

        return write_text(path, record_text(self.record, "As built, by 'simharness built'."), replace)

    def as_dict(self) -> dict[str, Any]:
        """Figures, dimensions and what the curve adds in types that JSON knows."""
        import numpy as np

        study = self.study
        spread = 2 * np.sqrt(np.diag(study.antenna.covariance))
        told = study.weighed
        return plain(
            {
                "record": study.base.record.name,
                "run": study.base.run or None,
                "target_s11_db": self.record.band.target_s11_db,
                "drawn_worst_s11_db": study.drawn_db,
                "verdict": study.state.value,
                "share_that_meets": study.likely,
                "figures": {
                    name: {
                        "value": one.value,
                        "low": one.low,
                        "high": one.high,
                        "low_by_readings": study.by_readings[name].low,
                        "high_by_readings": study.by_readings[name].high,
                    }
                    for name, one in study.figures.items()
                },
                "dimensions": [
                    {
                        "name": row.dimension.name,
                        "drawn_mm": row.dimension.drawn,
                        "read_mm": row.read,
                        "built_mm": row.dimension.drawn + amount,
                        "within_mm": within,
                    }
                    for row, amount, within in zip(study.antenna.rows, study.amounts, spread)
                ],
                "matters": [
                    {"name": one.reading.dimension.name, "s11_change": one.change} for one in study.effects
                ],
                "costs": [{"kind": one.kind, "worst_s11_db": one.worst_db} for one in study.costs],
                "measured": None
                if told is None
                else {
                    "agrees": told.agrees,
                    "misfit": told.misfit,
                    "misfit_by_readings": told.before,
                    "delay_s": told.delay,
                    "slips": [
                        {"name": study.antenna.rows[one.number].dimension.name, "amount_mm": one.amount}
                        for one in told.slips
                    ],
                },
                "sentences": self.sentences,
            }
        )


def as_built(
    record: Record,
    readings: Path | str | Readings | None = None,
    *,
    run: SolvedRun | None = None,
    measured: Path | str | skrf.Network | OnePort | None = None,
    delay_ps: float | None = None,
    tools: str = "hand",
    caliper_mm: float = 0.1,
    rule_mm: float = 0.5,
    progress: Progress | None = None,
    cancel: Cancel | None = None,
) -> BuiltResult:
    """Find what a finished antenna does, from what was read on it.

    Some seconds, by the estimate, which a stored run of the antenna as drawn calibrates. Every figure carries
    what is not known of the dimensions and of the model.

    Parameters
    ----------
    record : Record
        As drawn.
    readings : Path, str or Readings, optional
        A table that `readings_form` began; without it everything is as drawn, within the errors of the tools.
    run : SolvedRun, optional
        Of the antenna as drawn.
    measured : Path, str or skrf.Network, optional
        S11 of the finished antenna, a Touchstone one-port (.s1p): readings and curve are weighed together.
    delay_ps : float, optional
        One-way delay of its connector, ps; fitted without it.
    tools : str
        What made the dimensions that were not read: "hand" or "mill".
    caliper_mm, rule_mm : float
        What readings are right within in 95 of 100 cases, where the table does not say.
    progress : Progress, optional
    cancel : threading.Event or callable, optional
        Asked whenever there is progress to tell: an event that is set, or a function that returns true, ends
        the study.

    Returns
    -------
    BuiltResult

    Raises
    ------
    InputError
        A reading that cannot be, a run of another antenna, or a curve that does not cover the band.
    CancelledError
        `cancel` said so.

    Examples
    --------
    >>> import simharness
    >>> record = simharness.read_record("docs/four-slot-9g6.toml")
    >>> found = simharness.as_built(record, "readings.csv")  # doctest: +SKIP
    >>> found.study.state.value  # doctest: +SKIP
    'met'
    """
    from simharness.library.comparing.measured import measured_one_port
    from simharness.library.tolerances import run_curve
    from simharness.measurement.files import OnePort
    from simharness.workshop.readings import Readings, read_readings, without_readings
    from simharness.workshop.study import built_study

    if readings is None:
        told = without_readings(record, tools)
    elif isinstance(readings, Readings):
        told = readings
    else:
        told = read_readings(readings, record, tools=tools, caliper_mm=caliper_mm, rule_mm=rule_mm)
    study = built_study(
        told,
        None if run is None else OnePort(*run_curve(record, run)),
        "" if run is None else run.name,
        "" if run is None else run.quality,
        measured=None if measured is None else measured_one_port(measured),
        delay=None if delay_ps is None or not math.isfinite(delay_ps) else 1e-12 * delay_ps,
        progress=Cancellable(progress, cancel),
    )
    return BuiltResult(study.record, study)


def readings_form(record: Record) -> str:
    """The empty table of readings of a record, to be filled in at the bench.

    Examples
    --------
    >>> import simharness
    >>> from simharness.library import readings_form
    >>> record = simharness.read_record("docs/four-slot-9g6.toml")
    >>> print(readings_form(record).splitlines()[6])
    number,dimension,drawn_mm,read_mm,within_mm
    """
    from simharness.workshop.form import form_text

    return form_text(record)
