"""Input of every kind, for tests of what nobody thought of: how many examples, and what they are made of.

Short tests look at some dozens of examples of each kind, the same ones each time. With
`SIMHARNESS_EXAMPLES=10000` in the environment, as `scripts/test --long` sets it, each looks at so many.
"""

from __future__ import annotations

import contextlib
import functools
import os
import resource
import signal
import tempfile
import tomllib
from collections.abc import Callable, Iterator
from datetime import date
from pathlib import Path
from typing import Any

import pytest
import tomlkit
from hypothesis import HealthCheck, configuration, given, settings
from hypothesis import strategies as st

from simharness.records import record_schema

# Nothing of it is kept in the tree.
configuration.set_hypothesis_home_dir(Path(tempfile.gettempdir()) / "simharness-hypothesis")

EXAMPLES = int(os.environ.get("SIMHARNESS_EXAMPLES", "0"))
"""Of each test; 0: as many as each thinks right for a short round."""

MODELS = Path(__file__).parents[2] / "models"
TEXTS = {path.stem: path.read_text(encoding="utf-8") for path in sorted(MODELS.glob("*.toml"))}
"""The shipped records."""


SECONDS = 30.0
"""Of processor time that an example may take: what takes so long hangs."""
BYTES = 1 << 30
"""Of address space that an example may take beyond what there is."""


def of_any(short: int, most: int = 10**9, **strategies: st.SearchStrategy) -> Callable:
    """A test of any values of some arguments: so many examples in a short round, in a long one
    at most `most`.

    An example that takes too much time or memory fails.
    """

    def decorate(test: Callable) -> Callable:
        @functools.wraps(test)
        def within_bounds(*given_: Any, **named: Any) -> None:
            with bounded():
                test(*given_, **named)

        profile = settings(
            max_examples=min(EXAMPLES, most) if EXAMPLES else short,
            derandomize=True,
            database=None,
            deadline=None,
            suppress_health_check=list(HealthCheck),
        )
        found = profile(given(**strategies)(within_bounds))
        return pytest.mark.timeout(36_000 if EXAMPLES else 300)(found)

    return decorate


@contextlib.contextmanager
def bounded() -> Iterator[None]:
    """Raises where the block takes more than `SECONDS` of processor time or `BYTES` of memory."""

    def too_long(*_: object) -> None:
        raise TimeoutError(f"an example took more than {SECONDS:g} s")

    soft, hard = resource.getrlimit(resource.RLIMIT_AS)
    taken = int(Path("/proc/self/statm").read_text().split()[0]) * resource.getpagesize()
    before = signal.signal(signal.SIGPROF, too_long)
    resource.setrlimit(resource.RLIMIT_AS, (taken + BYTES, hard))
    signal.setitimer(signal.ITIMER_PROF, SECONDS)
    try:
        yield
    finally:
        signal.setitimer(signal.ITIMER_PROF, 0)
        resource.setrlimit(resource.RLIMIT_AS, (soft, hard))
        signal.signal(signal.SIGPROF, before)


# --- texts and numbers ---------------------------------------------------------------------------

ACTING = "\x1b[2J", "\x07", "\u202e", "\u2028", "\x9b2J", "\ud800", "\x00", "a\nb"
"""Words that ring, clear the screen, turn the line around, break it, or are no text at all."""
MARKUP = (
    "<script>alert(1)</script>",
    '"><img src=x onerror=alert(1)>',
    "{{7*7}} ${7*7} {% raw %}",
    "]]>--><!--&lt;&amp;",
    "$\\frac{x}{0}$ \\input{x} %s {0}",
    "<b>&eacute;</b> 100 % <para>",
)
"""Words that mean something to one of the languages that they end in, none of which may take them so."""
words = st.one_of(
    st.sampled_from(ACTING + MARKUP), st.text(max_size=30), st.text("ab \t<>&\"'$%{}\\", max_size=30)
)
STRANGE = (
    0, 0.0, -0.0, -1, 1e-300, 5e-324, -1e-9, 1e300, -1e308, 10**30, -(10**400),
    float("nan"), float("inf"), float("-inf"), True, False, "", "12.5", [], [1.0], {}, {"x": 1},
    date(2030, 1, 31),
)  # fmt: skip
strange = st.one_of(st.sampled_from(STRANGE), st.floats(), st.integers(), words)
spoilt_bytes = st.binary(max_size=40)


@st.composite
def spoilt(draw: Any, data: bytes, most: int = 6) -> bytes:
    """Bytes of which pieces were cut out, doubled, replaced or turned."""
    for _ in range(draw(st.integers(1, most))):
        at = draw(st.integers(0, len(data)))
        length = draw(st.one_of(st.integers(0, 8), st.integers(0, max(len(data), 1))))
        piece, end = data[at : at + length], at + length
        how = draw(st.sampled_from(("cut", "double", "replace", "insert", "turn", "end")))
        if how == "cut":
            data = data[:at] + data[end:]
        elif how == "double":
            data = data[:end] + piece * draw(st.integers(1, 3)) + data[end:]
        elif how == "replace":
            data = data[:at] + draw(spoilt_bytes) + data[end:]
        elif how == "insert":
            data = data[:at] + draw(spoilt_bytes) + data[at:]
        elif how == "turn":
            data = data[:at] + piece[::-1] + data[end:]
        else:
            data = data[:at]
        data = data[:1_000_000]
    return data


# --- records -------------------------------------------------------------------------------------

_SCHEMA = record_schema()


def _resolved(node: dict[str, Any]) -> dict[str, Any]:
    while "$ref" in node:
        node = _SCHEMA["$defs"][node["$ref"].rsplit("/", 1)[1]]
    return node


def _kinds(node: dict[str, Any]) -> list[dict[str, Any]]:
    """What a place of the schema may hold, references followed."""
    node = _resolved(node)
    return [k for n in node.get("anyOf", node.get("oneOf", [])) for k in _kinds(n)] or [node]


def _tables(
    node: dict[str, Any], place: tuple[str, ...] = ()
) -> list[tuple[tuple[str, ...], dict[str, Any]]]:
    """Every field of the schema: the tables it stands in, and what it may be; `*` is any row of a list."""
    found = []
    for kind in _kinds(node):
        for name, inner in kind.get("properties", {}).items():
            found.append(((*place, name), inner))
            found += _tables(inner, (*place, name))
        if "items" in kind:
            found += _tables(kind["items"], (*place, "*"))
    return found


FIELDS = [(place, kind) for place, node in _tables(_SCHEMA) for kind in _kinds(node)]
"""Every field that a record may have, with what it may hold; one of several kinds is here several times."""


def _allowed(kind: dict[str, Any]) -> st.SearchStrategy:
    """Values that the schema allows, and those just beyond."""
    if "const" in kind or "enum" in kind:
        return st.sampled_from(kind.get("enum", [kind.get("const")]))
    if kind.get("type") in ("number", "integer"):
        low = kind.get("minimum", kind.get("exclusiveMinimum", -100))
        high = kind.get("maximum", kind.get("exclusiveMaximum", low + 200))
        if kind["type"] == "integer":
            return st.integers(int(low), min(int(high), 1000))
        return st.one_of(st.floats(low, high), st.sampled_from([float(low), float(high), low, high]))
    if kind.get("type") == "boolean":
        return st.booleans()
    if kind.get("type") == "string":
        return words
    if kind.get("type") == "object":
        names, needed = kind.get("properties", {}), kind.get("required", [])
        return st.fixed_dictionaries(
            {n: _allowed(_kinds(names[n])[0]) for n in needed},
            optional={
                n: _allowed(_kinds(v)[0]) for n, v in names.items() if n not in kind.get("required", [])
            },
        )
    if kind.get("type") == "array":
        return st.lists(_allowed(_kinds(kind["items"])[0]), max_size=5)
    return st.none()


_VALUES = {i: _allowed(kind) for i, (_, kind) in enumerate(FIELDS)}


def _changed(draw: Any, data: Any, place: tuple[str, ...], change: Callable[[Any, bool], Any]) -> None:
    """Changes a field of a copy of the data in place; nothing where its table is of another kind."""
    for name in place[:-1]:
        if name == "*":
            if not isinstance(data, list) or not data:
                return
            data = data[draw(st.integers(0, len(data) - 1))]
        elif isinstance(data, dict):
            data = data.setdefault(name, {})
    if isinstance(data, dict) and place[-1] != "*":
        value = change(data.get(place[-1]), place[-1] in data)
        if value is None:
            data.pop(place[-1], None)
        else:
            data[place[-1]] = value


_NEAR = [(place, kind) for place, kind in FIELDS if kind.get("type") in ("number", "integer")]
_CHOICES = [(place, kind) for place, kind in FIELDS if "enum" in kind or "const" in kind]


def _near(draw: Any) -> Callable[[Any, bool], Any]:
    """A number moved as much as a workshop might choose to."""
    factor = draw(st.sampled_from([0.5, 0.8, 0.9, 0.97, 0.99, 1.01, 1.03, 1.1, 1.25, 2.0, -1.0]))
    other = draw(st.floats(0.1, 30).map(lambda x: round(x, 3)))

    def change(value: Any, there: bool) -> Any:
        if isinstance(value, bool) or not isinstance(value, (int, float)) or abs(value) > 1e9:
            return other
        return int(value * factor) if isinstance(value, int) else round(value * factor, 4) or other

    return change


@st.composite
def likely_records(draw: Any, most: int = 5) -> dict[str, Any]:
    """A shipped record with some sizes moved and some choices changed: many can be built."""
    data = tomllib.loads(TEXTS[draw(st.sampled_from(sorted(TEXTS)))])
    for _ in range(draw(st.integers(1, most))):
        there = [(place, kind) for place, kind in _NEAR if _stands(data, place)]
        if draw(st.integers(0, 3)):
            place, _ = draw(st.sampled_from(there))
            _changed(draw, data, place, _near(draw))
        else:
            place, kind = draw(st.sampled_from(_CHOICES))
            value = draw(_allowed(kind))
            if _stands(data, place[:-1]):
                _changed(draw, data, place, lambda old, there: value)
    return data


def _stands(data: Any, place: tuple[str, ...]) -> bool:
    for name in place:
        if name == "*":
            if not isinstance(data, list) or not data:
                return False
            data = data[0]
        elif not isinstance(data, dict) or name not in data:
            return False
        else:
            data = data[name]
    return True


@st.composite
def spoilt_records(draw: Any) -> dict[str, Any]:
    """A shipped record with fields of any table at any value, left out, or there where none belong."""
    data = tomllib.loads(TEXTS[draw(st.sampled_from(sorted(TEXTS)))])
    for _ in range(draw(st.integers(1, 5))):
        number = draw(st.integers(0, len(FIELDS) - 1))
        place, how = FIELDS[number][0], draw(st.sampled_from(("allowed", "strange", "near", "gone", "new")))
        if how == "new":
            place = (*place[:-1], draw(st.sampled_from(("x", "\x1b", "hight_mm", "é", place[-1].upper()))))
        if how == "near":
            _changed(draw, data, place, _near(draw))
            continue
        value = None if how == "gone" else draw(_VALUES[number] if how == "allowed" else strange)
        _changed(draw, data, place, lambda old, there: value)
    return data


def toml(data: dict[str, Any]) -> str:
    """Data as a TOML file; what TOML cannot write is left out."""
    return tomlkit.dumps(_writable(data))


def _writable(value: Any) -> Any:
    if isinstance(value, dict):
        return {_text(k): _writable(v) for k, v in value.items() if v is not None}
    if isinstance(value, (list, tuple)):
        return [_writable(v) for v in value if v is not None]
    return _text(value) if isinstance(value, str) else value


def _text(text: str) -> str:
    return text.encode("utf-8", "replace").decode("utf-8")


record_texts = st.one_of(
    spoilt_records().map(lambda data: toml(data).encode()),
    st.sampled_from(sorted(TEXTS)).flatmap(lambda name: spoilt(TEXTS[name].encode())),
    st.text(max_size=300).map(lambda text: text.encode("utf-8", "surrogatepass")),
    st.binary(max_size=300),
)
"""What may stand in a file that is said to be a record."""
