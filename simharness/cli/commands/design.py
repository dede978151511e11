"""`simharness design --frequency GHZ`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from simharness.cli.options import GHZ, FilePath, Number, json_option

if TYPE_CHECKING:
    from simharness.library import DesignResult

_WALL, _WIDTH = Number(0.05, 20, "mm"), Number(0.1, 30, "mm", above=True)


@click.command("design")
@click.option("--frequency", type=GHZ, metavar="GHZ", help="centre of the band, GHz")
@click.option(
    "--bandwidth",
    type=Number(0, 50, above=True, below=True),
    metavar="PERCENT",
    help="width of the wanted band  [default: 1]",
)
@click.option("--low", type=GHZ, metavar="GHZ", help="instead of a width: lower edge of the band")
@click.option(
    "--high", type=GHZ, metavar="GHZ", help="upper edge of the band; the centre need not be given then"
)
@click.option(
    "--target", type=Number(-40, -3), metavar="DB", help="largest S11 wanted in the band, dB  [default: -10]"
)
@click.option("--slots", type=click.IntRange(1, 40), help="number of slots  [default: 8]")
@click.option(
    "--beamwidth",
    type=Number(0, 180, above=True),
    metavar="DEG",
    help="instead: widest beam along the guide, between half-power directions",
)
@click.option("--gain", type=Number(-20, 40), metavar="DBI", help="instead: least directivity, dBi")
@click.option(
    "--taper",
    type=click.Choice(["uniform", "dolph", "taylor"]),
    help="slot voltages  [default: uniform, dolph with --side-lobes]",
)
@click.option(
    "--side-lobes",
    type=Number(-80, 80),
    metavar="DB",
    help="side lobes below the main beam, dB  [default: 20]",
)
@click.option(
    "--nbar", type=click.IntRange(2, 20), help="even side lobes of a Taylor taper, plus one  [default: 4]"
)
@click.option(
    "--guide",
    metavar="NAME|AxB",
    help="standard guide (WR-159), or inner size in mm  [default: by frequency]",
)
@click.option("--tube", metavar="WxHxT", help="instead: rectangular tube, outer size and wall in mm")
@click.option("--round", metavar="DxT", help="instead: round tube, inner diameter and wall in mm (88x1)")
@click.option("--sheet", type=_WALL, metavar="MM", help="instead: box folded of sheet of this thickness")
@click.option("--inside", metavar="AxB", help="inner size of that box in mm (90x40)  [default: by frequency]")
@click.option(
    "--wall",
    type=_WALL,
    metavar="MM",
    help="thickness of the walls of a guide  [default: that of the stock, else 1]",
)
@click.option(
    "--laminate",
    metavar="TxExL",
    help="front etched in laminate, copper inside: thickness in mm, permittivity, loss tangent "
    "(0.8x4.4x0.02)",
)
@click.option(
    "--cover",
    metavar="MATERIAL,T[,GAP]",
    help="weather cover on the slots: material (PVC), or permittivity x loss tangent (2.8x0.01), thickness, "
    "and air gap before the wall in mm (PVC,2,6)",
)
@click.option(
    "--material",
    help="of the walls  [default: brass, copper for round tubes, aluminium for others if nothing is "
    "soldered to them]",
)
@click.option("--cutter", type=_WIDTH, metavar="MM", help="width of the slots  [default: by frequency]")
@click.option("--ends", type=click.Choice(["round", "square"]), help="ends of the slots  [default: round]")
@click.option(
    "--feed",
    type=click.Choice(["probe", "bent-probe"]),
    help="straight, through the back wall; or through the near end and bent  [default: probe]",
)
@click.option(
    "--tip",
    type=click.Choice(["soldered", "open"]),
    help="end of a bent probe: on the front wall (behind a laminate: on the back), or free  [default: "
    "soldered]",
)
@click.option(
    "--connector",
    type=click.Choice(["bare", "panel", "stripped"]),
    help="what sits on the wall: a connector, one with a flange, or stripped coax  [default: bare]",
)
@click.option(
    "--coax",
    metavar="DxD",
    help="inner and outer diameter of its coax, mm  [default: 1.27x4.1; 0.92x2.98 for stripped]",
)
@click.option("--permittivity", type=Number(1, 12), help="of the coax dielectric  [default: 2.03]")
@click.option(
    "--wire",
    type=_WIDTH,
    metavar="MM",
    help="diameter of the probe's wire  [default: that of the centre conductor]",
)
@click.option(
    "--dielectric",
    type=Number(0, 100, "mm"),
    metavar="MM",
    help="how far the dielectric protrudes into the guide  [default: 0]",
)
@click.option(
    "--flange",
    type=Number(1, 100, "mm", above=True, below=True),
    metavar="MM",
    help="side of the square flange of a panel connector  [default: 12.7]",
)
@click.option(
    "--flange-thickness", type=Number(0.2, 20, "mm"), metavar="MM", help="of that flange  [default: 1.6]"
)
@click.option(
    "--load",
    type=Number(0, 100, above=True),
    help="load of the whole row on the guide, normalised  [default: 1, less for few slots]",
)
@click.option(
    "--far-end",
    type=click.Choice(["short", "load"]),
    help="short: standing wave, beam broadside; load: travelling wave into an absorber, for long rows  "
    "[default: short]",
)
@click.option(
    "--residual-power",
    type=Number(0, 100, above=True, below=True),
    metavar="PERCENT",
    help="power that the absorber of a travelling-wave row takes  [default: 10]",
)
@click.option(
    "--step",
    type=Number(0, 5, "mm", above=True),
    metavar="MM",
    help="what you can mark: dimensions are rounded to it  [default: 0.1]",
)
@click.option(
    "--axis", type=click.Choice(["vertical", "horizontal"]), help="how the guide hangs  [default: vertical]"
)
@click.option(
    "--faces",
    type=click.Choice(["front", "both"]),
    help="broad walls with slots; both: that number of slots in each  [default: front]",
)
@click.option(
    "--back",
    type=click.Choice(["opposite", "same"]),
    help="offsets in the back wall: opposite is more even around the guide, with a null to either side  "
    "[default: opposite]",
)
@click.option(
    "--out", type=FilePath(), metavar="FILE", help="record to write  [default: by slots and frequency]"
)
@click.option("--replace", is_flag=True, help="replace the file if it is there")
@json_option
def command(out: Path | None, replace: bool, as_json: bool, **given: Any) -> None:
    """A complete record from a band and the metal at hand, in a few seconds.

    Slots, spacing, ends and probe are computed with all coupling, rounded to what you can mark, and computed
    again. Begin with 'simharness design --frequency 5.8 --slots 8 --guide WR-159', or let 'simharness start'
    ask you.
    """
    from simharness import design
    from simharness.library.values import require_free

    if given["frequency"] is given["low"] is given["high"] is None:
        raise click.UsageError("Missing option '--frequency', or '--low' and '--high'.")
    if out is not None:
        require_free(out, replace)
    found = design(out.stem if out is not None else "", **given)
    path = found.save(out or Path(f"{found.record.name}.toml"), replace)
    _show(found, path, as_json)


def _show(found: DesignResult, path: Path, as_json: bool) -> None:
    from simharness.cli.text import number, print_columns, print_json, print_wrapped
    from simharness.verdict.assessment import LABELS

    labels = LABELS | {"s11_in_band": "S11 in the band, at most"}
    if as_json:
        print_json({"file": str(path)} | found.as_dict())
        return
    record = found.record
    click.echo(f"{record.name}: {record.title}")
    for text in found.choices:
        print_wrapped(text)
    click.echo()
    rows = [
        (
            f"{i + 1}",
            f"{s.position_mm:g}",
            f"{s.offset_mm:+g}",
            f"{s.length_mm:g}",
            *([s.face] if record.two_faced else []),
        )
        for i, s in enumerate(record.slots)
    ]
    print_columns(
        rows, ("slot", "position mm", "offset mm", "length mm", *(["wall"] if record.two_faced else []))
    )
    click.echo("\nAs rounded, by the models of the design")
    print_columns([(labels[name], number(figure)) for name, figure in found.figures.items()])
    for text in (found.rounding, found.bias):
        print_wrapped(text)
    click.echo("\nWarnings" if found.warnings else "\nNo warnings.")
    for text in found.warnings:
        print_wrapped(text)
    click.echo(
        f"\nWritten to {path}. Next: 'simharness check {path}', 'simharness estimate {path}', "
        f"then 'simharness solve {path}'."
    )
