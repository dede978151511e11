"""What the process does that compares a dropped file with a run."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from simharness.library import LevelComparison, ReflectionComparison
    from simharness.page.aside import Teller
    from simharness.page.compare.dropped import Answer, Dropped


_LARGEST_PICTURE = 20_000_000
"""Bytes; a picture of a comparison has a few hundred thousand."""


def work(asked: tuple[str, str, Dropped, dict[str, Any]], teller: Teller) -> Answer:
    """Compare: folder of the runs, name of one, the file, and what `simharness.compare` takes besides.

    Raises
    ------
    HarnessError
        As `simharness.compare` does; it calls the file as its owner does.
    """
    from simharness.page.compare.dropped import called

    runs, run, file, options = asked
    # the name within its folder, so that no message shows where that is
    kept = Path("dropped.s1p" if file.kind == "one-port" else "dropped.csv")
    with called(kept, file):
        return _answer(runs, run, file, kept, options, teller)


def _answer(
    runs: str, run: str, file: Dropped, kept: Path, options: dict[str, Any], progress: Teller
) -> Answer:
    from simharness import compare, open_run
    from simharness.files import content
    from simharness.library import LevelComparison
    from simharness.page.compare.dropped import Answer

    opened = open_run(run, runs=runs)
    found = compare(opened, kept, progress=progress, **options)
    head, rows = _level_table(found) if isinstance(found, LevelComparison) else _reflection_table(found)
    picture = content(found.write_picture("picture.png"), _LARGEST_PICTURE)
    title = f"{opened.record.name}: full wave ({opened.quality} mesh) and {file.name}"
    return Answer(title, head, rows, tuple(found.sentences), picture)


def _reflection_table(
    found: ReflectionComparison,
) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]:
    from simharness.figures import number

    words = {True: "within the bar", False: "beyond the bar", None: ""}
    rows = [(row.label, number(row.run), number(row.measured), words[row.within]) for row in found.model.rows]
    return ("figure", "full wave", "measured", "agreement"), tuple(rows)


def _level_table(found: LevelComparison) -> tuple[tuple[str, ...], tuple[tuple[str, ...], ...]]:
    from simharness.measurement.orientation_messages import level_rows

    head = (
        "angle",
        "measured, dB",
        "predicted, dB",
        "by pattern, dB",
        "by polarization, dB",
        "scattered, dB",
    )
    return head, tuple(tuple(row) for row in level_rows(found.model))
