"""`simharness compare RUN MEASURED`."""

from __future__ import annotations

import math
from pathlib import Path

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

_TABLES = (".csv", ".txt", ".tsv", ".dat")


@click.command("compare")
@run_argument
@click.argument("measured", metavar="MEASURED", type=FilePath())
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
    help="for a table of levels: beam tilted along the guide, turned across it, or antenna turned about its beam",
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
    measured: Path,
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
    """What was MEASURED beside a stored RUN.

    A Touchstone one-port (.s1p): reflection, moved to the plane of the run, and the single dimension that best explains
    the difference. A table of angle in degrees and level in dB or dBm (.csv, .txt): how much of a change is pattern, how
    much polarization.
    """
    from simharness.cli.stored import asked, print_remarks, stored_results
    from simharness.errors import InputError

    found = asked(run, runs_folder, quality)
    results, record = stored_results(found.run, found.record), found.record
    picture = None if no_figures else found.run.figures(record.name) / f"compare-{measured.stem}.png"
    if measured.suffix.lower() in _TABLES:
        if turned is None:
            raise InputError("--turned", "(none)", "say how the antenna was turned: along, across or beam")
        frequency = frequency_ghz * 1e9 if frequency_ghz else record.band.centre
        _levels(results, record, measured, turned, frequency, math.radians(other_tilt_deg), picture, as_json)
    else:
        _reflection(results, record, measured, _delay(delay_ps, connector_mm), picture, as_json)
    if not as_json:
        print_remarks(found)


def _delay(delay_ps: float | None, connector_mm: float | None) -> float | None:
    from simharness.errors import InputError
    from simharness.measurement.comparison import connector_delay

    if delay_ps is not None and connector_mm is not None:
        raise InputError("--connector-mm", connector_mm, "give either this or --delay-ps")
    if delay_ps is not None:
        return 1e-12 * delay_ps
    return None if connector_mm is None else connector_delay(connector_mm)


def _reflection(
    results, record, measured: Path, delay: float | None, picture: Path | None, as_json: bool
) -> None:
    from simharness.cli.bar import Bar
    from simharness.cli.text import number, print_columns, print_json, print_wrapped
    from simharness.measurement.comparison import match_comparison
    from simharness.measurement.files import read_one_port
    from simharness.verdict.error_bars import mesh_quality

    bench = read_one_port(measured)
    quality = mesh_quality(results)
    found = match_comparison(
        results, record, quality, bench, delay=delay, progress=None if as_json else Bar()
    )
    if picture is not None:
        from simharness.measurement.picture import compare_figure
        from simharness.plot import write_figure

        write_figure(picture, compare_figure, results, record, found)
    if as_json:
        print_json(_plain_reflection(record, found, picture))
        return
    click.echo(f"{record.name}: full wave ({quality} mesh) and {measured.name}\n")
    words = {True: "within the bar", False: "beyond the bar", None: ""}
    print_columns(
        [(row.label, number(row.run), number(row.measured), words[row.within]) for row in found.rows],
        ("", "full wave", "measured", ""),
    )
    click.echo()
    for sentence in found.sentences:
        print_wrapped(sentence)
    _print_picture(picture)


def _plain_reflection(record, found, picture: Path | None) -> dict:
    told = found.explanation
    return {
        "record": record.name,
        "figures": {
            row.name: {"run": row.run, "measured": row.measured, "within": row.within} for row in found.rows
        },
        "delay_s": found.delay,
        "delay_given": found.delay_given,
        "unexplained": told.unexplained,
        "causes": [
            {
                "name": cause.deviation.name if cause.deviation else "as drawn",
                "amount": cause.amount,
                "unit": cause.deviation.unit if cause.deviation else "",
                "misfit": cause.misfit,
                "share": cause.share,
                "delay_s": cause.delay,
            }
            for cause in told.causes
        ],
        "sentences": found.sentences,
        "pictures": [str(picture)] if picture else [],
    }


def _levels(
    results,
    record,
    measured: Path,
    turned: str,
    frequency: float,
    tilt: float,
    picture: Path | None,
    as_json: bool,
) -> None:
    from simharness.cli.text import print_columns, print_json, print_wrapped
    from simharness.measurement.files import read_levels
    from simharness.measurement.orientation import level_comparison
    from simharness.measurement.orientation_messages import level_rows, orientation_sentences

    found = level_comparison(read_levels(measured), results, record, turned, frequency, tilt)
    sentences = orientation_sentences(found)
    degrees = [math.degrees(angle) for angle in found.angle]
    if picture is not None:
        from simharness.measurement.picture import orientation_figure
        from simharness.plot import write_figure

        write_figure(picture, orientation_figure, record, found)
    if as_json:
        print_json(
            {
                "record": record.name,
                "turned": turned,
                "angle_deg": degrees,
                "measured_db": found.measured.tolist(),
                "predicted_db": found.predicted.tolist(),
                "pattern_db": found.pattern.tolist(),
                "polarization_db": found.polarization.tolist(),
                "angle_shift_deg": math.degrees(found.angle_shift),
                "level_shift_db": found.level_shift,
                "scattered_db": found.floor,
                "scattered_part_db": found.scattered.tolist(),
                "mismatch_db": found.loss,
                "residual_db": found.residual,
                "sentences": sentences,
                "pictures": [str(picture)] if picture else [],
            }
        )
        return
    click.echo(
        f"{record.name}: levels of {measured.name}, antenna turned {turned}, strongest direction = 0 dB\n"
    )
    print_columns(
        level_rows(found),
        ("angle", "measured dB", "predicted dB", "= pattern dB", "+ polarization dB", "+ scattered dB"),
    )
    click.echo()
    for sentence in sentences:
        print_wrapped(sentence)
    _print_picture(picture)


def _print_picture(picture: Path | None) -> None:
    if picture is not None:
        click.echo(f"\n  picture: {picture}")
