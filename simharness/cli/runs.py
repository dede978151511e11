"""`simharness runs`."""

from __future__ import annotations

from pathlib import Path

import click

from simharness.cli.options import json_option, runs_option


@click.command("runs")
@json_option
@runs_option
def command(as_json: bool, runs_folder: Path) -> None:
    """List the stored runs, failed ones too."""
    from dataclasses import asdict

    from simharness.cli.text import print_columns, print_json
    from simharness.store import Store

    found = Store(runs_folder).runs()
    if as_json:
        print_json([asdict(run) for run in found])
        return
    if not found:
        click.echo(f"no runs in {runs_folder} yet: 'simharness solve RECORD' makes one")
        return
    print_columns(
        [(run.name, run.status, run.created, f"{run.size / 1e6:.1f} MB") for run in found],
        ("run", "status", "made", "size"),
    )
