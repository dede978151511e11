"""`simharness design --frequency GHZ`."""

from __future__ import annotations

from pathlib import Path

import click

from simharness.cli.options import GHZ, FilePath, Number, json_option

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
    help="front etched in laminate, copper inside: thickness in mm, permittivity, loss tangent (0.8x4.4x0.02)",
)
@click.option(
    "--material",
    help="of the walls  [default: brass, copper for round tubes, aluminium for others if nothing is soldered to them]",
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
    help="end of a bent probe: on the front wall (behind a laminate: on the back), or free  [default: soldered]",
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
    help="short: standing wave, beam broadside; load: travelling wave into an absorber, for long rows  [default: short]",
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
    help="offsets in the back wall: opposite is more even around the guide, with a null to either side  [default: opposite]",
)
@click.option(
    "--out", type=FilePath(), metavar="FILE", help="record to write  [default: by slots and frequency]"
)
@click.option("--replace", is_flag=True, help="replace the file if it is there")
@json_option
def command(out: Path | None, replace: bool, as_json: bool, **given) -> None:
    """A complete record from a band and the metal at hand, in a few seconds.

    Slots, spacing, ends and probe are computed with all coupling, rounded to what you can mark, and computed again. Begin
    with 'simharness design --frequency 5.8 --slots 8 --guide WR-159', or let 'simharness start' ask you.
    """
    from simharness.design.messages import as_made, noted_record
    from simharness.design.options import requirements_from_options
    from simharness.design.proposal import designed
    from simharness.files import atomic_write_text
    from simharness.records.text import record_text

    if given["frequency"] is given["low"] is given["high"] is None:
        raise click.UsageError("Missing option '--frequency', or '--low' and '--high'.")
    requirements = requirements_from_options(given, out.stem if out is not None else "")
    if out is not None:
        require_free(out, replace)
    design = designed(requirements)
    record = noted_record(design)
    path = out or Path(f"{record.name}.toml")
    require_free(path, replace)
    atomic_write_text(path, record_text(record, f"{_heading(given)}\n\n{as_made(design)}"))
    _show(design, record, path, as_json)


def require_free(path: Path, replace: bool) -> None:
    """Refuse a place where no file can go, or where one is already."""
    from simharness.errors import InputError

    if path.is_dir():
        raise InputError("out", path, "that is a folder; name a file in it")
    if not path.parent.is_dir():
        raise InputError("out", path, f"there is no folder {path.parent}; make it first")
    if path.exists() and not replace:
        raise InputError(
            "out", path, "the file is there already; take another name, or --replace to write over it"
        )


def _heading(given: dict) -> str:
    """The command line that makes the record again."""
    from simharness import __version__

    return f"Made by simharness {__version__}:\n{command_line(given)}"


def command_line(given: dict) -> str:
    """The options that are given as a command line."""
    import shlex

    words = [
        f"--{name.replace('_', '-')} {shlex.quote(f'{value:.12g}' if isinstance(value, float) else str(value))}"
        for name, value in given.items()
        if value is not None
    ]
    return f"simharness design {' '.join(words)}"


def _show(design, record, path: Path, as_json: bool) -> None:
    from simharness.cli.text import number, print_columns, print_json, print_wrapped
    from simharness.design.cautions import cautions
    from simharness.design.messages import MODEL_BIAS, choices, rounding
    from simharness.verdict.assessment import LABELS

    labels = LABELS | {"s11_in_band": "S11 in the band, at most"}
    figures, warnings = _figures(design), cautions(design)
    if as_json:
        print_json(
            {
                "file": str(path),
                "record": record.model_dump(by_alias=True, exclude_none=True),
                "choices": choices(design),
                "rounding": rounding(design),
                "figures": figures,
                "warnings": warnings,
                "bias": MODEL_BIAS,
            }
        )
        return
    click.echo(f"{record.name}: {record.title}")
    for text in choices(design):
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
    print_columns([(labels[name], number(figure)) for name, figure in figures.items()])
    for text in (rounding(design), MODEL_BIAS):
        print_wrapped(text)
    click.echo("\nWarnings" if warnings else "\nNo warnings.")
    for text in warnings:
        print_wrapped(text)
    click.echo(
        f"\nWritten to {path}. Next: 'simharness check {path}', 'simharness estimate {path}', "
        f"then 'simharness solve {path}'."
    )


def _figures(design) -> dict:
    """Figures of the rounded design by the names of the estimate."""
    import math

    from simharness.figures import Figure

    after, basis = design.after, "slots and probe by the method of moments, infinite plane outside"
    match, own = design.match, "of the finished record, by the estimate"
    lobes = after.side_lobe_db if math.isfinite(after.side_lobe_db) else None
    return {
        "resonance": Figure(match.best_at, "Hz", f"deepest |S11|; {own}"),
        "s11_at_resonance": Figure(match.best, "dB", own),
        "s11_at_centre": Figure(float(after.s11_db[1]), "dB", basis),
        "s11_in_band": Figure(match.worst, "dB", f"edges included; {own}"),
        "beamwidth_along": Figure(math.degrees(after.beamwidth), "deg", basis),
        "side_lobe_level": Figure(lobes, "dB", basis),
        "beam_direction": Figure(math.degrees(after.beam.angle), "deg", basis),
        "directivity": Figure(after.directivity_db, "dBi", "cut along the guide times cut across the tube"),
    }
