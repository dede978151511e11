"""The pages say what the code does: commands, exit codes, error bars, tables, links."""

from __future__ import annotations

import importlib
import inspect
import re
import shlex
from pathlib import Path

import click
from each_case import each_case
from test_rooms import ROOMS

from simharness import errors
from simharness.cli.main import COMMANDS, cli
from simharness.results.outputs import outputs_table
from simharness.verdict.error_bars import ESTIMATE_ERROR, SOLVER_ERROR

ROOT = Path(__file__).parents[2]
PAGES = (
    *("README.md", "DEVELOPERS.md", "CONTRIBUTING.md", "models/README.md", "CHANGELOG.md"),
    *sorted(f"docs/{path.name}" for path in (ROOT / "docs").glob("*.md")),
)
TEXT = {page: (ROOT / page).read_text(encoding="utf-8") for page in PAGES}


def _command_lines() -> list[tuple[str, str]]:
    """Command lines in code blocks and in backticks, with their page."""
    found = []
    for page, text in TEXT.items():
        blocks = re.findall(r"^```\n(.*?)^```", text, re.DOTALL | re.MULTILINE)
        lines = [line for block in blocks for line in block.splitlines()] + re.findall(r"`([^`\n]+)`", text)
        found += [(page, line.strip()) for line in lines if line.strip().startswith("simharness ")]
    return sorted(set(found))


LINES = _command_lines()


def test_the_first_page_shows_every_working_command():
    shown = {line.split()[1] for page, line in LINES if page in ("README.md", "models/README.md")}
    assert set(COMMANDS) <= shown


@each_case(("page", "line"), LINES)
def test_command_line_on_a_page_is_accepted(page, line):
    words = shlex.split(line.split(">")[0])[1:]
    if words == ["--help"]:
        return
    assert words[0] in COMMANDS
    command = importlib.import_module(f"simharness.cli.commands.{words[0]}").command
    # Under the group: a command keeps the help option that it makes first, and '-h' is the group's to give.
    with click.Context(command, parent=click.Context(cli, **cli.context_settings)) as context:
        command.parse_args(context, words[1:])  # raises UsageError


@each_case("page", PAGES)
def test_linked_files_are_there(page):
    links = re.findall(r"\]\(([^)#]+)\)", TEXT[page])
    missing = [link for link in links if "://" not in link and not ((ROOT / page).parent / link).exists()]
    assert missing == []


FILE_ENDINGS = {"py", "toml", "txt", "h5", "json", "md", "csv", "pdf", "html"}
MODULES = {path.relative_to(ROOT / "simharness").as_posix() for path in (ROOT / "simharness").rglob("*.py")}


@each_case("page", [page for page in PAGES if page != "CHANGELOG.md"])
def test_named_modules_and_scripts_are_there(page):
    """`mesh.settings.QUALITIES`, `runs/watch.py`, `scripts/test`, `tests/unit`: no page names what is gone.

    A bare `feeds.py` stands for the file of that name in any room. The change log tells of earlier names.
    """
    named = re.findall(r"`((?:scripts|tests|models)/[\w./-]*\w)`", TEXT[page])
    gone = [name for name in named if not (ROOT / name).exists() and not name.startswith("models/record.")]
    for name in re.findall(r"`((?:\w+/)*\w+\.py)`", TEXT[page]):
        anywhere = "/" not in name and any(module.endswith(f"/{name}") for module in MODULES)
        if not (anywhere or name in MODULES or (ROOT / name).exists()):
            gone.append(name)
    for module, thing in re.findall(r"`((?:\w+\.)+)([A-Za-z_]\w*)`", TEXT[page]):
        module = module.removeprefix("simharness.")
        place = module.rstrip(".").replace(".", "/")
        if module.startswith(("record.", "slot.")) or thing in FILE_ENDINGS:
            continue  # a field of a record, a file of that name
        if f"{place}.py" in MODULES or f"{place}/__init__.py" in MODULES:
            found = importlib.import_module(f"simharness.{module.rstrip('.')}")
            if not hasattr(found, thing) and f"{place}/{thing}.py" not in MODULES:
                gone.append(f"{module}{thing}")
        elif "." in module.rstrip("."):
            gone.append(f"{module}{thing}")
    assert not gone, gone


def test_rooms_in_the_guide():
    """The table of the rooms has them all, in the order that is enforced."""
    rows = re.findall(
        r"^\| `([a-z/]+)` \|", TEXT["DEVELOPERS.md"].split("## How a run goes")[0], re.MULTILINE
    )
    rooms = [room.replace(".", "/") for line in ROOMS[1:] for room in line]
    assert rows == [room for room in rooms if room != "sheets"]


def test_the_page_for_contributors_names_every_room_that_asks_a_feed_or_a_shape():
    lookups = {module for module in MODULES if re.search(r"/(feeds|shapes)\.py$", module)}
    assert lookups <= set(re.findall(r"`((?:\w+/)+\w+\.py)`", TEXT["CONTRIBUTING.md"]))


def test_exit_codes_on_the_first_page():
    rows = re.findall(r"^\| (\d+) \| .+ \|$", TEXT["README.md"], re.MULTILINE)
    classes = [c for _, c in inspect.getmembers(errors, inspect.isclass) if c is not errors.HarnessError]
    assert [int(row) for row in rows] == sorted({0, 2} | {c.exit_code for c in classes})


def test_error_classes_in_the_guide():
    rows = re.findall(r"^\| `(\w+Error)` \| (\d+) \|", TEXT["DEVELOPERS.md"], re.MULTILINE)
    classes = [c for _, c in inspect.getmembers(errors, inspect.isclass) if c is not errors.HarnessError]
    assert sorted((name, int(code)) for name, code in rows) == sorted(
        (c.__name__, c.exit_code) for c in classes
    )


@each_case(
    ("row", "kind", "unit", "scale"),
    [
        ("frequency of the best match", "resonance", " %", 100),
        ("gain", "gain", " dB", 1),
        ("beamwidth", "beamwidth", " %", 100),
        ("S11, as a distance in the complex plane", "s11", "", 1),
    ],
)
def test_error_bars_on_the_first_page(row, kind, unit, scale):
    values = [ESTIMATE_ERROR[kind], *(SOLVER_ERROR[quality][kind] for quality in ("draft", "normal", "fine"))]
    assert (
        f"| {row} | " + " | ".join(f"{scale * value:g}{unit}" for value in values) + " |" in TEXT["README.md"]
    )


def test_table_of_outputs_in_the_guide():
    assert outputs_table() in TEXT["DEVELOPERS.md"]


def test_ci_runs_the_test_command_of_the_first_page():
    last = (ROOT / ".ci/run").read_text(encoding="utf-8").splitlines()[-1]
    assert last == "exec scripts/test"
    assert "\nscripts/test\n" in TEXT["README.md"]


SCRIPTS = sorted(
    path.relative_to(ROOT).as_posix()
    for path in (ROOT / "scripts").iterdir()
    if not path.suffix and path.is_file()
)


@each_case("script", [*SCRIPTS, ".ci/run"])
def test_script_is_executable_and_strict(script):
    path = ROOT / script
    assert path.stat().st_mode & 0o111
    text = path.read_text(encoding="utf-8")
    if script.endswith(".py"):
        assert text.startswith("#!/usr/bin/env python3\n")
    else:
        assert text.startswith("#!/usr/bin/env bash\n") and "\nset -euo pipefail\n" in text
