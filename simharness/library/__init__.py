"""The Python interface: a function for each command, and the objects that they return.

Users import `simharness` itself. The command line prints what these functions return; all that reads,
computes or writes is here or in the packages below. The modules import what takes a while inside their
functions.
"""

from simharness.library.analysis import Check, EstimateResult, check, estimate
from simharness.library.comparing import (
    LevelComparison,
    ReflectionComparison,
    SideBySide,
    compare,
    side_by_side,
)
from simharness.library.converging import Convergence, ConvergencePlan, converge, convergence_plan
from simharness.library.designing import DesignOptions, DesignResult, design
from simharness.library.fabrication import report, sheets
from simharness.library.finished import BuiltResult, MendResult, as_built, mend, readings_form
from simharness.library.linking import LinkResult, link
from simharness.library.solving import RunPlan, plan, solve
from simharness.library.stored_runs import open_run, runs
from simharness.library.sweeping import SweepPlan, SweepResult, sweep, sweep_plan
from simharness.library.tolerances import ToleranceResult, tolerance
from simharness.library.tuning import TuneResult, tune
from simharness.library.values import changed

__all__ = [
    "BuiltResult",
    "Check",
    "Convergence",
    "ConvergencePlan",
    "DesignOptions",
    "DesignResult",
    "EstimateResult",
    "LevelComparison",
    "LinkResult",
    "MendResult",
    "ReflectionComparison",
    "RunPlan",
    "SideBySide",
    "SweepPlan",
    "SweepResult",
    "ToleranceResult",
    "TuneResult",
    "as_built",
    "changed",
    "check",
    "compare",
    "converge",
    "convergence_plan",
    "design",
    "estimate",
    "link",
    "mend",
    "open_run",
    "plan",
    "readings_form",
    "report",
    "runs",
    "sheets",
    "side_by_side",
    "solve",
    "sweep",
    "sweep_plan",
    "tolerance",
    "tune",
]
