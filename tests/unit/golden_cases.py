"""What commands print, word for word, in one file for each command.

`python tests/unit/golden_cases.py` writes the files in tests/golden anew; read what has changed before it
is committed. Words are held here and nowhere else: other tests ask for numbers, names and a key phrase.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import shutil
import sys
import tempfile
from pathlib import Path
from unittest import mock

ROOT = Path(__file__).parents[2]
GOLDEN = ROOT / "tests" / "golden"

BOX, LAMINATE = "five-slot-2g45", "five-slot-2g45-laminate"
TUBE, TWO = "four-slot-tube-2g44", "two-faced-5g8"

COMMAND_LINES: dict[str, tuple[str, ...]] = {
    "start": ("start --help",),
    "design": (
        "design --help",
        "design --frequency 5.8 --slots 4 --guide WR-159 --out row.toml",
    ),
    "check": ("check --help", *(f"check {name}.toml" for name in (BOX, TUBE, LAMINATE))),
    "estimate": ("estimate --help", *(f"estimate {name}.toml" for name in (BOX, TWO))),
    "page": ("page --help", "page nothing.toml --no-browser"),
    "solve": ("solve --help",),
    "converge": ("converge --help",),
    "tune": ("tune --help",),
    "tolerance": ("tolerance --help", f"tolerance {BOX}.toml"),
    "sweep": ("sweep --help",),
    "sheets": (
        "sheets --help",
        *(f"sheets {name}.toml --out sheets-{name}" for name in (BOX, TUBE)),
    ),
    "report": ("report --help",),
    "show": ("show --help", "show nothing", f"show {BOX}.toml {TWO}.toml"),
    "compare": (
        "compare --help",
        f"compare {BOX}.toml {LAMINATE}.toml --no-figures",
        f"compare {BOX}.toml {TUBE}.toml --no-figures",
        f"compare {BOX}.toml nothing",
        f"compare {BOX}.toml {TWO}.toml {TUBE}.toml {LAMINATE}.toml",
    ),
    "built": (
        "built --help",
        f"built {BOX}.toml --form form.csv",
        f"built {BOX}.toml readings-{BOX}.csv --no-figures",
        f"built {TUBE}.toml readings-{BOX}.csv",
    ),
    "mend": ("mend --help", f"mend {BOX}.toml"),
    "link": (
        "link --help",
        "link --gain-dbi 12 --frequency-ghz 2.45 --power-dbm 20 --distance-m 1000 --sensitivity-dbm -85"
        " --region europe",
    ),
    "runs": ("runs --help", "runs"),
    "schema": ("schema --help",),
}
"""Command lines of each command; records are those of models/, which are invented."""

PROGRESS = re.compile(r"^ +\d+ %  (?:about|begun).*\n", re.MULTILINE)
"""Lines of progress: which of them come depends on how fast the machine is."""


def printed(command: str) -> str:
    """All that the command lines of a command print, each under its line, in a folder of its own."""
    from simharness.cli.main import main

    said = []
    with tempfile.TemporaryDirectory() as folder, contextlib.chdir(folder):
        for record in (ROOT / "models").glob("*.toml"):
            shutil.copy(record, folder)
        shutil.copy(ROOT / "docs" / f"readings-{BOX}.csv", folder)
        for line in COMMAND_LINES[command]:
            out, code = io.StringIO(), 0
            settings = {"COLUMNS": "100", "MPLBACKEND": "Agg", "SIMHARNESS_PROFILE": ""}
            with (
                mock.patch.dict(os.environ, settings),
                mock.patch.object(sys, "argv", ["simharness", *line.split()]),
                # else click says how these tests were called
                mock.patch.object(sys.modules["__main__"], "__package__", None),
                contextlib.redirect_stdout(out),
                contextlib.redirect_stderr(out),
            ):
                try:
                    main()
                except SystemExit as end:
                    code = end.code
            ended = f"(exit code {code})\n" if code else ""
            text = PROGRESS.sub("", out.getvalue())
            said.append(f"$ simharness {line}\n{text}{ended}")
    return re.sub(r"[ \t]+$", "", "\n".join(said), flags=re.MULTILINE)


if __name__ == "__main__":
    for name in sys.argv[1:] or COMMAND_LINES:
        (GOLDEN / f"{name}.txt").write_text(printed(name), encoding="utf-8")
        print(f"written: tests/golden/{name}.txt")
