"""The questions of a guided start as a form: every answer judged as far as the ones before it go."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, get_type_hints

from simharness.errors import HarnessError, InputError
from simharness.hints import meant_number

if TYPE_CHECKING:
    from simharness.design.questions import Question
    from simharness.design.requirements import Requirements

_FREQUENCIES = ("frequency", "low", "high")
_RANGE_GHZ = (0.1, 100.0)
"""As wide as a record allows."""
LONGEST = 80
"""Characters of an answer."""


@dataclass(frozen=True)
class Asked:
    """One question with what is known about its answer.

    Attributes
    ----------
    name, ask : str
        As in `simharness.design.questions.Question`.
    hint : str
        A sentence of help, or "".
    default : str
        What holds without an answer.
    refused : str
        Why the answer means nothing here, or "".
    """

    name: str
    ask: str
    hint: str
    default: str
    refused: str = ""


@dataclass(frozen=True)
class Judged:
    """All questions that apply, and the options of `simharness.design` where every answer makes sense."""

    asked: tuple[Asked, ...]
    options: dict[str, Any] | None


def judged_answers(answers: Mapping[str, str]) -> Judged:
    """The questions in their order with the answers so far; an empty answer takes what holds anyway.

    Parameters
    ----------
    answers : mapping of str to str
        By the name of the question, as typed. A refused one counts as empty for the questions after it.
    """
    from simharness.design.questions import QUESTIONS

    asked: list[Asked] = []
    options: dict[str, Any] = {}
    requirements: Requirements | None = None
    for question in QUESTIONS:
        if requirements is not None and not question.applies(requirements):
            continue
        hint, default = question.hint(requirements), question.default(requirements)
        answer = answers.get(question.name, "").strip()
        refused = ""
        try:
            options, requirements = _answered(question, answer, default, options, requirements)
        except HarnessError as error:
            refused = str(error)
            if requirements is None:  # a band has to be said before anything else can be asked
                options, requirements = _answered(question, "", default, options, requirements)
        asked.append(Asked(question.name, question.ask, hint, default, refused))
    return Judged(tuple(asked), None if any(one.refused for one in asked) else options)


def _answered(
    question: Question,
    answer: str,
    default: str,
    options: dict[str, Any],
    requirements: Requirements | None,
) -> tuple[dict[str, Any], Requirements]:
    """Options and requirements after an answer; raises `HarnessError` for one that makes no sense."""
    if len(answer) > LONGEST:
        raise InputError(question.name, answer, f"must be at most {LONGEST} characters")
    # What holds anyway is no option, but for the band, which has to be said.
    own = question.options(answer or default) if requirements is None or answer not in ("", default) else {}
    found = options | typed_options(own)
    return found, _requirements(found)


def typed_options(options: Mapping[str, str]) -> dict[str, Any]:
    """Options as text in the types of `simharness.library.designing.DesignOptions`.

    Raises
    ------
    InputError
        No number where one is wanted.

    Examples
    --------
    >>> typed_options({"frequency": "5.8", "slots": "6", "guide": "WR-159"})
    {'frequency': 5.8, 'slots': 6, 'guide': 'WR-159'}
    """
    from simharness.library.designing import DesignOptions

    kinds = get_type_hints(DesignOptions)
    return {name: _typed(name, text, kinds.get(name, str)) for name, text in options.items()}


def _typed(name: str, text: str, kind: type) -> Any:
    if kind not in (int, float):
        return text
    try:
        value = kind(text)
    except ValueError:
        meant = text.replace(",", ".")
        hint = f" (do you mean {meant}?)" if "," in text else ""
        raise InputError(name, text, f"must be a {'whole ' if kind is int else ''}number{hint}") from None
    low, high = _RANGE_GHZ
    if name in _FREQUENCIES and not low < value < high:
        hint = meant_number(value, "GHz", lambda other: low < other < high)
        raise InputError(name, text, f"must be between {low:g} and {high:g} GHz{hint}")
    return value


def _requirements(options: dict[str, Any]) -> Requirements:
    """The requirements of the options so far, refused as by a design."""
    from simharness.design.options import requirements_from_options
    from simharness.design.requirements import require_consistent, wanted_voltages
    from simharness.library.designing import known_options

    requirements = requirements_from_options(known_options(options))
    require_consistent(requirements)
    wanted_voltages(requirements)
    return requirements
