"""Every figure of `check`, `estimate`, `design` and `tolerance` on every shipped record, and the keys of its
runs, as flat tables.

`python tests/stored/shipped_figures.py` writes them anew into tests/references/shipped-figures.json. That is
done only when a figure was meant to change; `test_shipped_figures.py` holds the present code against the
table.
"""

from __future__ import annotations

import contextlib
import io
import json
import os
import re
import sys
import tempfile
from pathlib import Path
from typing import Any

ROOT = Path(__file__).parents[2]
TABLE = ROOT / "tests" / "references" / "shipped-figures.json"
SOLVER = "openEMS 0.0.35"
"""The solver whose version enters the keys of the table."""

RECORDS = tuple(sorted(path.stem for path in (ROOT / "models").glob("*.toml")))
DESIGNS = {
    "wr90": "--frequency 10.37 --guide WR-90 --slots 6",
    "box-2g45": "--frequency 2.45 --slots 4 --sheet 1 --inside 90x45",
    "taper-5g8": "--frequency 5.8 --guide WR-159 --slots 8 --side-lobes 20",
    "bent-5g8": "--frequency 5.8 --guide WR-159 --slots 5 --feed bent-probe",
    "travelling-5g8": "--frequency 5.8 --guide WR-159 --slots 16 --far-end load",
    "both-5g8": "--frequency 5.8 --tube 44x24x1.5 --slots 5 --faces both",
    "round-2g44": "--frequency 2.44 --round 88x1 --slots 4",
    "laminate-2g45": "--frequency 2.45 --slots 5 --sheet 0.8 --inside 92x44 --laminate 0.8x4.4x0.02",
}
"""Designs whose every dimension is compared, with their options beside the frequency."""


def answer(*words: str) -> Any:
    """What a command of the tool prints with --json."""
    from simharness.cli.main import main

    text, before = io.StringIO(), sys.argv
    sys.argv = ["simharness", *words, "--json"]
    try:
        with contextlib.redirect_stdout(text), contextlib.suppress(SystemExit):
            main()
    finally:
        sys.argv = before
    return json.loads(text.getvalue())


def flat(value: Any, name: str = "") -> dict[str, Any]:
    """Numbers, words and None of a nest by their path; numbers within sentences as `path#1`, so that words
    may change.
    """
    if isinstance(value, dict):
        return {
            key: item for part, inner in value.items() for key, item in flat(inner, f"{name}/{part}").items()
        }
    if isinstance(value, list):
        return {
            key: item for i, inner in enumerate(value) for key, item in flat(inner, f"{name}/{i}").items()
        }
    return {name: value}


def figures(answer: Any) -> dict[str, float | None]:
    """The numbers of an answer by their path."""
    return {
        key: value
        for key, value in flat(answer).items()
        if value is None or (isinstance(value, (int, float)) and not isinstance(value, bool))
    }


def sentences(answer: Any) -> list[str]:
    """Numbers in the warnings of an answer, sentence by sentence: the words may be put better, what they say
    may not change.
    """
    return [
        " ".join(re.findall(r"\d+(?:\.\d+)?", text))
        for text in answer.get("warnings", []) + answer.get("sentences", [])
    ]


def of_record(name: str) -> dict[str, Any]:
    """`check` and `estimate` of a shipped record, and the keys of its runs."""
    path = str(ROOT / "models" / f"{name}.toml")
    checked = answer("check", path)
    keys = {quality: run_key(path, quality) for quality in ("draft", "normal", "fine")}
    return {
        "check": figures(checked),
        "warnings": sentences(checked),
        "estimate": figures(answer("estimate", path, "--points", "21")),
        "keys": keys,
    }


def run_key(path: str, quality: str) -> str:
    """Key of a run of the packaged solver, whatever solver this machine has."""
    return answer("solve", path, "--quality", quality, "--plan")["key"]


def of_tolerance(name: str) -> dict[str, Any]:
    """`tolerance` of a shipped record: few antennas, by hand and by mill."""
    path = str(ROOT / "models" / f"{name}.toml")
    with tempfile.TemporaryDirectory() as folder:
        found = [
            answer("tolerance", path, "--samples", "100", "--tools", tools, "--no-figures", "--runs", folder)
            for tools in ("hand", "mill")
        ]
    return {"hand": figures(found[0]), "mill": figures(found[1]), "sentences": sentences(found[0])}


def of_design(name: str) -> dict[str, float | None]:
    """Every figure of a design, its record included."""
    with tempfile.TemporaryDirectory() as folder:
        return figures(answer("design", *DESIGNS[name].split(), "--out", os.path.join(folder, "record.toml")))


def main() -> None:
    """Write the table."""
    table = {
        "records": {name: of_record(name) for name in RECORDS},
        "designs": {name: of_design(name) for name in DESIGNS},
        "tolerances": {name: of_tolerance(name) for name in RECORDS},
    }
    TABLE.write_text(json.dumps(table, indent=0) + "\n", encoding="utf-8")


if __name__ == "__main__":
    main()
