"""Dimensions that may have come out wrong, each as a change of the whole record.

A suspect turns a record and an amount into the record of the antenna as it may really be.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from simharness.constants import C0
from simharness.errors import InputError
from simharness.records import BentProbe, CoaxFeed, Feed, Guide, Record, RoundGuide, parse_record
from simharness.records.text import plain_data

_Change = Callable[[dict[str, Any], float], None]

LARGEST_SHARE = 1 / 30
"""Largest error of a dimension that is looked into, in free-space wavelengths: 4 mm at 2.45 GHz."""

LARGEST_SCALE = 0.03
"""Largest error of a template's scale that is looked into."""
LARGEST_PERMITTIVITY = 15.0
"""Of a laminate's permittivity, per cent: glass epoxy is sold with 3.9 to 4.8 (common practice)."""


@dataclass(frozen=True)
class Deviation:
    """One dimension that may be wrong.

    Attributes
    ----------
    name : str
    words : str
        Beginning of a sentence about it.
    unit : str
        "mm", "%" or "" where it is a thing that is or is not (a covered slot).
    limit : float
        Largest amount looked into, mm or %; 1 where there is no amount.
    more, less : str
        What a positive and a negative amount mean.
    change : function
        Changes the plain data of a record by an amount.
    """

    name: str
    words: str
    unit: str
    limit: float
    more: str
    less: str
    change: _Change

    def sentence(self, amount: float) -> str:
        """What is wrong, in words without a full stop.

        Examples
        --------
        >>> Deviation("length", "it is", "mm", 4.0, "longer", "shorter", print).sentence(-1.23)
        'it is 1.2 mm shorter than drawn'
        """
        if not self.unit:
            return f"{self.words} {self.more}"
        return f"{self.words} {self.amount_text(abs(amount))} {self.more if amount > 0 else self.less} than drawn"

    def amount_text(self, amount: float, sign: str = "") -> str:
        """An amount with its unit and the digits it deserves; `sign` "+" shows that of a positive one."""
        return f"{amount:{sign}.{1 if self.limit >= 2 else 2}f} {self.unit}"

    def applied(self, record: Record, amount: float) -> Record:
        """The record with this dimension off by an amount.

        Raises
        ------
        InputError
            No such antenna exists.
        """
        data = plain_data(record, rule=False)
        self.change(data, amount)
        return parse_record(data, f"{self.name} {amount:+.2f} {self.unit}")

    def range(self, record: Record) -> tuple[float, float]:
        """Least and largest amount up to `limit` for which the record still stands."""
        return self._reach(record, -self.limit), self._reach(record, self.limit)

    def _reach(self, record: Record, amount: float) -> float:
        for _ in range(4):
            try:
                self.applied(record, amount)
            except InputError:
                amount /= 2
            else:
                return amount
        return 0.0


def _field(part: str, name: str) -> _Change:
    def change(data: dict[str, Any], amount: float) -> None:
        data[part][name] += amount

    return change


def _each_slot(name: str) -> _Change:
    """Adds to a dimension of every slot, outwards for the offset."""

    def change(data: dict[str, Any], amount: float) -> None:
        for slot in data["slot"]:
            slot[name] += -amount if slot[name] < 0 else amount

    return change


def _near_end(data: dict[str, Any], amount: float) -> None:
    data["guide"]["length_mm"] += amount
    if "position_mm" in data["feed"]:
        data["feed"]["position_mm"] += amount
    _each_slot("position_mm")(data, amount)


def _scale(data: dict[str, Any], amount: float) -> None:
    factor = 1 + amount / 100
    for part in (data["guide"], data["feed"], *data["slot"]):
        for name in part:
            if (
                name.endswith("_mm")
                and "wall" not in name
                and not name.startswith(("coax", "wire", "flange", "dielectric"))
            ):
                part[name] *= factor


def _permittivity(data: dict[str, Any], amount: float) -> None:
    data["guide"]["laminate"]["permittivity"] *= 1 + amount / 100


def _covered(index: int) -> _Change:
    def change(data: dict[str, Any], amount: float) -> None:
        if amount:
            data["slot"] = data["slot"][:index] + data["slot"][index + 1 :]

    return change


def _cross_section(guide: Guide, limit: float) -> list[Deviation]:
    """Width and height of a rectangular guide, or the diameter of a round one."""
    if isinstance(guide, RoundGuide):
        return [
            Deviation(
                "guide width",
                "the inner diameter of the tube is",
                "mm",
                limit,
                "wider",
                "narrower",
                _field("guide", "diameter_mm"),
            )
        ]
    return [
        Deviation(
            "guide width",
            "the broad inner side of the guide is",
            "mm",
            limit,
            "wider",
            "narrower",
            _field("guide", "a_mm"),
        ),
        Deviation(
            "guide height",
            "the narrow inner side of the guide is",
            "mm",
            limit,
            "higher",
            "lower",
            _field("guide", "b_mm"),
        ),
    ]


def _feed_deviations(feed: Feed, limit: float) -> tuple[Deviation, ...]:
    """What may be wrong about the wire of a coax feed, and about the wall that it is measured from."""
    if not isinstance(feed, CoaxFeed):
        return ()
    near_end = Deviation(
        "near end", "the near end wall is", "mm", limit, "farther out", "farther in", _near_end
    )
    return (
        *(_bent_deviations(feed, limit) if isinstance(feed, BentProbe) else _straight_deviations(limit)),
        near_end,
    )


def _straight_deviations(limit: float) -> tuple[Deviation, ...]:
    return (
        Deviation(
            "probe height", "the probe is", "mm", limit, "longer", "shorter", _field("feed", "height_mm")
        ),
        Deviation(
            "probe position",
            "the probe is",
            "mm",
            limit,
            "farther from the near end",
            "nearer to the near end",
            _field("feed", "position_mm"),
        ),
    )


def _bent_deviations(feed: BentProbe, limit: float) -> tuple[Deviation, ...]:
    rise = Deviation(
        "probe rise", "the riser of the probe is", "mm", limit, "longer", "shorter", _field("feed", "rise_mm")
    )
    common = (
        Deviation(
            "probe run", "the run of the probe is", "mm", limit, "longer", "shorter", _field("feed", "run_mm")
        ),
        Deviation(
            "hole height",
            "the hole in the end is",
            "mm",
            limit,
            "nearer to the front wall",
            "nearer to the back wall",
            _field("feed", "hole_height_mm"),
        ),
    )
    return common if feed.tip == "soldered" else (rise, *common)


def deviations(record: Record) -> tuple[Deviation, ...]:
    """Everything that is looked into for a record.

    Slots along the guide are numbered from the near end.
    """
    limit = round(1e3 * C0 / record.band.centre * LARGEST_SHARE, 2)
    found = [
        *_feed_deviations(record.feed, limit),
        *_slot_deviations(record, limit),
        *_cross_section(record.guide, limit),
    ]
    if record.guide.far_end == "short":
        found.append(
            Deviation(
                "far end",
                "the far end wall is",
                "mm",
                limit,
                "farther out",
                "farther in",
                _field("guide", "length_mm"),
            )
        )
    found.append(Deviation("scale", "everything is", "%", 100 * LARGEST_SCALE, "larger", "smaller", _scale))
    if len(record.slots) > 1:
        found += [
            Deviation(
                f"slot {i + 1} covered",
                f"slot {i + 1} is",
                "",
                1.0,
                "covered or not cut through",
                "",
                _covered(i),
            )
            for i in range(len(record.slots))
        ]
    return tuple(found)


def _slot_deviations(record: Record, limit: float) -> list[Deviation]:
    """What may be wrong about all slots alike, and about the wall that they are cut in."""
    if not record.slots:
        return []
    wall = min(limit, 3 * record.guide.thickness_mm("front"))
    thickness = "wall_mm" if isinstance(record.guide, RoundGuide) else "front_wall_mm"
    found = [
        Deviation("slot length", "the slots are", "mm", limit, "longer", "shorter", _each_slot("length_mm")),
        Deviation("slot width", "the slots are", "mm", limit, "wider", "narrower", _each_slot("width_mm")),
        Deviation(
            "slot offset",
            "the slots are",
            "mm",
            limit,
            "farther from the centre line",
            "nearer to the centre line",
            _each_slot("offset_mm"),
        ),
        Deviation(
            "slot position",
            "the row of slots is",
            "mm",
            limit,
            "farther along the guide",
            "nearer to the near end",
            _each_slot("position_mm"),
        ),
        Deviation(
            "front wall", "the slotted wall is", "mm", wall, "thicker", "thinner", _field("guide", thickness)
        ),
    ]
    if record.guide.substrate is not None:
        found.append(
            Deviation(
                "permittivity",
                "the permittivity of the laminate is",
                "%",
                LARGEST_PERMITTIVITY,
                "higher",
                "lower",
                _permittivity,
            )
        )
    return found
