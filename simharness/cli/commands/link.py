"""`simharness link [RUN]`."""

from __future__ import annotations

import math
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import click

from simharness.cli.options import GHZ, Number, json_option, quality_option, runs_option

if TYPE_CHECKING:
    from simharness.link.budget import End

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
    help="with --gain-dbi: horizontal, vertical, circular, right-circular, left-circular, or degrees from the horizontal",
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
def command(run: str | None, quality: str | None, as_json: bool, runs_folder: Path, **asked) -> None:
    """Received level and range of a radio link, radiated power against a limit, and exposure distance.

    One end is the antenna of a stored RUN, looked at in the direction of the other end, or a plain --gain-dbi.
    Free space only: trees, walls, ground and weather take more.
    """
    from simharness.cli.text import print_json, print_wrapped
    from simharness.link.budget import Link, plain_end

    end = _own_end(run, quality, runs_folder, asked)
    other = plain_end(asked["other_gain_dbi"], asked["other_polarization"])
    link = Link(
        end.frequency, asked["power_dbm"], asked["cable_db"], end.antenna, other, asked["other_cable_db"]
    )
    found = _found(link, asked)
    if as_json:
        print_json({"run": end.run, "record": end.record} | found)
        return
    _print_link(link, found, asked, end)
    for sentence in end.remarks:
        print_wrapped(sentence)
    _print_words(link, found, end.axis)


class _OwnEnd(NamedTuple):
    """This end of the link: the antenna, the frequency in Hz, and what is known of it where it is that of a run.

    `axis` is the direction of the guide's axis, `run` the name of the run, `record` that of its record.
    """

    antenna: End
    frequency: float
    axis: str | None = None
    run: str | None = None
    record: str | None = None
    remarks: tuple[str, ...] = ()


def _own_end(run: str | None, quality: str | None, runs_folder: Path, options: dict) -> _OwnEnd:
    """This end, of a stored run or of a plain gain."""
    from simharness.cli.stored import asked, stored_results
    from simharness.errors import InputError
    from simharness.link.budget import end_of_run, plain_end

    if (run is None) == (options["gain_dbi"] is None):
        raise InputError("RUN", run or "(none)", "give either a stored run or --gain-dbi, not both")
    if options["frequency_ghz"] is None and run is None:
        raise InputError("--frequency-ghz", "(none)", "must be given with --gain-dbi")
    if run is None:
        return _OwnEnd(
            plain_end(options["gain_dbi"], options["polarization"]), options["frequency_ghz"] * 1e9
        )
    found = asked(run, runs_folder, quality)
    record = found.record
    frequency = options["frequency_ghz"] * 1e9 if options["frequency_ghz"] else record.band.centre
    directions = math.radians(options["along_deg"]), math.radians(options["across_deg"])
    antenna = end_of_run(stored_results(found.run, found.record), record, frequency, *directions)
    return _OwnEnd(antenna, frequency, record.mounting.axis, found.run.path.name, record.name, found.remarks)


def _found(link, asked: dict) -> dict:
    """All numbers, for JSON and for the text."""
    from simharness.link.propagation import exposure_distance, far_field_distance, free_space_loss
    from simharness.link.rules import REMINDER, exposure_limits, radiated_limit

    watts = 10 ** ((link.radiated_dbm - 30) / 10)
    found = {
        "frequency_hz": link.frequency,
        "power_dbm": link.power_dbm,
        "gain_dbi": link.own.gain_dbi,
        "largest_gain_dbi": link.own.largest_dbi,
        "gain_error_db": link.own.largest_error,
        "gain_error_there_db": link.own.gain_error,
        "beam_direction": link.own.beam,
        "polarization": link.own.polarization.description,
        "other_polarization": link.other.polarization.description,
        "ideal_mismatch_db": link.ideal_mismatch_db,
        "mismatch_db": link.mismatch_db,
        "eirp_dbm": link.radiated_dbm,
        "eirp_w": watts,
        "reminder": REMINDER,
        "exposure": [
            {
                "limit": limit.name,
                "w_per_m2": limit.density,
                "minutes": limit.minutes,
                "source": limit.source,
                "label": limit.label,
                "distance_m": exposure_distance(watts, limit.density),
            }
            for limit in exposure_limits(link.frequency)
        ]
        if 2e9 < link.frequency <= 100e9
        else [],
        "far_field_distance_m": far_field_distance(link.own.extent, link.frequency)
        if link.own.extent
        else None,
    }
    if asked["distance_m"]:
        found["free_space_loss_db"] = float(free_space_loss(link.frequency, asked["distance_m"]))
        found["level_dbm"] = link.level_dbm(asked["distance_m"])
    if asked["sensitivity_dbm"] is not None:
        found["range_m"] = link.range_m(asked["sensitivity_dbm"], asked["margin_db"])
    if asked["region"]:
        limit = radiated_limit(asked["region"], link.frequency)
        found["region"] = asked["region"]
        found["eirp_limit"] = (
            None
            if limit is None
            else {
                "dbm": limit.radiated_dbm(link.own.largest_dbi),
                "transmitter_dbm": limit.transmitter_dbm(link.own.largest_dbi, link.cable_db),
                "source": limit.source,
                "edition": limit.edition,
                "label": limit.label,
                "remark": limit.remark,
            }
        )
    return found


def _print_link(link, found: dict, asked: dict, end: _OwnEnd) -> None:
    from simharness.cli.text import print_columns
    from simharness.link.messages import level_text

    here = f" towards {asked['along_deg']:g} deg along, {asked['across_deg']:g} deg across" if end.run else ""
    click.echo(
        f"Link at {link.frequency / 1e9:.4g} GHz, {f'antenna {end.record} of run {end.run}' if end.run else 'antenna of a given gain'}{here}\n"
    )
    infinite = found["ideal_mismatch_db"] > found["mismatch_db"]
    rows = [
        ("transmitter", f"{link.power_dbm:g} dBm"),
        ("cable at this end", f"{0 - link.cable_db:g} dB"),
        (
            "gain of this end",
            f"{level_text(link.own.gain_dbi, 'dBi', link.own.gain_error)}, {link.own.polarization.description}",
        ),
        ("gain of the other end", f"{link.other.gain_dbi:g} dBi, {link.other.polarization.description}"),
        (
            "polarization mismatch",
            f"{round(-link.mismatch_db, 1) + 0.0:.1f} dB{' or worse' if infinite else ''}",
        ),
        ("cable at the other end", f"{0 - link.other_cable_db:g} dB"),
    ]
    if "level_dbm" in found:
        rows += [
            (
                f"free space over {_distance(asked['distance_m'])}",
                f"{-found['free_space_loss_db']:.1f} dB (ITU-R P.525)",
            ),
            (
                "received level",
                f"{'at most ' if infinite else ''}{level_text(found['level_dbm'], 'dBm', link.own.gain_error)}",
            ),
        ]
        if asked["sensitivity_dbm"] is not None:
            rows.append(("above the sensitivity", f"{found['level_dbm'] - asked['sensitivity_dbm']:.1f} dB"))
    if "range_m" in found:
        rows.append(
            (
                f"range with {asked['margin_db']:g} dB margin",
                f"{'at most ' if infinite else ''}{_distance(found['range_m'])}",
            )
        )
    print_columns(rows)
    click.echo()


def _print_words(link, found: dict, axis: str | None) -> None:
    from simharness.cli.text import print_wrapped
    from simharness.link.messages import MANY_DB, direction_sentences, limit_sentence

    if found["ideal_mismatch_db"] > found["mismatch_db"]:
        print_wrapped(
            f"The two ends are crossed ({link.own.polarization.description} and {link.other.polarization.description}). By the book nearly "
            f"nothing comes through; in practice the loss is {found['mismatch_db']:g} dB or more, depending on reflections. "
            f"{found['mismatch_db']:g} dB are counted, so these figures are the best to hope for: turn one of the antennas by 90 degrees."
        )
    if axis == "vertical" and link.mismatch_db > MANY_DB:
        print_wrapped(
            "With its axis vertical, an antenna of longitudinal slots radiates horizontal polarization. A vertical "
            "whip is crossed to it: ideally it receives nothing, in practice 20 dB or more less than when laid flat."
        )
    for sentence in direction_sentences(link.own):
        print_wrapped(sentence)
    print_wrapped(limit_sentence(found))
    for sentence in _exposure_words(found):
        print_wrapped(sentence)
    print_wrapped(found["reminder"])


def _exposure_words(found: dict) -> list[str]:
    if not found["exposure"]:
        return ["Exposure reference levels are at hand for 2 to 100 GHz only."]
    parts = []
    for row in found["exposure"]:
        mean = f" over {row['minutes']} min" if row["minutes"] else ""
        parts.append(
            f"{_distance(row['distance_m'])} for {row['w_per_m2']:.3g} W/m2 ({row['limit']}{mean}; {row['label']})"
        )
    said = [
        "In front, at full power without pause, the far-field formula P G / (4 pi r^2) gives the reference level of the "
        f"general public at {'; '.join(parts)}. Metal nearby can raise the field: keep a multiple of it."
    ]
    begin = found["far_field_distance_m"]
    if begin and any(row["distance_m"] < begin for row in found["exposure"]):
        said.append(
            f"That is nearer than the far field, which begins at about {_distance(begin)} (2 D^2 / wavelength): there the "
            "formula tends to exaggerate the mean in the beam, but says nothing of the field close to a slot. Do not "
            "touch or look into slots of an antenna that transmits."
        )
    return said


def _distance(metres: float) -> str:
    """Two digits, in the unit that fits."""
    for scale, unit in ((1e3, "km"), (1.0, "m"), (1e-2, "cm")):
        if metres >= scale or unit == "cm":
            return f"{float(f'{metres / scale:.2g}'):g} {unit}"
    raise AssertionError
