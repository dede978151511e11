"""`simharness show RUN`."""

from __future__ import annotations

from pathlib import Path

import click

from simharness.cli.options import FilePath, json_option, quality_option, run_argument, runs_option


@click.command("show")
@run_argument
@quality_option
@click.option("--figures", is_flag=True, help="draw the pictures anew")
@click.option(
    "--record",
    "as_record",
    is_flag=True,
    help="print the record of the run instead, as a file that 'solve' takes",
)
@click.option("--out", type=FilePath(), metavar="FILE", help="with --record: write it to this file")
@click.option("--replace", is_flag=True, help="with --out: replace the file if it is there")
@json_option
@runs_option
def command(
    run: str,
    quality: str | None,
    figures: bool,
    as_record: bool,
    out: Path | None,
    replace: bool,
    as_json: bool,
    runs_folder: Path,
) -> None:
    """The verdict of a stored RUN: a record file, the name of a record, or the name of a run or its beginning.

    A record finds the runs of its geometry, by whatever name they were made; title, target, mounting and name in
    the verdict are those of the record. A RUN named in full is shown with the record that was solved by that name.
    """
    if as_record:
        _give_record(run, quality, out, replace, runs_folder)
        return
    if out is not None or replace:
        raise click.UsageError("--out and --replace go with --record")
    from simharness.cli.stored import asked

    found = asked(run, runs_folder, quality)
    describe(found.run, as_json, figures, found.record, remarks=found.remarks)


def _give_record(run: str, quality: str | None, out: Path | None, replace: bool, runs_folder: Path) -> None:
    """The record of a run, failed ones too, as TOML."""
    from simharness.cli.commands.design import require_free
    from simharness.errors import StoreError
    from simharness.files import atomic_write_text
    from simharness.records.text import record_text
    from simharness.runs.lookup import asked_run
    from simharness.runs.store import Store

    found = asked_run(Store(runs_folder), run, quality)
    if found.record is None:
        raise StoreError(f"run {found.run.path.name} holds no design record, so there is none to give")
    text = record_text(found.record, f"From the run {found.run.path.name}.")
    if out is None:
        click.echo(text, nl=False)
        return
    require_free(out, replace)
    atomic_write_text(out, text)
    click.echo(f"  written: {out}")


def describe(run, as_json: bool, figures: bool, record, guess=None, remarks: tuple[str, ...] = ()) -> None:
    """Print the verdict of a run; draw its pictures where asked for.

    `record` is the design to judge it by: its name, title, target and mounting, which the solver does not see, may differ
    from those of the record that the run was made for. `guess` is its estimate, where that is known; `remarks` say how the
    run was found.
    """
    from simharness.advice.warnings import CAUTIONS
    from simharness.cli.bar import Bar
    from simharness.cli.stored import stored_results
    from simharness.cli.text import print_json, print_wrapped
    from simharness.estimate.antenna import estimate
    from simharness.improvement.stored import run_advice
    from simharness.progress import Silent
    from simharness.verdict.assessment import full_wave_figures, verdict
    from simharness.verdict.error_bars import mesh_quality

    results = stored_results(run, record)
    quality = mesh_quality(results)
    if guess is None:
        guess = estimate(record)
    found = full_wave_figures(results, record, quality)
    advice = run_advice(record, results, quality, run.path, Silent() if as_json else Bar())
    result = verdict(record, guess, found, results, quality, advice.sentences)
    pictures = []
    if figures:
        from simharness.plot import write_figures

        pictures = write_figures(results, record, guess, run.figures(record.name))
    if as_json:
        print_json(
            {
                "run": run.path.name,
                "record": record.name,
                "verdict": result.state.value,
                "worst_s11": result.worst_s11,
                "figures": found,
                "estimate": guess.figures,
                "sentences": result.sentences,
                "proposals": advice.proposals,
                "provenance": dict(results.attributes),
                "pictures": [str(p) for p in pictures],
                "remarks": remarks,
            }
        )
        return
    _print_verdict(run, record, result, results)
    for sentence in (*remarks, *result.sentences):
        print_wrapped(sentence)
    print_wrapped(f"Before you cut, solder and transmit: {CAUTIONS[0]} {CAUTIONS[-1]}")
    if pictures:
        click.echo(f"\n  pictures in {run.figures(record.name)}")
    click.echo(f"\n{result.conclusion}")


def _print_verdict(run, record, result, results) -> None:
    from simharness.cli.text import number, print_columns
    from simharness.solver.settings import SLOW_PERIODS
    from simharness.verdict.error_bars import mesh_quality

    about = results.attributes
    periods = about.get("periods_after_pulse", 0.0)
    slowly = f"; it settled slowly, over {periods:.0f} periods" if periods > SLOW_PERIODS else ""
    gap = ", lumped gap at the probe: less true than the coax line" if about.get("feed") == "GapPort" else ""
    click.echo(
        f"\n{record.name}: estimate and full wave ({mesh_quality(results)} mesh, {about['solver']}, "
        f"{about['steps']} steps in {about['solver_seconds']:.0f} s{gap}{slowly})\n"
    )
    words = {True: "agree", False: "differ", None: ""}
    print_columns(
        [(row.label, number(row.estimate), number(row.full_wave), words[row.agrees]) for row in result.rows],
        ("", "estimate", "full wave", ""),
    )
    click.echo()
