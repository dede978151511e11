"""`simharness report RUN`."""

from __future__ import annotations

from pathlib import Path

import click

from simharness.cli.options import FilePath, quality_option, run_argument, runs_option


@click.command("report")
@run_argument
@quality_option
@click.option(
    "--out", type=FilePath(dir_okay=False), metavar="FILE", help="the HTML file  [default: report-NAME.html]"
)
@click.option("--no-pdf", is_flag=True, help="leave the PDF beside it out")
@click.option(
    "--paper",
    type=click.Choice(["a4", "letter"]),
    default="a4",
    show_default=True,
    help="size of the pages of the PDF",
)
@click.option(
    "--make",
    type=click.Choice(["folded", "tube"]),
    help="the build list of a box folded from sheet, or of slots cut in a stock tube  [default: as the "
    "record says]",
)
@click.option(
    "--add",
    "added",
    type=(FilePath(exists=True, dir_okay=False), str),
    multiple=True,
    metavar="FILE WORDS",
    help="take in a further picture (PNG) and what it shows in words; may be given again",
)
@runs_option
def command(
    run: str,
    quality: str | None,
    out: Path | None,
    no_pdf: bool,
    paper: str,
    make: str | None,
    added: tuple[tuple[Path, str], ...],
    runs_folder: Path,
) -> None:
    """Report of a stored RUN to keep and to build from: one HTML file that opens offline, and a PDF.

    RUN is a record file, the name of a record, or the name of a run or its beginning; see 'show'.

    Verdict, figures with their error bars, pictures, a view of antenna and pattern that can be turned,
    dimensions, build list and provenance. Pictures that 'compare' left with the run are taken in; those of
    other commands with --add.
    """
    from simharness import open_run, report
    from simharness.cli.bar import Bar
    from simharness.cli.text import print_wrapped

    opened = open_run(run, runs=runs_folder, quality=quality, progress=Bar())
    written = report(opened, out, pdf=not no_pdf, paper=paper, make=make, pictures=added)
    for path in written:
        click.echo(f"  written: {path} ({path.stat().st_size / 1e6:.1f} MB)")
    for sentence in opened.remarks:
        print_wrapped(sentence)
