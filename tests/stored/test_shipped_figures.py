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


def moved(now: dict, then: dict) -> dict:
    """Figures that are not what they were, or not there."""
    return {
        name: (then.get(name, "missing"), now.get(name, "missing"))
        for name in now.keys() | then.keys()
        if not same(now.get(name, "missing"), then.get(name, "missing"))
    }


def same(now: object, then: object) -> bool:
    if isinstance(now, (int, float)) and isinstance(then, (int, float)):
        return math.isclose(now, then, rel_tol=RELATIVE, abs_tol=ABSOLUTE)
    return now is None and then is None


@pytest.mark.parametrize("name", shipped.RECORDS)
def test_check_and_estimate(name):
    then, now = TABLE["records"][name], shipped.of_record(name)
    assert moved(now["check"], then["check"]) == {}
    assert moved(now["estimate"], then["estimate"]) == {}
    assert now["warnings"] == then["warnings"]
    assert now["keys"] == then["keys"], "stored runs of this record would not be found any more"


@pytest.mark.parametrize("name", shipped.DESIGNS)
def test_design(name):
    assert moved(shipped.of_design(name), TABLE["designs"][name]) == {}


@pytest.mark.long
@pytest.mark.parametrize("name", shipped.RECORDS)
def test_tolerance(name):
    then, now = TABLE["tolerances"][name], shipped.of_tolerance(name)
    assert moved(now["hand"], then["hand"]) == {}
    assert moved(now["mill"], then["mill"]) == {}
    assert now["sentences"] == then["sentences"]
