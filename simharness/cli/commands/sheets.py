"""`simharness sheets RECORD`."""

from __future__ import annotations

from datetime import date as Day
from pathlib import Path

import click

from simharness.cli.options import FilePath, Number, record_argument

_MM = Number(0, 500, "mm")


def _day(context: click.Context, parameter: click.Parameter, value: str | None) -> str:
    """The day as it is written in the title blocks."""
    if value is None:
        return Day.today().isoformat()
    try:
        return Day.fromisoformat(value).isoformat()
    except ValueError:
        raise click.BadParameter(f"{value}: must be a day written like 2030-01-31") from None


@click.command("sheets")
@record_argument
@click.option(
    "--paper",
    type=click.Choice(["a4", "letter"]),
    default="a4",
    show_default=True,
    help="size of the paper in your printer",
)
@click.option(
    "--make",
    type=click.Choice(["folded", "tube"]),
    help="a box folded from sheet with a separate front wall, or slots cut in a stock tube with end plates  "
    "[default: as the record says]",
)
@click.option(
    "--inside-radius",
    type=_MM,
    metavar="MM",
    help="inside radius that your tool bends, mm  [default: thickness of the sheet]",
)
@click.option(
    "--k-factor",
    type=Number(),
    metavar="K",
    help="neutral fibre over the inner face, in thicknesses  [default: by DIN 6935]",
)
@click.option("--scored", is_flag=True, help="bends are scored on the inside and folded sharp")
@click.option(
    "--tab",
    type=_MM,
    default=8.0,
    show_default=True,
    metavar="MM",
    help="height of the tabs of end caps, mm; 0 for plain plates",
)
@click.option(
    "--lip",
    type=_MM,
    default=0.0,
    show_default=True,
    metavar="MM",
    help="lips of the front wall over the sides, mm; 0: it is soldered on their edges",
)
@click.option(
    "--land",
    type=_MM,
    metavar="MM",
    help="diameter to be tinned around the feed hole, mm  [default: three times the hole]",
)
@click.option(
    "--cutter",
    type=_MM,
    default=0.0,
    show_default=True,
    metavar="MM",
    help="SVG and DXF hold the path of the centre of a cutter of this diameter, mm",
)
@click.option(
    "--date", callback=_day, metavar="YYYY-MM-DD", help="day of issue in the title blocks  [default: today]"
)
@click.option("--out", type=FilePath(), help="folder for the files  [default: sheets-NAME]")
def command(
    record: Path,
    paper: str,
    make: str | None,
    inside_radius: float | None,
    k_factor: float | None,
    scored: bool,
    tab: float,
    lip: float,
    land: float | None,
    cutter: float,
    date: str,
    out: Path | None,
) -> None:
    """Cut sheets of RECORD at true scale (PDF, SVG, DXF), and the list of what to buy and do.

    They are drawn from the geometry that the field solver computes. Print the PDF at 100 % and measure its
    check bars. The PDF carries all dimensions; SVG and DXF hold none, so that no dimension line is cut by
    mistake.
    """
    from simharness import read_record, sheets
    from simharness.cli.text import print_written
    from simharness.sheets.build.section import as_text

    design = read_record(record)
    written = sheets(
        design,
        out,
        paper=paper,
        make=make,
        inside_radius_mm=inside_radius,
        k_factor=k_factor,
        scored=scored,
        tab_mm=tab,
        lip_mm=lip,
        land_mm=land,
        cutter_mm=cutter,
        date=date,
    )
    click.echo(as_text(design.title or design.name, written.sections))
    print_written(written.files[0].parent, written.files)
    click.echo(
        "  Print the PDF at 100 %, not fitted to the page, and measure both 100 mm bars on every sheet "
        "before "
        "you cut."
    )
