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
    from simharness.cli.text import number, print_columns, print_json, print_wrapped
    from simharness.estimate import beam, cross_polar
    from simharness.estimate.antenna import estimate
    from simharness.estimate.around import around_sentences
    from simharness.records import read_record
    from simharness.verdict.assessment import LABELS
    from simharness.verdict.error_bars import estimate_error

    design = read_record(record)
    found = estimate(design, points)
    if as_json:
        print_json(
            {
                "record": design.name,
                "figures": found.figures,
                "frequency_hz": found.frequency.tolist(),
                "s11": [[v.real, v.imag] for v in found.s11.tolist()],
            }
        )
        return
    click.echo(f"{design.name}: estimate")
    print_columns(
        [(label, number(found.figures[name])) for name, label in LABELS.items() if name in found.figures]
    )
    click.echo()
    print_wrapped(f"Polarization: {found.figures['polarization'].value}.")
    trusted = estimate_error(design)
    if found.along is not None:
        leaning = beam.lean(found.along.angle, found.along.power)
        if words := beam.beam_sentence(found.figures.get(beam.NAME), leaning, trusted["gain"]):
            print_wrapped(words)
    for sentence in around_sentences(design, found.figures):
        print_wrapped(sentence)
    if curved := cross_polar.sentence(design, found.figures):
        print_wrapped(curved)
    print_wrapped(
        f"The best match is trusted to about {100 * trusted['resonance']:g} %, gain to "
        f"{trusted['gain']:g} dB. 'simharness solve' checks it."
    )
