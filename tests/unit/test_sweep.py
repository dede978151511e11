"""Points, table, picture and command of a sweep, on a stand-in for the workers; all data is invented."""

from __future__ import annotations

import csv
import io
import json

import h5py
import numpy as np
import pytest
from each_case import each_case
from shaped_records import MODELS, SHIPPED, WR90, with_slots

from simharness.errors import CancelledError, InputError, MachineError, SolverError
from simharness.plot import style
from simharness.results.outputs import Results, write_results
from simharness.runs import lock as lock_module
from simharness.runs import planning
from simharness.runs.planning import record_plan
from simharness.runs.store import Store
from simharness.solver.machine import Machine
from simharness.sweep import backend as backend_module
from simharness.sweep import execution as sweep_module
from simharness.sweep import task as task_module
from simharness.sweep.backend import worker_threads, workers_in_memory
from simharness.sweep.execution import sweep, sweep_plan, tasks_of
from simharness.sweep.picture import sweep_figure
from simharness.sweep.points import MAX_POINTS, SweepPoint, Variable, sweep_points, variable
from simharness.sweep.table import FIGURES, Sweep, SweepRow, csv_text, hdf5_bytes, stored_row
from simharness.sweep.task import CANCELLED, FAILED, LOST, REFUSED, Note, PointOutcome, Share, solved

RECORD = SHIPPED[WR90]  # eight slots by a rule; 10.30 to 10.44 GHz about 10.37; probe 6.1 mm high
ON = Machine("stand-in 1", 2)
BEST, PER_MM, WIDTH, FLOOR = 10.37e9, 20e6, 1e9, 0.1


def points_of(*texts: str, record=RECORD) -> tuple[SweepPoint, ...]:
    return sweep_points(record, [variable(text) for text in texts])


# --- points -----------------------------------------------------------------------------------------


def test_a_range_holds_both_ends_in_even_steps():
    assert variable("feed.height_mm=18:24:7").values == (18, 19, 20, 21, 22, 23, 24)
    assert variable("feed.height_mm=6.2:5.9:4").values == (6.2, 6.1, 6.0, 5.9)  # no dust of binary fractions


def test_lists_hold_numbers_words_and_truth_values():
    assert variable(" slot_rule.count = 6, 8 ").values == (6, 8)
    assert variable("slot_rule.alternate=true,false").values == (True, False)
    assert variable("slot_rule.ends='round',square").values == ("round", "square")
    assert not variable("slot_rule.alternate=true,false").numeric and variable("feed.height_mm=5,6").numeric


@each_case(
    "text",
    [
        "feed.height_mm",
        "=5",
        "feed.height_mm=",
        "a=1,,2",
        "a=1:2",
        "a=1:2:x",
        "a=1:2:1",
        "a=2:2:3",
        "a=1:inf:3",
        f"a=1:2:{MAX_POINTS + 1}",
    ],
)
def test_words_of_no_known_form_are_refused(text):
    with pytest.raises(InputError, match="vary = "):
        variable(text)


def test_several_fields_give_all_combinations_the_last_fastest():
    found = points_of("feed.height_mm=5,6", "guide.a_mm=22.8,22.9")
    assert [point.values for point in found] == [(5, 22.8), (5, 22.9), (6, 22.8), (6, 22.9)]
    assert [(p.record.feed.height_mm, p.record.guide.a_mm) for p in found] == [
        point.values for point in found
    ]
    assert {p.record.model_copy(update={"feed": RECORD.feed, "guide": RECORD.guide}) for p in found} == {
        RECORD
    }  # nothing else changes


def test_a_whole_number_stays_one():
    assert [p.record.slot_rule.count for p in points_of("slot_rule.count=6:8:3")] == [6, 7, 8]


def test_one_slot_of_a_rule_is_varied_by_itself_after_the_rule():
    one = points_of("slot.3.length_mm=14.5")[0].record
    assert [s.length_mm for s in one.slots] == [14.5 if i == 2 else 14.2 for i in range(8)]
    assert [s.position_mm for s in one.slots] == pytest.approx([s.position_mm for s in RECORD.slots], abs=0)
    both = points_of("slot.3.length_mm=14.5", "slot_rule.offset_mm=2.0")[0].record
    assert both.slots[2].length_mm == 14.5 and [abs(s.offset_mm) for s in both.slots] == [2.0] * 8


def test_a_listed_slot_has_the_number_of_the_file():
    slots = [
        {"position_mm": place, "offset_mm": 3.0, "length_mm": 14.0, "width_mm": 1.6} for place in (60.0, 30.0)
    ]
    found = points_of("slot.1.length_mm=14.4", record=with_slots(slots))[0].record
    assert [(s.position_mm, s.length_mm) for s in found.slot] == [(60.0, 14.4), (30.0, 14.0)]


@each_case(
    ("texts", "sentence"),
    [
        (
            ["feed.height_mm=6,11,14"],
            r"^2 of 3 points are not allowed, so nothing was run\n"
            r"at feed\.height_mm = 11: feed\.height_mm = 11\.0: the probe would touch the far wall; must be"
            r" less than b_mm 10\.16\nat feed\.height_mm = 14: ",
        ),
        (
            ["feed.hight_mm=6"],
            r"unknown key \(do you mean height_mm\?\); allowed here: kind, wire_diameter_mm",
        ),
        (["feeder.height_mm=6"], r"the record has no table \[feeder\] \(do you mean feed\?\)"),
        (["guide=6"], "is a table: name one of its fields, as in guide.shape"),
        (
            ["guide.material=brass,gold"],
            r"^1 of 2 points .*\nat guide.material = gold: .* must be 'perfect', 'silver'",
        ),
        (["slot.9.length_mm=14"], "slot.9.length_mm = 14: there are 8 slots"),
        (["slot.length_mm=14"], "must name one of the slots"),
        (["feed.height_mm=5", "feed.height_mm=6"], "is given twice"),
        (["name=other"], "does not change the antenna"),
        (
            [f"feed.height_mm=5:6:{MAX_POINTS}", "guide.a_mm=22.8,22.9"],
            f"at most {MAX_POINTS} are solved in one sweep",
        ),
        (["feed.height_mm=11:12:9"], "and 4 points more"),
        ([], r"vary = \(missing\)"),
    ],
)
def test_points_that_are_not_allowed_are_named_before_anything_runs(texts, sentence):
    with pytest.raises(InputError, match=sentence):
        points_of(*texts)


# --- plan and workers -------------------------------------------------------------------------------


def test_points_that_the_solver_cannot_tell_apart_share_a_run(tmp_path):
    """The wanted match is no part of what the solver sees."""
    plan = plan_of("band.target_s11_db=-10,-12", "feed.height_mm=6,6.1")
    assert len(plan.points) == 4 and list(plan.runs.values()) == [0, 1]
    assert plan.missing(Store(tmp_path)) == plan.runs and len(tasks_of(plan, plan.runs, tmp_path, 1)) == 2


def test_the_folder_is_named_by_what_was_asked():
    one, same, other = (
        plan_of("feed.height_mm=6,6.1", quality=quality).name for quality in ("draft", "draft", "normal")
    )
    assert one == same != other and one.startswith(f"sweep-{WR90}-feed.height_mm-")


def test_a_run_has_the_key_of_the_command_solve_whatever_the_threads():
    plan = plan_of("feed.height_mm=6.1,6.2")
    task = tasks_of(plan, plan.runs, Store("runs").root, 7)[0]
    assert (
        task.key == record_plan(RECORD, "draft", on=ON).key
        and task.plan.threads == 7
        and task.root.is_absolute()
    )


def test_a_point_that_does_not_fit_into_memory_is_named(monkeypatch):
    monkeypatch.setattr(planning, "memory_available", lambda: 100_000_000)
    with pytest.raises(MachineError, match=r"^at feed\.height_mm = 6: the mesh of"):
        plan_of("feed.height_mm=6,6.1")


@each_case(
    ("workers", "threads", "runs", "cores"),
    [(w, t, r, c) for c in (1, 2, 3, 8) for r in (1, 2, 9) for w in (None, 1, 2) for t in (None, 1, 2)],
)
def test_workers_and_threads_never_exceed_the_cores(workers, threads, runs, cores):
    if (workers or 1) * (threads or 1) > cores:
        with pytest.raises(InputError):
            worker_threads(workers, threads, runs, cores)
        return
    count, each = worker_threads(workers, threads, runs, cores)
    assert (
        count * each <= cores
        and workers in (None, count)
        and threads in (None, each)
        and count >= 1
        and each >= 1
    )


def test_workers_share_the_memory(monkeypatch):
    monkeypatch.setattr(backend_module, "memory_available", lambda: 100)
    assert [workers_in_memory(needs, 4) for needs in ([10] * 8, [30] * 8, [90, 20, 5], [90], [])] == [
        4,
        3,
        1,
        4,
        4,
    ]


# --- a sweep ----------------------------------------------------------------------------------------


def plan_of(*texts: str, quality: str = "draft"):
    return sweep_plan(RECORD, [variable(text) for text in texts], quality, on=ON)


def stand_in(height_mm: float) -> dict[str, np.ndarray]:
    """S11 = 0.1 + j (f - best)/width: least by PER_MM higher for each millimetre above 6 mm."""
    frequency = np.linspace(10.0e9, 10.8e9, 401)
    return {"frequency": frequency, "s11": FLOOR + 1j * (frequency - BEST - PER_MM * (height_mm - 6)) / WIDTH}


def finish(store: Store, what, record) -> None:
    with store.writer(what.key, what.request.scene.name) as writer:
        write_results(writer.path / "results.h5", stand_in(record.feed.height_mm), {"note": "invented"})
        writer.finalize("finished")


class Crew:
    """Workers that make runs at once; heights in `ends` come to another end."""

    def __init__(self, **ends: PointOutcome):
        self.ends, self.made, self.closed = ends, [], False

    def __call__(self, tasks):
        try:
            for task in tasks:
                words = f"{task.record.feed.height_mm:g}"
                yield Note(f"begins {words}")
                yield Share(task.key, 0.5)
                end = self.ends.get(words)
                if end is KeyboardInterrupt:
                    raise end
                if end is None:
                    finish(Store(task.root), task.plan, task.record)
                    self.made.append(words)
                yield PointOutcome(task.key, *(end or ("stored",)))
        finally:
            self.closed = True


def test_what_is_stored_is_not_made_again(tmp_path):
    crew, store = Crew(), Store(tmp_path)
    first = sweep(plan_of("feed.height_mm=5,6"), store, crew, 1)
    more = sweep(plan_of("feed.height_mm=5:7:3"), store, crew, 1)
    assert crew.made == ["5", "6", "7"] and [row.run for row in more.rows[:2]] == [
        row.run for row in first.rows
    ]
    # A parabola through three samples of a parabola is exact but for rounding.
    assert [row.figures["resonance"].value for row in more.rows] == pytest.approx(
        [BEST - PER_MM, BEST, BEST + PER_MM], rel=1e-9
    )


def test_progress_tells_the_share_of_the_whole_and_each_end(tmp_path):
    said, shares = [], []

    class Keeps:
        def note(self, text):
            said.append(text)

        def advance(self, share, seconds_left, text):
            shares.append((round(share, 6), text, seconds_left >= 0))

        def done(self):
            said.append("done")

    sweep(plan_of("feed.height_mm=5,6"), Store(tmp_path), Crew(**{"6": (FAILED, "no luck")}), 1, Keeps())
    assert said == [
        "begins 5",
        "1 of 2: feed.height_mm = 5: stored",
        "begins 6",
        "2 of 2: feed.height_mm = 6: failed (no luck)",
        "done",
    ]
    # Meshes of the two points differ by a little, and so do their weights: half of each, in order.
    assert [share for share, _, _ in shares] == pytest.approx([0.25, 0.5, 0.75, 1.0], abs=0.02) and all(
        fine for *_, fine in shares
    )


def test_a_run_that_comes_to_nothing_leaves_a_row_with_its_reason(tmp_path):
    found = sweep(plan_of("feed.height_mm=5,6"), Store(tmp_path), Crew(**{"5": (LOST, "killed")}), 1)
    assert [(row.status, row.reason, bool(row.run)) for row in found.rows] == [
        (LOST, "killed", False),
        ("stored", "", True),
    ]


def test_a_machine_that_must_be_mended_ends_the_sweep_and_the_workers(tmp_path):
    crew = Crew(**{"5": (REFUSED, "the disk is full")})
    with pytest.raises(MachineError, match="the disk is full"):
        sweep(plan_of("feed.height_mm=5,6"), Store(tmp_path), crew, 1)
    assert crew.closed and crew.made == []


def test_an_interruption_ends_the_workers(tmp_path):
    crew = Crew(**{"6": KeyboardInterrupt})
    with pytest.raises(CancelledError):
        sweep(plan_of("feed.height_mm=5,6,7"), Store(tmp_path), crew, 1)
    assert crew.closed and crew.made == ["5"]


def test_a_task_waits_for_the_process_that_works_on_it(tmp_path, monkeypatch):
    plan = plan_of("feed.height_mm=6")
    task, store, looks = tasks_of(plan, plan.runs, tmp_path, 1)[0], Store(tmp_path), []
    with store.writer(task.key, task.plan.request.scene.name) as writer:

        def pause(seconds):
            looks.append(seconds)
            write_results(writer.path / "results.h5", stand_in(6.0))
            writer.finalize("finished")

        monkeypatch.setattr(lock_module, "PATIENCE_S", 0.0)
        monkeypatch.setattr(task_module.time, "sleep", pause)
        with monkeypatch.context() as patched:
            patched.setattr(task_module, "_AGAIN_S", 0.5)
            # Finished while it waits: the lock is still held, the run is found all the same.
            assert solved(task, None) == PointOutcome(task.key, "stored")
    assert looks == [0.5]


@pytest.mark.parametrize(
    ("error", "status"),
    [
        (SolverError("blew up"), FAILED),
        (MachineError("full"), REFUSED),
        (CancelledError("x"), CANCELLED),
        (KeyboardInterrupt(), CANCELLED),
    ],
)
def test_each_end_of_a_run_has_its_word(tmp_path, monkeypatch, error, status):
    def fail(*_, **__):
        raise error

    monkeypatch.setattr(task_module, "solve", fail)
    plan = plan_of("feed.height_mm=6")
    assert solved(tasks_of(plan, plan.runs, tmp_path, 1)[0], None).status == status


# --- table and picture ------------------------------------------------------------------------------


def swept(*variables: Variable, missing: tuple[int, ...] = ()) -> Sweep:
    """A sweep of invented rows: each has the stand-in's S11 for a height of 6 mm and a tenth more for each
    row.
    """
    rows = []
    for i, point in enumerate(sweep_points(RECORD, variables)):
        results = Results(stand_in(6 + 0.1 * i), {})
        rows.append(
            SweepRow(point.values, FAILED, "no luck")
            if i in missing
            else stored_row(point, f"run-{i}", results, "draft")
        )
    return Sweep(RECORD, "draft", variables, tuple(rows))


HEIGHTS = Variable("feed.height_mm", (5.0, 5.5, 6.0))
ENDS = Variable("slot_rule.ends", ("round", "square"))


def test_csv_has_a_line_for_each_point_and_a_bar_for_each_figure():
    found = swept(HEIGHTS, ENDS, missing=(1,))
    table = list(csv.DictReader(io.StringIO(csv_text(found))))
    assert [(row["feed.height_mm"], row["slot_rule.ends"]) for row in table[:3]] == [
        ("5", "round"),
        ("5", "square"),
        ("5.5", "round"),
    ]
    assert table[0]["status"] == "stored" and table[0]["run"] == "run-0"
    assert (table[1]["status"], table[1]["reason"], table[1]["resonance_ghz"]) == ("failed", "no luck", "")
    for row, line in zip(found.rows, table):
        if row.run:
            # Seven digits are written.
            assert float(line["resonance_ghz"]) == pytest.approx(
                row.figures["resonance"].value / 1e9, rel=1e-6
            )
            assert float(line["s11_at_centre_db_error"]) == pytest.approx(
                row.figures["s11_at_centre"].error, rel=1e-6
            )


def test_hdf5_holds_values_figures_bars_and_curves():
    found = swept(HEIGHTS, ENDS, missing=(1,))
    with h5py.File(io.BytesIO(hdf5_bytes(found)), "r") as file:
        assert (
            file["variables/feed.height_mm"][()].tolist() == [5, 5, 5.5, 5.5, 6, 6]
            and file["variables/feed.height_mm"].attrs["unit"] == "mm"
        )
        assert (
            file["variables/slot_rule.ends"].asstr()[1] == "square" and file["status"].asstr()[1] == "failed"
        )
        assert file["figures/resonance"].attrs["unit"] == "Hz" and np.isnan(file["figures/resonance"][1])
        assert file["figures/resonance"][2] == found.rows[2].figures["resonance"].value
        assert file["errors/resonance"][2] == found.rows[2].figures["resonance"].error
        assert file["s11"].shape == file["frequency"].shape == (6, 401) and np.isnan(file["s11"][1]).all()
        np.testing.assert_array_equal(file["s11"][5], found.rows[5].s11)
        assert json.loads(file.attrs["record"])["name"] == WR90


def test_a_best_match_at_the_border_of_the_span_is_no_resonance():
    row = stored_row(SweepPoint((6.0,), RECORD), "run", Results(stand_in(60.0), {}), "draft")
    assert row.figures["resonance"].value is None
    assert csv_text(Sweep(RECORD, "draft", (HEIGHTS,), (row,))).splitlines()[1].startswith("6,stored,run,,")


def test_figures_are_those_of_the_verdict():
    assert {
        "resonance",
        "s11_at_centre",
        "band_low",
        "band_high",
        "realized_gain",
        "directivity",
        "beamwidth_along",
        "side_lobe_level",
    } <= set(FIGURES) and "input_impedance" not in FIGURES


def test_picture_of_one_field_shows_curves_and_figures():
    found = swept(HEIGHTS, missing=(1,))
    with style.own_look():
        figure = sweep_figure(found)
    curves, _, centre, resonance = figure.axes  # the stand-in has no pattern, hence no gain
    assert sum(len(line.get_xdata()) == 401 for line in curves.lines) == 2
    assert centre.lines[0].get_xdata().tolist() == [5.0, 6.0]
    assert resonance.lines[0].get_ydata() == pytest.approx(
        [10.37, 10.374], abs=1e-6
    )  # GHz; a tenth of 20 MHz for each row
    assert resonance.get_xlabel() == "feed.height, mm" and any(
        "points missing: 1 of 3" in text.get_text() for text in figure.texts
    )


def test_picture_of_two_fields_is_a_map_with_the_first_upwards():
    with style.own_look():
        figure = sweep_figure(swept(HEIGHTS, Variable("guide.a_mm", (22.8, 22.9)), missing=(3,)))
    grid = figure.axes[1].images[0].get_array()
    assert grid.shape == (3, 2) and bool(np.ma.getmaskarray(grid)[1, 1])
    assert grid[2, 1] == pytest.approx(10.38, abs=1e-6)
    assert (figure.axes[1].get_ylabel(), figure.axes[1].get_xlabel()) == ("feed.height, mm", "guide.a, mm")


def test_picture_of_words_names_them():
    with style.own_look():
        figure = sweep_figure(swept(ENDS))
    assert [label.get_text() for label in figure.axes[-1].get_xticklabels()] == ["round", "square"]


# --- the command ------------------------------------------------------------------------------------


@pytest.fixture
def command(call, monkeypatch):
    """A function that runs `simharness sweep` on the record with a crew; the crew."""
    crew = Crew()
    monkeypatch.setattr(sweep_module, "machine", lambda: ON)
    monkeypatch.setattr(backend_module, "local_events", lambda tasks, workers: crew(tasks))
    return lambda *words: call("sweep", str(MODELS / f"{WR90}.toml"), "--quality", "draft", *words), crew


def test_command_prints_and_writes(command, tmp_path):
    run, crew = command
    code, out, err = run("--vary", "feed.height_mm=5,6", "--workers", "1")
    folder = next((tmp_path / "runs").glob("sweep-*"))
    assert code == 0 and "2 points, 2 runs (draft mesh), 0 of them stored; 1 worker with " in out
    assert sorted(path.name for path in folder.iterdir()) == ["sweep.csv", "sweep.h5", "sweep.png"]
    assert (folder / "sweep.png").read_bytes().startswith(b"\x89PNG") and "begins 6" in err
    line = next(line for line in out.splitlines() if line.strip().startswith("5 "))
    assert "10.350 ± " in line and WR90 in line
    code, out, err = run("--vary", "feed.height_mm=5,6", "--json", "--no-figures")
    said = json.loads(out)
    assert (
        code == 0
        and err == ""
        and crew.made == ["5", "6"]
        and [row["feed.height_mm"] for row in said["rows"]] == [5, 6]
    )
    assert said["rows"][1]["figures"]["resonance"]["value"] == pytest.approx(BEST, rel=1e-9)


def test_plan_runs_and_writes_nothing(command, tmp_path):
    run, crew = command
    code, out, _ = run("--vary", "feed.height_mm=5:6:3", "--plan")
    said = json.loads(run("--vary", "feed.height_mm=5:6:3", "--plan", "--json")[1])
    assert code == 0 and out.count("to be run") == 3 and list(tmp_path.iterdir()) == [] and crew.made == []
    assert (said["points"], said["runs"], said["stored"]) == (3, 3, 0) and said["seconds"] > 0


def test_interruption_says_what_is_stored(command):
    run, crew = command
    crew.ends["6"] = KeyboardInterrupt
    code, _, err = run("--vary", "feed.height_mm=5,6,7")
    assert code == 130
    assert err.splitlines()[-1].startswith("simharness: interrupted: 1 of 3 runs")


def test_points_that_came_to_nothing_end_with_the_code_of_the_solver(command, tmp_path):
    run, crew = command
    crew.ends["6"] = (FAILED, "no luck")
    code, out, err = run("--vary", "feed.height_mm=5,6", "--no-figures")
    assert (
        code == 5
        and "failed: no luck" in out
        and (next((tmp_path / "runs").glob("sweep-*")) / "sweep.csv").exists()
    )
    assert err.splitlines()[-1].startswith("simharness: 1 of 2 points failed (first reason: no luck)")


def test_workers_and_cluster_exclude_each_other(command):
    assert (
        command[0]("--vary", "feed.height_mm=5,6", "--workers", "2", "--cluster", "tcp://127.0.0.1:1")[0] == 2
    )


def test_a_cluster_without_dask_is_one_sentence(command, monkeypatch):
    monkeypatch.setitem(__import__("sys").modules, "distributed", None)
    code, _, err = command[0]("--vary", "feed.height_mm=5,6", "--cluster", "tcp://127.0.0.1:1")
    assert code == 4 and "pip install 'simharness[cluster]'" in err
