"""Requirements as they are typed: options in GHz, mm, dB and per cent, and what goes with what.

An option that is left out is None; what then holds stands in `simharness.design.requirements` and
`simharness.design.feed_requirements` alone.
"""

from __future__ import annotations

import math
import re
from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import Any

from pydantic import ValidationError

from simharness.advice.solder import takes_solder
from simharness.constants import MM
from simharness.design.feed_requirements import FeedRequirements, feed_requirements
from simharness.design.requirements import Requirements
from simharness.design.stock import (
    cutter_width,
    folded_box,
    guide_from_text,
    preferred_guide,
    round_from_text,
    sizes,
    tube_from_text,
)
from simharness.design.stock_guide import StockGuide
from simharness.em.slot.superstrate import Superstrate
from simharness.errors import InputError
from simharness.hints import meant_word
from simharness.records import Cover
from simharness.records.cover import COVER_MATERIALS
from simharness.records.materials import material

GHZ = 1e9
SLOTS = 8
"""Number of slots where nothing is asked for."""
_OWN_WALL = 1.0
"""Of a guide given by its inner size, and of the back of a laminate front, mm."""

Options = Mapping[str, Any]

_PLAIN = {
    "slots": ("slots", 1),
    "beamwidth": ("beamwidth", math.pi / 180),
    "gain": ("gain", 1),
    "taper": ("taper", 1),
    "nbar": ("nbar", 1),
    "bandwidth": ("bandwidth", 0.01),
    "target": ("target_db", 1),
    "cutter": ("slot_width", MM),
    "ends": ("ends", 1),
    "load": ("load", 1),
    "step": ("step", MM),
    "axis": ("axis", 1),
    "far_end": ("far_end", 1),
    "residual_power": ("residual_power", 0.01),
}
_FEED = {
    "feed": ("kind", 1),
    "tip": ("tip", 1),
    "wire": ("wire_diameter", MM),
    "permittivity": ("coax_permittivity", 1),
    "flange": ("flange", MM),
    "flange_thickness": ("flange_thickness", MM),
    "dielectric": ("dielectric", MM),
}
"""Fields that options set: name of the field, and its unit in SI; words have none."""

_METAL = ("guide", "tube", "round", "sheet")


def _is(option: str, *values: str | None) -> Callable[[Options], bool]:
    return lambda given: given[option] in values


_ONLY_WITH: tuple[tuple[str, Callable[[Options], bool], str], ...] = (
    ("nbar", _is("taper", "taylor"), "only with --taper taylor"),
    (
        "side_lobes",
        _is("taper", None, "dolph", "taylor"),
        "slots of equal voltage have the side lobes they have: take --taper dolph or taylor",
    ),
    ("residual_power", _is("far_end", "load"), "only with --far-end load"),
    ("back", _is("faces", "both"), "only with --faces both"),
    (
        "inside",
        lambda given: given["sheet"] is not None,
        "only with --sheet; the inner size of another guide is --guide AxB",
    ),
    (
        "wall",
        lambda given: given["tube"] is given["round"] is given["sheet"] is None,
        "a tube or sheet says its thickness itself: leave it out",
    ),
    ("tip", _is("feed", "bent-probe"), "only with --feed bent-probe"),
    ("flange", _is("connector", "panel"), "only with --connector panel"),
    ("flange_thickness", _is("connector", "panel"), "only with --connector panel"),
    (
        "bandwidth",
        lambda given: given["low"] is given["high"] is None,
        "not with --low and --high, which are the band",
    ),
    ("low", lambda given: given["high"] is not None, "give --high too"),
    ("high", lambda given: given["low"] is not None, "give --low too"),
)
"""An option, what it takes, and the sentence where that is not given."""


def requirements_from_options(given: Options, name: str = "") -> Requirements:
    """The options of `simharness design` as requirements.

    Parameters
    ----------
    given : mapping
        Every option by its name, with None where it was left out.
    name : str
        Wanted of the record; taken where it can be one.

    Raises
    ------
    InputError
    """
    for option, fits, allowed in _ONLY_WITH:
        if given[option] is not None and not fits(given):
            value = given[option]
            raise InputError(
                option.replace("_", " "), f"{value:g}" if isinstance(value, float) else value, allowed
            )
    frequency, edges = _band(given)
    found = _fields(given, _PLAIN)
    if given["slots"] is given["beamwidth"] is given["gain"] is None:
        found["slots"] = SLOTS
    if given["side_lobes"] is not None:
        found = {"taper": "dolph"} | found | {"side_lobe_db": abs(given["side_lobes"])}
    if given["faces"] == "both":
        found["opposite"] = 1 if given["back"] == "same" else -1
    found.setdefault("slot_width", cutter_width(frequency))
    named = name if re.fullmatch(r"[a-z0-9][a-z0-9-]{0,47}", name) else ""
    return Requirements(
        frequency=frequency,
        guide=_stock(given, frequency, edges),
        edges=edges,
        feed=_feed(given),
        superstrate=_superstrate(given["laminate"]),
        cover=_cover(given["cover"]),
        name=named,
        **found,
    )


def _fields(given: Options, table: Mapping[str, tuple[str, float]]) -> dict[str, Any]:
    """Fields that are given, in SI."""
    found = {
        field: (given[option], unit) for option, (field, unit) in table.items() if given[option] is not None
    }
    return {field: value if unit == 1 else value * unit for field, (value, unit) in found.items()}


def _band(given: Options) -> tuple[float, tuple[float, float] | None]:
    """Centre and, where they are given, edges, Hz."""
    if given["low"] is None:
        if given["frequency"] is None:
            raise InputError("band", "none", "give --frequency, or --low and --high")
        return given["frequency"] * GHZ, None
    edges = given["low"] * GHZ, given["high"] * GHZ
    return sum(edges) / 2 if given["frequency"] is None else given["frequency"] * GHZ, edges


def _feed(given: Options) -> FeedRequirements:
    """The feed that the options name."""
    found = _fields(given, _FEED)
    if given["coax"] is not None:
        found["coax_inner"], found["coax_outer"] = (size * MM for size in sizes(given["coax"], 2, "coax"))
    return feed_requirements(given["connector"] or "bare", **found)


def _soldered(given: Options) -> bool:
    """Whether the feed is soldered to the walls."""
    return given["connector"] == "stripped" or (given["feed"] == "bent-probe" and given["tip"] != "open")


def _superstrate(text: str | None) -> Superstrate | None:
    """The substrate of a laminate front."""
    if text is None:
        return None
    thickness, permittivity, loss = sizes(text, 3, "laminate")
    if permittivity < 1:
        raise InputError("laminate", text, "the second number is the relative permittivity: at least 1")
    return Superstrate(thickness * MM, permittivity, loss)


def _cover(text: str | None) -> Cover | None:
    """A cover of a material of the table, or of permittivity x loss tangent."""
    if text is None:
        return None
    stuff, *rest = (part.strip() for part in text.split(","))
    try:
        lengths = [float(part) for part in rest]
    except ValueError:
        lengths = []
    if len(lengths) not in (1, 2):
        raise InputError(
            "cover", text, "must be MATERIAL,THICKNESS or MATERIAL,THICKNESS,GAP in mm, as PVC,2,6"
        )
    names = {entry.name.lower(): entry.name for entry in COVER_MATERIALS}
    fields: dict[str, Any] = dict(zip(("thickness_mm", "gap_mm"), lengths))
    if stuff.lower() in names:
        fields["material"] = names[stuff.lower()]
    elif re.fullmatch(r"[\d.]+x[\d.]+", stuff):
        fields["permittivity"], fields["loss_tangent"] = sizes(stuff, 2, "cover")
    else:
        meant = meant_word(stuff, list(names.values()))
        known = ", ".join(names.values())
        raise InputError("cover", text, f"unknown material{meant}; known are {known}, or PERMITTIVITYxLOSS")
    try:
        return Cover(**fields)
    except ValidationError as error:
        first = error.errors()[0]
        raise InputError(
            f"cover {first['loc'][0]}", first["input"], first["msg"].replace("Input should", "must")
        ) from None


def _stock(given: Options, frequency: float, edges: tuple[float, float] | None) -> StockGuide:
    """The guide that the options name."""
    named = [option for option in _METAL if given[option] is not None]
    if len(named) > 1:
        raise InputError(
            "metal",
            " and ".join(f"--{option}" for option in named),
            "give one of --guide, --tube, --round and --sheet",
        )
    wall = _OWN_WALL if given["wall"] is None else given["wall"]
    if given["tube"] is not None:
        stock = tube_from_text(given["tube"])
    elif given["round"] is not None:
        stock = round_from_text(given["round"])
    elif given["sheet"] is not None:
        stock = folded_box(frequency, given["sheet"] * MM, given["inside"])
    elif given["guide"] is not None:
        stock = guide_from_text(given["guide"], wall * MM)
    elif given["laminate"] is not None:
        stock = folded_box(frequency, wall * MM)
    else:
        stock = preferred_guide(frequency, *(edges or ()))
    if given["material"] is not None:
        stock = replace(stock, material=material(given["material"]).name)
    elif _soldered(given) and not takes_solder(stock.material):
        stock = replace(stock, material="brass")
    return stock if given["wall"] is None else replace(stock, wall=wall * MM)
