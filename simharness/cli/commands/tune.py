"""`simharness tune RECORD`."""

from __future__ import annotations

from pathlib import Path

import click

from simharness.cli.options import FilePath, Number, json_option, record_argument, runs_option


@click.command("tune")
@record_argument
@click.option(
    "--over",
    type=click.Choice(["band", "centre"]),
    default="band",
    show_default=True,
    help="what is made small: the worst S11 in the band, or S11 at its centre",
)
@click.option(
    "--also",
    type=click.Choice(["position", "back-short", "run", "hole-height", "slots"]),
    multiple=True,
    help="tune besides the height: where the probe stands, or where the near end wall does; of a bent probe its run, or the "
    "height of its hole; a common factor on all slot lengths; may be given more than once",
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

    Of a bent probe rise and run are tuned, or run and height of the hole where its tip is soldered, and a map of both is drawn.

    A fast model, corrected by each run, says which to make next. Every run is stored, and a stored one is not made again:
    after Ctrl-C the same command goes on where it stopped. The tuned record is written beside the old one.
    """
    from simharness.cli.bar import Bar
    from simharness.cli.commands.design import require_free
    from simharness.errors import CancelledError
    from simharness.records import read_record
    from simharness.runs.planning import record_plan
    from simharness.runs.store import Store
    from simharness.tuning.search import tune
    from simharness.tuning.variables import tuning_variables

    design, store = read_record(record), Store(runs_folder)
    tuning_variables(design, also)  # an impossible request is refused before anything else
    path = out or record.with_name(f"{record.stem}-tuned.toml")
    plan = record_plan(design, quality)
    if not as_json:
        _print_plan(design, plan, quality, most_runs, store)
    if only_plan:
        if as_json:
            _print_plan_json(plan, most_runs, store)
        return
    require_free(path, replace)
    try:
        found = tune(
            design,
            store,
            quality,
            over,
            also,
            name=_name(path.stem),
            step_mm=step,
            most_runs=most_runs,
            progress=None if as_json else Bar(),
        )
    except (CancelledError, KeyboardInterrupt):
        raise CancelledError(
            "interrupted: the runs made so far are stored, the same command goes on from there"
        ) from None
    _written(found, record, path)
    store.remember(store.opened(found.best.name).key, found.record)
    _show(found, path, () if no_figures else _pictures(found, runs_folder), as_json)


def _name(stem: str) -> str:
    """The name of a file as that of a record, where it can be one."""
    import re

    return stem if re.fullmatch(r"[a-z0-9][a-z0-9-]{0,47}", stem) else ""


def _print_plan(design, plan, quality: str, most_runs: int, store) -> None:
    from simharness.cli.text import threads_in_words
    from simharness.progress import span

    own = (
        "; that of the unchanged record is stored already, and counts as one" if store.find(plan.key) else ""
    )
    click.echo(
        f"{design.name}: at most {most_runs} runs ({quality} mesh, {plan.cells / 1e6:.2f} million cells), about "
        f"{span(plan.typical_seconds)} each ({plan.solver}, {threads_in_words(plan.threads)}){own}"
    )


def _print_plan_json(plan, most_runs: int, store) -> None:
    from simharness.cli.text import print_json

    print_json(
        {
            "most_runs": most_runs,
            "cells": plan.cells,
            "typical_seconds_each": plan.typical_seconds,
            "own_run_stored": store.find(plan.key) is not None,
        }
    )


def _written(found, record: Path, path: Path) -> None:
    from simharness import __version__
    from simharness.files import atomic_write_text
    from simharness.records.text import record_text
    from simharness.tuning.variables import point_text

    heading = (
        f"Tuned from {record.name} by simharness {__version__}, {found.quality} mesh, run {found.best.name}:\n"
        f"{point_text(found.variables, found.best.values)}"
    )
    atomic_write_text(path, record_text(found.record, heading))


def _pictures(found, runs_folder: Path) -> tuple[Path, ...]:
    from simharness.plot import write_figure
    from simharness.tuning.map_picture import tuning_map_figure
    from simharness.tuning.picture import tuning_figure

    folder = runs_folder / f"tuning-{found.before.name}"
    over_both = (
        (write_figure(folder / "tuning-map.png", tuning_map_figure, found),) if found.map is not None else ()
    )
    return write_figure(folder / "tuning.png", tuning_figure, found), *over_both


def _show(found, path: Path, pictures: tuple[Path, ...], as_json: bool) -> None:
    from simharness.cli.text import print_columns, print_json, print_wrapped
    from simharness.tuning.messages import tuning_sentences

    sentences = tuning_sentences(found)
    if as_json:
        print_json(
            _plain(found)
            | {"sentences": sentences, "file": str(path), "pictures": [str(picture) for picture in pictures]}
        )
        return
    click.echo(f"\n{found.before.name}: full-wave runs of this tuning\n")
    print_columns(
        [
            (
                run.name,
                *(f"{value:.2f}" for value in run.values),
                f"{run.centre_db:.1f} dB",
                f"{run.worst_db:.1f} dB",
                "tuned" if run is found.best else "",
            )
            for run in found.runs
        ],
        (
            "run",
            *(f"{variable.name} mm" for variable in found.variables),
            "S11 at centre",
            "worst in band",
            "",
        ),
    )
    click.echo()
    for sentence in sentences:
        print_wrapped(sentence)
    written = ", ".join(map(str, (path, *pictures)))
    click.echo(
        f"\n  written: {written}. 'simharness solve {path} --quality {found.quality}' shows the whole verdict at once."
    )
    click.echo(f"\n{found.conclusion}")


def _plain(found) -> dict:
    def named(values) -> dict:
        return {variable.name: value for variable, value in zip(found.variables, values)}

    return {
        "record": found.before.name,
        "quality": found.quality,
        "over": found.objective.over,
        "before_mm": named(variable.read(found.before) for variable in found.variables),
        "tuned_mm": named(found.best.values),
        "optimum_mm": named(found.optimum),
        "verdict": found.state.value,
        "settled": found.settled,
        "gain_db": found.gain_db,
        "runs": [
            {
                "name": run.name,
                "values_mm": named(run.values),
                "centre_db": run.centre_db,
                "worst_db": run.worst_db,
                "missed": run.missed,
            }
            for run in found.runs
        ],
        "near_mm": found.near,
        "keeps_target_mm": found.keeps,
        "half_mm_less_db": found.shorter_db,
        "half_mm_more_db": found.longer_db,
        "estimate_curve": _plain_curve(found.estimate_curve),
        "curve": _plain_curve(found.curve),
    }


def _plain_curve(curve) -> dict:
    return {
        "height_mm": curve.first.tolist(),
        "centre_db": curve.centre_db.tolist(),
        "worst_db": curve.worst_db.tolist(),
    }
