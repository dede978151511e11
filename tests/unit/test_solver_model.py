"""What the solver's child is told: all of the scene, on the mesh, bit for bit."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from simharness.geometry import antenna_scene
from simharness.mesh.grid import grid
from simharness.mesh.settings import QUALITIES
from simharness.records import read_record
from simharness.solver.files import series_names
from simharness.solver.model.properties import UNIT
from simharness.solver.model.request import write_request
from simharness.solver.openems import ADDERS, INTERFACE
from simharness.solver.settings import SolverRequest, SolverSettings

MODELS = Path(__file__).parents[2] / "models"
CASES = [
    ("eight-slot-wr90-10g37", "coax"),
    ("eight-slot-wr90-10g37", "gap"),
    ("bent-probe-5g8", "coax"),
    ("four-slot-tube-2g44", "coax"),
    ("five-slot-2g45-laminate", "coax"),
    ("sixteen-slot-5g8-travelling", "coax"),
]


@pytest.fixture(scope="module", params=CASES, ids=" ".join)
def told(request, tmp_path_factory):
    """Request of the parent, and what the child reads."""
    name, feed = request.param
    scene, mesh = antenna_scene(read_record(MODELS / f"{name}.toml"), feed), QUALITIES["draft"]
    asked = SolverRequest(scene, grid(scene, mesh), SolverSettings(mesh))
    folder = tmp_path_factory.mktemp("request")
    write_request(asked, folder)
    return asked, json.loads((folder / "request.json").read_text(encoding="utf-8"))


def test_mesh_lines_come_back_bit_for_bit(told):
    """The solver takes a point for one on a line only if both are the same number."""
    asked, content = told
    for line, read in zip(asked.grid.lines, content["lines"]):
        assert (line / UNIT).tobytes() == np.array(read).tobytes()


def test_solids_end_on_mesh_lines(told):
    _, content = told
    lines = [set(line) for line in content["lines"]]
    solids = [item for item in content["properties"] if item["kind"] in ("metal", "material")]
    corners = [corner for item in solids for low, high, _ in item["boxes"] for corner in (low, high)]
    assert len(corners) > 20
    assert all(corner[axis] in lines[axis] for corner in corners for axis in range(3))


def test_everything_that_is_read_afterwards_is_recorded(told):
    """A lumped gap needs no more than one loop for its current: its edges are recorded where they are."""
    asked, content = told
    probes = {item["name"] for item in content["properties"] if item["kind"] == "probe"}
    wanted = set(series_names(asked.scene))
    assert probes <= wanted and wanted - probes <= {"port1_current_b"}
    records = {item["name"] for item in content["properties"] if item["kind"] == "record"}
    assert {
        "cut_e",
        *(f"face_{f}_{axis}_{side}" for f in "eh" for axis in range(3) for side in ("low", "high")),
    } <= records


def test_pulse_steps_and_boundaries_are_those_of_the_request(told):
    asked, content = told
    assert content["timesteps"] == asked.steps
    assert content["half_bandwidth"] == asked.pulse_width and content["centre"] == asked.scene.spectrum.centre
    assert len(content["boundaries"]) == 6 and set(content["boundaries"]) <= {"MUR", "PEC"}


def test_the_table_of_the_interface_names_whatever_adds_a_property(told):
    _, content = told
    assert {item["kind"] for item in content["properties"]} <= ADDERS.keys()
    assert set(ADDERS.values()) <= {method for _, method, _ in INTERFACE}
