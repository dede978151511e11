"""`simharness show RUN`."""

from __future__ import annotations

from pathlib import Path

import click

from simharness.cli.options import json_option, runs_option


@click.command("show")
@click.argument("run", metavar="RUN")
@click.option("--figures", is_flag=True, help="draw the pictures anew")
@json_option
@runs_option
def command(run: str, figures: bool, as_json: bool, runs_folder: Path) -> None:
    """The verdict of a stored RUN: its folder name, or the beginning of its name or key."""
    from simharness.store import Store

    describe(Store(runs_folder).open(run), as_json, figures=figures)


def describe(run, as_json: bool, figures: bool, record=None, guess=None) -> None:
    """Print the verdict of a run; draw its pictures where asked for.

    `record` is the design as it now stands, where its target or mounting, which the solver
    does not see, may differ from those stored with the run; `guess` its estimate, where that is known.
    """
    from simharness.advice import CAUTIONS
    from simharness.cli.bar import Bar
    from simharness.cli.stored import stored_record, stored_results
    from simharness.cli.text import print_json, print_wrapped
    from simharness.estimate import estimate
    from simharness.progress import Silent
    from simharness.run_advice import run_advice
    from simharness.verdict import full_wave_figures, verdict

    results = stored_results(run)
    if record is None:
        record = stored_record(run)
    quality = str(results.attributes.get("quality", "draft"))
    if guess is None:
        guess = estimate(record)
    found = full_wave_figures(results, record, quality)
    advice = run_advice(record, results, quality, run.path, Silent() if as_json else Bar())
    result = verdict(record, guess, found, results, quality, advice.sentences)
    pictures = []
    if figures:
        from simharness.plot import write_figures

        pictures = write_figures(results, record, guess, run.path / "figures")
    if as_json:
        print_json({
            "run": run.path.name, "record": record.name, "verdict": result.state.value, "worst_s11": result.worst_s11,
            "figures": found, "estimate": guess.figures, "sentences": result.sentences, "proposals": advice.proposals,
            "provenance": dict(results.attributes), "pictures": [str(p) for p in pictures],
        })
        return
    _print_verdict(run, record, result, results)
    for sentence in result.sentences:
        print_wrapped(sentence)
    print_wrapped(f"Before you cut, solder and transmit: {CAUTIONS[0]} {CAUTIONS[-1]}")
    if pictures:
        click.echo(f"\n  pictures in {run.path / 'figures'}")
    click.echo(f"\n{result.conclusion}")


def _print_verdict(run, record, result, results) -> None:
    from simharness.cli.text import number, print_columns
    from simharness.solver.settings import SLOW_PERIODS

    about = results.attributes
    periods = about.get("periods_after_pulse", 0.0)
    slowly = f"; it settled slowly, over {periods:.0f} periods" if periods > SLOW_PERIODS else ""
    gap = ", lumped gap at the probe: less true than the coax line" if about.get("feed") == "GapPort" else ""
    click.echo(f"\n{record.name}: estimate and full wave ({about.get('quality', '')} mesh, {about['solver']}, "
               f"{about['steps']} steps in {about['solver_seconds']:.0f} s{gap}{slowly})\n")
    words = {True: "agree", False: "differ", None: ""}
    print_columns(
        [(row.label, number(row.estimate), number(row.full_wave), words[row.agrees]) for row in result.rows],
        ("", "estimate", "full wave", ""),
    )
    click.echo()
