"""`simharness start`."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

if TYPE_CHECKING:
    from simharness.design.questions import Question
    from simharness.design.requirements import Requirements


@click.command("start")
def command() -> None:
    """A handful of questions about band, metal, feed and tools, and the record that follows from the answers.

    Enter takes what stands in brackets. The 'simharness design' command that does the same is printed; it has
    more options.
    """
    from simharness.design.questions import QUESTIONS, file_default

    click.echo("Enter takes what stands in brackets; Ctrl-C ends without a trace.\n")
    first, *others = QUESTIONS
    given, requirements = _answered(first, {}, None)
    for question in others:
        if question.applies(requirements):
            given, requirements = _answered(question, given, requirements)
    path, replace = _file(file_default(requirements))
    words = [*_words(given), "--out", str(path), *(["--replace"] if replace else [])]
    click.echo(f"\nThe same again, or with other options, by\n\n  {_line(words)}\n")
    _design(words)


def _answered(
    question: Question, given: dict[str, str], requirements: Requirements | None
) -> tuple[dict[str, str], Requirements]:
    """Options and requirements after a question that is asked until its answer makes sense."""
    from simharness.errors import InputError

    if hint := question.hint(requirements):
        click.echo(f"  ({hint})")
    default = question.default(requirements)
    while True:
        answer = _asked(question.ask, default)
        try:
            # what holds anyway is no option, but for the band, which has to be said
            own = question.options(answer) if requirements is None or answer != default else {}
            options = given | dict(own)
            return options, _requirements(options)
        except InputError as error:
            click.echo(f"  {error}")
        except click.UsageError as error:
            click.echo(f"  {error.format_message()}")


def _asked(text: str, default: str) -> str:
    """An answer; shown where nobody typed it, so that a transcript can be read."""
    import sys

    answer = click.prompt(text, default=default).strip() or default
    if not sys.stdin.isatty():
        click.echo(answer)
    return answer


def _requirements(given: dict[str, str]) -> Requirements:
    """The requirements of the options so far, as `simharness design` takes them; refused as there."""
    from simharness.cli.commands.design import command as design
    from simharness.design.options import requirements_from_options
    from simharness.design.requirements import require_consistent, wanted_voltages

    params = design.make_context("design", _words(given), parent=click.get_current_context()).params
    requirements = requirements_from_options(params)
    require_consistent(requirements)
    wanted_voltages(requirements)
    return requirements


def _words(given: dict[str, str]) -> list[str]:
    return [word for name, value in given.items() for word in (f"--{name.replace('_', '-')}", value)]


def _line(words: list[str]) -> str:
    import shlex

    return shlex.join(["simharness", "design", *words])


def _file(default: str) -> tuple[Path, bool]:
    """Where the record goes, and whether a file that is there may be replaced."""
    from simharness.cli.options import FilePath
    from simharness.errors import InputError
    from simharness.library.values import require_free

    while True:
        answer = _asked("File of the record", default)
        try:
            path = FilePath().convert(answer, None, None)
            require_free(path, replace=True)
        except InputError as error:
            click.echo(f"  {error}")
            continue
        except click.UsageError as error:
            click.echo(f"  {error.format_message()}")
            continue
        if not path.exists():
            return path, False
        if _asked(f"{path} is there already: write over it? (yes or no)", "no") in ("y", "yes"):
            return path, True


def _design(words: list[str]) -> None:
    from simharness.cli.commands.design import command as design

    with design.make_context("design", words, parent=click.get_current_context()) as context:
        design.invoke(context)
