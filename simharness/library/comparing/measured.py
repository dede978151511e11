"""What was measured beside a stored run."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simharness.errors import InputError
from simharness.library.values import Cancellable, plain

if TYPE_CHECKING:
    import skrf

    from simharness.library.solved_run import SolvedRun
    from simharness.measurement.comparison import Comparison
    from simharness.measurement.files import OnePort
    from simharness.measurement.orientation import Orientation
    from simharness.progress import Progress
    from simharness.solver.process import Cancel


@dataclass(frozen=True)
class ReflectionComparison:
    """A measured reflection beside that of a run.

    Attributes
    ----------
    run : SolvedRun
    model : simharness.measurement.comparison.Comparison
        Figures of both sides, and each dimension tried as the only one that came out wrong.
    """

    run: SolvedRun
    model: Comparison

    @property
    def sentences(self) -> tuple[str, ...]:
        """How far they agree, what explains the difference best, and what to do."""
        return self.model.sentences

    def write_picture(self, path: Path | str) -> Path:
        """Draw both curves, as PNG; MachineError where the file cannot be written."""
        from simharness.measurement.picture import compare_figure
        from simharness.plot import write_figure

        return write_figure(path, compare_figure, self.run.results, self.run.record, self.model)

    def as_dict(self) -> dict[str, Any]:
        """Figures, connector and causes in types that JSON knows."""
        found, told = self.model, self.model.explanation
        return plain(
            {
                "record": self.run.record.name,
                "figures": {
                    row.name: {"run": row.run, "measured": row.measured, "within": row.within}
                    for row in found.rows
                },
                "delay_s": found.delay,
                "delay_given": found.delay_given,
                "unexplained": told.unexplained,
                "causes": [
                    {
                        "name": cause.deviation.name if cause.deviation else "as drawn",
                        "amount": cause.amount,
                        "unit": cause.deviation.unit if cause.deviation else "",
                        "misfit": cause.misfit,
                        "share": cause.share,
                        "delay_s": cause.delay,
                    }
                    for cause in told.causes
                ],
                "sentences": found.sentences,
            }
        )


@dataclass(frozen=True)
class LevelComparison:
    """Levels received while the antenna was turned, beside the prediction of a run.

    Attributes
    ----------
    run : SolvedRun
    model : simharness.measurement.orientation.Orientation
        Angles (n,) in rad, measured and predicted levels (n,) in dB, and what the prediction is the sum of.
    """

    run: SolvedRun
    model: Orientation

    @cached_property
    def sentences(self) -> tuple[str, ...]:
        """How much of a change is pattern, how much polarization, how much is scattered."""
        from simharness.measurement.orientation_messages import orientation_sentences

        return tuple(orientation_sentences(self.model))

    def write_picture(self, path: Path | str) -> Path:
        """Draw readings and prediction, as PNG; MachineError where the file cannot be written."""
        from simharness.measurement.picture import orientation_figure
        from simharness.plot import write_figure

        return write_figure(path, orientation_figure, self.run.record, self.model)

    def as_dict(self) -> dict[str, Any]:
        """Readings, prediction and its parts in types that JSON knows."""
        found = self.model
        return plain(
            {
                "record": self.run.record.name,
                "turned": found.turned,
                "angle_deg": [math.degrees(angle) for angle in found.angle],
                "measured_db": found.measured.tolist(),
                "predicted_db": found.predicted.tolist(),
                "pattern_db": found.pattern.tolist(),
                "polarization_db": found.polarization.tolist(),
                "angle_shift_deg": math.degrees(found.angle_shift),
                "level_shift_db": found.level_shift,
                "scattered_db": found.floor,
                "scattered_part_db": found.scattered.tolist(),
                "mismatch_db": found.loss,
                "residual_db": found.residual,
                "sentences": self.sentences,
            }
        )


def compare(
    run: SolvedRun,
    measured: Path | str | skrf.Network,
    *,
    delay_ps: float | None = None,
    connector_mm: float | None = None,
    turned: str | None = None,
    frequency_ghz: float | None = None,
    other_tilt_deg: float = 0.0,
    progress: Progress | None = None,
    cancel: Cancel | None = None,
) -> ReflectionComparison | LevelComparison:
    """Set what was measured beside a stored run.

    A reflection is moved to the plane of the run, and the single dimension is sought that best explains the
    difference: half a minute or so. A table of levels over angle is split into pattern, polarization and what
    is scattered.

    Parameters
    ----------
    run : SolvedRun
        Of an antenna that is fed by a probe.
    measured : Path, str or skrf.Network
        A Touchstone one-port (.s1p), or a network that was read already; with `turned` a table of angle in
        degrees and level in dB or dBm (.csv, .txt).
    delay_ps : float, optional
        One-way delay of the connector, ps; fitted without it.
    connector_mm : float, optional
        In its place: length of the connector, filled with PTFE, mm.
    turned : str, optional
        How the antenna was turned for a table of levels: its beam tilted "along" the guide, turned "across"
        it, or the antenna turned about its "beam".
    frequency_ghz : float, optional
        For levels; the design frequency without it.
    other_tilt_deg : float
        For levels: polarization of the other end against that of this antenna at angle 0, degrees.
    progress : Progress, optional
    cancel : threading.Event or callable, optional
        Asked whenever there is progress to tell: an event that is set, or a function that returns true, ends
        the work.

    Returns
    -------
    ReflectionComparison or LevelComparison
        The second with `turned`.

    Raises
    ------
    InputError
        The file cannot be read, the frequencies hardly overlap, or the options contradict each other.
    CancelledError
        `cancel` said so.

    Examples
    --------
    >>> import simharness
    >>> run = simharness.open_run("four-slot-9g6", runs="docs/runs")
    >>> found = simharness.compare(run, "docs/turned-across.csv", turned="across")  # invented readings
    >>> print(f"{found.model.residual:.1f} dB")
    0.4 dB
    """
    results, record = run.results, run.record
    if turned is not None:
        from simharness.measurement.files import read_levels
        from simharness.measurement.orientation import level_comparison

        if not isinstance(measured, (str, Path)):
            raise InputError("measured", type(measured).__name__, "must be the file of a table of levels")
        frequency = frequency_ghz * 1e9 if frequency_ghz else record.band.centre
        readings = read_levels(Path(measured))
        return LevelComparison(
            run, level_comparison(readings, results, record, turned, frequency, math.radians(other_tilt_deg))
        )
    from simharness.measurement.comparison import match_comparison

    delay = _delay(delay_ps, connector_mm)
    found = match_comparison(
        results,
        record,
        run.quality,
        measured_one_port(measured),
        delay=delay,
        progress=Cancellable(progress, cancel),
    )
    return ReflectionComparison(run, found)


def measured_one_port(measured: Path | str | skrf.Network | OnePort) -> OnePort:
    """A reflection from a file, or from a network that was read already."""
    from simharness.measurement.files import OnePort, read_one_port

    if isinstance(measured, OnePort):
        return measured
    if isinstance(measured, (str, Path)):
        return read_one_port(measured)
    if measured.nports != 1:
        raise InputError("measured", f"{measured.nports} ports", "must be a network of one port")
    against = measured.copy()
    against.renormalize(50)
    return OnePort(against.f, against.s[:, 0, 0])


def _delay(delay_ps: float | None, connector_mm: float | None) -> float | None:
    """One-way delay of the connector, s; None where it shall be fitted."""
    from simharness.measurement.comparison import connector_delay

    if delay_ps is not None and connector_mm is not None:
        raise InputError("--connector-mm", connector_mm, "give either this or --delay-ps")
    if delay_ps is not None:
        return 1e-12 * delay_ps
    return None if connector_mm is None else connector_delay(connector_mm)
