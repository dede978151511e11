"""The house: each room imports only from rooms before it, never in a circle, and keeps its promise."""

from __future__ import annotations

import ast
import graphlib
from collections.abc import Iterator
from pathlib import Path

import simharness

ROOT = Path(simharness.__file__).parent

ROOMS = (
    ("errors", "constants", "progress", "files", "fingerprint", "figures", "printable", "hints"),
    ("numerics",),
    ("em.guide",),
    ("em.signals",),
    ("em.slot",),
    ("em.probe",),
    ("em.screw",),
    ("em.pattern",),
    ("em.scatter",),
    ("em.row",),
    ("records",),
    ("geometry",),
    ("mesh",),
    ("estimate.site",),
    ("estimate",),
    ("advice",),
    ("design",),
    ("solver",),
    ("results",),
    ("runs",),
    ("verdict",),
    ("plot",),
    ("convergence",),
    ("tuning",),
    ("tolerance",),
    ("sweep",),
    ("link",),
    ("measurement",),
    ("improvement",),
    ("workshop",),
    ("beside",),
    ("sheets.flat",),
    ("sheets.covering",),
    ("sheets.drawing",),
    ("sheets.build",),
    ("sheets.pages",),
    ("sheets",),
    ("report",),
    ("library",),
    ("live",),
    ("jobs",),
    ("page",),
    ("page.charts",),
    ("page.drawing",),
    ("page.form",),
    ("page.queue",),
    ("page.compare",),
    ("page.built",),
    ("page.frame",),
    ("cli",),
)
"""The rooms in the order of the house: a module imports from its own line and from those above it.
DEVELOPERS.md shows the same order with reasons. `simharness` itself holds the version and is in no room."""

MAX_LINES = 300
MAX_COLUMNS = 110
MAX_FILES = 13
"""Modules in a room, `__init__` apart; `cli.commands` has one for each command."""

EM_MAY_IMPORT = {
    "__future__",
    "collections",
    "dataclasses",
    "functools",
    "itertools",
    "math",
    "typing",
    "numpy",
    "scipy",
}
EM_MAY_NOT_CALL = {"open", "print", "input"}
SOLVER_MODULES = {"openEMS", "CSXCAD"}


def _module_name(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


TREES = {_module_name(p): ast.parse(p.read_text(encoding="utf-8")) for p in sorted(ROOT.rglob("*.py"))}
MODULES = [name for name in TREES if name]


def _level(module: str) -> int:
    """Place of a module's room in the house: the longest entry of the table that it is or lies in."""
    found = [
        (len(entry), level)
        for level, entries in enumerate(ROOMS)
        for entry in entries
        if module == entry or module.startswith(entry + ".") or module == "em"
    ]
    assert found, f"module {module} is in no room: add it to ROOMS here and in DEVELOPERS.md"
    return max(found)[1]


def _statements(node: ast.AST) -> Iterator[ast.AST]:
    """All nodes but those that only a type checker sees."""
    for child in ast.iter_child_nodes(node):
        if isinstance(child, ast.If) and getattr(child.test, "id", "") == "TYPE_CHECKING":
            continue
        yield child
        yield from _statements(child)


def _imports(module: str) -> Iterator[str]:
    """Full dotted names that a module imports, in functions too."""
    for node in _statements(TREES[module]):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{module}: relative imports are not used here"
            for alias in node.names:
                whole = f"{node.module}.{alias.name}"
                yield whole if whole.removeprefix("simharness.") in TREES else node.module


def _own_imports(module: str) -> set[str]:
    names = {n.removeprefix("simharness.") for n in _imports(module) if n.startswith("simharness.")}
    return names - {module}


def test_rooms_import_only_from_rooms_before_them():
    upward = {
        f"{module} imports {name}"
        for module in MODULES
        for name in _own_imports(module)
        if _level(name) > _level(module)
    }
    assert upward == set()


def test_no_module_imports_itself_by_a_detour():
    graph = {module: _own_imports(module) for module in MODULES}
    # A package that imports its own modules inside functions (plot) does not need them to be loaded.
    graph["plot"] = {name for name in graph["plot"] if not name.startswith("plot.")}
    tuple(graphlib.TopologicalSorter(graph).static_order())  # raises CycleError


def test_every_room_of_the_table_exists():
    listed = [entry for entries in ROOMS for entry in entries]
    assert [entry for entry in listed if entry not in TREES] == []
    assert len(listed) == len(set(listed))


def test_kernels_are_pure():
    for module in (m for m in MODULES if m.startswith(("em.", "numerics."))):
        foreign = [n for n in _imports(module) if n.split(".")[0] not in EM_MAY_IMPORT | {"simharness"}]
        assert not foreign, f"{module} imports {foreign}: kernels know numpy and scipy only"
        called = {
            node.func.id
            for node in ast.walk(TREES[module])
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
        }
        assert not called & EM_MAY_NOT_CALL, module


def test_the_solver_has_one_door():
    for module in MODULES:
        imported = {n.split(".")[0] for n in _imports(module)} & SOLVER_MODULES
        assert not imported or module == "solver.openems", f"{module} imports {imported}"
        if module not in ("solver.openems", "solver.interpreter"):
            code = [
                node.value
                for node in ast.walk(TREES[module])
                if isinstance(node, ast.Constant)
                and isinstance(node.value, str)
                and any(f"import {name}" in node.value or node.value == name for name in SOLVER_MODULES)
            ]
            assert not code, f"{module} names the solver's modules: {code}"


def test_nobody_imports_the_child():
    """openems.py is run as a program of its own; whoever imported it could load the solver into this
    process.
    """
    assert [module for module in MODULES if "solver.openems" in _own_imports(module)] == []


def test_no_file_is_long_and_no_line_wide():
    long, wide = {}, {}
    for path in sorted(ROOT.rglob("*.py")):
        lines = path.read_text(encoding="utf-8").splitlines()
        if len(lines) > MAX_LINES:
            long[str(path.relative_to(ROOT))] = len(lines)
        if broad := [i for i, line in enumerate(lines, 1) if len(line) > MAX_COLUMNS]:
            wide[str(path.relative_to(ROOT))] = broad
    assert (long, wide) == ({}, {})


def test_no_room_is_crowded():
    crowded = {}
    for folder in {path.parent for path in ROOT.rglob("*.py")} - {ROOT, ROOT / "cli" / "commands"}:
        count = sum(path.name != "__init__.py" for path in folder.glob("*.py"))
        if count > MAX_FILES:
            crowded[str(folder.relative_to(ROOT))] = count
    assert crowded == {}
