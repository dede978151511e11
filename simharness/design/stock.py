"""Metal that can be bought: standard guides, tubes, sheet and cutters, and which of it suits a frequency.

Inner sizes of the guides: `simharness.em.guide.rectangular.standard_guides`. Their wall thicknesses
(EIA RS-261) are from memory. The tubes, cutters and sheets are what metal dealers
usually have: common practice, no source.
"""

from __future__ import annotations

import re

from simharness.constants import C0
from simharness.design.stock_guide import RoundStock, StockGuide, single_wave_width
from simharness.em.guide.rectangular import cutoff_frequency, standard_guides
from simharness.em.guide.round import equivalent_rectangle
from simharness.errors import InputError

GUIDE_WALLS_MM = {
    "WR-430": 2.03,
    "WR-340": 2.03,
    "WR-284": 2.03,
    "WR-229": 1.63,
    "WR-187": 1.63,
    "WR-159": 1.63,
    "WR-137": 1.63,
    "WR-112": 1.63,
    "WR-90": 1.27,
    "WR-62": 1.02,
}
TUBES_MM = (
    (20, 10, 1),
    (25, 12, 1.5),
    (25, 15, 1.5),
    (30, 15, 2),
    (40, 20, 2),
    (44, 24, 2),
    (50, 25, 2),
    (50, 25, 3),
    (60, 30, 2),
    (80, 40, 2),
    (80, 40, 3),
    (100, 50, 2),
    (100, 50, 3),
    (120, 60, 3),
)
"""Outer width, outer height and wall of rectangular tubes of aluminium, brass or copper."""
CUTTERS_MM = (0.8, 1.0, 1.2, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0)

MAX_SIZE = 1000.0
"""No size of a guide, a tube or a board reaches this many mm."""

_BEST_RATIO = 1.5
"""Frequency over cutoff in the middle of the standard bands."""
_SLOT_WIDTH = 0.05
"""Of a wavelength: narrow enough for the slot model, wide enough to be cut."""


def standard_guide(name: str) -> StockGuide:
    """The standard guide of this EIA name; "wr90" will do.

    Raises
    ------
    InputError
        The name is not in the table.

    Examples
    --------
    >>> standard_guide("wr 90")
    StockGuide(name='WR-90', a=0.02286, b=0.01016, wall=0.00127, material='brass', diameter=None, make='tube')
    """
    for guide in standard_guides():
        if _letters(guide.name) == _letters(name):
            return StockGuide(guide.name, guide.a, guide.b, GUIDE_WALLS_MM[guide.name] * 1e-3, "brass")
    known = ", ".join(guide.name for guide in standard_guides())
    raise InputError("guide", name, f"must be one of {known}, or an inner size such as 40x20 (mm)")


def _letters(name: str) -> str:
    return re.sub(r"[\s-]", "", name).upper()


def sizes(text: str, count: int, what: str) -> tuple[float, ...]:
    """Numbers of a text such as 50x25x2, mm.

    Raises
    ------
    InputError
        Not `count` positive numbers of reasonable size with an x between them.

    Examples
    --------
    >>> sizes("50x25 x 1.5", 3, "tube")
    (50.0, 25.0, 1.5)
    """
    parts = re.fullmatch(r"\s*x\s*".join([r"(\d+(?:\.\d+)?|\.\d+)"] * count), text.strip().lower())
    if parts is None or not all(0 < float(part) < MAX_SIZE for part in parts.groups()):
        example = "x".join(["50", "25", "2"][:count])
        raise InputError(what, text, f"must be {count} numbers in mm with x between them, such as {example}")
    return tuple(map(float, parts.groups()))


def guide_from_text(text: str, wall: float) -> StockGuide:
    """A standard guide by its name, or a guide of this inner size, 40x20 in mm.

    Parameters
    ----------
    text : str
    wall : float
        Of a guide given by its size, m.

    Raises
    ------
    InputError
    """
    if text.strip()[:1].isalpha():
        return standard_guide(text)
    a, b = sizes(text, 2, "guide")
    return StockGuide(f"{a:g} x {b:g} mm guide", *_upright(a, b, "guide", text), wall, "brass", make="folded")


def tube_from_text(text: str) -> StockGuide:
    """A tube of this outer size and wall, 50x25x2 in mm.

    Raises
    ------
    InputError

    Examples
    --------
    >>> tube_from_text("50x25x2").name
    '50 x 25 x 2 mm tube'
    """
    width, height, wall = sizes(text, 3, "tube")
    if 2 * wall >= min(width, height):
        raise InputError("tube", text, "the walls leave no room inside")
    a, b = _upright(width - 2 * wall, height - 2 * wall, "tube", text)
    return StockGuide(f"{width:g} x {height:g} x {wall:g} mm tube", a, b, wall * 1e-3, "aluminium")


def round_from_text(text: str) -> StockGuide:
    """A round tube of this inner diameter and wall, 88x1 in mm.

    Raises
    ------
    InputError

    Examples
    --------
    >>> round_from_text("88x1").name
    'round tube of 88 x 1 mm'
    """
    diameter, wall = sizes(text, 2, "round")
    return RoundStock(
        f"round tube of {diameter:g} x {wall:g} mm",
        *equivalent_rectangle(diameter * 1e-3),
        wall * 1e-3,
        "copper",
        diameter * 1e-3,
    )


def _upright(a: float, b: float, what: str, text: str) -> tuple[float, float]:
    if b >= a:
        raise InputError(what, text, "the first number is the broad side: it must be the larger")
    return a * 1e-3, b * 1e-3


def folded_box(frequency: float, sheet: float, inside: str | None = None) -> StockGuide:
    """A box folded of sheet (thickness in m) of this inner size, 90x40 in mm, or in whole millimetres that
    suit the frequency (Hz).

    Raises
    ------
    InputError

    Examples
    --------
    >>> box = folded_box(2.45e9, 0.5e-3)
    >>> box.name, round(box.a * 1e3), round(box.b * 1e3)
    ('86 x 43 mm box of 0.5 mm sheet', 86, 43)
    """
    if inside is None:
        suited = round(single_wave_width(frequency) * 1e3)
        a, b = float(suited), float(suited // 2)
    else:
        a, b = sizes(inside, 2, "inside")
    name = f"{a:g} x {b:g} mm box of {sheet * 1e3:g} mm sheet"
    return StockGuide(name, *_upright(a, b, "inside", f"{a:g}x{b:g}"), sheet, "brass", make="folded")


def cutter_width(frequency: float) -> float:
    """Width of slot (m) that suits a frequency (Hz): the cutter nearest to a twentieth of a wavelength.

    Examples
    --------
    >>> [round(cutter_width(f) * 1e3, 1) for f in (2.45e9, 5.8e9, 10.37e9)]
    [6.0, 2.5, 1.5]
    """
    wanted = _SLOT_WIDTH * C0 / frequency * 1e3
    return min(CUTTERS_MM, key=lambda cutter: abs(cutter - wanted)) * 1e-3


def preferred_guide(frequency: float, low: float | None = None, high: float | None = None) -> StockGuide:
    """The standard guide in whose band a frequency (Hz) lies most nearly in the middle; one that holds both
    edges (Hz), if any does.

    Raises
    ------
    InputError
        No standard guide of the table carries it.

    Examples
    --------
    >>> [preferred_guide(f).name for f in (2.45e9, 5.8e9, 10.37e9)]
    ['WR-340', 'WR-159', 'WR-90']
    """
    fitting = [g for g in standard_guides() if g.low <= frequency <= g.high]
    if not fitting:
        low, high = standard_guides()[0].low / 1e9, standard_guides()[-1].high / 1e9
        raise InputError(
            "frequency",
            f"{frequency / 1e9:g} GHz",
            f"the standard guides known here carry {low:g} to {high:g} GHz; name a size of your own",
        )
    whole = [g for g in fitting if g.low <= (low or frequency) and (high or frequency) <= g.high]
    return standard_guide(
        min(whole or fitting, key=lambda g: abs(frequency / cutoff_frequency(g.a) - _BEST_RATIO)).name
    )


def suitable_stock(frequency: float) -> list[str]:
    """Names of standard guides and common tubes that suit a frequency (Hz), the best first."""
    shelf = [standard_guide(g.name) for g in standard_guides()]
    shelf += [tube_from_text("x".join(f"{v:g}" for v in size)) for size in TUBES_MM]
    fitting = [g for g in shelf if g.suits(frequency)]
    return [
        g.name for g in sorted(fitting, key=lambda g: abs(frequency / cutoff_frequency(g.a) - _BEST_RATIO))
    ]
