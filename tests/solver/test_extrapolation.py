"""A ringing record cut short and continued by its poles, against the same record rung down.

Layout: the shipped records on the draft mesh, solved for 150 periods whatever the spectrum does. Exact: the
plain transform of the whole record, in which the last fifth moves S11 by less than 1e-3. Tolerance: 0.01 with
40 % of the steps, a seventh of the draft's error bar. Seen: at most 1e-4 with 31 % of the steps of any of the
three.
"""

from dataclasses import replace

import numpy as np
import pytest

from simharness.geometry import antenna_scene
from simharness.mesh.settings import QUALITIES
from simharness.progress import Silent
from simharness.records import read_record
from simharness.results.ports import port_waves
from simharness.results.settling import port_spectra
from simharness.runs.planning import plan
from simharness.runs.watch import run_child
from simharness.solver.files import read_raw
from simharness.solver.settings import SolverSettings

RECORDS = ("five-slot-2g45", "eight-slot-5g8", "eight-slot-wr90-10g37")
PERIODS = 150.0
NEVER = 1e-12


@pytest.fixture(scope="module", params=RECORDS)
def long_record(request, records, tmp_path_factory):
    """Request as `solve` makes it, and the raw series of the long run."""
    settings = SolverSettings(QUALITIES["draft"])
    scene = antenna_scene(read_record(records / f"{request.param}.toml"))
    pulse = plan(scene, settings).request.pulse_length * scene.spectrum.centre
    what = plan(scene, replace(settings, settled=NEVER, longest=PERIODS - pulse))
    folder = tmp_path_factory.mktemp("long")
    end = run_child(folder, what, Silent(), 1800.0)
    assert (
        end.steps == what.request.steps or end.steps > 0.9 * what.request.steps
    )  # the solver may find a larger step
    return replace(what.request, settings=settings), read_raw(folder / "raw.h5")[0]


def reflection(request, series, frequency):
    """S11, how it was found, and by how much it may still move."""
    spectra, _, method, change = port_spectra(request, series, frequency)
    incident, reflected = port_waves(
        request.scene.ports[0], request.grid, spectra.voltage[0], spectra.current[0], frequency
    )
    return reflected / incident, method, change


def cut(series, share):
    return {name: values[:, : round(share * values.shape[1])] for name, values in series.items()}


def test_two_fifths_of_the_steps_give_the_whole_spectrum(long_record):
    request, series = long_record
    frequency = np.linspace(request.scene.spectrum.low, request.scene.spectrum.high, 201)
    whole, method, change = reflection(request, series, frequency)
    assert method == "record" and change < 1e-3
    short, method, _ = reflection(request, cut(series, 0.4), frequency)
    assert method == "tail"
    assert np.max(np.abs(short - whole)) < 0.01


def test_a_record_cut_within_its_pulse_is_not_continued(long_record):
    """An eighth of the record is the pulse and next to no ringing: there is nothing to take poles from."""
    request, series = long_record
    frequency = np.linspace(request.scene.spectrum.low, request.scene.spectrum.high, 31)
    _, method, _ = reflection(request, cut(series, 0.125), frequency)
    assert method == "unsettled"
