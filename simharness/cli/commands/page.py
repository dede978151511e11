"""`simharness page [RECORD]`."""

from __future__ import annotations

from pathlib import Path

import click

from simharness.cli.options import FilePath, runs_option


@click.command("page")
@click.argument("record", metavar="[RECORD]", type=FilePath(), required=False)
@click.option("--no-browser", is_flag=True, help="print the address and open no browser")
@click.option(
    "--port", type=click.IntRange(1024, 65535), help="port of this machine  [default: one that is free]"
)
@runs_option
def command(record: Path | None, no_browser: bool, port: int | None, runs_folder: Path) -> None:
    """A page in the browser of this machine: drawing, match and pattern move while a dimension of RECORD
    moves; full-wave runs, side by side, sheets and report.

    Records are read from and saved to the folder of RECORD, or the present one. The page is served to this
    machine only, and nothing is written without a click.
    """
    from simharness.page.frame.server import serve
    from simharness.page.place import Place

    serve(Place.of(record, runs_folder), port, not no_browser, click.echo)
