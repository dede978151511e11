"""`simharness link [RUN]`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from simharness.cli.options import GHZ, Number, json_option, quality_option, runs_option

if TYPE_CHECKING:
    from simharness.library import LinkResult

_GAIN = Number(-60, 80)
_REGIONS = ("europe", "us", "us-point-to-point")


@click.command("link")
@click.argument("run", metavar="[RUN]", required=False)
@quality_option
@click.option("--gain-dbi", type=_GAIN, default=None, help="instead of RUN: realized gain of this antenna")
@click.option(
    "--polarization",
    default="horizontal",
    show_default=True,
    help="with --gain-dbi: horizontal, vertical, circular, right-circular, left-circular, or degrees from "
    "the horizontal",
)
@click.option("--frequency-ghz", type=GHZ, default=None, help="default: the design frequency of RUN")
@click.option(
    "--along-deg",
    type=Number(-180, 180),
    default=0.0,
    show_default=True,
    help="where the other end lies off broadside, towards the far end of the guide",
)
@click.option(
    "--across-deg",
    type=Number(-180, 180),
    default=0.0,
    show_default=True,
    help="where the other end lies off broadside, across the guide",
)
@click.option(
    "--power-dbm", type=Number(-100, 100), required=True, help="transmitter at its socket; 20 dBm are 100 mW"
)
@click.option(
    "--cable-db", type=Number(0, 200), default=0.0, show_default=True, help="loss of the cable at this end"
)
@click.option(
    "--other-gain-dbi",
    type=_GAIN,
    default=2.15,
    show_default=True,
    help="gain of the antenna at the other end",
)
@click.option("--other-polarization", default="vertical", show_default=True, help="as --polarization")
@click.option(
    "--other-cable-db",
    type=Number(0, 200),
    default=0.0,
    show_default=True,
    help="loss of the cable at the other end",
)
@click.option(
    "--distance-m",
    type=Number(0, 1e12, above=True),
    default=None,
    help="print the received level at this distance",
)
@click.option(
    "--sensitivity-dbm", type=Number(-250, 100), default=None, help="of the receiver: print the range"
)
@click.option(
    "--margin-db", type=Number(0, 200), default=10.0, show_default=True, help="kept above the sensitivity"
)
@click.option(
    "--region", type=click.Choice(_REGIONS), default=None, help="whose limit on radiated power to look up"
)
@json_option
@runs_option
def command(run: str | None, quality: str | None, as_json: bool, runs_folder: Path, **asked: Any) -> None:
    """Received level and range of a radio link, radiated power against a limit, and exposure distance.

    One end is the antenna of a stored RUN, looked at in the direction of the other end, or a plain
    --gain-dbi. Free space only: trees, walls, ground and weather take more.
    """
    from simharness import link, open_run
    from simharness.cli.text import print_columns, print_json, print_wrapped
    from simharness.library.linking import require_one_antenna

    require_one_antenna(run, asked["gain_dbi"])
    opened = None if run is None else open_run(run, runs=runs_folder, quality=quality)
    found = link(opened, **asked)
    if as_json:
        print_json(found.as_dict())
        return
    here = f" towards {asked['along_deg']:g} deg along, {asked['across_deg']:g} deg across" if opened else ""
    whose = f"antenna {opened.record.name} of run {opened.name}" if opened else "antenna of a given gain"
    click.echo(f"Link at {found.budget.frequency / 1e9:.4g} GHz, {whose}{here}\n")
    print_columns(_rows(found))
    click.echo()
    for sentence in (*(opened.remarks if opened else ()), *found.sentences):
        print_wrapped(sentence)


def _rows(found: LinkResult) -> list[tuple[str, str]]:
    """The budget line by line."""
    from simharness.link.messages import distance_text, level_text

    link, most = found.budget, "at most " if found.crossed else ""
    gain = level_text(link.own.gain_dbi, "dBi", link.own.gain_error)
    rows = [
        ("transmitter", f"{link.power_dbm:g} dBm"),
        ("cable at this end", f"{0 - link.cable_db:g} dB"),
        ("gain of this end", f"{gain}, {link.own.polarization.description}"),
        ("gain of the other end", f"{link.other.gain_dbi:g} dBi, {link.other.polarization.description}"),
        (
            "polarization mismatch",
            f"{round(-link.mismatch_db, 1) + 0.0:.1f} dB{' or worse' if found.crossed else ''}",
        ),
        ("cable at the other end", f"{0 - link.other_cable_db:g} dB"),
    ]
    if found.level_dbm is not None and found.distance_m is not None:
        loss = found.values["free_space_loss_db"]
        level = level_text(found.level_dbm, "dBm", link.own.gain_error)
        rows += [
            (f"free space over {distance_text(found.distance_m)}", f"{-loss:.1f} dB (ITU-R P.525)"),
            ("received level", f"{most}{level}"),
        ]
        if found.sensitivity_dbm is not None:
            rows.append(("above the sensitivity", f"{found.level_dbm - found.sensitivity_dbm:.1f} dB"))
    if found.range_m is not None:
        words = f"range with {found.margin_db:g} dB margin"
        rows.append((words, f"{most}{distance_text(found.range_m)}"))
    return rows
