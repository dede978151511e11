"""The house: imports go only downwards, never in a circle, and each floor keeps its promise."""

from __future__ import annotations

import ast
import graphlib
from collections.abc import Iterator
from pathlib import Path

import pytest

import simharness

ROOT = Path(simharness.__file__).parent

FLOORS = (
    ("printable", "hints", "errors", "constants"),
    ("em",),
    ("records", "materials", "scene", "layout", "mesh_settings", "lattice", "grid", "tube_cells", "raster", "tube_fields", "solver.settings",
     "design", "advice", "row_advice", "fabrication_advice", "joining_advice", "feed_advice", "laminate_advice", "around_words", "estimate",
     "stock", "stock_choice", "feed_wish", "wish", "wish_options", "questions", "proposal", "proposal_record", "proposal_words", "remedies", "record_text",
     "outputs", "results_file", "settling", "post", "foretold", "error_bars", "match_state", "beam", "agreement", "verdict", "fingerprint", "files", "progress",
     "measured", "suspects", "fast_model", "changes", "improvement", "improvement_words", "causes", "mending", "compare", "orientation",
     "rules", "budget", "link_words",
     "slot_outlines", "stairs", "cross_polar",
     "figure_words", "tuning_knobs", "tuning_model",
     "smooth_model", "tool_errors", "tolerance_model", "tolerance_limits", "tolerances", "tolerance_words", "sweep.points",
     "sweep.table"),
    ("lock", "manifest", "names", "claim", "litter", "listing", "store", "lookup", "solver", "plot", "sheets", "report"),
    ("run", "run_advice", "study", "tuning", "tuning_words", "workmanship", "sweep"),
    ("cli",),
)
"""Modules and packages by floor, the lowest first. A module may import from its own floor and below.
DEVELOPERS.md shows the same table with reasons. `simharness` itself holds the version and is on no floor."""

EM_MAY_IMPORT = {"__future__", "collections", "dataclasses", "functools", "itertools", "math", "typing", "numpy", "scipy"}
EM_MAY_NOT_CALL = {"open", "print", "input"}
SOLVER_MODULES = {"openEMS", "CSXCAD"}


def _module_name(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


TREES = {_module_name(p): ast.parse(p.read_text(encoding="utf-8")) for p in sorted(ROOT.rglob("*.py"))}
MODULES = [name for name in TREES if name]


def _floor(module: str) -> int:
    """Floor of a module: the longest entry of the table that it is or lies in."""
    found = [
        (len(entry), level)
        for level, entries in enumerate(FLOORS)
        for entry in entries
        if module == entry or module.startswith(entry + ".")
    ]
    assert found, f"module {module} is on no floor: add it to FLOORS here and in DEVELOPERS.md"
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


@pytest.mark.parametrize("module", MODULES)
def test_imports_go_downwards(module):
    upward = [name for name in _own_imports(module) if _floor(name) > _floor(module)]
    assert not upward, f"{module} (floor {_floor(module)}) imports upwards: {upward}"


def test_no_module_imports_itself_by_a_detour():
    graph = {module: _own_imports(module) for module in MODULES}
    # A package that imports its own modules inside functions (plot) does not need them to be loaded.
    graph["plot"] = {name for name in graph["plot"] if not name.startswith("plot.")}
    tuple(graphlib.TopologicalSorter(graph).static_order())  # raises CycleError


def test_every_entry_of_the_table_exists():
    listed = [entry for entries in FLOORS for entry in entries]
    assert [entry for entry in listed if entry not in TREES] == []
    assert len(listed) == len(set(listed))


@pytest.mark.parametrize("module", [m for m in MODULES if m.startswith("em.")])
def test_kernels_are_pure(module):
    foreign = [n for n in _imports(module) if n.split(".")[0] not in EM_MAY_IMPORT | {"simharness"}]
    assert not foreign, f"{module} imports {foreign}: kernels know numpy and scipy only"
    called = {
        node.func.id for node in ast.walk(TREES[module])
        if isinstance(node, ast.Call) and isinstance(node.func, ast.Name)
    }
    assert not called & EM_MAY_NOT_CALL


@pytest.mark.parametrize("module", MODULES)
def test_the_solver_has_one_door(module):
    imported = {n.split(".")[0] for n in _imports(module)} & SOLVER_MODULES
    assert not imported or module == "solver.openems", f"{module} imports {imported}"
    if module not in ("solver.openems", "solver.machine"):
        code = [
            node.value for node in ast.walk(TREES[module])
            if isinstance(node, ast.Constant) and isinstance(node.value, str)
            and any(f"import {name}" in node.value or node.value == name for name in SOLVER_MODULES)
        ]
        assert not code, f"{module} names the solver's modules: {code}"


def test_nobody_imports_the_child():
    """openems.py is run as a program of its own; whoever imported it could load the solver into this process."""
    assert [module for module in MODULES if "solver.openems" in _own_imports(module)] == []
