"""Works in words: their kinds and options, how far they are, and tables of what came out. No browser."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from simharness.errors import StoreError
from simharness.figures import Figure, number
from simharness.jobs.job import CANCELLED, FAILED, FINISHED, LOST, RUNNING, WAITING, Job
from simharness.printable import printable
from simharness.progress import span

KINDS = {
    "solve": "Full-wave run",
    "tune": "Probe length, by a few runs",
    "tolerance": "How exact each dimension must be",
    "converge": "Finer and finer meshes",
    "sweep": "Fields over ranges of values",
}
QUALITIES = {"draft": "draft, a first look", "normal": "normal", "fine": "fine, takes long"}
STATES = {
    WAITING: "Waiting",
    RUNNING: "Under way",
    FINISHED: "Finished",
    FAILED: "Failed",
    CANCELLED: "Cancelled",
    LOST: "Cut short",
}
_UNFIT = "what came out is not of this kind of work"

Table = list[list[str]]
"""Rows of cells, the head first."""


def heading(job: Job) -> str:
    """What a job is, in one line.

    Examples
    --------
    >>> heading(Job(3, "solve", "box", options={"quality": "draft"}))
    '3: Full-wave run of box, draft mesh'
    """
    if not job.kind:
        return f"{job.number}: damaged"
    options = job.options
    mesh = f", {options['quality']} mesh" if job.kind in ("solve", "tune", "sweep") else ""
    fields = f": {', '.join(options['vary'])}" if job.kind == "sweep" else ""
    tools = f", made by {options['tools']}" if job.kind == "tolerance" else ""
    joint = " of " if job.kind == "solve" else ": "
    return f"{job.number}: {KINDS[job.kind]}{joint}{job.record}{mesh}{tools}{fields}"


def state_sentence(job: Job) -> str:
    """How far a job is, or how it ended.

    Examples
    --------
    >>> state_sentence(Job(1, "solve", state="running", share=0.371, seconds_left=12.0, text="28 periods"))
    'Under way: 37 % done, about 12 s left, 28 periods'
    >>> state_sentence(Job(1, "solve", state="failed", text="the solver crashed"))
    'Failed: the solver crashed'
    """
    if job.state == RUNNING:
        left = "" if job.seconds_left is None or not job.share else f", about {span(job.seconds_left)} left"
        stop = "It will stop soon; " if job.cancelling else ""
        return f"{stop}{'under' if stop else 'Under'} way: {100 * job.share:.0f} % done{left}, {job.text}"
    if job.state == WAITING:
        return job.text[:1].upper() + job.text[1:]
    words = STATES.get(job.state, "")
    return f"{words}: {job.text}" if words else job.text[:1].upper() + job.text[1:]


def moving_sentence(moving: float) -> str:
    """How settled an S11 under way is.

    Examples
    --------
    >>> moving_sentence(0.0312), moving_sentence(float("inf"))
    ('S11 still moves by about 0.03', 'the far end of the guide has not answered yet')
    """
    if moving == float("inf"):
        return "the far end of the guide has not answered yet"
    return f"S11 still moves by about {moving:.1g}"


def result_tables(job: Job, data: Mapping[str, Any]) -> list[tuple[str, Table]]:
    """Tables of what came out of a job, with their titles.

    Parameters
    ----------
    job : Job
    data : mapping
        As the library gave it, and a file kept it.

    Raises
    ------
    StoreError
        The file holds something else.
    """
    try:
        return [
            (title, [[printable(str(cell), keep="") for cell in row] for row in table])
            for title, table in _TABLES[job.kind](data)
            if len(table) > 1
        ]
    except (KeyError, TypeError, ValueError, AttributeError, IndexError):
        raise StoreError(f"job {job.number} is damaged: {_UNFIT}") from None


def _figure(value: Any) -> str:
    """A figure with its unit and error bar, from what JSON holds of it."""
    if value is None:
        return "-"
    size = value["value"]
    if isinstance(size, Mapping):
        size = complex(size["re"], size["im"])
    return number(Figure(size, value["unit"], "", value.get("error")))


def _solved(data: Mapping[str, Any]) -> list[tuple[str, Table]]:
    from simharness.verdict.assessment import LABELS

    full, guess = data["figures"], data["estimate"]
    rows = [
        [label, _figure(guess.get(name)), _figure(full.get(name))]
        for name, label in LABELS.items()
        if name in full or name in guess
    ]
    return [("Estimate and full wave", [["figure", "estimate", "full wave"], *rows])]


def _tuned(data: Mapping[str, Any]) -> list[tuple[str, Table]]:
    names = list(data["before_mm"])
    rows = [
        [
            run["name"],
            *(f"{run['values_mm'][name]:.2f}" for name in names),
            f"{run['centre_db']:.1f} dB",
            f"{run['worst_db']:.1f} dB",
        ]
        for run in data["runs"]
    ]
    head = ["run", *(f"{name} mm" for name in names), "S11 at centre", "worst in band"]
    return [("Full-wave runs of this tuning", [head, *rows])]


def _tolerances(data: Mapping[str, Any]) -> list[tuple[str, Table]]:
    rows = []
    for dimension in data["dimensions"]:
        allowed, unit = dimension["allowed"], dimension["unit"]
        ends = ["-", "-"]
        if allowed is not None:
            ends = [
                f"{'beyond ' if allowed['less_open'] else ''}-{allowed['less']:.2f} {unit}",
                f"{'beyond ' if allowed['more_open'] else ''}+{allowed['more']:.2f} {unit}",
            ]
        rows.append([dimension["name"], f"± {dimension['tolerance']:.2f} {unit}", *ends])
    head = ["dimension", "these tools keep", "allowed from", "to"]
    return [("Each dimension alone", [head, *rows])]


def _converged(data: Mapping[str, Any]) -> list[tuple[str, Table]]:
    rows = []
    for row in data["figures"]:
        limit = row["convergence"]
        values = [_figure({"value": value, "unit": row["unit"]}) for value in row["values"]]
        if limit is None:
            told = "- (not on every mesh)"
        elif row["name"] == "s11_distance":
            told = f"within {limit['uncertainty']:.2g}"
        else:
            told = _figure(
                {"value": limit["extrapolated"], "unit": row["unit"], "error": limit["uncertainty"]}
            )
        rows.append([row["label"], *values, told])
    head = ["figure", *(f"1/{n} slot width" for n in data["slot_cells"]), "limit"]
    return [("Figures on each mesh, and what they converge to", [head, *rows])]


_SWEPT = {
    "resonance": "best match at",
    "s11_at_centre": "S11 at centre",
    "realized_gain": "realized gain",
    "beamwidth_along": "beam along",
    "side_lobe_level": "side lobes",
}


def _swept(data: Mapping[str, Any]) -> list[tuple[str, Table]]:
    known = {"status", "reason", "run", "figures"}
    fields = [name for name in data["rows"][0] if name not in known]
    rows = [
        [
            *(str(row[field]) for field in fields),
            *(_figure(row["figures"].get(name)) for name in _SWEPT),
            row["run"] or f"{row['status']}: {row['reason']}",
        ]
        for row in data["rows"]
    ]
    return [("Every point", [[*fields, *_SWEPT.values(), "run"], *rows])]


_TABLES: dict[str, Callable[[Mapping[str, Any]], list[tuple[str, Table]]]] = {
    "solve": _solved,
    "tune": _tuned,
    "tolerance": _tolerances,
    "converge": _converged,
    "sweep": _swept,
}
