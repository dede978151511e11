"""`simharness design --frequency GHZ`."""

from __future__ import annotations

from pathlib import Path

import click

from simharness.cli.options import GHZ, FilePath, Number, json_option

_WALL, _WIDTH = Number(0.05, 20, "mm"), Number(0.1, 30, "mm", above=True)


@click.command("design")
@click.option("--frequency", type=GHZ, required=True, metavar="GHZ", help="centre of the band, GHz")
@click.option("--slots", type=click.IntRange(1, 40), help="number of slots  [default: 8]")
@click.option("--beamwidth", type=Number(0, 180, above=True), metavar="DEG",
              help="instead: widest beam along the guide, between half-power directions")
@click.option("--gain", type=Number(-20, 40), metavar="DBI", help="instead: least directivity, dBi")
@click.option("--taper", type=click.Choice(["uniform", "dolph", "taylor"]),
              help="slot voltages  [default: uniform, dolph with --side-lobes]")
@click.option("--side-lobes", type=Number(-80, 80), metavar="DB", help="side lobes below the main beam, dB  [default: 20]")
@click.option("--nbar", type=click.IntRange(2, 20), default=4, show_default=True,
              help="even side lobes of a Taylor taper, plus one")
@click.option("--guide", metavar="NAME|AxB",
              help="standard guide (WR-159), or inner size in mm  [default: by frequency]")
@click.option("--tube", metavar="WxHxT", help="instead: rectangular tube, outer size and wall in mm")
@click.option("--round", metavar="DxT", help="instead: round tube, inner diameter and wall in mm (88x1)")
@click.option("--sheet", type=_WALL, metavar="MM", help="instead: box folded of sheet of this thickness")
@click.option("--wall", type=_WALL, metavar="MM", help="thickness of the walls  [default: that of the stock, else 1]")
@click.option("--laminate", metavar="TxExL", help="front etched in laminate, copper inside: thickness in mm, permittivity, loss tangent (0.8x4.4x0.02)")
@click.option("--material", help="of the walls  [default: brass, aluminium for tubes]")
@click.option("--cutter", type=_WIDTH, metavar="MM", help="width of the slots  [default: by frequency]")
@click.option("--ends", type=click.Choice(["round", "square"]), default="round", show_default=True,
              help="ends of the slots")
@click.option("--wire", type=_WIDTH, metavar="MM", default=1.27, show_default=True,
              help="diameter of the probe's wire")
@click.option("--coax", metavar="DxD", default="1.27x4.1", show_default=True,
              help="inner and outer diameter of the connector's coax, mm")
@click.option("--permittivity", type=Number(1, 12), default=2.03, show_default=True,
              help="of the coax dielectric")
@click.option("--bandwidth", type=Number(0, 50, above=True, below=True), metavar="PERCENT", default=1.0, show_default=True,
              help="width of the wanted band")
@click.option("--load", type=Number(0, 100, above=True),
              help="load of the whole row on the guide, normalised  [default: 1, less for few slots]")
@click.option("--far-end", type=click.Choice(["short", "load"]), default="short", show_default=True,
              help="short: standing wave, beam broadside; load: travelling wave into an absorber, for long rows")
@click.option("--left-over", type=Number(0, 100, above=True, below=True), default=10.0, show_default=True,
              metavar="PERCENT", help="power that the absorber of a travelling-wave row takes")
@click.option("--step", type=Number(0, 5, "mm", above=True), metavar="MM", default=0.1, show_default=True,
              help="what you can mark: dimensions are rounded to it")
@click.option("--axis", type=click.Choice(["vertical", "horizontal"]), default="vertical", show_default=True,
              help="how the guide hangs")
@click.option("--faces", type=click.Choice(["front", "both"]), default="front", show_default=True,
              help="broad walls with slots; both: that number of slots in each")
@click.option("--back", type=click.Choice(["opposite", "same"]), default="opposite", show_default=True,
              help="offsets in the back wall: opposite is more even around the guide, with a null to either side")
@click.option("--out", type=FilePath(), metavar="FILE",
              help="record to write  [default: by slots and frequency]")
@click.option("--replace", is_flag=True, help="replace the file if it is there")
@json_option
def command(out: Path | None, replace: bool, as_json: bool, **wanted) -> None:
    """A complete record from a centre frequency and the metal at hand, in a few seconds.

    Slots, spacing, ends and probe are computed with all coupling, rounded to what you can mark, and computed again. Begin
    with 'simharness design --frequency 5.8 --slots 8 --guide WR-159'.
    """
    from simharness.files import atomic_write_text
    from simharness.proposal import designed
    from simharness.proposal_words import noted_record
    from simharness.record_text import record_text

    wish = _wish(wanted, out.stem if out is not None else "")
    if out is not None:
        _require_free(out, replace)
    design = designed(wish)
    record = noted_record(design)
    path = out or Path(f"{record.name}.toml")
    _require_free(path, replace)
    atomic_write_text(path, record_text(record, _heading(wanted)))
    _show(design, record, path, as_json)


def _wish(wanted: dict, stem: str):
    """The options as a wish in SI units."""
    import math
    import re

    from simharness.stock import cutter_width, sizes
    from simharness.wish import Wish

    frequency = wanted["frequency"] * 1e9
    guide = _stock(wanted, frequency)
    lobes = wanted["side_lobes"]
    taper = wanted["taper"] or ("uniform" if lobes is None else "dolph")
    nothing = wanted["slots"] is None and wanted["beamwidth"] is None and wanted["gain"] is None
    inner, outer = sizes(wanted["coax"], 2, "coax")
    return Wish(
        frequency, guide, 8 if nothing else wanted["slots"],
        None if wanted["beamwidth"] is None else math.radians(wanted["beamwidth"]), wanted["gain"],
        taper, 20.0 if lobes is None else abs(lobes), wanted["nbar"], wanted["bandwidth"] / 100,
        cutter_width(frequency) if wanted["cutter"] is None else wanted["cutter"] * 1e-3, wanted["ends"],
        wanted["wire"] * 1e-3, inner * 1e-3, outer * 1e-3, wanted["permittivity"], wanted["load"], wanted["step"] * 1e-3,
        stem if re.fullmatch(r"[a-z0-9][a-z0-9-]{0,47}", stem) else "", wanted["axis"],
        wanted["far_end"], wanted["left_over"] / 100,
        0 if wanted["faces"] == "front" else 1 if wanted["back"] == "same" else -1, _cover(wanted["laminate"]),
    )


def _cover(text: str | None):
    """The substrate of a laminate front."""
    from simharness.em.cover import Cover
    from simharness.errors import InputError
    from simharness.stock import sizes

    if text is None:
        return None
    thickness, permittivity, loss = sizes(text, 3, "laminate")
    if permittivity < 1:
        raise InputError("laminate", text, "the second number is the relative permittivity: at least 1")
    return Cover(thickness * 1e-3, permittivity, loss)


def _stock(wanted: dict, frequency: float):
    """The guide that the options name."""
    from dataclasses import replace

    from simharness.errors import InputError
    from simharness.materials import material
    from simharness.stock import folded_box, guide_from_text, preferred_guide, round_from_text, tube_from_text

    named = {key: wanted[key] for key in ("guide", "tube", "round", "sheet") if wanted[key] is not None}
    if len(named) > 1:
        raise InputError("metal", " and ".join(f"--{key}" for key in named), "give one of --guide, --tube, --round and --sheet")
    wall = None if wanted["wall"] is None else wanted["wall"] * 1e-3
    if wanted["tube"] is not None:
        stock = tube_from_text(wanted["tube"])
    elif wanted["round"] is not None:
        stock = round_from_text(wanted["round"])
    elif wanted["sheet"] is not None:
        stock = folded_box(frequency, wanted["sheet"] * 1e-3)
    elif wanted["guide"] is not None:
        stock = guide_from_text(wanted["guide"], wall or 1e-3)
    else:
        stock = preferred_guide(frequency)
    if wanted["material"] is not None:
        stock = replace(stock, material=material(wanted["material"]).name)
    return stock if wall is None else replace(stock, wall=wall)


def _require_free(path: Path, replace: bool) -> None:
    """Refuse a place where no file can go, or where one is already."""
    from simharness.errors import InputError

    if path.is_dir():
        raise InputError("out", path, "that is a folder; name a file in it")
    if not path.parent.is_dir():
        raise InputError("out", path, f"there is no folder {path.parent}; make it first")
    if path.exists() and not replace:
        raise InputError("out", path, "the file is there already; take another name, or --replace to write over it")


def _heading(wanted: dict) -> str:
    """The command line that makes the record again; options left at their defaults are not named."""
    import shlex

    from simharness import __version__

    defaults = {parameter.name: parameter.default for parameter in command.params}
    given = [
        f"--{name.replace('_', '-')} {shlex.quote(f'{value:.12g}' if isinstance(value, float) else str(value))}"
        for name, value in wanted.items() if value is not None and value != defaults[name]
    ]
    return f"Made by simharness {__version__}:\nsimharness design {' '.join(given)}"


def _show(design, record, path: Path, as_json: bool) -> None:
    from simharness.cli.text import number, print_columns, print_json, print_wrapped
    from simharness.proposal_words import MODEL_BIAS, cautions, choices, rounding
    from simharness.verdict import LABELS

    labels = LABELS | {"s11_in_band": "S11 in the band, at most"}
    figures, warnings = _figures(design), cautions(design)
    if as_json:
        print_json({
            "file": str(path), "record": record.model_dump(by_alias=True, exclude_none=True),
            "choices": choices(design), "rounding": rounding(design), "figures": figures, "warnings": warnings,
            "bias": MODEL_BIAS,
        })
        return
    click.echo(f"{record.name}: {record.title}")
    for text in choices(design):
        print_wrapped(text)
    click.echo()
    rows = [
        (f"{i + 1}", f"{s.position_mm:g}", f"{s.offset_mm:+g}", f"{s.length_mm:g}", *([s.face] if record.two_faced else []))
        for i, s in enumerate(record.slots)
    ]
    print_columns(rows, ("slot", "position mm", "offset mm", "length mm", *(["wall"] if record.two_faced else [])))
    click.echo("\nAs rounded, by the models of the design")
    print_columns([(labels[name], number(figure)) for name, figure in figures.items()])
    for text in (rounding(design), MODEL_BIAS):
        print_wrapped(text)
    click.echo("\nWarnings" if warnings else "\nNo warnings.")
    for text in warnings:
        print_wrapped(text)
    click.echo(f"\nWritten to {path}. Next: 'simharness check {path}', 'simharness estimate {path}', "
               f"then 'simharness solve {path}'.")


def _figures(design) -> dict:
    """Figures of the rounded design by the names of the estimate."""
    import math

    from simharness.figure_words import Figure

    after, basis = design.after, "slots and probe by the method of moments, infinite plane outside"
    lobes = after.side_lobe_db if math.isfinite(after.side_lobe_db) else None
    return {
        "s11_at_centre": Figure(float(after.s11_db[1]), "dB", basis),
        "s11_in_band": Figure(float(after.s11_db.max()), "dB", f"edges and centre of the band; {basis}"),
        "beamwidth_along": Figure(math.degrees(after.beamwidth), "deg", basis),
        "side_lobe_level": Figure(lobes, "dB", basis),
        "beam_direction": Figure(math.degrees(after.beam.angle), "deg", basis),
        "directivity": Figure(after.directivity_db, "dBi", "cut along the guide times cut across the tube"),
    }
