"""The tool against a plain model of the same antenna, side by side in one run.

The plain model is what a careful user writes by hand with the same solver: the same metal, lines on every
true edge, graded by 1.5, four cells across a slot, twenty in a wavelength, a quarter wave of air, eight
absorbing cells on all faces, ended by the solver at -50 dB, packaged far-field transform at 3 degrees. Both
run in a supervised child with all cores.
"""

from __future__ import annotations

import sys
from pathlib import Path

import click
import numpy as np

from benchmarks.fast_models import markdown_text as fast_text
from benchmarks.fast_models import timings
from benchmarks.figures import Errors, Reflection, Row, csv_text, errors_against, markdown_text, resonance
from benchmarks.long_rows import COUNTS, long_row
from benchmarks.long_rows import markdown_text as rows_text
from benchmarks.parts import Part, ours_part, plain_part, stored, timed
from benchmarks.sweeps import markdown_text as sweep_text
from benchmarks.sweeps import throughput
from benchmarks.tuning_times import SCANNED, tuning_time
from benchmarks.tuning_times import markdown_text as tuning_text
from simharness.cli.bar import Bar
from simharness.errors import CancelledError, HarnessError, InputError, MachineError
from simharness.files import atomic_write_text, machine_errors
from simharness.records import Record, read_record
from simharness.runs.planning import record_plan
from simharness.runs.store import Store
from simharness.solver.machine import Machine, machine, processor
from simharness.tuning.search import MAX_RUNS
from simharness.verdict.error_bars import SOLVER_ERROR

MODELS = Path(__file__).resolve().parents[2] / "models"
REFERENCES = Path(__file__).resolve().parents[2] / "tests" / "references"
QUICK = "eight-slot-wr90-10g37"
TUNED = "draft"
"""Mesh on which tuning and scan are timed."""

QUIET = 0.15
"""Cores that others may use on the average before a time is void."""


COMPARED = ("eight-slot-5g8", "eight-slot-wr90-10g37", "five-slot-2g45")
"""Shipped records the plain model can build: straight slots in a front wall of metal, a straight probe,
shorts.
"""


def chosen_records(names: str) -> list[Record]:
    """Shipped records by name; all that can be compared when none is named.

    Raises
    ------
    InputError
        There is no record of this name that the plain model can build.
    """
    wanted = [name.strip() for name in names.split(",") if name.strip()] or COMPARED
    for name in wanted:
        if name not in COMPARED:
            raise InputError("records", name, f"must be among {', '.join(COMPARED)}")
    return [read_record(MODELS / f"{name}.toml") for name in wanted]


def reference(record: Record, folder: Path, on: Machine, finished: dict[str, dict]) -> Reflection | None:
    """The curve that errors are counted from.

    A file `<record>.s1p` in `folder` (an extrapolated result, say), else the stored fine run, else ours of
    this comparison.
    """
    touchstone = folder / f"{record.name}.s1p"
    if touchstone.exists():
        import skrf

        network = skrf.Network(str(touchstone))
        return Reflection(
            network.f, network.s[:, 0, 0], " ".join(["file", touchstone.name, *network.comments.split()])
        )
    try:
        run = Store(folder).find(record_plan(record, "fine", on=on).key)
    except MachineError:  # too little memory even to plan it: it cannot have been solved here
        run = None
    if run is not None:
        results = run.results()
        return Reflection(results["frequency"], results["s11"], "fine mesh, stored run")
    facts = finished.get("fine")
    return reflection(facts, "fine mesh, this comparison") if facts else None


def reflection(facts: dict, source: str = "") -> Reflection:
    """Curve of a finished part."""
    return Reflection(
        np.array(facts["frequency"]), np.array(facts["s11_real"]) + 1j * np.array(facts["s11_imag"]), source
    )


def row(facts: dict, record: Record, known: Reflection | None) -> Row:
    """A part as a row of the table."""
    found = errors = peak = None
    if facts["status"] in ("finished", "cut short"):
        curve = reflection(facts)
        centre = resonance(curve)
        found = None if centre is None else centre / 1e9
        peak = facts["directivity_db"][len(facts["directivity_db"]) // 2]
        if known is not None:
            errors = errors_against(known, curve, record.band.low_ghz * 1e9, record.band.high_ghz * 1e9)
    same = (
        facts["kind"] == "ours"
        and facts["quality"] == "fine"
        and known is not None
        and known.source.startswith("fine mesh")
    )
    return Row(
        record.name,
        facts["kind"],
        facts["quality"],
        facts["status"],
        facts["cells"],
        facts["steps"],
        facts["seconds"],
        facts["others"],
        found,
        peak,
        Errors(0.0, 0.0) if same else errors,
        same,
    )


def planned(
    records: list[Record], qualities: list[str], cells: list[int], on: Machine, most_steps: int
) -> list[Part]:
    """All parts, record by record, ours first."""
    return [
        part
        for record in records
        for part in (
            *(ours_part(record, quality, on) for quality in qualities),
            *(plain_part(record, count, on, most_steps) for count in cells),
        )
    ]


def report(rows: list[Row], facts: list[dict], sources: dict[str, str], on: Machine) -> str:
    """The page in Markdown."""
    bars = SOLVER_ERROR["fine"]
    lines = [
        "# simharness and a plain model on the same solver",
        "",
        (
            f"{on.solver}, {on.threads} threads on {on.threads}"
            f" cores{', ' + processor() if processor() else ''}. Times are wall seconds from the record to"
            " results. Only ratios within this run are claims."
        ),
        "",
        markdown_text(rows),
        (
            "`time_ratio_...`: time of the plain model over ours at equal or smaller error, by straight lines"
            " in log-log between our meshes; nothing is carried beyond them. An empty resonance: the deepest"
            " match lies at the border of the span."
        ),
        "",
    ]
    lines += [f"- Reference for {name}: {source}." for name, source in sources.items()]
    lines += [
        (
            f"- A reference of our own fine mesh carries {100 * bars['resonance']:g} % in resonance and"
            f" {bars['s11']:g} in S11 itself, and shares its rules with our coarser meshes; smaller"
            " differences say little. Plain meshes of more cells (`--plain-cells 4,6,8`) show whether the"
            " plain model goes to the same place."
        ),
    ]
    for r, f in zip(rows, facts):
        remark = f.get("reason") or f.get("note")
        if remark:
            lines.append(f"- {r.record}, {r.kind}, {r.quality}: {remark}.")
        if "phases" in f:
            lines.append(f"- {r.record}, {r.kind}, {r.quality}, seconds: {phase_words(f['phases'])}.")
    disturbed = [f"{r.record} {r.kind} {r.quality}" for r in rows if not r.others < QUIET]
    if disturbed:
        lines.append(
            f"- **Void times**, others used the processor meanwhile: {'; '.join(disturbed)}. Run again on an"
            " idle machine."
        )
    return "\n".join(lines) + "\n"


def phase_words(phases: dict[str, float]) -> str:
    """Seconds by phase, and the share of what is not the solver.

    Examples
    --------
    >>> phase_words({"solver": 23.5, "its start and end": 0.5, "overhead": 1.0})
    'solver 23.5, its start and end 0.5, overhead 1.0 (geometry, mesh, post-processing and pictures: 4.0 % of
    all)'
    """
    words = ", ".join(f"{name} {seconds:.1f}" for name, seconds in phases.items())
    if "overhead" not in phases:
        return words
    share = phases["overhead"] / sum(phases.values())
    return f"{words} (geometry, mesh, post-processing and pictures: {100 * share:.1f} % of all)"


def write_all(parts: list[Part], done: dict[str, dict], references: Path, folder: Path, on: Machine) -> str:
    """Table, CSV and picture of what is finished; the page is returned."""
    rows, facts, sources = [], [], {}
    for record in {part.record.name: part.record for part in parts}.values():
        mine = [part for part in parts if part.record.name == record.name and part.key in done]
        finished = {
            p.quality: done[p.key] for p in mine if p.kind == "ours" and done[p.key]["status"] == "finished"
        }
        known = reference(record, references, on, finished)
        sources[record.name] = (
            known.source
            if known
            else "none, so no errors: solve it with --quality fine, or use --with-reference"
        )
        rows += [row(done[p.key], record, known) for p in mine]
        facts += [done[p.key] for p in mine]
    page = report(rows, facts, sources, on)
    atomic_write_text(folder / "bench.md", page)
    atomic_write_text(folder / "bench.csv", csv_text(rows))
    from benchmarks.picture import error_against_time

    void = "; times void, the machine was busy" if any(not r.others < QUIET for r in rows) else ""
    note = f"{on.solver}, {on.threads} threads; references in bench.md{void}"
    if error_against_time(rows, note, folder / "bench.png") is None:
        (folder / "bench.png").unlink(missing_ok=True)
    return page


def _time_page(folder: Path) -> None:
    """Time the page in a browser, print the table and keep it."""
    from benchmarks.page_times import all_page_times
    from benchmarks.page_times import markdown_text as page_text

    text = page_text(all_page_times(Bar()))
    click.echo(text)
    with machine_errors(f"write {folder}"):
        folder.mkdir(parents=True, exist_ok=True)
        atomic_write_text(folder / "page.md", f"{text}\n")


@click.command(context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100})
@click.option(
    "--records", default="", help="names of shipped records, separated by commas [default: all three]"
)
@click.option("--qualities", default="draft,normal", show_default=True, help="our meshes to time")
@click.option(
    "--plain-cells",
    default="4",
    show_default=True,
    help="cells across a slot of the plain model; all else follows",
)
@click.option("--quick", is_flag=True, help=f"only {QUICK}, and of ours only the draft mesh")
@click.option(
    "--plain-limit-minutes",
    type=click.FloatRange(0.05),
    default=120.0,
    show_default=True,
    help="give the plain model up after so long",
)
@click.option(
    "--reference-runs",
    type=click.Path(file_okay=False, path_type=Path),
    default=REFERENCES,
    show_default="tests/references",
    help="folder of <record>.s1p, or a store with fine runs of the records",
)
@click.option("--with-reference", is_flag=True, help="solve the fine mesh too, as the reference")
@click.option(
    "--long-rows",
    "rows_too",
    is_flag=True,
    help="time steps of rows of 10, 20 and 40 slots too: some minutes",
)
@click.option(
    "--page", "only_page", is_flag=True, help="time the page in a browser instead: two minutes, no solver"
)
@click.option("--again", is_flag=True, help="time parts anew that are stored")
@click.option(
    "--plan", "only_plan", is_flag=True, help="print the parts and about how long each takes, and stop"
)
@click.option(
    "--folder",
    type=click.Path(file_okay=False, path_type=Path),
    default=Path("runs/bench"),
    show_default=True,
)
@click.option(
    "--tuned",
    default=QUICK,
    show_default=True,
    help=(
        f"records whose probe is tuned and scanned on the {TUNED} mesh, for both times; '' for none, as with"
        " --quick"
    ),
)
@click.option(
    "--most-steps", type=click.IntRange(10), default=1_000_000, hidden=True, help="end the plain model there"
)
def command(
    records: str,
    qualities: str,
    plain_cells: str,
    quick: bool,
    plain_limit_minutes: float,
    reference_runs: Path,
    with_reference: bool,
    rows_too: bool,
    only_page: bool,
    again: bool,
    only_plan: bool,
    folder: Path,
    tuned: str,
    most_steps: int,
) -> None:
    """Time the tool against a plain model of the same antennas on the same solver.

    Interrupt with Ctrl-C at will: finished parts are kept and used the next time. Table, CSV and picture go
    to FOLDER.
    """
    if only_page:
        _time_page(folder)
        return
    wanted = ["draft"] if quick else [q.strip() for q in qualities.split(",") if q.strip()]
    if with_reference and "fine" not in wanted:
        wanted.append("fine")
    counts = plain_counts(plain_cells)
    on = machine()
    parts = planned(
        chosen_records(QUICK if quick and not records else records), wanted, counts, on, most_steps
    )
    limits = {
        part.key: 60 * plain_limit_minutes if part.kind == "plain" else max(600.0, 3 * part.plan.most_seconds)
        for part in parts
    }
    done = (
        {}
        if again
        else {part.key: found for part in parts if (found := stored(part, folder, limits[part.key]))}
    )
    for part in parts:
        state = "stored" if part.key in done else f"about {part.forecast / 60:.0f} min on two idle cores"
        click.echo(
            f"{part.record.name}, {part.kind}, {part.quality}: {part.cells / 1e6:.2f} million cells, {state}"
        )
    tunings = chosen_records(tuned) if tuned and not quick else []
    for record in tunings:
        forecast = (MAX_RUNS + SCANNED.size) * record_plan(record, TUNED, on=on).typical_seconds
        click.echo(
            f"{record.name}, tuning against a scan, {TUNED}: at most {MAX_RUNS} and {SCANNED.size} runs, "
            f"about {forecast / 60:.0f} min unless stored"
        )
    if only_plan:
        return
    with machine_errors(f"make the folder {folder}"):
        folder.mkdir(parents=True, exist_ok=True)
    for number, part in enumerate(parts, start=1):
        if part.key in done:
            continue
        click.echo(f"part {number} of {len(parts)}: {part.record.name}, {part.kind}, {part.quality}")
        done[part.key] = timed(part, folder, Bar(), limits[part.key])
        write_all(parts, done, reference_runs, folder, on)
    page = write_all(parts, done, reference_runs, folder, on)
    if parts:
        page += further(parts, tunings, folder, on)
        atomic_write_text(folder / "bench.md", page)
    if rows_too:
        page += "\n## Longer and longer rows\n\n" + rows_text(
            [long_row(count, on, Bar()) for count in COUNTS]
        )
        atomic_write_text(folder / "bench.md", page)
    click.echo(page)
    click.echo(f"table and picture: {folder}")


def further(parts: list[Part], tunings: list[Record], folder: Path, on: Machine) -> str:
    """Chapters of what is timed besides: tuning against a scan, estimate and design, a sweep."""
    page = ""
    if tunings:
        click.echo("tuning of a probe against a scan over its height")
        store = Store(folder / "tuning")
        page += "\n## Tuning a probe\n\n" + tuning_text(
            [tuning_time(record, TUNED, store, Bar()) for record in tunings]
        )
    click.echo("estimate and design, on one core")
    page += "\n## Estimate and design\n\n" + fast_text(
        timings([p.record for p in parts if p.kind == "plain"])
    )
    click.echo("a sweep of short runs by one worker and by two")
    return page + "\n## Sweep\n\n" + sweep_text(throughput(on, Bar()))


def plain_counts(text: str) -> list[int]:
    """Numbers of cells across a slot.

    Raises
    ------
    InputError
        Not whole numbers from 2 to 16.
    """
    try:
        counts = [int(word) for word in text.split(",") if word.strip()]
    except ValueError:
        counts = []
    if not counts or min(counts) < 2 or max(counts) > 16:
        raise InputError("plain-cells", text, "must be whole numbers from 2 to 16, separated by commas")
    return counts


def main() -> None:
    """Entry point: deliberate errors become one sentence and their exit code."""
    try:
        command(standalone_mode=False)
    except click.ClickException as error:
        error.show()
        sys.exit(error.exit_code)
    except HarnessError as error:
        click.echo(f"bench: {error}", err=True)
        sys.exit(error.exit_code)
    except (click.exceptions.Abort, KeyboardInterrupt):
        click.echo("bench: interrupted: finished parts are kept", err=True)
        sys.exit(CancelledError.exit_code)


if __name__ == "__main__":
    main()
