"""S11 of a run under way, drawn as it settles."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
from nicegui import ui

from simharness.numerics.decibels import decibels

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from simharness.runs.look import InterimMatch

MOST_POINTS = 240
"""Of a curve in the browser: more than the drawing has pixels for."""

DEEPEST_DB = -80.0


def curve(frequency: NDArray, s11: NDArray) -> tuple[list[float], list[float]]:
    """Frequencies (GHz) and size (dB) of S11 (f,) over frequency (f,) in Hz, as many points as are drawn."""
    kept = np.unique(np.linspace(0, frequency.size - 1, MOST_POINTS).round().astype(int))
    size = decibels(np.abs(s11[kept]) ** 2, DEEPEST_DB)
    return (frequency[kept] / 1e9).round(6).tolist(), size.round(2).tolist()


class SettlingCurve(ui.element, component="settling.js"):
    """The last look at S11, and the one before it behind."""

    def __init__(self) -> None:
        super().__init__()
        self._props |= {"ghz": [0.0, 1.0], "now": [0.0, 0.0], "before": [], "sentence": ""}
        self._shown = False

    def show(self, seen: InterimMatch, sentence: str) -> None:
        """Draw a look; `sentence` says how settled it is."""
        ghz, now = curve(seen.frequency, seen.s11)
        same = self._shown and self._props["ghz"] == ghz
        self._props |= {
            "before": self._props["now"] if same else [],
            "now": now,
            "ghz": ghz,
            "sentence": sentence,
        }
        self._shown = True
        self.update()
