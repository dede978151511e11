"""Moving and renaming changes no figure: every one of the shipped records against the table that
`shipped_figures.py` wrote.

The table is the project's own work, so this test says nothing about truth; it says that nothing has moved
unawares. What holds the figures against theory, publications and full wave are the other tests.
"""

from __future__ import annotations

import json
import math

import pytest
import shipped_figures as shipped

TABLE = json.loads(shipped.TABLE.read_text(encoding="utf-8"))
RELATIVE, ABSOLUTE = 1e-9, 1e-9
"""How far a figure may move; absolute for those near zero (S11, side lobes and slopes are of the order of 1).
"""
OF_THE_SWEEP = {"four-slot-tube-2g44": 1e-5, "round-2g44": 1e-5}
"""Where the frequencies that `adaptive_sweep` solves hang on the last bit, and so on the processor: with and
without numpy's AVX-512 it takes others for the round tubes, and S11 moves by up to 1e-6. Held to the
tolerance of the sweep itself.
"""


def moved(now: dict, then: dict, name: str = "") -> dict:
    """Figures that are not what they were, or not there.

    A slope is a small difference of two figures over a step, and of a dimension that hardly counts it is
    nearly nothing: each is held relative to the largest of its kind.
    """
    within = OF_THE_SWEEP.get(name)
    largest: dict[str, float] = {}
    for key, value in then.items():
        if "/slopes/" in key and isinstance(value, (int, float)):
            kind = key.rsplit("/", 1)[1]
            largest[kind] = max(largest.get(kind, 0.0), abs(value))
    return {
        key: (then.get(key, "missing"), now.get(key, "missing"))
        for key in now.keys() | then.keys()
        if not same(
            now.get(key, "missing"),
            then.get(key, "missing"),
            within,
            largest.get(key.rsplit("/", 1)[1], 0.0) if "/slopes/" in key else 0.0,
        )
    }


def same(now: object, then: object, within: float | None = None, scale: float = 0.0) -> bool:
    """Whether two figures are one; `scale`: of figures of that kind, for those that may be nearly nothing."""
    if isinstance(now, (int, float)) and isinstance(then, (int, float)):
        relative, absolute = within or RELATIVE, within or ABSOLUTE
        return math.isclose(now, then, rel_tol=relative, abs_tol=max(absolute, relative * scale))
    return now is None and then is None


@pytest.mark.parametrize("name", shipped.RECORDS)
def test_check_and_estimate(name):
    then, now = TABLE["records"][name], shipped.of_record(name)
    assert moved(now["check"], then["check"], name) == {}
    assert moved(now["estimate"], then["estimate"], name) == {}
    assert now["warnings"] == then["warnings"]
    assert now["keys"] == then["keys"], "stored runs of this record would not be found any more"


@pytest.mark.parametrize("name", shipped.DESIGNS)
def test_design(name):
    assert moved(shipped.of_design(name), TABLE["designs"][name], name) == {}


@pytest.mark.long
@pytest.mark.parametrize("name", shipped.RECORDS)
def test_tolerance(name):
    then, now = TABLE["tolerances"][name], shipped.of_tolerance(name)
    assert moved(now["hand"], then["hand"], name) == {}
    assert moved(now["mill"], then["mill"], name) == {}
    assert now["sentences"] == then["sentences"]
