"""Slots that come and go in the text of a record: whole tables in or out, all other lines stay."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from difflib import SequenceMatcher
from typing import Any

Row = Mapping[str, Any]
Written = Callable[[Row], Iterable[str]]

_SLOT = re.compile(r"\s*\[\[\s*slot\s*\]\]\s*(#.*)?")
_RULE = re.compile(r"\s*\[\s*slot_rule\s*\]\s*(#.*)?")
_HEADER = re.compile(r"\s*\[")
_NO_DATA = re.compile(r"\s*(#.*)?")


def with_slot_tables(
    text: str, before: Mapping[str, Any], after: Mapping[str, Any], written: Written
) -> tuple[str, dict[str, Any]]:
    """The text with as many slots as are wanted, and the data that it then holds.

    Parameters
    ----------
    text : str
        TOML.
    before, after : mapping
        The data that the text holds, and those wanted; see `simharness.records.text.plain_data`.
    written : callable
        Lines of the fields of one table.

    Returns
    -------
    str, dict
        A slot that stays in the row keeps its lines with whatever they say; where the text has another form
        than tables with a header each, both are as given.
    """
    had, wanted = list(before.get("slot", ())), list(after.get("slot", ()))
    lines = text.split("\n")
    blocks = _blocks(lines, _SLOT)
    if "slot_rule" in before and wanted:
        rule = _blocks(lines, _RULE)
        if len(rule) != 1 or blocks:
            return text, dict(before)
        pieces = _in_place_of_rule(lines, rule[0], wanted, written)
        return "\n".join(pieces), _without(before, "slot_rule") | {"slot": wanted}
    if not had or not wanted or len(had) == len(wanted) or len(blocks) != len(had):
        return text, dict(before)
    return _aligned(lines, blocks, (had, wanted), written, before)


def _without(data: Mapping[str, Any], key: str) -> dict[str, Any]:
    return {name: value for name, value in data.items() if name != key}


def _blocks(lines: Sequence[str], header: re.Pattern[str]) -> list[tuple[int, int]]:
    """First line of each table with this header, and the line after its last field."""
    found = []
    for first, line in enumerate(lines):
        if header.fullmatch(line):
            end = first + 1
            while end < len(lines) and not _HEADER.match(lines[end]):
                end += 1
            # Remarks and blank lines above a header belong to what follows.
            while _NO_DATA.fullmatch(lines[end - 1]):
                end -= 1
            found.append((first, end))
    return found


def _table(row: Row, written: Written) -> list[str]:
    return ["[[slot]]", *written(row)]


def _in_place_of_rule(
    lines: Sequence[str], block: tuple[int, int], rows: Sequence[Row], written: Written
) -> list[str]:
    """All lines, with slots where the rule was; remarks of their own lines stay."""
    first, end = block
    remarks = [line for line in lines[first:end] if line.lstrip().startswith("#")]
    tables: list[str] = []
    for row in rows:
        tables += [*([""] if tables else []), *_table(row, written)]
    return [*lines[:first], *remarks, *tables, *lines[end:]]


def _aligned(
    lines: Sequence[str],
    blocks: Sequence[tuple[int, int]],
    rows: tuple[Sequence[Row], Sequence[Row]],
    written: Written,
    before: Mapping[str, Any],
) -> tuple[str, dict[str, Any]]:
    """Tables out and in, so that slots which are alike keep their lines."""
    had, wanted = rows
    keys = [[json.dumps(row, sort_keys=True) for row in some] for some in rows]
    gone: set[int] = set()
    added: dict[int, list[str]] = {}
    kept: list[Row] = []
    for _, i, i_end, j, j_end in SequenceMatcher(a=keys[0], b=keys[1], autojunk=False).get_opcodes():
        both = min(i_end - i, j_end - j)
        kept += had[i : i + both]
        gone.update(line for first, end in blocks[i + both : i_end] for line in _with_gap(lines, first, end))
        for row in wanted[j + both : j_end]:
            place = blocks[i_end - 1][1] if i_end else blocks[0][0]
            table = _table(row, written)
            added.setdefault(place, []).extend(["", *table] if i_end else [*table, ""])
            kept.append(row)
    pieces: list[str] = []
    for number, line in enumerate([*lines, None]):
        pieces += added.get(number, ())
        if line is not None and number not in gone:
            pieces.append(line)
    return "\n".join(pieces), dict(before) | {"slot": kept}


def _with_gap(lines: Sequence[str], first: int, end: int) -> range:
    """Lines of a table and the blank ones above it."""
    while first > 0 and not lines[first - 1].strip():
        first -= 1
    return range(first, end)
