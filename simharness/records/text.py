"""A design record as plain data, and as the text of a TOML file."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Iterator, Mapping, MutableMapping
from pathlib import Path
from typing import Any

from simharness.errors import InputError
from simharness.files import input_text
from simharness.records import Record, parse_record
from simharness.records.reading import MAX_BYTES, data_of_text
from simharness.records.slot_tables import with_slot_tables


def plain_data(record: Record, rule: bool = True) -> dict[str, Any]:
    """The data of a record as `simharness.records.parse_record` takes it, to be changed freely.

    Without `rule`, every slot stands by itself. The rise of a soldered tip is left out: it follows the guide.
    """
    data = record.model_dump(by_alias=True, exclude_none=True)
    if rule and record.slot_rule is not None:
        data.pop("slot", None)
    else:
        data.pop("slot_rule", None)
        data["slot"] = [
            slot.model_dump(exclude_none=True) for slot in (record.slots if record.slot_rule else record.slot)
        ]
    if data["feed"].get("tip") == "soldered":
        data["feed"].pop("rise_mm", None)
    return data


def record_text(record: Record, heading: str = "") -> str:
    """TOML that `simharness.records.read_record` reads back to an equal record.

    Parameters
    ----------
    record : Record
    heading : str
        Goes on top as a comment, line by line.
    """
    data = record.model_dump(by_alias=True, exclude_none=True)
    comment = [f"# {line}".rstrip() for line in heading.splitlines()]
    return "\n".join([*comment, "", *_lines(data)]).lstrip("\n") + "\n"


def _lines(data: Mapping[str, Any], within: str = "") -> Iterator[str]:
    """Plain fields first, then the tables: a field after a table would belong to that table."""
    tables = {key: value for key, value in data.items() if isinstance(value, (Mapping, tuple, list))}
    yield from _fields({key: value for key, value in data.items() if key not in tables})
    for key, value in tables.items():
        several = isinstance(value, (tuple, list))
        for table in value if isinstance(value, (tuple, list)) else [value]:
            yield ""
            yield f"[[{within}{key}]]" if several else f"[{within}{key}]"
            yield from _lines(table, f"{within}{key}.")


def _fields(table: Mapping[str, Any]) -> Iterator[str]:
    for key, value in table.items():
        if value != "":
            yield f"{key} = {_value(value)}"


def _value(value: Any) -> str:
    """Numbers, booleans and strings, which TOML and JSON write alike but for one character."""
    return json.dumps(value, ensure_ascii=False).replace("\x7f", "\\u007f")


def updated_text(source: Path | str, record: Record, heading: str = "") -> str:
    """The text of a record file with what differs in a record put in its place: comments and order stay.

    Parameters
    ----------
    source : Path or str
        The file of another record, or of an older state of this one.
    record : Record
        What the text shall say.
    heading : str
        Goes on top as a comment, line by line.

    Returns
    -------
    str
        TOML that reads back to an equal record. Where the file and the record are too unlike for that, it is
        that of `record_text`.

    Raises
    ------
    InputError
        The file is missing, or holds no record.
    """
    text = input_text("record", Path(source), MAX_BYTES, "TOML file")
    return text_with_record(text, record, heading, str(source))


def text_with_record(text: str, record: Record, heading: str = "", origin: str = "record") -> str:
    """As `updated_text`, of the text of a record in the place of a file; slots may come, go or follow a rule.

    Raises
    ------
    InputError
        The text holds no record; `origin` is named.
    """
    import tomlkit

    before, after = plain_data(parse_record(data_of_text(text, origin), origin)), plain_data(record)
    text, before = with_slot_tables(text, before, after, _fields)
    try:
        document = tomlkit.parse(text)
        _update(document, before, after)
        comment = "".join(f"# {line}".rstrip() + "\n" for line in heading.splitlines())
        found = f"{comment}\n{tomlkit.dumps(document)}" if comment else tomlkit.dumps(document)
        same = parse_record(tomllib.loads(found)) == record
    except (InputError, ValueError):
        same = False
    return found if same else record_text(record, heading)


def _update(table: MutableMapping[str, Any], before: Mapping[str, Any], after: Mapping[str, Any]) -> None:
    """Put into a table of a file what differs between two records, and nothing else."""
    for key in before.keys() - after.keys():
        table.pop(key, None)
    for key, value in after.items():
        old = before.get(key)
        if value == old:
            continue
        if isinstance(value, Mapping) and isinstance(old, Mapping) and key in table:
            _update(table[key], old, value)
        elif _alike(value, old) and key in table:
            for row, one, other in zip(table[key], old or (), value):
                _update(row, one, other)
        else:
            table[key] = value


def _alike(value: Any, old: Any) -> bool:
    """Whether both are as many tables in a row."""
    both = isinstance(value, (list, tuple)) and isinstance(old, (list, tuple))
    return both and len(value) == len(old) and all(isinstance(row, Mapping) for row in (*value, *old))
