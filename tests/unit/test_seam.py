"""A seam left open: its geometry, its mesh, and what is told of two runs. All data is invented."""

from __future__ import annotations

import json
from types import SimpleNamespace

import numpy as np
import pytest
from shaped_records import SHIPPED, WR90
from tolerance_cases import TWO_SLOTS

from simharness.errors import InputError
from simharness.geometry import antenna_scene
from simharness.geometry.seam import OPENED, half_open_seam, with_open_seam
from simharness.mesh.grid import grid
from simharness.mesh.raster import tiles
from simharness.mesh.settings import QUALITIES
from simharness.records.text import record_text
from simharness.results.outputs import Results
from simharness.tolerance import defects
from simharness.tolerance.defects import seam_sentence, seam_study

RECORD = SHIPPED[WR90]
SEAM = half_open_seam(RECORD, 0.2)


def test_a_slit_is_missing_from_one_side_wall_alone():
    """0.2 mm times half of 165.5 mm; rounding."""
    sound = antenna_scene(RECORD)
    areas = [
        {prism.part: prism.outline.polygon().area for prism in scene.prisms}
        for scene in (sound, with_open_seam(sound, SEAM))
    ]
    missing = {part: areas[0][part] - areas[1][part] for part in areas[0]}
    assert missing.pop(OPENED) == pytest.approx(0.2e-3 * 82.75e-3, rel=1e-9)
    assert set(missing.values()) == {0.0}


def test_the_slit_goes_through_the_meshed_wall():
    """Open half-way along the guide, closed near its ends and on the other side; its edges stand where they
    are drawn.
    """
    scene = with_open_seam(antenna_scene(RECORD), SEAM)
    mesh = grid(scene, QUALITIES["draft"])
    assert {-SEAM.gap, 0.0} <= set(mesh.y.tolist())
    metal = np.zeros([len(line) - 1 for line in mesh.lines], bool)
    for tile in tiles(scene, mesh):
        metal[tuple(slice(a, b) for a, b in zip(tile.low, tile.high))] = tile.material.metal
    row, half = mesh.index(1, -SEAM.gap), 0.5e-3 * RECORD.guide.a_mm
    left, right = mesh.index(0, -half) - 1, mesh.index(0, half)
    middle, end = (mesh.index(2, share * 1e-3 * RECORD.guide.length_mm) for share in (0.5, 0.1))
    assert not metal[right, row, middle] and metal[right, row, end] and metal[left, row, middle]
    assert metal[right, row - 1, middle] and metal[right, row + 1, middle]


@pytest.mark.parametrize("gap_mm", [0.0, -0.1, 2.1])
def test_no_seam_is_refused(gap_mm):
    with pytest.raises(InputError, match="at most a fifth of b_mm, 2.032 mm"):
        half_open_seam(RECORD, gap_mm)


@pytest.fixture
def answered(monkeypatch):
    """Runs answered at once: |S11| 0.2 for the sound antenna, 0.4 for that with the seam; what was asked
    for.
    """
    asked = []

    def solve(what, store, record=None, *, label="", progress=None):
        asked.append((record, label))
        frequency = np.linspace(2e9, 11e9, 1801)
        results = Results({"frequency": frequency, "s11": np.full(1801, (0.4 if label else 0.2) + 0j)}, {})
        return SimpleNamespace(path=SimpleNamespace(name=label or record.name), results=lambda: results)

    monkeypatch.setattr(defects, "solve", solve)
    monkeypatch.setattr(defects, "record_plan", lambda *_: None)
    monkeypatch.setattr(defects, "plan", lambda scene, settings, **_: None)
    return asked


def test_both_antennas_are_solved_and_told(answered):
    study = seam_study(RECORD, None, "draft", 0.2)
    assert study.worst_s11 == pytest.approx(
        (-13.98, -7.96), abs=0.005
    )  # 20 log10 of 0.2 and 0.4, to the digits given
    assert "0.2 mm along the edge" in seam_sentence(study) and "from -14.0 to -8.0 dB" in seam_sentence(study)
    # Nobody shall find the leaky one as a run of the record.
    assert [record for record, _ in answered] == [RECORD, None]


def test_command_tells_of_the_seam(answered, call, tmp_path):
    (tmp_path / "two.toml").write_text(record_text(TWO_SLOTS))
    words = ("tolerance", "two.toml", "--seam", "0.3", "--samples", "100", "--no-figures")
    code, out, err = call(*words)
    assert code == 0 and "from -14.0 to -8.0 dB" in " ".join(out.split()) and "seam open" in out
    code, out, err = call(*words, "--json")
    assert (code, err) == (0, "") and json.loads(out)["seam"]["worst_s11_db"] == pytest.approx(
        [-13.98, -7.96], abs=0.005
    )


def test_command_refuses_a_seam_that_is_none(call, tmp_path):
    (tmp_path / "two.toml").write_text(record_text(TWO_SLOTS))
    code, out, err = call("tolerance", "two.toml", "--seam", "15")
    assert (code, out) == (3, "") and "seam = 15 mm" in err and err.count("\n") == 1
