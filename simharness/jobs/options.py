"""What may be asked for: the kinds of work, and the options of each with their limits."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from simharness.errors import InputError
from simharness.hints import meant_word
from simharness.mesh.settings import QUALITIES
from simharness.printable import is_printable
from simharness.tuning.dimensions import ALSO

LONGEST_WORD = 500
"""Characters of a text option."""

MOST_WORDS = 20
"""Texts in a list of them."""


@dataclass(frozen=True)
class Option:
    """An option: its value where nothing is asked for, and the check of one that is.

    `checked` returns the value as it is kept; of one that is not allowed it raises ValueError with what would
    be.
    """

    default: Any
    checked: Callable[[Any], Any]


def _choice(*allowed: str) -> Callable[[Any], str]:
    def checked(value: Any) -> str:
        if not isinstance(value, str) or value not in allowed:
            raise ValueError(f"must be one of {', '.join(allowed)}")
        return value

    return checked


def _number(low: float, high: float, unit: str, above: bool = False) -> Callable[[Any], float]:
    def checked(value: Any) -> float:
        fits = (
            isinstance(value, (int, float))
            and not isinstance(value, bool)
            and math.isfinite(value)
            and (low < value if above else low <= value)
            and value <= high
        )
        if not fits:
            words = f"more than {low:g} and at most" if above else f"{low:g} to"
            raise ValueError(f"must be a number, {words} {high:g} {unit}".rstrip())
        return float(value)

    return checked


def _whole(low: int, high: int) -> Callable[[Any], int]:
    def checked(value: Any) -> int:
        if isinstance(value, bool) or not isinstance(value, int) or not low <= value <= high:
            raise ValueError(f"must be a whole number from {low} to {high}")
        return value

    return checked


def _flag(value: Any) -> bool:
    if not isinstance(value, bool):
        raise ValueError("must be true or false")
    return value


def _word(value: Any) -> str:
    if not isinstance(value, str) or len(value) > LONGEST_WORD or not is_printable(value):
        raise ValueError(f"must be a text of at most {LONGEST_WORD} characters that can be shown")
    return value


def _words(each: Callable[[Any], str], least: int = 0) -> Callable[[Any], list[str]]:
    def checked(value: Any) -> list[str]:
        if not isinstance(value, (list, tuple)) or not least <= len(value) <= MOST_WORDS:
            raise ValueError(f"must be a list of {least} to {MOST_WORDS} texts")
        return [each(word) for word in value]

    return checked


def _or_none(check: Callable[[Any], Any]) -> Callable[[Any], Any]:
    return lambda value: None if value is None else check(value)


_QUALITY = _choice(*QUALITIES)
_OVER = _choice("band", "centre")
_ALSO = _choice(*ALSO)

OPTIONS: dict[str, dict[str, Option]] = {
    "solve": {
        "quality": Option("normal", _QUALITY),
        "feed": Option("coax", _choice("coax", "gap")),
        "again": Option(False, _flag),
        "limit_minutes": Option(None, _or_none(_number(0.05, 100_000, "min"))),
    },
    "tune": {
        "quality": Option("normal", _QUALITY),
        "over": Option("band", _OVER),
        "also": Option([], _words(_ALSO)),
        "step_mm": Option(0.1, _number(0.01, 5, "mm")),
        "max_runs": Option(3, _whole(1, 9)),
    },
    "tolerance": {
        "tools": Option("hand", _choice("hand", "mill")),
        "samples": Option(2000, _whole(100, 100_000)),
        "seed": Option(1, _whole(0, 2**63 - 1)),
        "run": Option(None, _or_none(_word)),
        "seam_mm": Option(None, _or_none(_number(0, 20, "mm", above=True))),
        "quality": Option("draft", _QUALITY),
    },
    "converge": {"levels": Option(3, _whole(3, 4)), "spreads": Option(False, _flag)},
    "sweep": {
        "vary": Option([], _words(_word, least=1)),
        "quality": Option("normal", _QUALITY),
        "workers": Option(None, _or_none(_whole(1, 1000))),
        "threads": Option(None, _or_none(_whole(1, 1000))),
    },
}
"""The kinds of work, named as the functions of the library that do them, and what each may be told."""


def full_options(kind: str, asked: Mapping[str, Any]) -> dict[str, Any]:
    """All options of a kind of work: those that were asked for, checked, and the defaults of the others.

    Raises
    ------
    InputError
        There is no such kind or option, or a value is not allowed.
    """
    if kind not in OPTIONS:
        raise InputError("kind", kind, f"must be one of {', '.join(OPTIONS)}")
    known = OPTIONS[kind]
    for name in asked:
        if name not in known:
            hint = meant_word(str(name), list(known))
            raise InputError("option", name, f"is no option of {kind}{hint}; it has {', '.join(known)}")
    found = {}
    for name, option in known.items():
        value = asked.get(name, option.default)
        try:
            found[name] = option.checked(value)
        except (ValueError, OverflowError) as error:
            raise InputError(name, value, str(error)) from None
    return found
