"""`simharness compare RUN MEASURED` and `simharness compare RUN RUN [RUN]`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from simharness.cli.options import (
    GHZ,
    FilePath,
    Number,
    json_option,
    quality_option,
    run_argument,
    runs_option,
)

if TYPE_CHECKING:
    from simharness.library import LevelComparison, ReflectionComparison

_TABLES = (".csv", ".txt", ".tsv", ".dat")


@click.command("compare")
@run_argument
@click.argument("others", metavar="MEASURED | RUN [RUN]", nargs=-1, required=True, type=FilePath())
@click.option(
    "--delay-ps",
    type=Number(-1000, 5000),
    default=None,
    help="one-way delay of the connector; fitted if not given",
)
@click.option(
    "--connector-mm", type=Number(0, 500), default=None, help="instead: its length, filled with PTFE"
)
@click.option(
    "--turned",
    type=click.Choice(["along", "across", "beam"]),
    default=None,
    help="for a table of levels: beam tilted along the guide, turned across it, or antenna turned about its "
    "beam",
)
@click.option("--frequency-ghz", type=GHZ, default=None, help="for levels; default: the design frequency")
@click.option(
    "--other-tilt-deg",
    type=Number(-180, 180),
    default=0.0,
    show_default=True,
    help="for levels: polarization of the other end against that of this antenna at angle 0",
)
@quality_option
@click.option("--no-figures", is_flag=True, help="leave the picture out")
@json_option
@runs_option
def command(
    run: str,
    others: tuple[Path, ...],
    delay_ps: float | None,
    connector_mm: float | None,
    turned: str | None,
    frequency_ghz: float | None,
    other_tilt_deg: float,
    quality: str | None,
    no_figures: bool,
    as_json: bool,
    runs_folder: Path,
) -> None:
    """What was MEASURED beside a stored RUN, or two or three RUNs side by side.

    A Touchstone one-port (.s1p): reflection, moved to the plane of the run, and the single dimension that
    best explains the difference. A table of angle in degrees and level in dB or dBm (.csv, .txt): how much of
    a change is pattern, how much polarization.

    Two or three RUNs: the figures and dimensions in which they differ by more than their error bars, in
    sentences, and a picture in a folder beside the runs. Here a record file (.toml) stands by its estimate,
    and one more may be a Touchstone one-port.
    """
    from simharness.cli.beside import is_run

    if len(others) > 1 or is_run(str(others[0])):
        if delay_ps is not None or connector_mm is not None or turned or frequency_ghz or other_tilt_deg:
            raise click.UsageError(
                "--delay-ps, --connector-mm and the options for levels go with MEASURED alone"
            )
        _compare_runs((run, *map(str, others)), quality, runs_folder, no_figures, as_json)
        return
    measured = others[0]
    from simharness import compare, open_run
    from simharness.cli.bar import Bar
    from simharness.cli.text import print_json, print_wrapped
    from simharness.errors import InputError
    from simharness.library import LevelComparison

    opened = open_run(run, runs=runs_folder, quality=quality)
    table = measured.suffix.lower() in _TABLES
    if table and turned is None:
        raise InputError("--turned", "(none)", "say how the antenna was turned: along, across or beam")
    found = compare(
        opened,
        measured,
        delay_ps=delay_ps,
        connector_mm=connector_mm,
        turned=turned if table else None,
        frequency_ghz=frequency_ghz,
        other_tilt_deg=other_tilt_deg,
        progress=None if as_json else Bar(),
    )
    where = opened.pictures_folder / f"compare-{measured.stem}.png"
    picture = None if no_figures else found.write_picture(where)
    if as_json:
        print_json(found.as_dict() | {"pictures": [str(picture)] if picture else []})
        return
    if isinstance(found, LevelComparison):
        _print_levels(found, measured)
    else:
        _print_reflection(found, measured)
    click.echo()
    for sentence in found.sentences:
        print_wrapped(sentence)
    if picture is not None:
        click.echo(f"\n  picture: {picture}")
    for sentence in opened.remarks:
        print_wrapped(sentence)


def _compare_runs(
    named: tuple[str, ...], quality: str | None, runs_folder: Path, no_figures: bool, as_json: bool
) -> None:
    """Several things side by side: tables, what really differs in sentences, a picture."""
    from simharness.cli.beside import picture_file, print_tables, set_side_by_side
    from simharness.cli.text import print_json, print_wrapped

    found, remarks = set_side_by_side(named, quality, runs_folder)
    picture = None if no_figures else found.write_picture(picture_file(found, runs_folder))
    if as_json:
        print_json(found.as_dict() | {"remarks": remarks, "pictures": [str(picture)] if picture else []})
        return
    print_tables(found)
    click.echo()
    for sentence in (*found.sentences, *remarks):
        print_wrapped(sentence)
    if picture is not None:
        click.echo(f"\n  picture: {picture}")


def _print_reflection(found: ReflectionComparison, measured: Path) -> None:
    from simharness.cli.text import number, print_columns

    click.echo(f"{found.run.record.name}: full wave ({found.run.quality} mesh) and {measured.name}\n")
    words = {True: "within the bar", False: "beyond the bar", None: ""}
    print_columns(
        [(row.label, number(row.run), number(row.measured), words[row.within]) for row in found.model.rows],
        ("", "full wave", "measured", ""),
    )


def _print_levels(found: LevelComparison, measured: Path) -> None:
    from simharness.cli.text import print_columns
    from simharness.measurement.orientation_messages import level_rows

    click.echo(
        f"{found.run.record.name}: levels of {measured.name}, antenna turned {found.model.turned}, "
        "strongest direction = 0 dB\n"
    )
    print_columns(
        level_rows(found.model),
        ("angle", "measured dB", "predicted dB", "= pattern dB", "+ polarization dB", "+ scattered dB"),
    )
