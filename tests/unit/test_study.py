"""The study of meshes on stand-in runs whose errors follow a known law; all data is invented."""

from __future__ import annotations

import json
from dataclasses import FrozenInstanceError, replace
from pathlib import Path

import numpy as np
import pytest
from shaped_records import SHIPPED, WR90, two_port

from simharness.cli.commands.converge import _row
from simharness.convergence import steps as steps_module
from simharness.convergence import study as study_module
from simharness.convergence.picture import convergence_figure
from simharness.convergence.steps import (
    CAREFUL_ABSORBER,
    SLOT_CELLS,
    inner_cells,
    mesh_settings,
    remaining_seconds,
    study_steps,
)
from simharness.convergence.study import (
    FIGURES,
    S11_DISTANCE,
    converge,
    s11_distance,
)
from simharness.errors import CancelledError, InputError, MachineError, NotConvergedError
from simharness.files import atomic_write_text
from simharness.mesh.settings import QUALITIES
from simharness.results.outputs import write_results
from simharness.runs import planning
from simharness.runs.store import Store
from simharness.solver.machine import Machine

RECORD = SHIPPED[WR90]  # 10.30 to 10.44 GHz about 10.37
ON = Machine("openEMS 0.0.35", 2)
BEST, WIDTH, POWER = 10.35e9, 400e6, 6.0
SHIFT, EDGE_ORDER = 200e6, 1.5
"""The stand-in solver resonates too high by SHIFT h^EDGE_ORDER, h being the cell size in slot widths."""


def stand_in(h: float, shift: float = 0.0) -> dict[str, np.ndarray]:
    """Results of a mesh: S11 = 0.05 + j (f - best)/width, and a lobe ((1 + y)/2)^(power + h^2) with its true
    directivity.
    """
    f = np.linspace(10.0e9, 10.8e9, 401)
    best = BEST + SHIFT * h**EDGE_ORDER + shift
    theta, phi = np.radians(np.linspace(0, 180, 91)), np.radians(np.linspace(0, 360, 181))
    y = np.sin(theta)[:, None] * np.sin(phi)[None, :]
    power = POWER + h**2
    lobe = ((1 + y) / 2) ** power
    return {
        "frequency": f,
        "s11": 0.05 + 1j * (f - best) / WIDTH,
        "far_frequency": np.array([10.37e9]),
        "theta": theta,
        "phi": phi,
        "e_theta": np.zeros((1, *lobe.shape), complex),
        "e_phi": np.sqrt(lobe)[None] + 0j,
        "directivity": (power + 1) * lobe[None],
        "radiated_power": np.array([0.99]),
        "accepted_power": np.array([0.99]),
        "wall_loss": np.array([0.05]),
    }


@pytest.fixture
def solver(monkeypatch):
    """`run.solve` with a stand-in for the child; the list of what was solved, and a switch to make a label
    fail.
    """
    solved, failing = [], {}

    def solve(what, store, record=None, *, label="", again=False, timeout_s=None, progress=None):
        found = store.find(what.key)
        if found is not None:
            return found
        if what.quality in failing:
            raise failing[what.quality]
        mesh = what.request.settings.mesh
        shift = 3e6 * (mesh.absorber_cells == CAREFUL_ABSORBER)
        with store.writer(what.key, what.request.scene.name) as writer:
            write_results(
                writer.path / "results.h5",
                stand_in(1 / mesh.slot_cells, shift),
                {"note": "invented", "quality": what.quality},
            )
            atomic_write_text(
                writer.path / "record.json", record.model_dump_json(by_alias=True, exclude_none=True)
            )
            solved.append(what.quality)
            return writer.finalize("finished")

    monkeypatch.setattr(study_module, "solve", solve)
    monkeypatch.setattr(steps_module, "machine", lambda: ON)
    monkeypatch.setattr(planning, "machine", lambda: ON)
    return solved, failing


@pytest.mark.parametrize("levels", [3, 4])
def test_figures_follow_their_law(solver, tmp_path, levels):
    found = converge(RECORD, Store(tmp_path), levels)
    rows = {row.name: row for row in found.figures}
    assert found.slot_cells == SLOT_CELLS[:levels] and found.h == tuple(1 / n for n in found.slot_cells)
    resonance = rows["resonance"].convergence
    # The parabola through three samples of a parabola is exact; orders to the precision of the searches.
    assert resonance.order == pytest.approx(EDGE_ORDER, abs=1e-3)
    assert resonance.extrapolated == pytest.approx(BEST, abs=1e-3 * SHIFT)
    assert abs(resonance.value - BEST) <= resonance.uncertainty
    # Moving S11 along by d moves it in the complex plane by d / WIDTH, at all frequencies alike.
    away = SHIFT / WIDTH * np.array(found.h) ** EDGE_ORDER
    distance = rows[S11_DISTANCE]
    assert distance.values == pytest.approx(away - away[-1], abs=1e-6)
    assert distance.convergence.order == pytest.approx(EDGE_ORDER, abs=1e-3)
    assert distance.convergence.extrapolated == pytest.approx(away[-1], rel=1e-3)
    # D = POWER + h^2 + 1, on a grid that has broadside: 10 log10 of it is a square of h but for a fourth
    # power.
    directivity = rows["directivity"].convergence
    assert directivity.extrapolated == pytest.approx(10 * np.log10(POWER + 1), abs=2e-3)
    assert directivity.order == pytest.approx(2.0, abs=0.05)
    for name in ("band_low", "band_high"):
        half = WIDTH * np.sqrt(0.1 - 0.05**2) * (-1 if name == "band_low" else 1)
        # Linear between samples of 2 MHz across a parabola: under 20 kHz, a few per cent of the last step,
        # hence the bar.
        assert abs(rows[name].convergence.extrapolated - BEST - half) <= rows[name].convergence.uncertainty
    # One lobe: no side lobe on any mesh, so no row of it.
    assert "side_lobe_level" not in rows and set(rows) <= {*FIGURES, S11_DISTANCE}


def test_runs_are_kept_and_used_again(solver, tmp_path):
    solved, _ = solver
    store = Store(tmp_path)
    steps = study_steps(RECORD, on=ON)
    assert remaining_seconds(steps, store) == pytest.approx(sum(s.plan.typical_seconds for s in steps))
    first = converge(RECORD, store)
    assert solved == [step.label for step in steps] and set(first.runs) == {run.name for run in store.runs()}
    assert remaining_seconds(steps, store) == 0
    assert converge(RECORD, store) == first and len(solved) == 3
    four = converge(RECORD, store, 4)
    assert len(solved) == 4 and four.runs[:3] == first.runs


def test_an_interrupted_study_goes_on(solver, tmp_path):
    solved, failing = solver
    store = Store(tmp_path)
    failing["3 cells across a slot"] = CancelledError("interrupted")
    with pytest.raises(CancelledError):
        converge(RECORD, store)
    assert solved == ["2 cells across a slot"]
    failing.clear()
    converge(RECORD, store)
    assert solved == ["2 cells across a slot", "3 cells across a slot", "4 cells across a slot"]


def test_spreads(solver, tmp_path):
    _, failing = solver
    failing["record settled to 1e-4 instead of 1e-3"] = NotConvergedError("still moving", 1e-3, 1e-4)
    found = {s.name: s for s in converge(RECORD, Store(tmp_path), spreads=True).spreads}
    assert list(found) == ["margin", "absorber", "length", "feed"]
    # The stand-in shifts by 3 MHz with the matched layer and by nothing else.
    assert found["absorber"].changes["resonance"] == pytest.approx(3e6, rel=1e-6)
    assert found["absorber"].changes[S11_DISTANCE] == pytest.approx(3e6 / WIDTH, rel=1e-6)
    assert found["margin"].changes["resonance"] == 0 and found["feed"].changes[S11_DISTANCE] == 0
    assert found["length"].changes is None and found["length"].reason == "still moving"


def test_a_mesh_that_fails_ends_the_study(solver, tmp_path):
    _, failing = solver
    failing["4 cells across a slot"] = NotConvergedError("still moving", 1e-2, 1e-3)
    with pytest.raises(NotConvergedError):
        converge(RECORD, Store(tmp_path))
    assert len(Store(tmp_path).runs()) == 2


def test_steps_differ_in_what_they_say_and_in_nothing_else():
    steps = study_steps(RECORD, 4, spreads=True, on=ON)
    assert len({step.plan.key for step in steps}) == len(steps) == 8
    base = steps[0].plan.request.settings
    by_name = {step.spread: step.plan.request for step in steps if step.spread}
    assert (base.mesh.margin_wavelengths, base.mesh.absorber_cells, base.settled) == (0.75, 0, 1e-3)
    assert by_name["margin"].settings == replace(base, mesh=replace(base.mesh, margin_wavelengths=1.0))
    assert by_name["absorber"].settings == replace(
        base, mesh=replace(base.mesh, absorber_cells=CAREFUL_ABSORBER)
    )
    assert by_name["length"].settings == replace(base, settled=1e-4)
    assert (
        not any(steps[0].plan.request.grid.absorber)
        and by_name["absorber"].grid.absorber == (CAREFUL_ABSORBER,) * 6
    )
    labels = {step.spread: step.label for step in steps}
    assert labels["margin"] == "air margin 1 instead of 0.75 wavelengths"
    assert labels["absorber"] == "matched layer of 8 cells instead of Mur's condition"
    assert by_name["feed"].settings == base and type(by_name["feed"].scene.ports[0]).__name__ == "GapPort"
    assert len(study_steps(two_port(), spreads=True, on=ON)) == 6  # no probe, so no other feed


def test_meshes_are_refined_alike():
    for n in SLOT_CELLS:
        mesh = mesh_settings(n)
        assert mesh.per_wavelength / n == 7.5 and mesh.growth * n == pytest.approx(
            0.6, rel=1e-12
        )  # one rounding
        assert (mesh.absorber_cells, mesh.margin_wavelengths, mesh.air_per_wavelength) == (0, 0.75, 12)
    # Counts on the probe are those of the qualities with as many cells across a slot.
    for quality in QUALITIES.values():
        mesh = mesh_settings(quality.slot_cells)
        assert (mesh.post_cells, mesh.bore_cells) == (quality.post_cells, quality.bore_cells)
    for record in SHIPPED.values():
        counts = [inner_cells(step.plan.request.grid) for step in study_steps(record, 4, on=ON)]
        steps = [step.plan.request.grid.time_step for step in study_steps(record, 4, on=ON)]
        assert counts == sorted(counts) and steps[-1] < steps[0]


def test_an_uneven_refinement_is_told(solver, tmp_path):
    """The probe has 1, 1, 2 cells across on three meshes; without a probe nothing is said of one."""
    assert any("probe has 1, 1, 2 cells" in said for said in converge(RECORD, Store(tmp_path)).remarks)
    assert not any("probe" in said for said in steps_module.remarks(study_steps(two_port(), on=ON)))


@pytest.mark.parametrize("levels", [0, 2, 5])
def test_levels(levels):
    with pytest.raises(InputError):
        study_steps(RECORD, levels, on=ON)


def test_a_mesh_too_large_is_said_before_anything_starts(monkeypatch):
    monkeypatch.setattr(planning, "memory_available", lambda: 400_000_000)
    with pytest.raises(MachineError):
        study_steps(RECORD, on=ON)


def test_s11_distance_between_different_frequencies():
    """A straight line in the complex plane is interpolated exactly, whatever the samples; outside the band
    nothing counts.
    """
    one, two = (
        {"frequency": f, "s11": (f - 10e9) / 1e9 + 0j}
        for f in (np.linspace(10e9, 10.8e9, 41), np.linspace(10.1e9, 10.7e9, 301))
    )
    assert s11_distance(RECORD, one, two) == pytest.approx(0, abs=1e-12)  # rounding
    two["s11"] = two["s11"] + np.where(two["frequency"] > 10.45e9, 1.0, 0.01)
    assert s11_distance(RECORD, one, two) == pytest.approx(0.01, abs=1e-12)


def test_values_are_frozen(solver, tmp_path):
    found = converge(RECORD, Store(tmp_path))
    for thing in (found, found.figures[0], found.figures[0].convergence, study_steps(RECORD, on=ON)[0]):
        with pytest.raises(FrozenInstanceError):
            thing.record = "x"


def test_a_figure_that_one_mesh_lacks_has_no_limit(solver, tmp_path, monkeypatch):
    """The draft has no -10 dB band: its match is too shallow. Table and picture leave the limit out."""
    shallow = stand_in(1 / 2)
    shallow["s11"] = shallow["s11"] + 0.5
    usual = stand_in
    monkeypatch.setitem(
        globals(), "stand_in", lambda h, shift=0.0: shallow if h == 1 / 2 else usual(h, shift)
    )
    found = converge(RECORD, Store(tmp_path))
    row = next(row for row in found.figures if row.name == "band_low")
    assert row.values[0] is None and None not in row.values[1:] and row.convergence is None
    assert _row(row)[1] == _row(row)[4] == "-" and "not on every mesh" in _row(row)[-1]
    picture = convergence_figure(found, RECORD)
    titles = [axes.get_title(loc="left") for axes in picture.axes]
    assert len(titles) == sum(row.convergence is not None for row in found.figures) and not any(
        "band from" in t for t in titles
    )


def test_a_match_at_the_border_of_the_span_is_no_resonance(solver, tmp_path, monkeypatch):
    """|S11| falls up to the last frequency on every mesh: the place of the least value is that of the border,
    and says nothing.
    """
    usual = stand_in
    monkeypatch.setitem(globals(), "stand_in", lambda h, shift=0.0: usual(h, shift + 600e6))
    found = converge(RECORD, Store(tmp_path))
    assert "resonance" not in {row.name for row in found.figures} and "no resonance" in found.remarks[-1]
    assert found.figures[0].name == S11_DISTANCE and found.figures[0].convergence.order == pytest.approx(
        EDGE_ORDER, abs=1e-3
    )


def test_picture_shows_values_and_limit(solver, tmp_path):
    found = converge(RECORD, Store(tmp_path))
    axes = convergence_figure(found, RECORD).axes
    first = axes[0]
    dots = next(line for line in first.lines if line.get_marker() == "o")
    assert dots.get_xdata() == pytest.approx(found.h) and dots.get_ydata() == pytest.approx(
        [v / 1e9 for v in found.figures[0].values]
    )
    curve = first.lines[0]
    # The law itself: orders to the precision of the searches, 1e-3 of the whole shift in GHz.
    law = (BEST + SHIFT * curve.get_xdata() ** EDGE_ORDER) / 1e9
    assert curve.get_ydata() == pytest.approx(law, abs=2e-4)
    distance = next(line for line in axes[1].lines if line.get_marker() == "o").get_ydata()
    assert distance == pytest.approx(SHIFT / WIDTH * np.array(found.h) ** EDGE_ORDER, rel=1e-3)
    assert axes[1].get_ylim()[0] <= 0


# --- the command ----------------------------------------------------------------------------------


@pytest.fixture
def converged(call, solver):
    """A function that runs `simharness converge` on the record in an empty folder: exit code, output,
    errors.
    """
    path = Path(__file__).parents[2] / "models" / f"{WR90}.toml"
    return lambda *words: call("converge", str(path), *words)


def test_command_prints_and_writes(converged, tmp_path):
    code, out, err = converged("--spreads")
    assert code == 0
    folder = tmp_path / "runs" / f"convergence-{WR90}"
    kept = json.loads((folder / "convergence.json").read_text())
    assert (folder / "convergence.png").read_bytes().startswith(b"\x89PNG")
    assert [row["name"] for row in kept["figures"]][:2] == ["resonance", S11_DISTANCE]
    assert "7 runs, about" in out and "run 7 of 7: lumped gap" in err
    line = next(line for line in out.splitlines() if line.strip().startswith("best match at") and "±" in line)
    # Values of the law: 10.35 GHz + 200 MHz h^1.5, order 1.5, limit 10.35 GHz.
    assert line.split()[-1] == "GHz" and " 1.5 " in line and "10.421" in line and "10.350 ± 0.0" in line
    assert "+3.00 MHz" in out and "matched layer of 8 cells instead of Mur's condition" in out
    # A second call finds all runs, and says the same in JSON. The folder of the study is no run.
    code, out, err = converged("--spreads", "--json")
    again = json.loads(out)
    assert code == 0 and err == "" and {name: again[name] for name in kept} == kept
    assert len(Store(tmp_path / "runs").runs()) == 7


def test_plan_writes_nothing(converged, tmp_path):
    code, out, _ = converged("--plan", "--levels", "4")
    found = json.loads(converged("--plan", "--levels", "4", "--json")[1])
    assert code == 0 and list(tmp_path.iterdir()) == [] and len(found["runs"]) == 4
    assert found["seconds"] == pytest.approx(sum(r["typical_seconds"] for r in found["runs"]))
    assert all(f"{r['cells'] / 1e6:.2f} million" in out and not r["stored"] for r in found["runs"])


def test_interruption_says_what_is_stored(converged, solver):
    solver[1]["3 cells across a slot"] = CancelledError("interrupted")
    code, _, err = converged()
    assert code == 130
    assert err.splitlines()[-1].startswith("simharness: interrupted: 1 of 3 runs")


@pytest.mark.parametrize("words", [("--levels", "2"), ("--levels", "5"), ("--levels", "x")], ids=" ".join)
def test_wrong_levels_are_a_wrong_command_line(converged, words):
    assert converged(*words)[0] == 2
