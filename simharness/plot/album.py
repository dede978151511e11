"""The pictures of a finished run, drawn by two processes."""

from __future__ import annotations

import contextlib
import gc
import multiprocessing
import signal
from collections.abc import Iterable
from pathlib import Path

from simharness.estimate.antenna import Estimate
from simharness.plot import cuts, inside, match, overview, smith, sphere, style, titles
from simharness.records import Record
from simharness.results.outputs import Results

DRAWINGS = {
    "match": match.match_figure,
    "smith": smith.smith_figure,
    "cuts": cuts.cuts_figure,
    "sphere": sphere.sphere_figure,
    "slots": inside.slots_figure,
    "field": inside.field_figure,
    "overview": overview.overview_figure,
}
"""The function that draws each picture; it returns None where the results do not allow it."""

_BESIDE = ("cuts", "slots", "field", "overview")
"""Drawn by a second process: about half of the work."""


def warm_up(record: Record) -> None:
    """Draw the elements of the pictures once, so that matplotlib has loaded and cached what they need."""
    with style.own_look():
        figure = titles.record_sheet(4.0, 4.0, record, "warm-up")
        smith.draw_chart(figure.add_axes((0.1, 0.1, 0.4, 0.4)), record)
        map_axes = figure.add_axes((0.5, 0.1, 0.4, 0.4), projection="mollweide")
        map_axes.contour([0.0, 1.0], [0.0, 1.0], [[0.0, 1.0], [1.0, 2.0]])
        style.png(figure)


def written_pictures(results: Results, record: Record, estimate: Estimate | None, folder: Path) -> list[Path]:
    """Draw all pictures that the results allow; see `simharness.plot.write_figures`."""

    def written(names: Iterable[str]) -> dict[str, Path]:
        with style.own_look():
            figures = ((name, DRAWINGS[name](results, record, estimate)) for name in names)
            return {
                name: style.save(figure, folder / f"{name}.png")
                for name, figure in figures
                if figure is not None
            }

    fork = multiprocessing.get_context("fork")
    receiver, sender = fork.Pipe(duplex=False)

    def draw_beside() -> None:
        signal.signal(signal.SIGINT, signal.SIG_IGN)
        with contextlib.suppress(Exception):
            sender.send(written(_BESIDE))

    second = fork.Process(target=draw_beside, daemon=True)
    gc.freeze()  # neither process needs to scan, and so copy, the objects from before
    second.start()
    sender.close()
    try:
        found = written(name for name in DRAWINGS if name not in _BESIDE)
        try:
            found |= receiver.recv()
        except EOFError:  # it failed: the same work in this process raises the reason
            found |= written(_BESIDE)
    finally:
        gc.unfreeze()
        second.kill()
        second.join()
        receiver.close()
    return [found[name] for name in DRAWINGS if name in found]
