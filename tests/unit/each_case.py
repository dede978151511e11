"""One test over many cases: all of them are tried, and those that fail are told together."""

from __future__ import annotations

import functools
import inspect
from collections.abc import Callable, Iterable
from typing import Any

import pytest


class CasesFailed(AssertionError):
    """Cases of a test that failed, each with what it said; the first of them is the cause."""

    def __init__(self, failures: dict[str, str]) -> None:
        self.failures = failures
        lines = [f"{case}: {said}" for case, said in failures.items()]
        super().__init__("\n".join([f"{len(failures)} cases failed", *lines]))


def each_case(names: str | tuple[str, ...], values: Iterable[Any], ids: Any = None) -> Callable:
    """Like `pytest.mark.parametrize`, but one test: for tables and for loops over records, pages and modules.

    For tests that leave nothing behind: fixtures are made once for all cases. Decorators may be stacked.

    Parameters
    ----------
    names
        Arguments of the test, separated by commas.
    values
        A case each: one value for one name, else as many as there are names, or a `pytest.param`.
    ids
        A function of a value, or a sequence, to name the cases in messages; else their values do.
    """
    arguments = [name.strip() for name in names.split(",")] if isinstance(names, str) else list(names)
    cases = list(values)
    labels = list(ids) if ids is not None and not callable(ids) else [None] * len(cases)
    assert cases and len(labels) == len(cases)

    def decorate(test: Callable) -> Callable:
        @functools.wraps(test)
        def over_all(**fixtures: Any) -> None:
            failures: dict[str, str] = {}
            first = None
            skipped = 0
            for case, label in zip(cases, labels):
                given = getattr(case, "values", None) if hasattr(case, "marks") else None
                given = given if given is not None else ((case,) if len(arguments) == 1 else case)
                name = label or getattr(case, "id", None) or ", ".join(_shown(v, ids) for v in given)
                try:
                    test(**dict(zip(arguments, given, strict=True)), **fixtures)
                except pytest.skip.Exception:
                    skipped += 1
                except CasesFailed as error:
                    failures |= {f"{name}, {inner}": said for inner, said in error.failures.items()}
                    first = first or error.__cause__
                except (Exception, pytest.fail.Exception) as error:
                    failures[name] = f"{type(error).__name__}: {error}"
                    first = first or error
            if failures:
                raise CasesFailed(failures) from first
            if skipped == len(cases):
                pytest.skip("none of the cases applies here")

        wanted = inspect.signature(test)
        left = [p for p in wanted.parameters.values() if p.name not in arguments]
        assert len(left) == len(wanted.parameters) - len(arguments), "a name is no argument of the test"
        over_all.__signature__ = wanted.replace(parameters=left)  # what pytest makes as fixtures
        del over_all.__wrapped__
        return over_all

    return decorate


def _shown(value: Any, ids: Any) -> str:
    said = ids(value) if callable(ids) else None
    if said is None:
        said = getattr(value, "__name__", None) or getattr(value, "name", None) or value
    return str(said)[:80]
