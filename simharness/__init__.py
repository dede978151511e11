"""Slotted waveguide antennas, from a written design record to a full-wave verdict.

The functions here do what the commands of the same names do, and return objects in the place of text:

>>> import simharness
>>> record = simharness.read_record("models/five-slot-2g45.toml")
>>> guess = simharness.estimate(record)
>>> print(f"{guess.figures['resonance'].value / 1e9:.2f} GHz")
2.45 GHz

The usual order is `design` or `read_record`, `check`, `estimate`, `plan`, `solve`, and then `sheets` and
`report`.

Units are SI (m, Hz, s), angles of patterns in rad, ratios in dB where the name or the `Figure` says so. What
stands in a record, and arguments and attributes whose names end in a unit (``_mm``, ``_ghz``, ``_deg``), are
in that unit. The time convention is exp(+j omega t), with peak phasors. What the caller can mend is raised as
an error of `simharness.errors`, one class for each thing to do about it.

Nothing heavy is imported before it is needed.
"""

from __future__ import annotations

import importlib
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from simharness.library.solved_run import SolvedRun
    from simharness.records import Record, read_record

__version__ = "0.1.0"

# The import system binds a package as an attribute of this one when it is first imported, and would then
# hide the function of the same name. So these packages, which hold little but a docstring, come first, and
# the functions after them. Modules are reached as `from simharness.estimate.antenna import ...`, not as
# attributes.
for _package in ("design", "estimate", "link", "report", "runs", "sheets", "sweep", "tolerance"):
    importlib.import_module(f"simharness.{_package}")

from simharness.library import (  # noqa: E402
    as_built,
    changed,
    check,
    compare,
    converge,
    design,
    estimate,
    link,
    mend,
    open_run,
    plan,
    report,
    runs,
    sheets,
    side_by_side,
    solve,
    sweep,
    tolerance,
    tune,
)

__all__ = [
    "Record",
    "SolvedRun",
    "as_built",
    "changed",
    "check",
    "compare",
    "converge",
    "design",
    "estimate",
    "link",
    "mend",
    "open_run",
    "plan",
    "read_record",
    "report",
    "runs",
    "sheets",
    "side_by_side",
    "solve",
    "sweep",
    "tolerance",
    "tune",
]

_WHEN_ASKED_FOR = {
    "Record": "simharness.records",
    "SolvedRun": "simharness.library.solved_run",
    "read_record": "simharness.records",
}
"""Names whose modules load what takes a while, with those modules."""


def __getattr__(name: str) -> Any:
    """A name that is imported when it is first asked for."""
    if name in _WHEN_ASKED_FOR:
        globals()[name] = found = getattr(importlib.import_module(_WHEN_ASKED_FOR[name]), name)
        return found
    raise AttributeError(f"module 'simharness' has no attribute {name!r}")


def __dir__() -> list[str]:
    """The public names, those that are not imported yet too."""
    return sorted({*globals(), *__all__})
