"""Tuning on stand-in runs: the stand-in of `toy_antenna` as fast model, the same with known errors in place
of the solver.

What is best is known from scanning the stand-in itself, which costs nothing. All data is invented.
"""

from __future__ import annotations

import functools
import json
import tomllib

import numpy as np
import pytest
from each_case import each_case
from matplotlib.image import imread
from shaped_records import MODELS, SHIPPED, STRAIGHT, WR90, two_port, varied, with_slots
from stand_in_runs import ON, solver_replaced, unmeshed_plan
from toy_antenna import Truth, reflection

from simharness.constants import C0
from simharness.errors import CancelledError, InputError, NotConvergedError
from simharness.plot import write_figure
from simharness.records import Record, parse_record, read_record
from simharness.runs.lookup import asked_run
from simharness.runs.manifest import plain_record
from simharness.runs.planning import record_plan
from simharness.runs.store import Store
from simharness.tuning import feeds
from simharness.tuning import search as tuning_module
from simharness.tuning.messages import tuning_sentences
from simharness.tuning.model import TuningModel, tuning_objective
from simharness.tuning.picture import tuning_figure
from simharness.tuning.search import MAX_RUNS, tune
from simharness.tuning.variables import point, tuned_note, tuned_record, tuning_variables

FIVE, EIGHT = "five-slot-2g45", "eight-slot-5g8"
CLOSE_MM = {FIVE: 0.2, EIGHT: 0.1, WR90: 0.06}
"""Distance from the best height that is close enough: what is asked of a tuning on these records."""

CLOSE_DB = 1.0


def wavelength_mm(record: Record) -> float:
    """In free space, at the centre of the band."""
    return 1e3 * C0 / (1e9 * record.band.centre_ghz)


def lower(record: Record, frequency: np.ndarray, waves: float = 0.01) -> np.ndarray:
    """A probe that acts shorter than it is, by a hundredth of a wavelength."""
    height = record.feed.height_mm - waves * wavelength_mm(record)
    return reflection(
        record.model_copy(update={"feed": record.feed.model_copy(update={"height_mm": height})}), frequency
    )


def behind_coil(record: Record, frequency: np.ndarray) -> np.ndarray:
    """12 ohm of inductive reactance at the connector, which is no dimension of the antenna."""
    s11 = reflection(record, frequency)
    impedance = (1 + s11) / (1 - s11) + 0.24j * frequency / (record.band.centre_ghz * 1e9)
    return (impedance - 1) / (impedance + 1)


def off_grid(record: Record, frequency: np.ndarray) -> np.ndarray:
    """An error of 0.05 in the complex plane that turns by half a turn over a tenth of a wavelength of
    height.
    """
    turn = np.pi * record.feed.height_mm / (0.1 * wavelength_mm(record))
    return 0.95 * reflection(record, frequency) + 0.05 * np.exp(1j * turn)


ERRORS = {
    "height": lower,
    "slots": functools.partial(reflection, truth=Truth(stretch=1.01)),
    "reactance": functools.partial(reflection, truth=Truth(reactance=12.0)),
    "everything": functools.partial(
        reflection, truth=Truth(stretch=1.006, quality=6.4, conductance=1.12, probe=0.9, reactance=8.0)
    ),
    "coil": behind_coil,
    "askew": off_grid,
}
"""The solver's part: the fast model with an error that a full-wave run may show against an estimate."""


@pytest.fixture
def solver(monkeypatch):
    """What was solved, the formula that answers, and errors to raise at a number of runs."""
    return solver_replaced(monkeypatch, lower)


def tuned(store: Store, record: Record = SHIPPED[FIVE], **how):
    return tune(record, store, "draft", reflection=reflection, **how)


def scanned(record: Record, truth, objective, heights: np.ndarray) -> np.ndarray:
    """What is minimized, linear, of a stand-in over the height, the other dimensions as in the record."""
    probe = tuning_variables(record)
    return np.array(
        [
            float(objective.size(truth(tuned_record(record, probe, (float(h),)), objective.frequency)))
            for h in heights
        ]
    )


@pytest.mark.parametrize("over", ["band", "centre"])
@pytest.mark.parametrize("error", ERRORS)
@pytest.mark.parametrize("name", CLOSE_MM)
def test_the_best_height_is_found_in_three_runs(solver, tmp_path, name, error, over):
    """Near enough in height, or within 1 dB of the best that a fine scan finds; dimensions on tenths of a
    millimetre.
    """
    solver["truth"] = ERRORS[error]
    record = SHIPPED[name]
    found = tuned(Store(tmp_path), record, over=over)
    assert len(solver["solved"]) == len(found.runs) <= MAX_RUNS
    height = found.record.feed.height_mm
    assert height == pytest.approx(round(height, 1), abs=1e-9)  # rounding
    heights = np.linspace(found.curve.first[0], found.curve.first[-1], 600)
    size = scanned(record, ERRORS[error], found.objective, heights)
    here = scanned(record, ERRORS[error], found.objective, np.array([height]))[0]
    near = abs(height - heights[np.argmin(size)]) <= CLOSE_MM[name]
    assert near or 20 * np.log10(here / size.min()) <= CLOSE_DB
    # Nothing but the height, the name and the note has changed.
    assert (
        varied(found.record, feed={"height_mm": record.feed.height_mm}, name=record.name, note=record.note)
        == record
    )


def test_figures_of_the_best_run_are_those_of_its_antenna(solver, tmp_path):
    """S11 of the run at the centre and at its worst in the band, from the stand-in itself; the run's samples
    of 0.7 MHz are dense.
    """
    found = tuned(Store(tmp_path))
    band = SHIPPED[FIVE].band
    size = 20 * np.log10(np.abs(lower(found.record, np.linspace(band.low_ghz, band.high_ghz, 301) * 1e9)))
    assert found.best.worst_db == pytest.approx(size.max(), abs=0.01)
    assert found.best.centre_db == pytest.approx(
        20 * np.log10(abs(lower(found.record, np.array([2.44e9]))[0])), abs=0.01
    )
    assert found.meets_target == (size.max() <= band.target_s11_db) and found.settled


@pytest.mark.parametrize("error", ERRORS)
def test_the_curve_is_that_of_the_antenna(solver, tmp_path, error):
    """Near the tuned height the corrected curve follows the scan within 0.02 in the complex plane, a half of
    the error before it was corrected, and goes through the runs (within a thousandth: their noise is
    smoothed)."""
    solver["truth"] = ERRORS[error]
    found = tuned(Store(tmp_path))
    curve, height = found.curve, found.record.feed.height_mm
    near = np.abs(curve.first - height) < 3.0
    size = scanned(SHIPPED[FIVE], ERRORS[error], found.objective, curve.first[near])
    assert np.max(np.abs(10 ** (curve.worst_db[near] / 20) - size)) < 0.02
    for run in found.runs:
        there = np.interp(run.values[0], curve.first, 10 ** (curve.worst_db / 20))
        assert there == pytest.approx(10 ** (run.worst_db / 20), abs=3e-3)


def test_flatness_and_the_last_half_millimetre(solver, tmp_path):
    """Limits of the stretches, and costs, from a scan of the stand-in; 0.1 mm and 0.2 dB for what the model
    still lacks.
    """
    found = tuned(Store(tmp_path))
    height, target = found.record.feed.height_mm, SHIPPED[FIVE].band.target_s11_db
    heights = np.linspace(height - 5, height + 5, 2001)
    size = 20 * np.log10(scanned(SHIPPED[FIVE], lower, found.objective, heights))
    here = size[1000]
    for limit, ends in ((here + 1, found.near), (target, found.keeps)):
        inside = heights[size <= limit]
        assert ends == pytest.approx((inside[0], inside[-1]), abs=0.1)
    assert found.shorter_db == pytest.approx(size[900] - here, abs=0.2)
    assert found.longer_db == pytest.approx(size[1100] - here, abs=0.2)


@pytest.mark.parametrize(
    "also", [("position",), ("back-short",), ("slots",), ("back-short", "slots")], ids=" ".join
)
@pytest.mark.parametrize("name", CLOSE_MM)
def test_more_variables_do_better(solver, tmp_path, name, also):
    """Against the best of the height alone, never worse by more than rounding to 0.1 mm costs: 0.5 dB."""
    solver["truth"] = ERRORS["everything"]
    alone = tuned(Store(tmp_path / "alone"), SHIPPED[name], over="centre")
    found = tuned(Store(tmp_path / "more"), SHIPPED[name], over="centre", also=also)
    assert len(found.runs) <= MAX_RUNS
    assert found.best.centre_db <= alone.best.centre_db + 0.5
    # Two unknowns for both parts of the impedance: the centre can be matched, as exactly as tenths of a
    # millimetre allow.
    if "position" in also or "back-short" in also:
        assert found.best.centre_db < -20


def test_a_stored_run_of_the_record_is_used_and_counted(solver, tmp_path):
    store = Store(tmp_path)
    record = SHIPPED[FIVE]
    tuning_module.solve(unmeshed_plan(record, "draft", ON), store, record)
    found = tuned(store)
    assert found.runs[0].values == (record.feed.height_mm,) and len(found.runs) <= MAX_RUNS
    assert len(solver["solved"]) == len(found.runs)
    # Already calibrated, the first proposal is the answer: a shifted height is among what the calibration
    # moves.
    assert len(found.runs) == 2


def test_a_tuned_record_needs_no_run(solver, tmp_path):
    store = Store(tmp_path)
    first = tuned(store)
    made = len(solver["solved"])
    again = tuned(store, first.record)
    assert len(solver["solved"]) == made and again.settled
    assert again.record.feed == first.record.feed


def test_the_same_command_finds_all_runs_again(solver, tmp_path):
    first = tuned(Store(tmp_path))
    made = len(solver["solved"])
    again = tuned(Store(tmp_path))
    assert (
        len(solver["solved"]) == made
        and again.record == first.record
        and [r.name for r in again.runs] == [r.name for r in first.runs]
    )


@pytest.mark.parametrize(
    "interruption", [CancelledError("interrupted"), KeyboardInterrupt()], ids=lambda e: type(e).__name__
)
def test_an_interrupted_tuning_goes_on(solver, tmp_path, interruption):
    whole = tuned(Store(tmp_path / "whole"))
    assert len(whole.runs) >= 2
    solver["solved"].clear()
    solver["failing"] = {1: interruption}
    with pytest.raises(type(interruption)):
        tuned(Store(tmp_path / "broken"))
    assert len(solver["solved"]) == 1
    found = tuned(Store(tmp_path / "broken"))
    assert found.record == whole.record and len(solver["solved"]) == len(whole.runs)


def test_a_run_that_fails_ends_the_tuning(solver, tmp_path):
    solver["failing"] = {1: NotConvergedError("still moving", 1e-2, 1e-3)}
    with pytest.raises(NotConvergedError):
        tuned(Store(tmp_path))
    assert len(Store(tmp_path).runs()) == 1


def test_one_run_is_the_proposal_of_the_fast_model(solver, tmp_path):
    """And not settled: the model that has learned from it sees the probe 1.2 mm too low."""
    found = tuned(Store(tmp_path), most_runs=1)
    heights = np.linspace(20, 35, 3001)
    best = heights[np.argmin(scanned(SHIPPED[FIVE], reflection, found.objective, heights))]
    assert found.record.feed.height_mm == pytest.approx(
        best, abs=0.06
    )  # rounded to 0.1 mm, scanned in steps of 0.005 and 0.03 mm
    assert not found.settled and found.optimum[0] - found.best.values[0] == pytest.approx(
        0.01 * wavelength_mm(SHIPPED[FIVE]), abs=0.15
    )
    assert "tune the tuned record again" in " ".join(tuning_sentences(found))


def test_a_target_out_of_reach_is_said_so(solver, tmp_path):
    record = varied(SHIPPED[FIVE], band={"target_s11_db": -30.0})
    found = tuned(Store(tmp_path), record)
    assert not found.meets_target and found.keeps is None and found.settled
    text = " ".join(tuning_sentences(found))
    assert (
        "is not met, and the height of the probe cannot do it: the best found is"
        f" {found.best.worst_db:.1f} dB" in text
    )


def test_a_target_met_is_said_so(solver, tmp_path):
    found = tuned(Store(tmp_path))
    text = " ".join(tuning_sentences(found))
    assert f"height of the probe {found.best.values[0]:.2f} mm (was 26.00)" in text
    assert "The target of -10 dB from 2.4 to 2.4835 GHz is met." in text
    assert f"from {found.keeps[0]:.1f} to {found.keeps[1]:.1f} mm the target is kept" in text
    assert (
        f"Half a millimetre less {found.shorter_db:+.1f} dB, half a millimetre more {found.longer_db:+.1f} dB"
        in text
    )


def test_a_best_height_at_the_border_is_said_so(solver, tmp_path, monkeypatch):
    """The heights looked at end at the record's own 26 mm; the best of the stand-in is 28 mm."""
    monkeypatch.setattr(feeds, "HEIGHTS", (0.1, 0.2))
    found = tuned(Store(tmp_path))
    assert found.record.feed.height_mm == 26.0 and found.at_border
    assert "end of the range examined (12.3 to 26.0 mm)" in tuning_sentences(found)[-1]


def test_an_estimate_that_is_far_off_is_not_believed(solver, tmp_path):
    """A probe that acts 15 mm shorter than it is: no run is near a match, and nothing is said to be
    impossible.
    """
    solver["truth"] = functools.partial(lower, waves=0.12)
    found = tuned(Store(tmp_path))
    text = " ".join(tuning_sentences(found))
    assert (
        found.surprised
        and "mistake in the record" in text
        and "cannot do it" not in text
        and len(found.runs) > 1
    )


# --- the model ------------------------------------------------------------------------------------


@pytest.fixture
def model():
    """The model of the 2.45 GHz record over height and slot length, and what it is asked about."""
    record = SHIPPED[FIVE]
    probe, objective = tuning_variables(record, ("slots",)), tuning_objective(record, "band", (2.3e9, 2.58e9))
    return record, probe, objective, TuningModel(record, probe, objective, reflection)


def test_before_any_run_the_model_is_the_estimate(model):
    """Exactly at a point; over the height by splines, within 0.002 where the match is (what is stated of the
    estimate).
    """
    record, probe, objective, found = model
    there = (25.1, 59.9)
    assert found.s11(there) == pytest.approx(
        reflection(tuned_record(record, probe, there), objective.frequency), abs=1e-9
    )
    heights = np.linspace(23.0, 31.0, 21)
    curve = found.over_first(there, heights)
    for height, s11 in zip(heights, curve):
        truth = reflection(tuned_record(record, probe, (float(height), there[1])), objective.frequency)
        assert np.max(np.abs(s11 - truth)) < 2e-3


@pytest.mark.parametrize("error", ERRORS)
def test_the_model_goes_through_its_runs(model, error):
    """Within the share of noise that is allowed to runs: 0.002 for errors of about 0.1."""
    record, probe, objective, found = model
    runs = [tuned_record(record, probe, there) for there in ((26.0, 59.3), (27.5, 59.3), (27.1, 60.0))]
    for run in runs:
        found.learn(run, ERRORS[error](run, objective.frequency))
    for run in runs:
        assert np.max(np.abs(found.s11(point(run, probe)) - ERRORS[error](run, objective.frequency))) < 2e-3


def test_aim_counts_the_edges_of_the_band_and_its_centre():
    """|S11| that grows away from the design frequency: 0 there, at its worst at the farther edge."""
    record = SHIPPED[FIVE]
    objective = tuning_objective(record, "band", (2.3e9, 2.58e9))
    s11 = (objective.frequency - 2.44e9) / 1e9 + 0j
    assert objective.at_centre(s11) == 0 and objective.worst(s11) == pytest.approx(
        0.0435, abs=1e-12
    )  # 2.4835 - 2.44
    assert objective.size(s11) == objective.worst(s11)
    assert tuning_objective(record, "centre", (2.3e9, 2.58e9)).size(s11) == 0


# --- variables ----------------------------------------------------------------------------------------


LISTED = with_slots(
    [
        {"position_mm": 30 + 25.0 * i, "offset_mm": 3.0, "length_mm": 14.0 + 0.3 * i, "width_mm": 1.6}
        for i in range(4)
    ]
)


def test_the_note_says_what_was_tuned():
    record = SHIPPED[FIVE].model_copy(update={"note": "A box for the shed."})
    probe = tuning_variables(record, ("position",))
    here = point(record, probe)
    assert tuned_note(record, probe, here, "draft") == record.note
    said = tuned_note(record, probe, (27.0, here[1]), "draft")
    assert said.startswith(
        "A box for the shed. Tuned by full-wave runs (draft mesh): height of the probe 27.00 mm, position of"
        " the probe "
    )
    assert f"; before: height of the probe {here[0]:.2f} mm" in said
    again = tuned_note(varied(record, feed={"height_mm": 27.0}, note=said), probe, (26.5, here[1]), "normal")
    assert again.startswith(f"{said} Tuned by full-wave runs (normal mesh): height of the probe 26.50 mm")
    # a note of 2,000 characters leaves no room
    full = tuned_note(record.model_copy(update={"note": "x" * 2000}), probe, (27.0, here[1]), "draft")
    assert full.startswith("Tuned by full-wave runs (draft mesh): height of the probe 27.00 mm")


@each_case("record", [*STRAIGHT.values(), LISTED], ids=[*STRAIGHT, "listed slots"])
@each_case("also", [("position", "slots"), ("back-short", "slots")], ids=" ".join)
def test_variables_read_what_they_write(record, also):
    probe = tuning_variables(record, also)
    here = point(record, probe)
    assert tuned_record(record, probe, here) == record
    there = (here[0] + 0.31, here[1] + 0.07, 1.01 * here[2])
    moved = tuned_record(record, probe, there)
    assert point(moved, probe) == pytest.approx(there, abs=1e-6)  # lengths are kept to nanometres
    assert (moved.slot_rule is None) == (record.slot_rule is None)
    # The near end wall carries all positions along; the probe moves alone.
    shift = 0.07 if "back-short" in also else 0.0
    assert moved.guide.length_mm == pytest.approx(record.guide.length_mm + shift, abs=1e-6)
    before, after = (np.array([[s.position_mm, s.length_mm] for s in r.slots]) for r in (record, moved))
    assert after[:, 0] == pytest.approx(before[:, 0] + shift, abs=1e-6)
    assert after[:, 1] == pytest.approx(1.01 * before[:, 1], abs=1e-6)


def test_dimensions_are_rounded_to_the_step():
    probe = tuning_variables(LISTED, ("back-short", "slots"))
    found = tuned_record(LISTED, probe, (6.1234, 6.789, 1.013 * point(LISTED, probe)[2]), 0.25)
    assert (found.feed.height_mm, found.feed.position_mm) == (6.0, 6.75)
    assert [s.length_mm for s in found.slots] == [14.25, 14.5, 14.75, 15.0]  # 14.182, 14.486, 14.790, 15.094
    assert found.guide.length_mm == pytest.approx(LISTED.guide.length_mm + 0.05, abs=1e-6)


@pytest.mark.parametrize("record", STRAIGHT.values(), ids=STRAIGHT)
def test_ends_of_every_variable_stand(record):
    for also in ((), ("position",), ("back-short",), ("slots",)):
        probe = tuning_variables(record, also)
        here = point(record, probe)
        for index, variable in enumerate(probe):
            assert variable.least < here[index] < variable.most
            for end in (variable.least, variable.most):
                tuned_record(record, probe, (*here[:index], end, *here[index + 1 :]))


@pytest.mark.parametrize(
    ("record", "how", "message"),
    [
        (two_port(), {}, "only a coax probe can be tuned"),
        (SHIPPED[WR90], {"also": ("length",)}, "must be of position, back-short, slots"),
        (SHIPPED[WR90], {"also": ("position", "back-short")}, "take one of the two"),
        (SHIPPED[WR90], {"over": "edges"}, "must be band or centre"),
        (SHIPPED[WR90], {"most_runs": 0}, "must be at least 1"),
    ],
)
def test_impossible_wishes(solver, tmp_path, record, how, message):
    with pytest.raises(InputError, match=message):
        tuned(Store(tmp_path), record, **how)


# --- picture and command --------------------------------------------------------------------------


def test_picture_shows_curve_and_runs(solver, tmp_path):
    found = tuned(Store(tmp_path))
    axes = tuning_figure(found).axes[0]
    dots = {
        (float(line.get_xdata()[0]), float(line.get_ydata()[0]))
        for line in axes.lines
        if line.get_label() == "_run"
    }
    assert dots == {(run.values[0], db) for run in found.runs for db in (run.centre_db, run.worst_db)}
    curve = next(line for line in axes.lines if line.get_label() == "worst in the band")
    assert curve.get_ydata() == pytest.approx(found.curve.worst_db)
    before = next(line for line in axes.lines if line.get_label() == "estimate before any run")
    size = scanned(SHIPPED[FIVE], reflection, found.objective, before.get_xdata()[300:700:20])
    # Splines between heights: 0.002 in the complex plane, which is 2 % of the least size there.
    assert 10 ** (before.get_ydata()[300:700:20] / 20) == pytest.approx(size, abs=2e-3)
    assert axes.get_ylim()[0] < min(db for _, db in dots)


@pytest.mark.parametrize("also", [(), ("back-short", "slots")], ids=["height", "all"])
def test_nothing_of_the_picture_is_cut_off(solver, tmp_path, also):
    """A margin of 4 dots stays clear on every side, whatever is tuned."""
    image = imread(
        write_figure(tmp_path / "new" / "tuning.png", tuning_figure, tuned(Store(tmp_path), also=also))
    )[..., :3]
    assert (
        min(edge.min() for edge in (image[:4], image[-4:], image[:, :4], image[:, -4:])) == 1.0
        and image.min() < 0.5
    )


@pytest.fixture
def ask(call, solver, monkeypatch, tmp_path):
    """A function that runs `tune` on a copy of the 2.45 GHz record in an empty folder."""
    (tmp_path / "mine.toml").write_text((MODELS / f"{FIVE}.toml").read_text())
    monkeypatch.setattr(tuning_module, "tune", functools.partial(tune, reflection=reflection))
    monkeypatch.setattr(tuning_module, "record_plan", record_plan)
    return lambda *words: call("tune", "mine.toml", *words)


def test_command_prints_and_writes(ask, tmp_path):
    code, out, err = ask("--quality", "draft")
    assert code == 0 and "run 1 of at most 3: height of the probe" in err
    found = read_record(tmp_path / "mine-tuned.toml")
    before = read_record(tmp_path / "mine.toml")
    assert (
        varied(found, feed={"height_mm": 26.0}, name=before.name, note=before.note) == before
        and found.name == "mine-tuned"
    )
    assert found.note.startswith(
        f"{before.note} Tuned by full-wave runs (draft mesh): height of the probe {found.feed.height_mm:.2f}"
        " mm; before: "
    )
    assert f"height of the probe {found.feed.height_mm:.2f} mm (was 26.00)" in " ".join(out.split())
    written, own = ((tmp_path / name).read_text() for name in ("mine-tuned.toml", "mine.toml"))
    assert written.startswith("# Tuned from mine.toml by simharness")
    remarks = [line for line in own.splitlines() if line.startswith("#")]
    assert remarks and set(remarks) <= set(written.splitlines())  # comments of the builder survive
    assert (tmp_path / "runs" / f"tuning-{FIVE}" / "tuning.png").read_bytes().startswith(b"\x89PNG")
    # The tuned record's own run is there already: same mesh, same key; and of all runs of the tuning its
    # exact name means that one.
    assert Store(tmp_path / "runs").find(record_plan(found, "draft", on=ON).key) is not None
    asked = asked_run(Store(tmp_path / "runs"), "mine-tuned")
    assert asked.record == found
    # The run itself was made before anybody could say what came of it.
    assert varied(parse_record(plain_record(asked.run.path)), note=found.note) == found


def test_command_in_json(ask, tmp_path):
    code, out, err = ask(
        "--quality", "draft", "--json", "--no-figures", "--out", "better.toml", "--also", "slots"
    )
    found = json.loads(out)
    assert code == 0 and err == "" and found["file"] == "better.toml" and found["pictures"] == []
    written = tomllib.loads((tmp_path / "better.toml").read_text())
    assert written["name"] == "better" and written["feed"]["height_mm"] == found["tuned_mm"]["height"]
    assert written["slot_rule"]["length_mm"] == found["tuned_mm"]["slots"]
    assert len(found["runs"]) <= MAX_RUNS and len(found["curve"]["height_mm"]) == len(
        found["curve"]["worst_db"]
    )


def test_plan_writes_nothing(ask, tmp_path):
    before = sorted(tmp_path.iterdir())
    code, out, _ = ask("--plan")
    told = json.loads(ask("--plan", "--json")[1])
    assert code == 0 and sorted(tmp_path.iterdir()) == before
    assert "at most 3 runs (normal mesh" in out and told["most_runs"] == 3 and not told["own_run_stored"]


def test_nothing_is_overwritten_unasked(ask, solver, tmp_path):
    (tmp_path / "mine-tuned.toml").write_text("mine")
    code, _, err = ask("--quality", "draft")
    assert code == 3 and "--replace" in err and not solver["solved"]
    assert (tmp_path / "mine-tuned.toml").read_text() == "mine"
    assert ask("--quality", "draft", "--replace")[0] == 0
    assert read_record(tmp_path / "mine-tuned.toml").name == "mine-tuned"


def test_an_interrupted_command_says_how_to_go_on(ask, solver, tmp_path):
    solver["failing"] = {1: CancelledError("interrupted")}
    code, _, err = ask("--quality", "draft")
    assert code == 130 and err.splitlines()[-1].startswith("simharness: interrupted: ")
    assert not (tmp_path / "mine-tuned.toml").exists() and len(solver["solved"]) == 1
