"""What a browser may send: values of fields that handles change, and nothing else."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass
from typing import Any

_LONGEST_GESTURE = 40
_LARGEST = 1e5
"""No dimension of a record is larger, mm."""


@dataclass(frozen=True)
class Change:
    """What the user has moved.

    Attributes
    ----------
    fields : values by the names of `simharness.changed`, in units of the record.
    gesture : changes with the same are one movement.
    final : whether that movement has ended.
    """

    fields: Mapping[str, float]
    gesture: str
    final: bool


def change_sent(sent: Any, fields: Collection[str]) -> tuple[Change | None, int]:
    """What came from the browser, and its number; None for what no handle of these fields can have sent.

    Examples
    --------
    >>> sent = {"fields": {"feed.height_mm": 12}, "gesture": "a-1", "final": True, "serial": 7}
    >>> change_sent(sent, {"feed.height_mm"})
    (Change(fields={'feed.height_mm': 12.0}, gesture='a-1', final=True), 7)
    >>> change_sent(sent, {"feed.position_mm"})
    (None, 7)
    """
    if not isinstance(sent, dict):
        return None, 0
    serial, moved = sent.get("serial"), sent.get("fields")
    number = serial if isinstance(serial, int) else 0
    if not isinstance(moved, dict) or not moved:
        return None, number
    if not all(name in fields and _is_length(value) for name, value in moved.items()):
        return None, number
    values = {name: float(value) for name, value in moved.items()}
    return Change(values, str(sent.get("gesture"))[:_LONGEST_GESTURE], sent.get("final") is True), number


def _is_length(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool) and abs(value) <= _LARGEST


def movable_fields(drawn: Mapping[str, Any]) -> frozenset[str]:
    """All fields that handles of `views` change."""
    return frozenset(
        move["field"]
        for view in drawn.values()
        for handle in view["handles"].values()
        for move in handle["moves"]
    )
