"""One part of a comparison: a timed run of either model, kept as JSON under the hash of its request."""

from __future__ import annotations

import json
import os
import pickle
import sys
import tempfile
import time
from dataclasses import dataclass
from functools import cache, partial
from pathlib import Path

import numpy as np

import simharness
from benchmarks.plain_grid import PlainMesh, plain_grid
from benchmarks.plain_model import END_CRITERION, PULSE_SHARE, STEP_DEG, PlainRequest
from simharness.errors import CancelledError, MachineError, NotConvergedError, SolverError
from simharness.estimate.antenna import estimate
from simharness.files import atomic_write_text
from simharness.fingerprint import canonical, nanometres, request_key
from simharness.geometry import antenna_scene
from simharness.plot import write_figures
from simharness.progress import Progress
from simharness.records import Record
from simharness.runs.execution import solve
from simharness.runs.planning import Plan, record_plan
from simharness.runs.store import Store
from simharness.solver import log
from simharness.solver.machine import (
    BUILD_SECONDS_PER_CELL,
    BYTES_PER_CELL,
    CELLS_PER_SECOND,
    Machine,
    memory_available,
    processor,
)
from simharness.solver.process import supervise

FORMAT = 1
TYPICAL_PLAIN_STEPS = 30_000
"""For the forecast only; a run ends where its energy says."""


@dataclass(frozen=True)
class Part:
    """What is to be timed: `kind` is 'ours' or 'plain', `quality` its mesh in words, `forecast` in s."""

    record: Record
    kind: str
    quality: str
    key: str
    cells: int
    forecast: float
    plan: Plan | None = None
    request: PlainRequest | None = None

    @property
    def name(self) -> str:
        """File name without ending."""
        return f"{self.record.name}-{self.kind}-{self.quality.replace(' ', '-')}-{self.key}"


def ours_part(record: Record, quality: str, on: Machine) -> Part:
    """Our run of a record at a named quality."""
    plan = record_plan(record, quality, on=on)
    return Part(record, "ours", quality, _key(plan.key, on), plan.cells, plan.typical_seconds, plan=plan)


def plain_part(record: Record, slot_cells: int, on: Machine, most_steps: int) -> Part:
    """The plain model of a record with so many cells across a slot."""
    scene = antenna_scene(record)
    mesh = plain_grid(scene, PlainMesh.refined(slot_cells))
    request = PlainRequest(scene, mesh, most_steps)
    seen = {
        "lines": nanometres(mesh.lines),
        "ports": canonical(scene.ports),
        "spectrum": canonical(scene.spectrum),
        "prisms": [
            [
                p.part,
                canonical(p.material),
                p.axis,
                nanometres([p.low, p.high, p.outline.exterior, p.outline.holes]),
            ]
            for p in scene.prisms
        ],
        "settings": [END_CRITERION, PULSE_SHARE, STEP_DEG, most_steps],
    }
    forecast = (
        mesh.cells * (BUILD_SECONDS_PER_CELL + min(most_steps, TYPICAL_PLAIN_STEPS) / CELLS_PER_SECOND) + 60
    )
    return Part(record, "plain", f"{slot_cells} cells", _key(seen, on), mesh.cells, forecast, request=request)


def _key(seen: object, on: Machine) -> str:
    """Hash of the request and of all that a time depends on."""
    return request_key([FORMAT, simharness.__version__, on.solver, on.threads, processor(), seen])


class Load:
    """Processor time that others use meanwhile, in cores; NaN where the system does not tell."""

    def __init__(self) -> None:
        self._begun = self._now()

    @staticmethod
    def _now() -> tuple[float, float, float]:
        own = sum(os.times()[:4])
        try:
            ticks = [int(t) for t in Path("/proc/stat").read_text().split("\n", 1)[0].split()[1:9]]
        except (OSError, ValueError):
            return time.monotonic(), own, float("nan")
        return time.monotonic(), own, (ticks[0] + ticks[1] + ticks[2]) / os.sysconf("SC_CLK_TCK")

    def others(self) -> float:
        """Mean since the beginning; children count as ours once they have ended."""
        then, now = self._begun, self._now()
        return max(0.0, ((now[2] - then[2]) - (now[1] - then[1])) / max(now[0] - then[0], 1e-9))


def stored(part: Part, folder: Path, limit_s: float = 0.0) -> dict | None:
    """A part that is there, or None; one that did not finish counts only if it had been given at least so
    long.
    """
    try:
        found = json.loads((folder / f"{part.name}.json").read_text())
    except (OSError, ValueError):
        return None
    if found.get("key") != part.key or (
        found.get("status") in ("unfinished", "failed") and found["seconds"] < limit_s
    ):
        return None
    return found


def timed(part: Part, folder: Path, progress: Progress, limit_s: float) -> dict:
    """Run a part and keep what it gave, or that it failed or did not finish within the limit.

    Raises
    ------
    CancelledError, MachineError
        Nothing of this part is kept.
    """
    load, started = Load(), time.perf_counter()
    with tempfile.TemporaryDirectory(prefix=".part-", dir=folder) as scratch:
        try:
            facts = (_ours if part.plan else _plain)(part, Path(scratch).resolve(), progress, limit_s)
            facts["status"], facts["reason"] = "cut short" if "note" in facts else "finished", ""
        except (SolverError, NotConvergedError) as error:
            late = time.perf_counter() - started >= limit_s
            facts = {"status": "unfinished" if late else "failed", "reason": str(error), "steps": 0}
        finally:
            progress.done()
        facts["seconds"] = facts.pop("wall", time.perf_counter() - started)
    facts |= {
        "key": part.key,
        "record": part.record.name,
        "kind": part.kind,
        "quality": part.quality,
        "cells": part.cells,
        "others": round(load.others(), 3),
    }
    atomic_write_text(folder / f"{part.name}.json", json.dumps(facts))
    return facts


def _ours(part: Part, scratch: Path, progress: Progress, limit_s: float) -> dict:
    """Our run into an empty store; planning counts.

    Estimate and pictures are made as `simharness solve` makes them and count as overhead, not as time to the
    result, since the plain model has neither.
    """
    guess = cache(partial(estimate, part.record))

    def meanwhile() -> None:
        guess()
        from simharness.plot.album import warm_up

        warm_up(part.record)

    started = time.perf_counter()
    plan = record_plan(part.record, part.quality, on=Machine(part.plan.solver, part.plan.threads))
    run = solve(
        plan,
        Store(scratch),
        part.record,
        timeout_s=limit_s,
        progress=progress,
        meanwhile=meanwhile,
    )
    results = run.results()
    wall = time.perf_counter() - started
    write_figures(results, part.record, guess(), run.path / "figures")
    engine, child = (float(results.attributes[f"{name}_seconds"]) for name in ("engine", "solver"))
    s11 = results["s11"]
    return {
        "wall": wall,
        "steps": int(results.attributes["steps"]),
        "phases": {
            "solver": engine,
            "its start and end": child - engine,
            "overhead": time.perf_counter() - started - child,
        },
        "frequency": results["frequency"].tolist(),
        "s11_real": s11.real.tolist(),
        "s11_imag": s11.imag.tolist(),
        "far_frequency": results["far_frequency"].tolist(),
        "directivity_db": (10 * np.log10(results["directivity"].max(axis=(1, 2)))).tolist(),
    }


def _plain(part: Part, scratch: Path, progress: Progress, limit_s: float) -> dict:
    """The plain model in a child under the same supervision as ours; making its mesh counts."""
    memory = 150_000_000 + BYTES_PER_CELL * part.cells
    if memory > memory_available():
        raise MachineError(f"the plain model needs about {memory / 1e9:.1f} GB of memory")
    started = time.perf_counter()
    plain_grid(part.request.scene, PlainMesh.refined(int(part.quality.split()[0])))
    (scratch / "request.pickle").write_bytes(pickle.dumps(part.request))
    threads = str(len(os.sched_getaffinity(0)))
    lines: list[str] = []

    def on_line(text: str) -> None:
        if len(lines) < 20_000:
            lines.append(text)
        event = log.event(text)
        if isinstance(event, log.SolverProgress):
            share = min(1.0, event.energy_db / -50) if event.energy_db < 0 else 0.0
            spent = time.perf_counter() - started
            left = spent * (1 / share - 1) if share > 0.02 else part.forecast - spent
            progress.advance(
                share,
                min(max(left, 0.0), limit_s - spent),
                f"{event.energy_db:.0f} dB of -50, {event.speed / 1e6:.0f} million cells a second",
            )

    environment = dict(os.environ, PYTHONPATH=str(Path(__file__).resolve().parents[1]))
    outcome = supervise(
        [sys.executable, "-m", "benchmarks.plain_model", scratch, threads],
        scratch,
        scratch / "transcript.txt",
        on_line=on_line,
        timeout_s=limit_s,
        env=environment,
    )
    wall = time.perf_counter() - started
    if outcome.status == "cancelled":
        raise CancelledError("interrupted: finished parts are kept")
    if outcome.status == "timeout":
        raise SolverError(f"not at -50 dB within {limit_s / 60:g} minutes")
    said = log.digest(lines)
    if not outcome.ok or said.finished is None or said.blown_up or not (scratch / "facts.json").exists():
        raise SolverError(f"the plain model failed: {next(iter(outcome.last_lines[-1:]), 'no output')}")
    facts = json.loads((scratch / "facts.json").read_text())
    if not np.isfinite([*facts["s11_real"], *facts["s11_imag"]]).all():
        raise SolverError("the plain model gave values that are no numbers")
    if said.finished.iterations >= part.request.most_steps:
        facts["note"] = f"stopped after {part.request.most_steps} steps, before -50 dB"
    return facts | {"wall": wall, "steps": said.finished.iterations}
