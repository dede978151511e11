"""The worker that solves response surfaces and paths: first what was asked last, then all the rest."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from functools import partial

from simharness.live.differences import field_step, smooth_fields
from simharness.live.model import LiveModel, live_model
from simharness.live.path import QUADRATIC, QUARTIC
from simharness.live.tool_band import solve_dimension, tool_dimensions
from simharness.records import Record

_FOLLOWED = 3
"""Fields touched last whose paths are solved with more steps."""


class NearDuty:
    """One record at a time, and the paths of its fields.

    Parameters
    ----------
    told : function
        Takes ``("model", number, LiveModel or None)`` and ``("path", number, name, Path or None)``.
    """

    def __init__(self, told: Callable[[tuple], None]):
        self._told = told
        self._number, self._record = 0, None
        self._model: LiveModel | None = None
        self._touched: list[str] = []
        self._fine: set[str] = set()
        self._tools = False

    def take(self, message: tuple) -> None:
        """``("open", number, record)``, ``("field", name)`` or ``("tools",)``."""
        if message[0] == "open":
            self._number, self._record = message[1:]
        elif message[0] == "field":
            self._touched = [message[1], *(name for name in self._touched if name != message[1])]
        elif message[0] == "tools":
            self._tools = True

    def work(self) -> bool:
        """Open the record that waits, or solve one path."""
        if self._record is not None:
            record, self._record = self._record, None
            self._model, self._fine = _opened(record), set()
            self._told(("model", self._number, self._model))
            return True
        if self._model is None:
            return False
        task = next(self._tasks(self._model), None)
        if task is None:
            return False
        name, solve = task
        try:
            solve()
        except Exception:  # nothing is predicted then; the estimate itself says what is wrong
            self._model.paths[name] = None
        self._told(("path", self._number, name, self._model.paths[name]))
        return True

    def _tasks(self, model: LiveModel) -> Iterator[tuple[str, Callable[[], object]]]:
        """What is still to be solved, the most urgent first."""
        fields = smooth_fields(model.record)
        touched = [name for name in self._touched if _is_field(model.record, name)]
        for name in touched[:_FOLLOWED]:
            if name not in model.paths:
                yield name, partial(model.solve_field, name, QUADRATIC)
            if name not in self._fine:
                self._fine.add(name)
                if model.paths[name] is not None:
                    yield name, partial(model.solve_field, name, QUARTIC)
        if self._tools:
            for dimension in tool_dimensions(model.record):
                if dimension.name not in model.paths:
                    yield dimension.name, partial(solve_dimension, model, dimension)
        for name in nearest_first(fields, touched[0] if touched else ""):
            if name not in model.paths:
                yield name, partial(model.solve_field, name, QUADRATIC)


def _opened(record: Record) -> LiveModel | None:
    """The model of a record; None also where a kernel fails: the estimate itself says what is wrong."""
    try:
        return live_model(record)
    except Exception:
        return None


def _is_field(record: Record, name: str) -> bool:
    """Whether a field touched in an earlier record is one of this, a numbered slot of a rule included."""
    return field_step(record, name) is not None


def nearest_first(fields: tuple[str, ...], touched: str) -> list[str]:
    """Fields in the order in which they will probably be touched: the same table or slot, then slots near it.

    Examples
    --------
    >>> nearest_first(("guide.a_mm", "slot.1.width_mm", "slot.2.length_mm"), "slot.2.width_mm")
    ['slot.2.length_mm', 'slot.1.width_mm', 'guide.a_mm']
    """
    table, number = _place(touched)

    def away(name: str) -> tuple[int, int]:
        own, place = _place(name)
        return (0 if own == table else 1), abs(place - number)

    return sorted(fields, key=away)


def _place(name: str) -> tuple[str, int]:
    """Table of a field, and which slot it is (0 where it is none)."""
    found = re.match(r"slot\.(\d+)\.", name)
    return ("slot", int(found[1])) if found else (name.split(".", 1)[0], 0)
