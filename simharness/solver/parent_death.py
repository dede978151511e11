"""Children that do not outlive their parent, even one that is killed."""

from __future__ import annotations

import ctypes
import os
import signal
import sys
from collections.abc import Sequence
from pathlib import Path

PARENT_VARIABLE = "SIMHARNESS_PARENT_PID"
"""Environment variable that tells the child the process number of its supervisor."""

_PR_SET_PDEATHSIG = 1


def die_with_parent() -> bool:
    """Let the operating system kill this process when its supervisor dies.

    To be called by the child, first thing. It holds for this process and what it
    becomes by `exec`, not for processes it starts: give those to `tied_to_parent`.
    The process must be the very one that `supervise` started (no shell in between)
    and exits with 1 when its supervisor is gone already. Linux takes the end of the
    thread that started the child for the end of the parent.

    Returns
    -------
    bool
        Whether the operating system can do it (Linux).
    """
    if not sys.platform.startswith("linux"):
        return False
    done = ctypes.CDLL(None).prctl(_PR_SET_PDEATHSIG, int(signal.SIGKILL), 0, 0, 0) == 0
    parent = os.environ.pop(PARENT_VARIABLE, "")
    if parent.isdigit() and os.getppid() != int(parent):
        os._exit(1)
    return done


_TIED = (
    "import ctypes,os,sys;"
    f"ctypes.CDLL(None).prctl({_PR_SET_PDEATHSIG},{int(signal.SIGKILL)},0,0,0);"
    "os.getppid()==int(sys.argv[1]) or os._exit(1);"
    "os.execvp(sys.argv[2],sys.argv[2:])"
)


def tied_to_parent(argv: Sequence[str | Path]) -> list[str]:
    """The command line that runs a program so that it dies with the calling process.

    For programs that cannot call `die_with_parent`. The process itself is replaced,
    so number, signals and exit code are those of the program (Linux; elsewhere the
    command line is unchanged).
    """
    words = [os.fspath(word) for word in argv]
    if not sys.platform.startswith("linux"):
        return words
    return [sys.executable, "-I", "-S", "-c", _TIED, str(os.getpid()), *words]
