"""The report as one HTML file: style, program and pictures inside, no request to anywhere."""

from __future__ import annotations

import base64
import re
from importlib import resources

from jinja2 import Environment, PackageLoader, StrictUndefined

from simharness import __version__
from simharness.report.content import Report, with_minus_signs

_NUMERAL = re.compile(r"^\d+\. ")


def page_text(report: Report) -> str:
    """The whole page.

    Parameters
    ----------
    report : Report

    Returns
    -------
    str
        HTML 5. Its own content security policy forbids every request.
    """
    environment = Environment(
        loader=PackageLoader("simharness", "report"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters |= {
        "minus": with_minus_signs,
        "data_uri": _data_uri,
        "ordered": _ordered,
        "unnumbered": _unnumbered,
    }
    return environment.get_template("page.html.j2").render(
        report=report,
        version=__version__,
        style=_packaged("page.css"),
        program=_packaged("view.js"),
    )


def _packaged(name: str) -> str:
    return (resources.files("simharness.report") / name).read_text(encoding="utf-8")


def _data_uri(png: bytes) -> str:
    return "data:image/png;base64," + base64.b64encode(png).decode("ascii")


def _ordered(sentences: tuple[str, ...]) -> bool:
    """Whether sentences are numbered, and so a list in order."""
    return all(map(_NUMERAL.match, sentences))


def _unnumbered(sentence: str) -> str:
    """A sentence without its number, which the list adds again."""
    return _NUMERAL.sub("", sentence)
