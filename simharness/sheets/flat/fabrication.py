"""How the box is made, and how much flat metal its bends take so that inside dimensions come out right."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Literal

from simharness.errors import InputError

GROOVE_SKIN = 0.2
"""Share of the thickness that a scored groove leaves; a choice, no source."""
SKIN_FACTOR = 0.33
"""Neutral factor of that skin, which bends about a sharp edge; common practice, no source."""


def neutral_factor(radius: float, thickness: float) -> float:
    """Distance of the neutral fibre from the inner face of a bend, in thicknesses (the K-factor).

    Half the correction k = 0.65 + 0.5 log10(r/t), at most 1, of DIN 6935 (memory). It is made for
    cold bends of steel sheet; for r/t under 0.1 it is only a guess. Workshop rules run from 0.33
    to 0.5, which over one bend makes a difference of a quarter of the thickness.

    Parameters
    ----------
    radius : inside radius, m, > 0.
    thickness : m.

    Examples
    --------
    >>> neutral_factor(0.5e-3, 0.5e-3)
    0.325
    >>> neutral_factor(10e-3, 1e-3)
    0.5
    """
    correction = 0.65 + 0.5 * math.log10(radius / thickness)
    return min(max(correction, 0.0), 1.0) / 2


@dataclass(frozen=True)
class Fold:
    """How sheet of one thickness is folded, by 90 degrees or another angle.

    Attributes
    ----------
    thickness : m.
    radius : inside radius of the bend, m; 0 for a scored groove.
    factor : distance of the neutral fibre from the inner face, in thicknesses; None: `neutral_factor`.
    scored : a groove of the angle is cut on the inside first, and closes when folded.
    angle : by which it is folded, deg.

    Raises
    ------
    InputError
        A bend without groove has no radius, a groove has one, or the factor is outside 0 to 1.
    """

    thickness: float
    radius: float
    factor: float | None = None
    scored: bool = False
    angle: float = 90.0

    def __post_init__(self) -> None:
        if self.scored and self.radius != 0:
            raise InputError(
                "inside radius", f"{self.radius * 1e3:g} mm", "a scored bend is sharp: must be 0"
            )
        if not self.scored and self.radius <= 0:
            raise InputError(
                "inside radius",
                f"{self.radius * 1e3:g} mm",
                "must be greater than 0, unless bends are scored",
            )
        if self.factor is not None and not 0 <= self.factor <= 1:
            raise InputError(
                "K-factor", self.factor, "must be 0 (inner face) to 1 (outer face); usual are 0.33 to 0.5"
            )

    @property
    def neutral(self) -> float:
        """Neutral factor in use: the one given, or `neutral_factor`; of a groove, that of its skin."""
        if self.factor is not None:
            return self.factor
        return SKIN_FACTOR if self.scored else neutral_factor(self.radius, self.thickness)

    @property
    def groove_depth(self) -> float:
        """Depth of the scored groove, m; 0 without."""
        return (1 - GROOVE_SKIN) * self.thickness if self.scored else 0.0

    @property
    def allowance(self) -> float:
        """Flat length of the bend between the tangent lines of its inner faces, m.

        The neutral fibre keeps its length: angle (r + K t). A groove of depth d with flanks at half the angle
        is 2 d tan(angle/2) wide on the inside, and its skin s bends about its inner face: angle K s more.

        Examples
        --------
        >>> round(Fold(1e-3, 1e-3, 0.5).allowance * 1e3, 4)
        2.3562
        >>> round(Fold(1e-3, 1e-3, 0.5, angle=45.0).allowance * 1e3, 4)
        1.1781
        """
        bending = self.thickness - self.groove_depth
        turn = math.radians(self.angle)
        return 2 * self.groove_depth * math.tan(turn / 2) + turn * (self.radius + self.neutral * bending)

    def setback(self, outside: bool) -> float:
        """From a tangent line to where the two inner faces, or the two outer ones, would meet, m."""
        radius = self.radius + (self.thickness if outside else 0.0)
        return radius * math.tan(math.radians(self.angle) / 2)

    def flat_height(self, inside_height: float) -> float:
        """Flat length from the inner tangent line to the edge of a flap, m.

        Parameters
        ----------
        inside_height : of the folded flap above the inner face of the sheet it stands on, m.

        Raises
        ------
        InputError
            The flap is no higher than the bend itself.
        """
        if inside_height <= self.radius:
            raise InputError(
                "inside radius",
                f"{self.radius * 1e3:g} mm",
                f"must be less than the flap's height of {inside_height * 1e3:g} mm",
            )
        return self.allowance + inside_height - self.radius


@dataclass(frozen=True)
class Fabrication:
    """How the box is made; lengths in m.

    Attributes
    ----------
    make : 'folded' (back and sides in one piece, front wall and caps apart) or 'tube' (stock tube, plates).
    radius : inside radius of bends; None: the thickness of the sheet bent; 0 with `scored`.
    factor : neutral factor (K); None: `neutral_factor`.
    scored : bends are scored on the inside and folded sharp.
    tab : height of the end caps' tabs; 0: plain plates.
    lip : height of lips of the front wall over the sides; 0: soldered on the edges.
    land : diameter of the land around the feed hole; None: three times the hole.
    wings : how wings are joined: 'folded' (of one piece with the front wall) or 'soldered' (strips).
    """

    make: Literal["folded", "tube"] = "folded"
    radius: float | None = None
    factor: float | None = None
    scored: bool = False
    tab: float = 8e-3
    lip: float = 0.0
    land: float | None = None
    wings: Literal["folded", "soldered"] = "folded"

    def fold(self, thickness: float, angle: float = 90.0) -> Fold:
        """The fold of a sheet of this thickness, m, by an angle in deg."""
        usual = 0.0 if self.scored else thickness
        radius = usual if self.radius is None else self.radius
        return Fold(thickness, radius, self.factor, self.scored, angle)


FOLDED = Fabrication()
"""A folded box with the usual radii, tabs on its ends and no lips."""
