"""What goes with a changed choice of a record, so that it stays an antenna: fields that the other kind needs.

Every function takes the data of a record as in its file, and the record that was valid last, and returns
other data. Lengths come from where `design` and its models take them, by guide and band, in tenths of a mm.
"""

from __future__ import annotations

import contextlib
import math
from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from simharness.constants import C0, MM
from simharness.em.probe.ranges import BACK, EASY_HEIGHT
from simharness.errors import HarnessError
from simharness.records.problems import rounded_down, rounded_up

if TYPE_CHECKING:
    from simharness.records import Record

Data = dict[str, Any]

_THIN = 0.5e-3
"""Thickness of sheet from which a folded box is usual, m; its inner size does not depend on it."""
_ROUND_RATIO = 1.17
"""Frequency over the cutoff of a round tube: midway to where its next wave begins, rather low."""
_ASIDE = 0.1
"""How far a slot that becomes curved stands off its chord, over its length: little, so that it fits."""
_OPEN_RISE = 0.8
"""Rise of an open tip over the room that it has."""
_HOLE = 1 / 3
"""Height of the hole of a bent probe over that of the guide."""
POLE_MM = 50.0
"""Diameter of a usual tube for antennas on a roof (common practice)."""


def with_companions(data: Data, record: Record, field: str) -> Data:
    """The data with what goes with a field that has just been changed; unchanged for most fields."""
    table, _, name = field.rpartition(".")
    change = _CHANGES.get(field) or _CHANGES.get(f"{table.split('.')[0]}.{name}")
    return data if change is None else change(data, record, table)


def guide_wavelength_mm(record: Record) -> float:
    """Of the guide of a record at the centre of its band."""
    from simharness.em.guide.rectangular import guide_wavelength

    return float(guide_wavelength(record.guide.line[0], record.band.centre)) / MM


def probe_lengths(wave_mm: float, along_mm: float, room_mm: float) -> dict[str, float]:
    """Place and height of a straight probe, mm: the middle of where a design looks for them.

    Of the wavelength in free space and along the guide, and the inner height of the guide, mm.
    """
    height = min(sum(EASY_HEIGHT) / 2 * wave_mm, 0.8 * room_mm)
    return {"position_mm": round(sum(BACK) / 2 * along_mm, 1), "height_mm": max(0.2, rounded_down(height))}


def pair_distance_mm(record: Record, place: str) -> float:
    """Distance to begin with for a second antenna: half a wavelength more than there must be."""
    from simharness.records.problems.surroundings import least_apart_mm

    least = least_apart_mm(record.guide, record.feed, place)  # type: ignore[arg-type]  # only with a coax
    return float(math.ceil(least + half_wave_mm(record)))


def half_wave_mm(record: Record) -> float:
    """Half a wavelength in free space at the centre of the band of a record."""
    return C0 / record.band.centre / 2 / MM


def _probe_lengths(record: Record) -> dict[str, float]:
    wave = C0 / record.band.centre / MM
    return probe_lengths(wave, guide_wavelength_mm(record), record.guide.height_mm)


def _bent_lengths(record: Record) -> dict[str, Any]:
    soldered = "back" if record.guide.laminate is not None else "front"
    share = 1 - _HOLE if soldered == "back" else _HOLE
    return {
        "hole_height_mm": round(share * record.guide.height_mm, 1),
        "run_mm": round(sum(BACK) / 2 * guide_wavelength_mm(record), 1),
        "towards": soldered,
        "tip": "soldered",
    }


def bare_coax(feed: Mapping[str, Any]) -> Data:
    """What all coax feeds have in common, from a feed that has it, else of a bare connector."""
    from simharness.records import CoaxFeed

    usual = {"wire_diameter_mm": 1.27, "coax_inner_mm": 1.27, "coax_outer_mm": 4.1, "coax_permittivity": 2.03}
    kept = {name: feed[name] for name in CoaxFeed.model_fields if name in feed and name != "kind"}
    return usual | kept


def _feed_kind(data: Data, record: Record, table: str) -> Data:
    """Another kind of feed: its lengths, and the near end that it needs."""
    feed, guide = data["feed"], dict(data.get("guide", {}))
    kind = feed.get("kind")
    if kind == "guide-port":
        return data | {"feed": {"kind": kind}, "guide": guide | {"near_end": "port"}}
    lengths = {"probe": _probe_lengths, "bent-probe": _bent_lengths}.get(kind)
    if lengths is None:
        return data
    guide = {name: "short" if value == "port" else value for name, value in guide.items()}
    made: Data = {"kind": kind} | ({"wall": "back"} if kind == "probe" else {})
    if "offset_mm" in feed:
        made["offset_mm"] = feed["offset_mm"]
    return data | {"feed": made | lengths(record) | bare_coax(feed), "guide": guide}


def _guide_shape(data: Data, record: Record, table: str) -> Data:
    """Another shape of guide, of the same metal, wide enough for the band; a feed that it takes."""
    old, shape = data["guide"], data["guide"].get("shape")
    common = ("length_mm", "material", "conductivity_s_per_m", "near_end", "far_end", "load_mm")
    kept = {name: old[name] for name in common if name in old}
    wall = record.guide.thickness_mm("back")
    if shape == "round":
        from simharness.em.guide.round import te11_cutoff

        diameter = _ROUND_RATIO * te11_cutoff(1.0) / record.band.centre
        made = {"shape": "round", "diameter_mm": round(diameter / MM, 1), "wall_mm": wall} | kept
        return _round_feed(_without(data, "wings") | {"guide": made}, record)
    if shape != "rectangular":
        return data
    from simharness.design.stock import folded_box

    box = folded_box(record.band.centre, _THIN)
    size = {"a_mm": round(box.a / MM, 1), "b_mm": round(box.b / MM, 1)}
    walls = {"front_wall_mm": wall, "other_walls_mm": wall, "make": record.guide.make}
    return data | {"guide": {"shape": "rectangular"} | size | walls | kept}


def _round_feed(data: Data, record: Record) -> Data:
    """As a round tube takes them: a straight probe on the axis, plain slots in the front, nothing on them."""
    feed = dict(data.get("feed", {}))
    if feed.get("kind") == "bent-probe":
        feed = {"kind": "probe", "wall": "back"} | _probe_lengths(record) | bare_coax(feed)
    if feed.get("kind") == "probe":
        feed = _without(feed, "offset_mm", "flange_mm", "flange_thickness_mm")
        if feed.get("connector") == "panel":
            feed["connector"] = "bare"
    found = _without(data, "cover", "tape") | {"feed": feed}
    if "slot_rule" in data:
        rule = _without(data["slot_rule"], "faces", "back_first_mm", "back_offset_mm")
        found["slot_rule"] = _plain_slot(rule)
    if "slot" in data:
        found["slot"] = [_plain_slot(row) for row in data["slot"] if row.get("face") != "back"]
    return found


def _plain_slot(row: Mapping[str, Any]) -> Data:
    plain = _without(row, "shape", "aside_mm", "taper_mm")
    return plain | {"ends": "round"} if plain.get("ends") == "tapered" else plain


def _far_end(data: Data, record: Record, table: str) -> Data:
    """An absorber a guide wavelength long at the lower edge of the band, or none."""
    guide = _without(data["guide"], "load_mm")
    if guide.get("far_end") == "load":
        from simharness.em.guide.rectangular import guide_wavelength

        wave = float(guide_wavelength(record.guide.line[0], record.band.low)) / MM
        guide["load_mm"] = data["guide"].get("load_mm", float(math.ceil(wave)))
    return data | {"guide": guide}


def _connector(data: Data, record: Record, table: str) -> Data:
    """The flange of a panel connector, or none on a stripped coax."""
    from simharness.design.feed_requirements import CONNECTORS

    feed = dict(data["feed"])
    if feed.get("connector") == "panel":
        feed.setdefault("flange_mm", round((CONNECTORS["panel"].flange or 0.0) / MM, 3))
    else:
        feed = _without(feed, "flange_mm")
    return data | {"feed": feed}


def _tip(data: Data, record: Record, table: str) -> Data:
    """The rise of an open tip; that of a soldered one follows the guide."""
    feed = _without(data["feed"], "rise_mm")
    if feed.get("tip") == "open":
        with contextlib.suppress(TypeError, KeyError):  # a hole that is refused itself
            height, hole = record.guide.height_mm, feed["hole_height_mm"]
            room = height - hole if feed.get("towards", "front") == "front" else hole
            feed["rise_mm"] = rounded_down(_OPEN_RISE * room)
    return data | {"feed": feed}


def _ends(data: Data, record: Record, table: str) -> Data:
    """No tips without tapered ends."""
    return _changed_row(
        data, table, lambda row: row if row.get("ends") == "tapered" else _without(row, "taper_mm")
    )


def _slot_shape(data: Data, record: Record, table: str) -> Data:
    """A curved slot stands aside, a straight one does not."""

    def change(row: Data) -> Data:
        if row.get("shape") in ("bent", "s"):
            aside, length = row.get("aside_mm"), row.get("length_mm")
            if isinstance(length, (int, float)) and not aside:
                return row | {"aside_mm": rounded_up(_ASIDE * length)}
            return row
        return _without(row, "aside_mm")

    return _changed_row(data, table, change)


def _cover_material(data: Data, record: Record, table: str) -> Data:
    """The figures of the material it had where it has none now; none of its own where it has one."""
    cover = _without(data["cover"], "permittivity", "loss_tangent")
    if cover.get("material") is None and record.cover is not None:
        cover |= dict(zip(("permittivity", "loss_tangent"), record.cover.constants))
    return data | {"cover": cover}


def _mast_shape(data: Data, record: Record, table: str) -> Data:
    """The diameter of a pole; a wall has none, and stands behind or beside."""
    from simharness.records.mast import WALL_DIRECTIONS

    mast = _without(data["mast"], "diameter_mm", "width_mm")
    if mast.get("shape") == "wall":
        now = mast.get("direction_deg", 180.0)
        mast["direction_deg"] = min(WALL_DIRECTIONS, key=lambda one: abs((one - now + 180) % 360 - 180))
    else:
        mast["diameter_mm"] = data["mast"].get("diameter_mm", POLE_MM)
    return data | {"mast": mast}


def _pair_place(data: Data, record: Record, table: str) -> Data:
    """The distance means another thing at another place."""
    pair = data["pair"]
    return data | {"pair": pair | {"distance_mm": pair_distance_mm(record, pair["place"])}}


def _faces(data: Data, record: Record, table: str) -> Data:
    """Places in the back wall only where it has slots."""
    rule = data["slot_rule"]
    kept = rule if rule.get("faces") == "both" else _without(rule, "back_first_mm", "back_offset_mm")
    return data | {"slot_rule": kept}


def _changed_row(data: Data, table: str, change: Callable[[Data], Data]) -> Data:
    """The data with the rule, or the slot of this number, changed."""
    if table == "slot_rule":
        return data | {"slot_rule": change(data["slot_rule"])}
    number = int(table.split(".")[1]) - 1
    rows = list(data["slot"])
    rows[number] = change(rows[number])
    return data | {"slot": rows}


def _without(table: Mapping[str, Any], *names: str) -> Data:
    return {name: value for name, value in table.items() if name not in names}


_CHANGES: dict[str, Callable[[Data, Any, str], Data]] = {
    "feed.kind": _feed_kind,
    "guide.shape": _guide_shape,
    "guide.far_end": _far_end,
    "feed.connector": _connector,
    "feed.tip": _tip,
    "slot.ends": _ends,
    "slot_rule.ends": _ends,
    "slot.shape": _slot_shape,
    "slot_rule.shape": _slot_shape,
    "slot_rule.faces": _faces,
    "cover.material": _cover_material,
    "mast.shape": _mast_shape,
    "pair.place": _pair_place,
}


def settled(change: Callable[[], Data], otherwise: Data) -> Data:
    """What `change` gives, or the data as they are where nothing can be computed from them."""
    try:
        return change()
    except (HarnessError, ValueError, TypeError, KeyError, AttributeError, ZeroDivisionError, OverflowError):
        return otherwise
