"""Made-up results of the studies of a record, for their pictures: tuning, tolerances, sweeps, comparisons.

Names, numbers of rows and units are those of the record; values are invented.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import replace

import numpy as np
from matplotlib.figure import Figure as Sheet
from picture_cases import reflection

from simharness.convergence.picture import convergence_figure
from simharness.convergence.study import FIGURES, S11_DISTANCE, FigureStudy, Study
from simharness.estimate.deviations import deviations
from simharness.estimate.response_surface import Figures
from simharness.measurement.causes import Cause, Explanation
from simharness.measurement.comparison import Comparison
from simharness.measurement.files import Levels
from simharness.measurement.orientation import TURNED, level_comparison
from simharness.measurement.picture import compare_figure, orientation_figure
from simharness.numerics.convergence import Convergence
from simharness.records import Record
from simharness.results.outputs import Results
from simharness.sweep.picture import sweep_figure
from simharness.sweep.points import Variable, sweep_points
from simharness.sweep.table import Sweep, SweepRow, stored_row
from simharness.tolerance.limits import Allowed
from simharness.tolerance.picture import tolerance_figure
from simharness.tolerance.study import Effect, ToleranceStudy, Yield
from simharness.tolerance.tool_errors import TOOLS, common_dimensions
from simharness.tuning.map_picture import tuning_map_figure
from simharness.tuning.model import TuningMap, tuning_objective
from simharness.tuning.picture import tuning_figure
from simharness.tuning.result import MatchCurve, TunedRun, Tuning
from simharness.tuning.variables import point, tuning_variables
from simharness.verdict.assessment import LABELS

FREQUENCY_SHARE = np.linspace(-0.05, 0.05, 101)


def _frequency(record: Record) -> np.ndarray:
    return 1e9 * record.band.centre_ghz * (1 + FREQUENCY_SHARE)


def invented_tuning(record: Record) -> Tuning:
    """Three runs around a best first knob; with a map where there are two knobs."""
    tuned, here = tuning_variables(record), point(record, tuning_variables(record))
    objective = tuning_objective(record, "band", tuple(_frequency(record)[[0, -1]]))
    span = np.linspace(0.85, 1.15, 61) * here[0]

    def curve(middle: float) -> MatchCurve:
        off = np.abs(span / middle - 1)
        return MatchCurve(span, 20 * np.log10(0.05 + 3 * off), 20 * np.log10(0.25 + 2.5 * off))

    runs = tuple(
        TunedRun(
            f"run-{n}",
            record,
            (share * here[0], *here[1:]),
            np.zeros(objective.frequency.size, complex),
            centre,
            centre + 6,
            0.05,
        )
        for n, (share, centre) in enumerate([(1.0, -14.0), (1.05, -18.0), (1.06, -21.5)])
    )
    seen = None
    if len(here) > 1:
        second = np.linspace(0.85, 1.15, 31) * here[1]
        size = 0.1 + 3 * np.hypot(*np.meshgrid(span[::2] / here[0] - 1.05, second / here[1] - 1.02))
        seen = TuningMap(span[::2], second, size, np.minimum(1.3 * size, 1.0))
    return Tuning(
        before=record,
        record=record,
        quality="draft",
        objective=objective,
        variables=tuned,
        runs=runs,
        best=runs[-1],
        settled=True,
        optimum=here,
        gain_db=0.1,
        estimate_curve=curve(0.99 * here[0]),
        curve=curve(1.06 * here[0]),
        near=(1.04 * here[0], 1.08 * here[0]),
        keeps=None,
        map=seen,
        shorter_db=None,
        longer_db=None,
    )


def invented_tolerances(record: Record, tools: str = "hand") -> ToleranceStudy:
    """Every dimension of the record with a falling effect, and a sample about the target."""
    dimensions, target = common_dimensions(record), record.band.target_s11_db
    effects = tuple(
        Effect(
            one.name,
            one.unit,
            TOOLS[tools][one.name].common,
            TOOLS[tools][one.name].own,
            {"resonance": (-1) ** n * 9e6},
            0.12 / (n + 1),
            0.08 / (n + 1) if TOOLS[tools][one.name].own else 0.0,
        )
        for n, one in enumerate(dimensions)
    )
    allowed = {
        one.name: Allowed(0.123 * (n + 1), 0.234 * (n + 1), n == 2, n == 2)
        for n, one in enumerate(dimensions)
    }
    spread = target + 1.5 * np.sin(np.arange(500.0)) - 1
    drawn = Figures(
        *(np.array([value]) for value in (1e9 * record.band.centre_ghz, target - 2.0, 12.0, -13.0))
    )
    sample = Yield(
        Figures(np.full(500, 1e9), spread, np.full(500, 12.0), np.full(500, -13.0)), spread <= target, 0.01
    )
    return ToleranceStudy(tools, "best match", drawn, effects, allowed, sample, (), None)


def invented_convergence(record: Record) -> Study:
    """Three meshes, every figure with a limit, one without an order."""
    rows = []
    units = {
        "resonance": "Hz",
        "band_low": "Hz",
        "band_high": "Hz",
        "realized_gain": "dBi",
        "directivity": "dBi",
        S11_DISTANCE: "",
    }
    for n, name in enumerate((*FIGURES, S11_DISTANCE)):
        unit = units.get(name, "deg" if name.startswith("beamwidth") else "dB")
        size = 1e9 * record.band.centre_ghz if unit == "Hz" else 0.0 if name == S11_DISTANCE else 13.0
        step = 0.01 * (size or 3.0)
        values = tuple(size + step * h**1.5 for h in (0.5, 0.33, 0.25))
        limit = Convergence(values[-1], size, None if n == 1 else 1.5, 0.004 * (size or 3.0), n != 1, "")
        rows.append(FigureStudy(name, LABELS.get(name, "S11"), unit, values, limit))
    return Study(
        record.name,
        (2, 3, 4),
        (1 / 2, 1 / 3, 1 / 4),
        (612345, 1234567, 2345678),
        ("a", "b", "c"),
        tuple(rows),
        (),
        (),
    )


def invented_sweep(record: Record, run: Results, *variables: Variable) -> Sweep:
    """The same made-up run for each point, one of them missing."""
    points = sweep_points(record.model_copy(update={"title": ""}), variables)
    found = stored_row(points[0], "run", run, "draft")
    rows = [
        replace(found, values=where.values) if n != 1 else SweepRow(where.values, "failed", "no luck")
        for n, where in enumerate(points)
    ]
    return Sweep(record, "draft", variables, tuple(rows))


def invented_comparison(record: Record) -> Comparison:
    """All suspects of a record as causes, the likeliest first, and the antenna as drawn."""
    frequency = _frequency(record)
    run = reflection(record, frequency)
    causes = [
        Cause(
            deviation,
            -1.234 * (n + 1) if deviation.unit else 1.0,
            60e-12,
            0.02 * (n + 1),
            0.4 / (n + 1),
            reflection(record, frequency, 0.004),
        )
        for n, deviation in enumerate(deviations(record)[:9])
    ]
    told = Explanation(
        frequency,
        run,
        reflection(record, frequency, 0.005),
        (*causes, Cause(None, 0.0, 60e-12, 0.3, 0.0, run)),
        0.07,
    )
    return Comparison((), told, 0.07, 60e-12, False, ())


def study_pictures(record: Record, run: Results) -> Iterator[tuple[str, Callable[[], Sheet]]]:
    """Name and drawing of each picture of studies whose words depend on the record; `run` is its run."""
    tuning = invented_tuning(record)
    yield "tuning", lambda: tuning_figure(tuning)
    if tuning.map is not None:
        yield "tuning map", lambda: tuning_map_figure(tuning)
    yield "tolerances", lambda: tolerance_figure(invented_tolerances(record), record)
    yield "comparison", lambda: compare_figure(run, record, invented_comparison(record))


def general_pictures(record: Record, run: Results) -> Iterator[tuple[str, Callable[[], Sheet]]]:
    """Name and drawing of each picture of studies that has the same words for all records but in title and
    numbers.
    """
    yield "convergence", lambda: convergence_figure(invented_convergence(record), record)
    angle = np.radians(np.arange(-180, 181, 15.0))
    for turned in TURNED:
        found = level_comparison(
            Levels(angle, 20 * np.log10(np.cos(angle) ** 2 + 0.1)),
            run,
            record,
            turned,
            1e9 * record.band.centre_ghz,
        )
        yield f"levels {turned}", lambda found=found: orientation_figure(record, found)
    levels = Variable("band.target_s11_db", tuple(-10 - 0.625 * n for n in range(7)))
    yield "sweep", lambda: sweep_figure(invented_sweep(record, run, levels))
    ends = Variable("mounting.axis", ("vertical", "horizontal"))
    yield (
        "sweep of words",
        lambda: sweep_figure(
            invented_sweep(record, run, ends, Variable("band.target_s11_db", (-10.0, -12.5, -15.25)))
        ),
    )
    high, low = record.band.high_ghz, record.band.low_ghz
    yield (
        "sweep of two",
        lambda: sweep_figure(
            invented_sweep(
                record,
                run,
                Variable("band.high_ghz", tuple(round(high + 0.001 * n, 4) for n in range(9))),
                Variable("band.low_ghz", (low, low - 0.002)),
            )
        ),
    )
