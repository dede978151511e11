"""The deliberate errors: one class for each decision of the caller.

Every error carries the exit code of the command line. A message is one sentence
that says what is wrong and, for input, what would be allowed.
"""

from __future__ import annotations

from simharness.printable import printable, quoted


class HarnessError(Exception):
    """Base of all deliberate errors; never raised itself."""

    exit_code = 1
    kind = "error"

    def __init__(self, message: str):
        # Messages quote what comes from files, folders and the solver, and end on a terminal.
        super().__init__(printable(message))


class InputError(HarnessError):
    """The caller must edit the input: what = value: what would be allowed.

    `problems` holds a line for each problem, where an input has several.
    """

    exit_code = 3
    kind = "input"

    def __init__(self, what: str, value: object, allowed: str):
        self.what, self.value, self.allowed = what, value, allowed
        super().__init__(f"{what} = {quoted(value)}: {allowed}")
        self.problems = [str(self)]


class MachineError(HarnessError):
    """The machine must be mended: solver missing, disk full, folder not writable."""

    exit_code = 4
    kind = "machine"


class SolverError(HarnessError):
    """The solver crashed, blew up or ran out of its wall-clock allowance."""

    exit_code = 5
    kind = "solver"


class NotConvergedError(HarnessError):
    """The run reached its last step before the asked-for spectrum had settled."""

    exit_code = 6
    kind = "not converged"

    def __init__(self, message: str, residual: float, limit: float):
        self.residual, self.limit = residual, limit
        super().__init__(message)


class StoreError(HarnessError):
    """A run folder is damaged, foreign or missing."""

    exit_code = 7
    kind = "store"


class BusyError(HarnessError):
    """Another process is working on the same run."""

    exit_code = 8
    kind = "busy"


class CancelledError(HarnessError):
    """The user interrupted the work; nothing is left that looks finished."""

    exit_code = 130
    kind = "cancelled"
