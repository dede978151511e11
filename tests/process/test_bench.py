"""The pure parts of `scripts/bench`: plain mesh lines, errors, ratio of times, table."""

from __future__ import annotations

import csv
import io
import sys
from dataclasses import replace
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from each_case import each_case

from simharness.errors import InputError
from simharness.geometry import antenna_scene
from simharness.mesh.raster import coax_cells, meshed_coax_permittivity, tiles
from simharness.records import read_record

ROOT = Path(__file__).parents[2]


@pytest.fixture(scope="module", autouse=True)
def scripts_on_path():
    """The package `benchmarks` lies in scripts/, which is on no path but for scripts/bench."""
    sys.path.insert(0, str(ROOT / "scripts"))
    yield
    sys.path.remove(str(ROOT / "scripts"))


@pytest.fixture(scope="module", params=["eight-slot-5g8", "eight-slot-wr90-10g37", "five-slot-2g45"])
def scene(request):
    return antenna_scene(read_record(ROOT / "models" / f"{request.param}.toml"))


def test_these_records_are_the_ones_compared(scene):
    from benchmarks.run import COMPARED, chosen_records

    assert scene.name in COMPARED and scene.name in [record.name for record in chosen_records("")]
    assert len(COMPARED) == 3
    with pytest.raises(InputError, match="must be among eight-slot-5g8"):
        chosen_records("bent-slot-5g8")


@pytest.fixture(scope="module")
def mesh(scene):
    from benchmarks.plain_grid import PlainMesh, plain_grid

    return plain_grid(scene, PlainMesh())


def test_plain_lines_stand_on_every_true_edge(scene, mesh):
    """Bit for bit: an edge that misses its line by one bit is lost to the solver."""
    for feature in scene.features:
        if not feature.soft:
            assert feature.low in mesh.lines[feature.axis], feature
            assert feature.high in mesh.lines[feature.axis], feature
    assert mesh.moved == 0.0


def test_plain_cells_are_four_across_a_slot_and_twenty_in_a_wavelength(scene, mesh):
    """The recipe as it is stated; tolerances are rounding of floating point."""
    from simharness.constants import C0

    for slot in (f for f in scene.features if f.kind == "slot width"):
        assert mesh.index(0, slot.high) - mesh.index(0, slot.low) >= 4
    largest = C0 / scene.spectrum.high / 20
    for line in mesh.lines:
        assert np.max(np.diff(line)) <= largest * (1 + 1e-9)


@each_case("slot_cells", [4, 6])
def test_plain_neighbours_differ_by_no_more_than_the_ratio(scene, slot_cells):
    from benchmarks.plain_grid import PlainMesh, plain_grid

    assert plain_grid(scene, PlainMesh.refined(slot_cells)).largest_ratio <= 1.5 * (1 + 1e-9)  # rounding


def test_plain_mesh_has_a_quarter_wave_of_air_and_eight_even_cells_beyond(scene, mesh):
    from simharness.constants import C0

    bounds, wave = scene.bounds(), C0 / scene.spectrum.centre
    assert mesh.absorber == (8,) * 6
    for axis, line in enumerate(mesh.lines):
        # 1e-12 m: rounding of sums of lengths of a metre at most.
        assert line[8] == pytest.approx(bounds[2 * axis] - wave / 4, abs=1e-12)
        assert line[-9] == pytest.approx(bounds[2 * axis + 1] + wave / 4, abs=1e-12)
        for layer in (np.diff(line)[:9], np.diff(line)[-9:]):
            np.testing.assert_allclose(layer, layer[0], rtol=1e-9)  # the solver asks for even cells; rounding


def test_plain_slots_are_open_and_as_wide_as_drawn(scene, mesh):
    """Metal of the front wall ends at the very edges of each slot, half-way along it."""
    metal = np.zeros([len(line) - 1 for line in mesh.lines], bool)
    for tile in tiles(scene, mesh):
        if tile.material.metal:
            metal[tuple(slice(a, b) for a, b in zip(tile.low, tile.high))] = True
    wall = mesh.index(1, 0.0)
    for slot in scene.slots:
        k = int(np.searchsorted(mesh.z, slot.z)) - 1
        low, high = (mesh.index(0, slot.x + side * slot.width / 2) for side in (-1, 1))
        assert metal[low - 1, wall, k] and metal[high, wall, k]
        assert not metal[low:high, wall, k].any()


def test_plain_coax_is_closed_at_its_end_and_has_room_inside(scene, mesh):
    """Two cells in the gap or the current loop would run in metal; the sleeve's floor lies behind the
    source.
    """
    port = scene.ports[0]
    pin_x, pin_z, bore_x, bore_z = coax_cells(port, mesh)
    for pin, bore in ((pin_x, bore_x), (pin_z, bore_z)):
        assert pin[0] - bore[0] >= 2 and bore[1] - pin[1] >= 2 and pin[1] > pin[0]
    end = port.reference - port.direction * port.length
    sleeve = next(p for p in scene.prisms if p.part == "coax sleeve")
    assert mesh.index(1, sleeve.low) < mesh.index(1, end)


def test_plain_scene_keeps_the_cable_as_it_is(scene, mesh):
    """No tuning of the filling: the tool's own model would have another permittivity on this mesh."""
    from benchmarks.plain_model import plain_scene

    port = scene.ports[0]
    found = {t.material.permittivity for t in tiles(plain_scene(scene), mesh) if not t.material.metal}
    assert found == {port.permittivity}
    assert abs(meshed_coax_permittivity(port, mesh) / port.permittivity - 1) > 0.01


def test_crowded_edges_share_a_line_only_where_one_may_move():
    """Two posts a hundredth of a cell apart: the soft one takes the other's line. First principles."""
    from benchmarks.plain_grid import edges

    from simharness.geometry.scene import Feature

    features = [Feature("pin", 0, 0.99e-3, 5e-3, soft=True), Feature("post", 0, 1e-3, 3e-3)]
    np.testing.assert_array_equal(edges(features, (0.0, 10e-3), [], 1e-3), [0.0, 1e-3, 3e-3, 5e-3, 10e-3])


@each_case(
    ("plain", "ours", "value", "how"),
    [
        ((800.0, 0.1), [(10.0, 1.0), (40.0, 0.1), (90.0, 0.01)], 20.0, "smaller error"),
        # Half-way in log error from 1 to 0.01 is half-way in log time from 10 to 1000: 100 s.
        ((800.0, 0.1), [(1000.0, 0.01), (10.0, 1.0)], 8.0, "interpolated"),
        # A lucky coarse mesh counts, a worse finer one takes nothing away.
        ((800.0, 0.1), [(10.0, 0.05), (100.0, 0.2), (1000.0, 0.01)], 80.0, "smaller error"),
        ((50.0, 0.1), [(100.0, 0.01)], 0.5, "smaller error"),
        ((800.0, 0.001), [(10.0, 1.0), (1000.0, 0.01)], None, "not reached"),
        ((800.0, 0.0), [(10.0, 1.0)], None, "not reached"),
        ((800.0, None), [(10.0, 1.0), (100.0, 0.1)], 80.0, "plain unfinished"),
        ((5.0, None), [(10.0, 1.0)], None, "plain unfinished"),  # given up before ours was done: says nothing
        ((800.0, 0.1), [], None, "not reached"),
    ],
)
def test_ratio_at_equal_error(plain, ours, value, how):
    """Worked by hand from the definition; relative 1e-9 for rounding."""
    from benchmarks.figures import ratio_at_equal_error

    found = ratio_at_equal_error(plain, ours)
    assert found.how == how
    assert found.value is None if value is None else found.value == pytest.approx(value, rel=1e-9)


def test_errors_of_a_shifted_curve():
    """S11 = 0.2 + 2j (f/f0 - 1): moved by 1 % it lies 0.02 away everywhere (first principles), known to
    rounding.
    """
    from benchmarks.figures import Reflection, errors_against

    f = np.linspace(9e9, 11e9, 401)
    one, two = (Reflection(f, 0.2 + 2j * (f - c) / 10e9) for c in (10e9, 10.1e9))
    errors = errors_against(one, two, 9.9e9, 10.2e9)
    assert errors.resonance == pytest.approx(1.0, rel=1e-6)
    assert errors.s11 == pytest.approx(0.02, rel=1e-9)
    assert errors_against(one, one, 9.9e9, 10.2e9).s11 == 0.0


def test_a_match_at_the_border_of_the_span_is_no_resonance():
    """|S11| falls all the way to the end: where its minimum is nobody knows, and an error of nothing would be
    a lie.
    """
    from benchmarks.figures import Ratio, Reflection, errors_against, record_ratios, resonance

    f = np.linspace(9e9, 11e9, 401)
    inside, outside = (Reflection(f, 0.2 + 2j * (f - c) / 10e9) for c in (10e9, 11.5e9))
    assert resonance(outside) is None and resonance(inside) == pytest.approx(10e9, rel=1e-9)  # on a sample
    for one, two in ((inside, outside), (outside, inside), (outside, outside)):
        assert errors_against(one, two, 9.9e9, 10.2e9).resonance is None
    rows = [replace(row, errors=replace(row.errors, resonance=None)) for row in _rows()]
    assert record_ratios(rows, "resonance") == {"a": {"4 cells": Ratio(None, "no resonance in the span")}}
    assert record_ratios(rows, "s11")["a"]["4 cells"].how == "not reached"


def _rows(plain_status="finished"):
    from benchmarks.figures import Errors, Row

    return [
        Row("a", "ours", "draft", "finished", 100, 10, 10.0, 0.0, 10.1, 15.0, Errors(1.0, 0.1)),
        Row("a", "ours", "fine", "finished", 900, 90, 90.0, 0.0, 10.0, 15.0, Errors(0.0, 0.0), True),
        Row(
            "a",
            "plain",
            "4 cells",
            plain_status,
            200,
            20,
            500.0,
            0.0,
            10.3,
            15.1,
            Errors(2.0, 0.05) if plain_status == "finished" else None,
        ),
    ]


def test_table_never_counts_the_reference_as_a_run_of_ours():
    from benchmarks.figures import csv_text

    rows = list(csv.DictReader(io.StringIO(csv_text(_rows()))))
    assert rows[2]["time_ratio_resonance"] == "50 (smaller error)"
    assert rows[2]["time_ratio_s11"] == "not reached"
    assert rows[1]["s11_error"] == "reference" and rows[1]["time_ratio_s11"] == ""
    assert rows[0]["resonance_error_percent"] == "1.000"


def test_table_calls_an_unfinished_plain_run_a_bound():
    from benchmarks.figures import csv_text

    rows = list(csv.DictReader(io.StringIO(csv_text(_rows("unfinished")))))
    assert rows[2]["time_ratio_s11"] == "> 50 (plain unfinished)" and rows[2]["s11_error"] == ""


@pytest.mark.parametrize("status", ["failed", "cut short"])
def test_table_claims_nothing_over_a_plain_run_that_failed(status):
    from benchmarks.figures import csv_text

    rows = list(csv.DictReader(io.StringIO(csv_text(_rows(status)))))
    assert rows[2]["time_ratio_s11"] == rows[2]["time_ratio_resonance"] == status


def test_markdown_and_csv_hold_the_same_cells():
    from benchmarks.figures import csv_text, markdown_text

    lines = markdown_text(_rows()).splitlines()
    cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines if "---" not in line]
    assert cells == list(csv.reader(io.StringIO(csv_text(_rows()))))


def test_picture_is_drawn_only_when_there_are_errors(tmp_path):
    from benchmarks.picture import error_against_time

    rows = [*_rows(), *(replace(r, record="b", errors=replace(r.errors, resonance=None)) for r in _rows())]
    path = error_against_time(rows, "a note", tmp_path / "bench.png")
    assert path.read_bytes().startswith(b"\x89PNG")
    assert error_against_time(_rows()[1:2], "", tmp_path / "none.png") is None
    assert not (tmp_path / "none.png").exists()


def test_part_is_reused_only_under_its_own_key(tmp_path):
    from benchmarks.parts import plain_part, stored

    from simharness.solver.machine import Machine

    record = read_record(ROOT / "models" / "eight-slot-5g8.toml")
    part, again = (plain_part(record, 4, Machine("a solver", 2), 1000) for _ in range(2))
    others = [
        plain_part(record, 4, Machine("another", 2), 1000),
        plain_part(record, 4, Machine("a solver", 1), 1000),
        plain_part(record, 4, Machine("a solver", 2), 999),
    ]
    assert part.key == again.key
    assert len({part.key, *(p.key for p in others)}) == 4
    assert stored(part, tmp_path) is None
    (tmp_path / f"{part.name}.json").write_text(f'{{"key": "{part.key}"}}')
    assert stored(again, tmp_path) == {"key": part.key}
    (tmp_path / f"{part.name}.json").write_text(
        f'{{"key": "{part.key}", "status": "unfinished", "seconds": 60}}'
    )
    assert stored(part, tmp_path, 60.0) is not None
    assert stored(part, tmp_path, 61.0) is None  # it may have longer now
    (tmp_path / f"{part.name}.json").write_text('{"key": ')
    assert stored(part, tmp_path) is None


@pytest.mark.parametrize("text", ["", "a", "1", "4,40", "4.5"])
def test_numbers_of_plain_cells_are_checked(text):
    from benchmarks.run import plain_counts

    with pytest.raises(InputError, match="plain-cells"):
        plain_counts(text)


def test_unknown_record_is_named_with_those_there_are():
    from benchmarks.run import chosen_records

    with pytest.raises(InputError, match="nobody.*eight-slot-5g8"):
        chosen_records("nobody")


def test_tuning_is_timed_against_a_scan(monkeypatch):
    """Two runs of 30 s and the model against nine of 40 s; the scan's best is read off its curves. Worked by
    hand.
    """
    from benchmarks import tuning_times

    from simharness.results.outputs import Results

    frequency, asked = np.linspace(10.2e9, 10.5e9, 31), []

    def run(seconds, worst=1.0):
        results = Results(
            {"frequency": frequency, "s11": np.full(31, worst + 0j)}, {"total_seconds": seconds}
        )
        return SimpleNamespace(name="a", results=lambda: results)

    def solve(plan, store, record, progress):
        asked.append(record.feed.height_mm)
        return run(40.0, 0.1 + abs(record.feed.height_mm - 6.0))

    tuned = SimpleNamespace(runs=[run(30.0)] * 2, best=SimpleNamespace(values=(6.0,), worst_db=-19.0))
    monkeypatch.setattr(tuning_times, "tune", lambda *_, **__: tuned)
    monkeypatch.setattr(tuning_times, "solve", solve)
    monkeypatch.setattr(tuning_times, "record_plan", lambda *_: None)
    record = read_record(ROOT / "models" / "eight-slot-wr90-10g37.toml")
    found = tuning_times.tuning_time(record, "draft", SimpleNamespace(open=lambda name: run(30.0)), None)
    assert (asked[0], asked[4], asked[8], len(asked)) == (5.1, 6.0, 6.9, 9)
    assert (
        found.seconds == pytest.approx(60.0, abs=1.0) and found.scan_seconds == 360.0
    )  # the model is a stub: less than 1 s
    assert found.scan_db == pytest.approx(-20.0, abs=1e-9)
    assert "| 2 | 60 | -19.0 dB | 9 | 360 | -20.0 dB | 6.0 times |" in tuning_times.markdown_text([found])
