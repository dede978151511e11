"""What a tab has chosen to set side by side; no browser in it."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any
from weakref import WeakKeyDictionary

from simharness.errors import InputError
from simharness.page.compare.shelf import Shelf

if TYPE_CHECKING:
    from simharness.library import SideBySide
    from simharness.page.bench import Bench
    from simharness.page.compare.comparison import Comparison
    from simharness.page.compare.dropped import Dropped


@dataclass(frozen=True)
class Chosen:
    """One of the things: what it is called in the list, and the thing, as `simharness.side_by_side` takes it.

    `label` is its name in the comparison where it has none of its own.
    """

    words: str
    item: Any
    label: str | None = None


class Sides:
    """The choice of a tab, the run that files are held against, and the list of runs.

    Attributes
    ----------
    chosen : list of Chosen
    found : SideBySide or None
        Of the present choice; None where there are fewer than two.
    run : str
        Full name of the run that a dropped file is held against; "" for none yet.
    file : Dropped or None
    comparison : Comparison or None
    """

    def __init__(self, runs: Path):
        self.shelf = Shelf(runs)
        self.chosen: list[Chosen] = []
        self.found: SideBySide | None = None
        self.run = ""
        self.file: Dropped | None = None
        self.comparison: Comparison | None = None

    def add(self, one: Chosen) -> None:
        """Choose something more; InputError where there are enough, or it is there already."""
        from simharness.library.comparing.beside import MOST

        if any(other.words == one.words for other in self.chosen):
            raise InputError("side by side", one.words, "is there already; choose another")
        if len(self.chosen) >= MOST:
            raise InputError("side by side", one.words, f"would be one more than {MOST}; take one away first")
        self.chosen.append(one)

    def take_away(self, one: Chosen) -> None:
        """Choose something no more."""
        self.chosen = [other for other in self.chosen if other is not one]

    def compute(self) -> SideBySide | None:
        """Set the choice side by side; some tenths of a second for a run or an estimate."""
        from simharness import side_by_side
        from simharness.library.comparing.beside import FEWEST

        chosen = tuple(self.chosen)
        if len(chosen) < FEWEST:
            return None
        return side_by_side([one.item for one in chosen], [one.label for one in chosen])


_OF_BENCH: WeakKeyDictionary[Bench, Sides] = WeakKeyDictionary()


def sides_of(bench: Bench) -> Sides:
    """The choice of a tab, kept while its bench is."""
    if bench not in _OF_BENCH:
        _OF_BENCH[bench] = Sides(bench.place.runs)
    return _OF_BENCH[bench]


def stored(bench: Bench, name: str) -> Chosen:
    """A stored run by its full name; raises what `simharness.open_run` does."""
    from simharness import open_run

    run = open_run(name, runs=bench.place.runs)
    return Chosen(run.name, run)


def estimated(record: Any, words: str) -> Chosen:
    """A record by its estimate, which is computed here, once."""
    from simharness import estimate

    return Chosen(words, estimate(record))


def filed(bench: Bench, name: str) -> Chosen:
    """A record file of the folder, by its estimate; InputError where it is gone or refused."""
    from simharness import read_record

    path = next((path for path in bench.place.record_files() if path.name == name), None)
    if path is None:
        raise InputError("record", name, "is not in the folder; choose another")
    return estimated(read_record(path), f"{name}, estimate")


def measured(file: Dropped) -> Chosen:
    """A dropped one-port as it was measured; InputError where it cannot be read."""
    import tempfile

    from simharness.files import atomic_write_bytes
    from simharness.measurement.files import read_one_port

    with tempfile.TemporaryDirectory(prefix="simharness-") as folder:
        kept = Path(folder) / "dropped.s1p"
        atomic_write_bytes(kept, file.data)
        try:
            found = read_one_port(kept)
        except InputError as error:
            raise InputError("measured file", file.name, error.allowed) from None
    return Chosen(f"{file.name}, measured", found, file.name)
