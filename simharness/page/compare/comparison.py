"""The comparison of a dropped file with a run, in a process of its own."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from simharness.page.aside import Aside
from simharness.page.compare.dropped import Dropped
from simharness.page.compare.work import work

_ENDED = "the comparison ended before it had an answer; drop the file again"


class Comparison(Aside):
    """A comparison under way; its answer is an `Answer`.

    Parameters
    ----------
    runs, run : str
        Folder of the stored runs, and full name of one.
    file : Dropped
    options : mapping
        As `simharness.compare` takes them.
    """

    def __init__(self, runs: str, run: str, file: Dropped, options: Mapping[str, Any]):
        self.run, self.file = run, file
        super().__init__(work, (runs, run, file, dict(options)), _ENDED)
