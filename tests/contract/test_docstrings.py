"""Every public module, class, function and method says what it is."""

from __future__ import annotations

import importlib
import inspect
import pkgutil

import simharness
from simharness.progress import Progress

MODULES = ["simharness"] + [m.name for m in pkgutil.walk_packages(simharness.__path__, "simharness.")]

INTERFACE = {name for name in vars(Progress) if not name.startswith("_")}
"""Methods of the progress interface: said once, on `Progress`, and not again on its implementations."""


def _public(namespace: dict, module: str):
    for name, thing in namespace.items():
        if not name.startswith("_") and getattr(thing, "__module__", None) == module:
            yield name, thing


def _methods(kind: type):
    for name, thing in vars(kind).items():
        if name.startswith("_"):
            continue
        if isinstance(thing, (property, classmethod, staticmethod)) or inspect.isfunction(thing):
            yield name


def undocumented(module_name: str) -> list[str]:
    """Public names of a module that carry no docstring; an overridden method may inherit its own."""
    module = importlib.import_module(module_name)
    found = [] if (module.__doc__ or "").strip() else ["(the module)"]
    for name, thing in _public(vars(module), module_name):
        if not (inspect.isclass(thing) or inspect.isfunction(thing)):
            continue
        # A dataclass without a docstring is given its signature as one.
        if not inspect.getdoc(thing) or thing.__doc__.startswith(f"{name}("):
            found.append(name)
        if inspect.isclass(thing):
            found += [
                f"{name}.{method}"
                for method in _methods(thing)
                if not inspect.getdoc(getattr(thing, method)) and method not in INTERFACE
            ]
    return found


def test_docstrings():
    assert {module: names for module in MODULES if (names := undocumented(module))} == {}
