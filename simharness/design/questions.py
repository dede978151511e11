"""The questions of a guided start: what each asks, what holds without an answer, and what an answer means as
options.

The options are those of `simharness design`, as text; whether they make sense is for
`simharness.design.requirements` to say.
"""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from simharness.design.feed_requirements import CONNECTORS
from simharness.design.feeds import FEEDS, allowed_feeds
from simharness.design.proposal_record import record_name
from simharness.design.requirements import Requirements, wanted_voltages
from simharness.design.stock import folded_box, suitable_stock
from simharness.errors import InputError

TypedOptions = dict[str, str]
"""Options of `simharness design` by name, as they are typed."""

_FIRST_BAND = "5.8"
_METALS = ("guide", "tube", "round", "sheet")
_ENDS = ("round", "square")
_MANY = 5
_THIN = 0.5e-3


def _nothing(requirements: Requirements | None) -> str:
    """No hint."""
    return ""


def _always(requirements: Requirements | None) -> bool:
    """Whatever was answered before."""
    return True


@dataclass(frozen=True)
class Question:
    """One question of a guided start.

    Attributes
    ----------
    name : str
    ask : str
    default : function
        Of the requirements so far, None at the first question: the answer that stands for what holds anyway.
    options : function
        Of an answer; raises `InputError` for one that means nothing.
    hint : function
        Of the requirements so far: a sentence before the question, or "".
    applies : function
        Of the requirements so far: whether there is anything to ask.
    """

    name: str
    ask: str
    default: Callable[[Any], str]
    options: Callable[[str], TypedOptions]
    hint: Callable[[Any], str] = _nothing
    applies: Callable[[Any], bool] = _always


def band_options(answer: str) -> TypedOptions:
    """A centre, or two edges.

    Examples
    --------
    >>> band_options("5.8"), band_options("2.4 - 2.4835")
    ({'frequency': '5.8'}, {'low': '2.4', 'high': '2.4835'})
    """
    if re.fullmatch(r"\d+,\d+", answer.strip()):
        meant = answer.strip()
        raise InputError(
            "band",
            answer,
            f"has a comma where a point belongs: do you mean {meant.replace(',', '.')}, or the edges "
            f"{meant.replace(',', '-')}?",
        )
    numbers = re.split(r"\s*-\s*|\s*,\s*|\s+to\s+|\s+", answer.strip())
    if not all(re.fullmatch(r"\d+(\.\d*)?|\.\d+", number) for number in numbers) or len(numbers) > 2:
        raise InputError(
            "band", answer, "must be a centre such as 5.8, or two edges such as 2.4-2.4835, in GHz"
        )
    return dict(zip(("low", "high"), numbers)) if len(numbers) == 2 else {"frequency": numbers[0]}


def metal_options(answer: str) -> TypedOptions:
    """A standard guide, a tube, a round tube, or a sheet with or without the inner size of its box.

    Examples
    --------
    >>> metal_options("sheet 0.5 90x45"), metal_options("WR-159"), metal_options("tube 50x25x2")
    ({'sheet': '0.5', 'inside': '90x45'}, {'guide': 'WR-159'}, {'tube': '50x25x2'})
    """
    kind, *sizes = answer.split()
    if kind.upper().startswith("WR"):
        return {"guide": answer}
    if kind not in _METALS or not sizes:
        raise InputError(
            "metal", answer, f"must be one of {', '.join(_METALS)}, and its size, such as 'tube 50x25x2'"
        )
    if kind != "sheet":
        return {kind: "".join(sizes)}
    return {"sheet": sizes[0]} | ({"inside": "".join(sizes[1:])} if sizes[1:] else {})


def row_options(answer: str) -> TypedOptions:
    """A number of slots, a gain, or a width of the beam.

    Examples
    --------
    >>> row_options("6"), row_options("gain 14"), row_options("beam 10")
    ({'slots': '6'}, {'gain': '14'}, {'beamwidth': '10'})
    """
    *word, number = answer.split()
    kinds = {(): "slots", ("slots",): "slots", ("gain",): "gain", ("beam",): "beamwidth"}
    if tuple(word) not in kinds:
        raise InputError(
            "row",
            answer,
            "must be a number of slots, or 'gain' in dBi, or 'beam' in degrees, such as 'gain 14'",
        )
    return {kinds[tuple(word)]: number}


def feed_options(answer: str) -> TypedOptions:
    """A straight probe, or a bent one with its tip.

    Examples
    --------
    >>> feed_options("bent-probe open")
    {'feed': 'bent-probe', 'tip': 'open'}
    """
    return dict(zip(("feed", "tip"), answer.split(maxsplit=1)))


def slot_options(answer: str) -> TypedOptions:
    """Width and ends of the slots, or one of the two.

    Examples
    --------
    >>> slot_options("3 square"), slot_options("square"), slot_options("3")
    ({'cutter': '3', 'ends': 'square'}, {'ends': 'square'}, {'cutter': '3'})
    """
    words = answer.split()
    if len(words) > 2 or len({word in _ENDS for word in words}) < len(words):
        raise InputError(
            "slots", answer, "must be a width in mm, the ends (round or square), or both, such as '3 square'"
        )
    return {"ends" if word in _ENDS else "cutter": word for word in words}


def file_default(requirements: Requirements) -> str:
    """File of the record where none is named."""
    return f"{record_name(requirements, wanted_voltages(requirements).size)}.toml"


def _metal_hint(requirements: Requirements) -> str:
    frequency = requirements.frequency
    box = folded_box(frequency, _THIN)
    stock = ", ".join(suitable_stock(frequency)[:_MANY])
    return (
        f"for {frequency / 1e9:g} GHz would do: {stock + '; ' if stock else ''}sheet, folded to "
        f"{box.a * 1e3:g} x {box.b * 1e3:g} mm inside or a size of your own"
    )


def _feed_default(requirements: Requirements) -> str:
    return requirements.feed.kind


QUESTIONS = (
    Question(
        "band",
        "Band in GHz: its centre, or its edges (2.4-2.4835)",
        lambda requirements: _FIRST_BAND,
        band_options,
    ),
    Question(
        "target",
        "Largest S11 in the band, dB",
        lambda requirements: f"{requirements.target_db:g}",
        lambda answer: {"target": answer},
    ),
    Question(
        "metal",
        "Metal: 'guide WR-159', 'tube 50x25x2', 'round 88x1', 'sheet 0.5' or 'sheet 0.5 90x45', in mm",
        lambda requirements: f"guide {requirements.guide.name}",
        metal_options,
        _metal_hint,
    ),
    Question(
        "row",
        "Slots: how many; or 'gain 14' in dBi, or 'beam 10' in degrees along the guide",
        lambda requirements: f"{requirements.slots}",
        row_options,
    ),
    Question(
        "feed",
        f"Feed: {FEEDS[0]} (straight, through the back wall), {FEEDS[1]} (through the near end, its tip "
        f"soldered to the front) or '{FEEDS[1]} open'",
        _feed_default,
        feed_options,
        applies=lambda requirements: len(allowed_feeds(requirements.guide)) > 1,
    ),
    Question(
        "connector",
        f"What sits on the wall: {', '.join(CONNECTORS)}",
        lambda requirements: requirements.feed.connector,
        lambda answer: {"connector": answer},
        lambda requirements: "bare connector, panel connector with a flange, or stripped coax soldered in",
    ),
    Question(
        "material",
        "What the walls are made of",
        lambda requirements: requirements.guide.material,
        lambda answer: {"material": answer},
    ),
    Question(
        "slots",
        "Your tool for the slots: the width it cuts in mm, and the ends it leaves, round or square",
        lambda requirements: f"{requirements.slot_width * 1e3:g} {requirements.ends}",
        slot_options,
    ),
    Question(
        "step",
        "How finely you can mark, mm",
        lambda requirements: f"{requirements.step * 1e3:g}",
        lambda answer: {"step": answer},
    ),
)
"""In the order of asking; the file comes last, and is no part of the requirements."""
