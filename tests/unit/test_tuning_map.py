"""The map over both legs of a bent probe, and its picture; the fast model is a stand-in of known value."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest
from matplotlib.figure import Figure
from shaped_records import SHIPPED

from simharness.plot import style
from simharness.tuning import map_picture
from simharness.tuning.model import TuningModel, tuning_objective
from simharness.tuning.variables import point, tuning_variables

RECORD = SHIPPED["bent-probe-5g8"]


def reflection(record, frequency):
    """Matched at a run of 12.5 mm and a hole height of 7.5 mm at the design frequency; invented."""
    run, height = record.feed.run_mm / 12.5 - 1, record.feed.hole_height_mm / 7.5 - 1
    return (run + 0.3 * height) + 1j * (height - 0.4 * run + 6 * (frequency / 5.8e9 - 1))


@pytest.fixture(scope="module")
def model():
    tuned, objective = tuning_variables(RECORD), tuning_objective(RECORD, "centre", (5.6e9, 6.0e9))
    return tuned, objective, TuningModel(RECORD, tuned, objective, reflection)


def test_map_holds_the_model(model):
    """The stand-in is linear in both legs, which splines reproduce to rounding; its zero is the least of the
    map.
    """
    tuned, objective, fast = model
    found = fast.map(point(RECORD, tuned))
    n, m = np.unravel_index(np.argmin(found.size(objective)), found.centre.shape)
    assert (found.first[m], found.second[n]) == pytest.approx((12.5, 7.5), abs=0.2), "half a step of the map"
    for i, j in ((0, 0), (17, 40), (60, 60)):
        here = (found.first[j], found.second[i])
        assert found.centre[i, j] == pytest.approx(abs(fast.s11(here)[objective.centre]), abs=1e-6), (
            "lengths are written to the nanometre"
        )
    assert np.all(found.worst >= found.centre - 1e-12), "the centre lies in the band"


def test_map_is_drawn(model):
    tuned, objective, fast = model
    best = SimpleNamespace(values=point(RECORD, tuned))
    found = SimpleNamespace(
        record=RECORD,
        objective=objective,
        variables=tuned,
        quality="draft",
        map=fast.map(best.values),
        runs=(best,),
        best=best,
    )
    with style.own_look():
        figure = map_picture.tuning_map_figure(found)
    assert isinstance(figure, Figure)
    axes = figure.axes[0]
    assert (
        axes.get_xlabel() == "run of the probe, mm"
        and axes.get_ylabel() == "height of the hole in the near end, mm"
    )
