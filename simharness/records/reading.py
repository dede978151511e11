"""Records read from TOML, and the messages about invalid ones."""

from __future__ import annotations

import json
import operator
import re
import tomllib
from collections.abc import Mapping
from pathlib import Path
from typing import Any

from pydantic import ValidationError

from simharness.errors import InputError
from simharness.files import input_text
from simharness.hints import meant_number, meant_word
from simharness.printable import printable, quoted
from simharness.records.cover import Cover
from simharness.records.feeds import BentProbe, GuidePort, Probe
from simharness.records.guide import Laminate, RectangularGuide, RoundGuide
from simharness.records.mast import Mast, Pair, Wings
from simharness.records.mending.parts import Screw, Tape
from simharness.records.parts import Band, Mounting, Part
from simharness.records.problems import MISSING, Problem
from simharness.records.record import Contradictions, Record
from simharness.records.slots import MAX_IN_A_WALL, Slot, SlotRule

MAX_BYTES = 200_000
"""Largest record file; one with the most slots and long notes has a tenth of that."""

MAX_PROBLEMS = 20
"""Problems of one record that are reported one by one."""


def parse_record(data: dict[str, Any], origin: str = "record") -> Record:
    """Validate a mapping as read from TOML.

    Raises
    ------
    RecordError
        With one line for each problem: field = value: what would be allowed.
    """
    try:
        return Record.model_validate(data)
    except ValidationError as error:
        raise record_error(error, origin) from None


def read_record(path: str | Path) -> Record:
    """Read and validate a design record.

    Parameters
    ----------
    path : Path or str
        A TOML file.

    Returns
    -------
    Record

    Raises
    ------
    InputError
        The file is missing, is not TOML, or does not hold a valid record.

    Examples
    --------
    >>> import simharness
    >>> record = simharness.read_record("models/five-slot-2g45.toml")
    >>> record.name, len(record.slots), record.guide.a_mm
    ('five-slot-2g45', 5, 90.0)
    """
    path = Path(path)
    return parse_record(data_of_text(input_text("record", path, MAX_BYTES, "TOML file"), path), str(path))


def data_of_text(text: str, origin: Path | str = "record") -> dict[str, Any]:
    """The mapping that a TOML text holds, not yet held against anything.

    Raises
    ------
    InputError
        The text is no TOML, or holds nothing; `origin` is named.
    """
    try:
        data = tomllib.loads(text)
    except RecursionError:
        raise InputError("record", origin, "must be valid TOML (brackets are nested too deeply)") from None
    except ValueError as error:  # a number of thousands of digits too
        raise InputError("record", origin, f"must be valid TOML ({error})") from None
    if not data:
        raise InputError(
            "record",
            origin,
            "the file is empty; copy a record from models/, or have one written by 'simharness design'",
        )
    return data


class RecordError(InputError):
    """An invalid record: the first problem as for every input error, and a line for each of them.

    `named` holds the same lines without a limit, each with the dotted name of the field that it is about.
    """

    def __init__(self, problems: list[Problem], origin: str):
        super().__init__(*problems[0])
        self.named = [
            (_dotted(what), f"{printable(what, keep='')} = {_shown(value)}: {printable(allowed, keep='')}")
            for what, value, allowed in problems
        ]
        self.problems = [sentence for _, sentence in self.named[:MAX_PROBLEMS]]
        if len(problems) > MAX_PROBLEMS:
            self.problems.append(f"and {len(problems) - MAX_PROBLEMS} problems more")
        self.origin = origin
        self.args = (f"{origin}: " + f"\n{origin}: ".join(self.problems),)


def _dotted(what: str) -> str:
    """A field as it is named in a change: `slot.3.length_mm` of `slot 3 length_mm`."""
    return re.sub(r"^([a-z]+) (\d+) ", r"\1.\2.", what)


def record_error(error: ValidationError, origin: str) -> RecordError:
    """One error for all that pydantic reports."""
    problems: list[Problem] = []
    for item in error.errors():
        cause = item.get("ctx", {}).get("error")
        if isinstance(cause, Contradictions):
            problems += cause.problems
        else:
            problems.append(_plain_problem(item))
    return RecordError(problems, origin)


def _shown(value: object) -> str:
    """A value as it may stand in a message, text in quotes."""
    if isinstance(value, str) and value == MISSING:
        return MISSING
    return quoted(json.dumps(value, ensure_ascii=False) if isinstance(value, (str, bool)) else value)


_CHOICES = {
    "feed": ("kind", "must be 'probe', 'bent-probe' or 'guide-port'"),
    "guide": ("shape", "must be 'rectangular' or 'round'"),
}
"""Tables of several kinds: the field that tells them apart, and what it may be."""
_ALLOWED = {
    "string_pattern_mismatch": "must be a-z, 0-9 and hyphens, at most 48 of them, no hyphen first",
    "missing": "this field must be given",
    "tuple_type": "must be written as [[slot]], one table for each slot",
    "model_type": "must be a table with fields of its own",
    "model_attributes_type": "must be a table with fields of its own",
    "float_type": "must be a number, written without quotes",
    "int_type": "must be a whole number, written without quotes",
    "bool_type": "must be true or false, written without quotes",
}


_KINDS: dict[str, type[Part]] = {
    "probe": Probe,
    "bent-probe": BentProbe,
    "guide-port": GuidePort,
    "rectangular": RectangularGuide,
    "round": RoundGuide,
}
"""Tables of several kinds by the name that stands in the place of an error."""


def _plain_problem(item: Mapping[str, Any]) -> tuple[str, object, str]:
    # Below such a table pydantic names its kind, which is no key of the file.
    loc = item["loc"]
    place = [p for i, p in enumerate(loc) if not (i == 1 and loc[0] in _CHOICES)]
    where = ".".join(str(p + 1) if isinstance(p, int) else p for p in place) or "record"
    kind, value = item["type"], item["input"]
    if kind == "tuple_type" and place in (["tape"], ["screw"]):
        each = {"tape": "piece"}.get(place[0], place[0])
        return where, value, f"must be written as [[{place[0]}]], one table for each {each}"
    if kind == "too_long" and place == ["slot"]:
        return (
            where,
            item["ctx"]["actual_length"],
            f"at most {MAX_IN_A_WALL} slots in one wall can be computed",
        )
    if kind == "float_type" and isinstance(value, int) and not isinstance(value, bool):
        return where, value, "must be a number of reasonable size"
    table = _table_at(place[:-1], loc)
    if kind == "extra_forbidden" and loc == ("guide", "round", "laminate"):
        return (
            where,
            value,
            "a laminate needs a flat front, which a round tube does not have; leave this table out",
        )
    if kind == "extra_forbidden":
        keys = [field.alias or name for name, field in table.model_fields.items()]
        return where, value, f"unknown key{meant_word(str(place[-1]), keys)}; allowed here: {', '.join(keys)}"
    if kind.startswith("union_tag"):
        key, allowed = _CHOICES[str(loc[0])]
        return f"{where}.{key}", value.get(key, MISSING) if isinstance(value, dict) else value, allowed
    message = re.sub(r"^(Input|String) should|^Value error, must", "must", item["msg"])
    allowed = _ALLOWED.get(kind, message) + _meant(table, place[-1] if place else "", value)
    return where, MISSING if kind == "missing" else value, allowed


def _meant(table: type[Part], name: object, value: object) -> str:
    """A hint at another unit, where a number is outside its limits but would be inside in that unit."""
    field = table.model_fields.get(str(name))
    unit = {"ghz": "GHz", "mm": "mm"}.get(str(name).rsplit("_")[-1], "")
    if field is None or not unit:
        return ""
    limits = [
        (sign, getattr(entry, sign)) for entry in field.metadata for sign in _SIGNS if hasattr(entry, sign)
    ]
    return meant_number(value, unit, lambda other: all(_SIGNS[sign](other, limit) for sign, limit in limits))


_SIGNS = {"gt": operator.gt, "ge": operator.ge, "lt": operator.lt, "le": operator.le}


def _table_at(place: list[Any], loc: tuple[Any, ...]) -> type[Part]:
    """The model of the table at `place`."""
    if place[:2] == ["guide", "laminate"]:
        return Laminate
    if place and place[0] in _CHOICES:
        return next((_KINDS[part] for part in loc if part in _KINDS), _DEFAULT_KINDS[place[0]])
    return _TABLES.get(place[0], Record) if place else Record


_TABLES: dict[str, type[Part]] = {
    "band": Band,
    "mounting": Mounting,
    "slot": Slot,
    "slot_rule": SlotRule,
    "mast": Mast,
    "pair": Pair,
    "tape": Tape,
    "screw": Screw,
    "cover": Cover,
    "wings": Wings,
}
_DEFAULT_KINDS: dict[str, type[Part]] = {"guide": RectangularGuide, "feed": Probe}


def record_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of a design record, for editors."""
    schema = Record.model_json_schema(by_alias=True)
    return (
        {"$schema": "https://json-schema.org/draft/2020-12/schema"}
        | schema
        | {"title": "simharness design record"}
    )
