"""One dimension that may have come out wrong, as a change of the whole record.

A deviation turns a record and an amount into the record of the antenna as it may really be.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from simharness.errors import InputError
from simharness.records import Cover, Record, parse_record
from simharness.records.mending.parts import renumbered
from simharness.records.text import plain_data

Alteration = Callable[[dict[str, Any], float], None]
"""Changes the plain data of a record in place by an amount."""


@dataclass(frozen=True)
class Deviation:
    """One dimension that may be wrong.

    Attributes
    ----------
    name : str
    subject : str
        Beginning of a sentence about it.
    unit : str
        "mm", "%", or "" for what either is or is not (a covered slot).
    limit : float
        Largest amount that is considered, mm or %; 1 where there is no amount.
    more, less : str
        What a positive and a negative amount mean.
    change : function
        Changes the plain data of a record by an amount.
    calibrated : bool
        Whether S11 depends on it so much that a calibration of the estimate varies it.
    """

    name: str
    subject: str
    unit: str
    limit: float
    more: str
    less: str
    change: Alteration
    calibrated: bool = False

    def sentence(self, amount: float) -> str:
        """What is wrong, as a sentence without a full stop.

        Examples
        --------
        >>> Deviation("length", "it is", "mm", 4.0, "longer", "shorter", print).sentence(-1.23)
        'it is 1.2 mm shorter than drawn'
        """
        if not self.unit:
            return f"{self.subject} {self.more}"
        direction = self.more if amount > 0 else self.less
        return f"{self.subject} {self.amount_text(abs(amount))} {direction} than drawn"

    def amount_text(self, amount: float, sign: str = "") -> str:
        """An amount with its unit and the digits that are significant; `sign` "+" shows that of a positive
        one."""
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
        """Smallest and largest amount, up to `limit`, for which the record is still valid."""
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


def field_changed(part: str, name: str) -> Alteration:
    """Adds the amount to a field of the guide or the feed."""

    def change(data: dict[str, Any], amount: float) -> None:
        data[part][name] += amount

    return change


def each_slot_changed(name: str) -> Alteration:
    """Adds the amount to a field of every slot; to an offset, away from the centre line."""

    def change(data: dict[str, Any], amount: float) -> None:
        for slot in data["slot"]:
            slot[name] += -amount if slot[name] < 0 else amount

    return change


def near_end_moved(*feed_fields: str) -> Alteration:
    """Moves the near end wall; `feed_fields` are those of the feed that are measured from it but stay where
    they are."""

    def change(data: dict[str, Any], amount: float) -> None:
        data["guide"]["length_mm"] += amount
        for name in feed_fields:
            data["feed"][name] += amount
        each_slot_changed("position_mm")(data, amount)
        for screw in data.get("screw", ()):
            screw["position_mm"] += amount

    return change


def screw_depth(number: int) -> Deviation:
    """How deep one screw is set, by its number; a turn or so in or out."""

    def change(data: dict[str, Any], amount: float) -> None:
        data["screw"][number - 1]["depth_mm"] += amount

    name = f"screw {number} depth"
    return Deviation(name, f"the tip of screw {number} is", "mm", 1.0, "farther in", "less far in", change)


def screw_place(number: int) -> Deviation:
    """Where one screw stands along the guide, by its number."""

    def change(data: dict[str, Any], amount: float) -> None:
        data["screw"][number - 1]["position_mm"] += amount

    name, away = f"screw {number} place", "farther along the guide"
    return Deviation(name, f"screw {number} is", "mm", 1.0, away, "nearer to the near end", change)


def everything_scaled(data: dict[str, Any], amount: float) -> None:
    """Scales all that a template shows by an amount in per cent: not the stock, that is walls, coax,
    wire and screws, nor how deep these are set."""
    factor = 1 + amount / 100
    bought = ("coax", "wire", "flange", "dielectric")
    for part in (data["guide"], data["feed"], *data["slot"]):
        for name in part:
            if name.endswith("_mm") and "wall" not in name and not name.startswith(bought):
                part[name] *= factor
    for screw in data.get("screw", ()):
        for name in ("position_mm", "offset_mm"):
            screw[name] *= factor


def permittivity_changed(data: dict[str, Any], amount: float) -> None:
    """Changes the permittivity of a laminate front by an amount in per cent."""
    data["guide"]["laminate"]["permittivity"] *= 1 + amount / 100


def cover_permittivity_changed(data: dict[str, Any], amount: float) -> None:
    """Changes the permittivity of a cover by an amount in per cent; a material becomes its figures."""
    permittivity, loss_tangent = Cover.model_validate(data["cover"]).constants
    data["cover"].pop("material", None)
    data["cover"] |= {"permittivity": permittivity * (1 + amount / 100), "loss_tangent": loss_tangent}


def cover_taken_off(data: dict[str, Any], amount: float) -> None:
    """Takes the cover away, whatever the amount unless it is 0."""
    if amount:
        del data["cover"]


def slot_covered(index: int) -> Alteration:
    """Takes one slot away, whatever the amount unless it is 0."""

    def change(data: dict[str, Any], amount: float) -> None:
        if amount:
            slots = data["slot"]
            data["slot"] = slots[:index] + slots[index + 1 :]
            if "tape" in data:
                data["tape"] = list(renumbered(data["tape"], slots, data["slot"]))
            left = {slot["face"] for slot in data["slot"]}
            if "cover" in data and "front" not in left:
                del data["cover"]
            elif "cover" in data and "back" not in left:
                data["cover"]["face"] = "front"

    return change
