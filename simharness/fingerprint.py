"""The key of a run: a hash of what the solver sees, and of nothing else.

Lengths count as whole nanometres and other numbers to twelve significant digits,
so that 1 and 1.0, or two roundings of the same product, name the same run.
"""

from __future__ import annotations

import dataclasses
import enum
import hashlib
import json
import math
from collections.abc import Mapping
from typing import Any

import numpy as np

from simharness.errors import InputError

KEY_DIGITS = 16
"""Hexadecimal digits of a key (64 bits: a chance meeting of two among a million runs is 3e-8)."""

LEFT_OUT_AT_DEFAULT = {"key": "left out at default"}
"""Metadata of a dataclass field added later: at its default it does not count, so that older keys hold."""

LENGTH_UNIT = "m"
"""Dataclass fields whose metadata says ``{"unit": "m"}`` are taken as lengths."""


def nanometres(value: Any) -> Any:
    """Lengths as whole nanometres.

    Parameters
    ----------
    value : float, or a nest of lists, tuples, arrays and mappings of floats
        Lengths in metres; strings, booleans and None pass unchanged.

    Returns
    -------
    int, or the same nest as lists and dicts
        Lengths in nanometres.

    Raises
    ------
    InputError
        For NaN and infinity.

    Examples
    --------
    >>> nanometres([1, 1.0, 0.0015875])
    [1000000000, 1000000000, 1587500]
    """
    return canonical(value, lengths=True)


def canonical(value: Any, *, lengths: bool = False, where: str = "value") -> Any:
    """The value in the one form that is hashed: plain JSON types only.

    Parameters
    ----------
    value : Any
        Numbers, strings, None, arrays, sequences, mappings with string keys,
        enumerations and dataclasses, nested at will. A dataclass becomes a
        mapping with its class name under ``"type"``; those of its fields whose
        metadata carries ``{"unit": "m"}`` are lengths.
    lengths : bool
        Whether the floats and integers in `value` are lengths in metres, to be
        turned into whole nanometres.
    where : str
        Name of the value in error messages.

    Returns
    -------
    Any
        Nested dicts, lists, strings, integers, floats, booleans and None.

    Raises
    ------
    InputError
        For NaN and infinity.
    TypeError
        For a type that has no canonical form.

    Examples
    --------
    >>> canonical({"steps": np.int64(5), "f0": 2.45 * 1e9, "box": (0.5, 1.0)})
    {'steps': 5, 'f0': 2450000000, 'box': [0.5, 1]}
    """
    if isinstance(value, enum.Enum):
        value = value.value
    if isinstance(value, (np.ndarray, np.generic)):
        value = value.tolist()
    if value is None or isinstance(value, (str, bool)):
        return value
    if isinstance(value, (int, float)):
        return _canonical_number(value, lengths, where)
    if isinstance(value, complex):
        return {
            "re": canonical(value.real, lengths=lengths, where=where),
            "im": canonical(value.imag, lengths=lengths, where=where),
        }
    if isinstance(value, Mapping):
        return _canonical_mapping(value, lengths, where)
    if isinstance(value, (list, tuple)):
        return [
            canonical(item, lengths=lengths, where=f"{where}[{index}]") for index, item in enumerate(value)
        ]
    if dataclasses.is_dataclass(value) and not isinstance(value, type):
        return _canonical_dataclass(value, lengths, where)
    raise TypeError(f"{where} has no canonical form: {type(value).__name__}")


def _canonical_number(value: int | float, lengths: bool, where: str) -> int | float:
    if not math.isfinite(value):
        raise InputError(where, value, "must be a finite number")
    if lengths:
        return round(value * 1e9)
    if isinstance(value, int):
        return value
    if not value.is_integer():
        value = float(f"{value:.12g}")
    return int(value) if value.is_integer() else value


def _canonical_mapping(value: Mapping[Any, Any], lengths: bool, where: str) -> dict[str, Any]:
    for name in value:
        if not isinstance(name, str):
            raise TypeError(f"{where} has the key {name!r}; only strings are allowed")
    return {name: canonical(item, lengths=lengths, where=f"{where}.{name}") for name, item in value.items()}


def _canonical_dataclass(value: Any, lengths: bool, where: str) -> dict[str, Any]:
    form: dict[str, Any] = {"type": type(value).__name__}
    for field in dataclasses.fields(value):
        if (
            field.metadata.get("key") == LEFT_OUT_AT_DEFAULT["key"]
            and getattr(value, field.name) == field.default
        ):
            continue
        form[field.name] = canonical(
            getattr(value, field.name),
            lengths=lengths or field.metadata.get("unit") == LENGTH_UNIT,
            where=f"{where}.{field.name}",
        )
    return form


def request_key(payload: Any) -> str:
    """Key of a request: the same for the same solver input, and only then.

    Parameters
    ----------
    payload : Any
        Everything the solver sees (scene, grid, settings, solver version) and
        nothing else (no threads, host, label or notes); see `canonical`.

    Returns
    -------
    str
        The first `KEY_DIGITS` hexadecimal digits of the SHA-256 of the
        canonical JSON (sorted keys, no blanks).

    Raises
    ------
    InputError
        For NaN and infinity.
    TypeError
        For a type that has no canonical form.

    Examples
    --------
    >>> request_key({"a": 1, "b": 2.0}) == request_key({"b": 2, "a": 1.0})
    True
    >>> request_key({"a": 1}) == request_key({"a": 1.001})
    False
    """
    text = json.dumps(
        canonical(payload, where="request"),
        sort_keys=True,
        separators=(",", ":"),
        ensure_ascii=True,
        allow_nan=False,
    )
    return hashlib.sha256(text.encode("ascii")).hexdigest()[:KEY_DIGITS]
