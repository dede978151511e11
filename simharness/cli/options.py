"""Options and arguments that several commands share."""

from __future__ import annotations

from pathlib import Path

import click

record_argument = click.argument("record", metavar="RECORD", type=click.Path(path_type=Path))
json_option = click.option("--json", "as_json", is_flag=True, help="print one JSON object instead of text")
runs_option = click.option(
    "--runs", "runs_folder", type=click.Path(path_type=Path, file_okay=True), default=Path("runs"), show_default=True,
    help="folder of the stored runs",
)
