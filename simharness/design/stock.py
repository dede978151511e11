"""Metal that can be bought: standard guides, rectangular tubes, sheet and cutters.

Inner sizes of the guides: `simharness.em.guide.rectangular.standard_guides`. Their wall thicknesses
(EIA RS-261) are from memory. The tubes, cutters and sheets are what metal dealers
usually have: common practice, no source.
"""

from __future__ import annotations

import re
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simharness.constants import C0
from simharness.em.guide.rectangular import next_mode, standard_guides
from simharness.em.guide.round import equivalent_offset, equivalent_rectangle, slot_angle, tm01_cutoff
from simharness.em.pattern.rectangular_tube import RectangularTube
from simharness.em.pattern.round_tube import RoundTube
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

BOX_RATIO = 1.41
"""Of a folded box: the guide wavelength is 1.42 free ones, and slots clear each other by far."""
_SLOT_WIDTH = 0.05
"""Of a wavelength: narrow enough for the slot model, wide enough to be cut."""


@dataclass(frozen=True)
class StockGuide:
    """A guide as it comes from the shelf or from the folding bench; lengths in m.

    Attributes
    ----------
    name : str
        As the builder says it.
    a, b : float
        Inner width and height.
    wall : float
    material : str
        Of `simharness.records.materials`, what it is usually made of.
    diameter : float or None
        Of a round tube, inside; `a` and `b` are then those of the rectangular guide that its slots cannot
        tell from it.
    make : str
        "tube" or "folded" from sheet, as in a record.
    """

    name: str
    a: float
    b: float
    wall: float
    material: str
    diameter: float | None = None
    make: str = "tube"

    @property
    def inside_text(self) -> str:
        """The inner size."""
        return (
            f"{self.a * 1e3:g} x {self.b * 1e3:g} mm inside"
            if self.diameter is None
            else f"{self.diameter * 1e3:g} mm inside"
        )

    @property
    def next_wave(self) -> tuple[str, float]:
        """The next mode and where it begins, Hz."""
        return next_mode(self.a, self.b) if self.diameter is None else ("TM01", tm01_cutoff(self.diameter))

    @property
    def outline(self) -> RectangularTube | RoundTube:
        """Of the outside."""
        if self.diameter is not None:
            return RoundTube(self.diameter + 2 * self.wall)
        return RectangularTube(self.a + 2 * self.wall, self.b + 2 * self.wall)

    def marked(self, across: NDArray) -> NDArray:
        """Where a slot is marked that lies at x in the guide, m: on a tube the arc from the front line on its
        outside."""
        if self.diameter is None:
            return np.asarray(across)
        return (self.diameter / 2 + self.wall) * slot_angle(self.diameter, across)

    def across(self, marked: NDArray) -> NDArray:
        """The x of a slot that is marked there, m: `marked` the other way round."""
        if self.diameter is None:
            return np.asarray(marked)
        return equivalent_offset(self.diameter, np.asarray(marked) / (self.diameter / 2 + self.wall))


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
        Not `count` positive numbers of a sane size with an x between them.

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
    return StockGuide(
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
    a = round(BOX_RATIO * C0 / (2 * frequency) * 1e3)
    a, b = (a, a // 2) if inside is None else sizes(inside, 2, "inside")
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
