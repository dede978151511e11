"""`simharness estimate RECORD`."""

from __future__ import annotations

from pathlib import Path

import click

from simharness.cli.options import json_option, record_argument


@click.command("estimate")
@record_argument
@json_option
@click.option(
    "--points",
    default=201,
    show_default=True,
    type=click.IntRange(11, 2001),
    help="frequencies over the band",
)
def command(record: Path, as_json: bool, points: int) -> None:
    """Match, pattern and gain of RECORD by the method of moments, before any full-wave run."""
    from simharness import estimate, read_record
    from simharness.cli.text import number, print_columns, print_json, print_wrapped
    from simharness.verdict.assessment import LABELS

    found = estimate(read_record(record), points)
    if as_json:
        print_json(found.as_dict())
        return
    click.echo(f"{found.record.name}: estimate")
    print_columns(
        [(label, number(found.figures[name])) for name, label in LABELS.items() if name in found.figures]
    )
    click.echo()
    for sentence in found.sentences:
        print_wrapped(sentence)
