"""`simharness tune RECORD`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from simharness.cli.options import FilePath, Number, json_option, record_argument, runs_option

if TYPE_CHECKING:
    from simharness.library import TuneResult
    from simharness.library.tuning import TunePlan
    from simharness.records import Record


_ALSO = [
    *("position", "back-short", "run", "hole-height", "slots", "near-plate", "far-plate"),
    *(f"screw-{number}" for number in range(1, 9)),
]


@click.command("tune")
@record_argument
@click.option(
    "--over",
    type=click.Choice(["band", "centre"]),
    default="band",
    show_default=True,
    help="what is minimized: the worst S11 in the band, or S11 at its centre",
)
@click.option(
    "--also",
    type=click.Choice(_ALSO),
    multiple=True,
    help="also tune, beside the height: where the probe stands, or where the near end wall does; of a bent "
    "probe its run, or the height of its hole; a common factor on all slot lengths; "
    "where a plate inside an end stands; the depth of a screw, by its number; may be given more than once",
)
@click.option(
    "--quality",
    type=click.Choice(["draft", "normal", "fine"]),
    default="normal",
    show_default=True,
    help="how fine the mesh of the runs is",
)
@click.option(
    "--step",
    type=Number(0.01, 5, "mm"),
    metavar="MM",
    default=0.1,
    show_default=True,
    help="what you can mark: tuned dimensions are rounded to it",
)
@click.option(
    "--most-runs", type=click.IntRange(1, 9), default=3, show_default=True, help="full-wave runs at most"
)
@click.option(
    "--out",
    type=FilePath(),
    metavar="FILE",
    help="tuned record to write  [default: RECORD-tuned.toml beside RECORD]",
)
@click.option("--replace", is_flag=True, help="replace the file if it is there")
@click.option("--plan", "only_plan", is_flag=True, help="print how many runs and how long, and stop")
@click.option("--no-figures", is_flag=True, help="leave the picture out")
@json_option
@runs_option
def command(
    record: Path,
    over: str,
    also: tuple[str, ...],
    quality: str,
    step: float,
    most_runs: int,
    out: Path | None,
    replace: bool,
    only_plan: bool,
    no_figures: bool,
    as_json: bool,
    runs_folder: Path,
) -> None:
    """How long the probe of RECORD must be for the best match, by at most a few full-wave runs.

    Of a bent probe rise and run are tuned, or run and height of the hole where its tip is soldered, and a map
    of both is drawn.

    A model that each run corrects says which to make next. Every run is stored, and a stored one is not
    made again: after Ctrl-C the same command goes on where it stopped. The tuned record is written beside the
    old one.
    """
    from simharness import read_record, tune
    from simharness.cli.bar import Bar
    from simharness.cli.text import print_json
    from simharness.errors import CancelledError
    from simharness.library.tuning import tune_plan
    from simharness.library.values import require_free
    from simharness.runs.store import Store

    design = read_record(record)
    job = tune_plan(design, quality, also, most_runs, Store(runs_folder))
    path = out or record.with_name(f"{record.stem}-tuned.toml")
    if not as_json:
        _print_plan(design, job, quality)
    if only_plan:
        if as_json:
            print_json(job.as_dict())
        return
    require_free(path, replace)
    try:
        found = tune(
            design,
            quality,
            over=over,
            also=also,
            step_mm=step,
            max_runs=most_runs,
            name=_name(path.stem),
            runs=runs_folder,
            progress=None if as_json else Bar(),
        )
    except (CancelledError, KeyboardInterrupt):
        raise CancelledError(
            "interrupted: the runs made so far are stored, the same command goes on from there"
        ) from None
    found.save(path, record, replace=True)
    pictures = () if no_figures else found.write_pictures(runs_folder / f"tuning-{design.name}")
    if as_json:
        print_json(found.as_dict() | {"file": str(path), "pictures": [str(picture) for picture in pictures]})
        return
    _show(found, path, pictures)


def _name(stem: str) -> str:
    """The name of a file as that of a record, where it can be one."""
    import re

    return stem if re.fullmatch(r"[a-z0-9][a-z0-9-]{0,47}", stem) else ""


def _print_plan(design: Record, job: TunePlan, quality: str) -> None:
    from simharness.cli.text import threads_in_words
    from simharness.progress import span

    run = job.run
    own = "; that of the unchanged record is stored already, and counts as one" if job.stored else ""
    click.echo(
        f"{design.name}: at most {job.max_runs} runs ({quality} mesh, {run.cells / 1e6:.2f} million cells), "
        "about "
        f"{span(run.typical_seconds)} each ({run.solver}, {threads_in_words(run.threads)}){own}"
    )


def _show(found: TuneResult, path: Path, pictures: tuple[Path, ...]) -> None:
    from simharness.cli.text import print_columns, print_wrapped

    tuning = found.model
    click.echo(f"\n{found.before.name}: full-wave runs of this tuning\n")
    print_columns(
        [
            (
                run.name,
                *(f"{value:.2f}" for value in run.values),
                f"{run.centre_db:.1f} dB",
                f"{run.worst_db:.1f} dB",
                "tuned" if run is tuning.best else "",
            )
            for run in tuning.runs
        ],
        (
            "run",
            *(f"{variable.name} mm" for variable in tuning.variables),
            "S11 at centre",
            "worst in band",
            "",
        ),
    )
    click.echo()
    for sentence in found.sentences:
        print_wrapped(sentence)
    written = ", ".join(map(str, (path, *pictures)))
    click.echo(
        f"\n  written: {written}. 'simharness solve {path} --quality {tuning.quality}' shows the whole "
        "verdict "
        "at once."
    )
    click.echo(f"\n{found.conclusion}")
