"""Options and arguments that several commands share."""

from __future__ import annotations

from pathlib import Path

import click

record_argument = click.argument("record", metavar="RECORD", type=click.Path(path_type=Path))
json_option = click.option("--json", "as_json", is_flag=True, help="print one JSON object instead of text")
run_argument = click.argument("run", metavar="RUN")
quality_option = click.option(
    "--quality", type=click.Choice(["draft", "normal", "fine"]), default=None, help="which of several runs  [default: the finest]"
)
runs_option = click.option(
    "--runs", "runs_folder", type=click.Path(path_type=Path, file_okay=True), default=Path("runs"), show_default=True,
    help="folder of the stored runs",
)
