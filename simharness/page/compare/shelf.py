"""The stored runs as the page lists them: names at once, figures and curve only of those that are shown."""

from __future__ import annotations

import contextlib
import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from simharness.errors import HarnessError
from simharness.library.values import plain
from simharness.numerics.decibels import decibels
from simharness.results.file import read_results
from simharness.runs.manifest import FAILED, MANIFEST_NAME, RESULTS_NAME, plain_provenance, plain_record

POINTS = 48
"""Of the curve in a small picture."""

LOWEST_DB = -40.0
"""Bottom of a small picture; its top is 0 dB."""


@dataclass(frozen=True)
class Spark:
    """What the list shows of one run.

    Attributes
    ----------
    name : str
        Of the run.
    quality : str
        Of its mesh; "" where nobody knows.
    worst_s11_db : float or None
        Worst S11 in its band, dB.
    levels : tuple of float
        |S11| in dB at `POINTS` frequencies or fewer; empty where it cannot be read.
    band : (float, float) or None
        Edges of the band of its record as shares of the span of the curve.
    """

    name: str
    quality: str = ""
    worst_s11_db: float | None = None
    levels: tuple[float, ...] = ()
    band: tuple[float, float] | None = None


class Shelf:
    """The finished runs of a folder.

    Parameters
    ----------
    folder : Path
        Of the stored runs; there need not be one.
    """

    def __init__(self, folder: Path):
        self.folder = folder
        self._sparks: dict[tuple[str, float], Spark] = {}
        self._made: dict[str, float] = {}

    def names(self, words: str = "") -> list[str]:
        """Names of the runs that hold all of some words, the newest first.

        The folder is listed and the time of each manifest asked for; no file is opened.
        """
        wanted = words.lower().split()
        found: list[tuple[float, str]] = []
        with contextlib.suppress(OSError), os.scandir(self.folder) as entries:
            for entry in entries:
                name = entry.name
                if name.startswith((".", f"{FAILED}-")) or not all(word in name.lower() for word in wanted):
                    continue
                with contextlib.suppress(OSError):
                    found.append((os.stat(os.path.join(entry.path, MANIFEST_NAME)).st_mtime, name))
        self._made |= {name: made for made, name in found}
        return [name for _, name in sorted(found, reverse=True)]

    def sparks(self, names: Sequence[str]) -> list[Spark]:
        """What is shown of some runs: a few hundredths of a second each when first asked for.

        It is kept until `names` finds that the run was made anew.
        """
        kept = [(name, self._made.get(name, 0.0)) for name in names]
        for key in kept:
            if key not in self._sparks:
                self._sparks[key] = _spark(self.folder / key[0])
        return [self._sparks[key] for key in kept]


def _spark(folder: Path) -> Spark:
    """Quality, worst S11 and curve of a run; as much of them as can be read."""
    about = plain_provenance(folder)
    worst, quality = about.get("worst_s11_db"), str(about.get("quality", ""))[:20]
    level = None
    try:
        level = plain(float(worst)) if isinstance(worst, (int, float)) else None
        results = read_results(folder / RESULTS_NAME, ("frequency", "s11"))
        frequency = results["frequency"]
        shown = np.linspace(frequency[0], frequency[-1], min(POINTS, frequency.size))
        curve = np.interp(shown, frequency, decibels(np.abs(results["s11"]) ** 2, LOWEST_DB))
        band = plain_record(folder)["band"]
        edges = [(1e9 * band[key] - shown[0]) / (shown[-1] - shown[0]) for key in ("low_ghz", "high_ghz")]
        low, high = (float(np.clip(edge, 0, 1)) for edge in edges)
    except (HarnessError, KeyError, TypeError, ValueError, ArithmeticError, IndexError):
        return Spark(folder.name, quality, level)
    return Spark(folder.name, quality, level, tuple(round(float(value), 2) for value in curve), (low, high))
