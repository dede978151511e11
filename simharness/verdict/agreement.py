"""Whether estimate and full wave say the same, and why where the figures alone do not show it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass

from simharness.estimate import beam
from simharness.estimate.site.figures import LOBE
from simharness.figures import Figure
from simharness.numerics.decibels import decibels

_KINDS = {
    "beamwidth_along": "beamwidth",
    "beamwidth_across": "beamwidth",
    "realized_gain": "gain",
    "directivity": "gain",
    "s11_at_resonance": "s11",
    "s11_at_centre": "s11",
    "band_low": "band",
    "band_high": "band",
    "side_lobe_level": "side_lobe",
    "ripple_across": "ripple",
    "null_plus_x": "null",
    "null_minus_x": "null",
    beam.NAME: "beam",
    LOBE: "side_lobe",
}
_RELATIVE = ("resonance", "band", "beamwidth")
_FAR_APART_DB = 3.0
"""Levels of S11 further apart than this look like a disagreement."""


@dataclass(frozen=True)
class FigureRow:
    """One line of the table; `agrees` is None where one side has no number.

    `difference` and `tolerance` are in the measure of the figure's kind: relative for frequencies and
    beamwidths, a distance in the complex plane for S11, the unit of the figure for anything else.
    """

    name: str
    label: str
    estimate: Figure | None
    full_wave: Figure | None
    tolerance: float | None
    agrees: bool | None
    difference: float | None = None


def kind_of(name: str) -> str:
    """Kind of error bar that a figure has, as in `error_bars.SOLVER_ERROR`."""
    return _KINDS.get(name, name)


def size_of(figure: Figure) -> float:
    """|S11| of a level in dB."""
    return 10 ** (figure.value / 20)


def level_bar(level_db: float, distance: float) -> float:
    """Upper half of the error bar of a level of S11 in dB, from an error bar of S11 in the complex plane.

    Examples
    --------
    >>> print(f"{level_bar(-20.0, 0.1):.2f}")
    6.02
    """
    return decibels((10 ** (level_db / 20) + distance) ** 2) - level_db


def difference(name: str, one: Figure, two: Figure) -> float:
    """Distance of two figures of one name in the measure of the tolerance; see `FigureRow`."""
    kind = kind_of(name)
    if kind in _RELATIVE:
        return abs(two.value / one.value - 1)
    if kind == "s11":
        return abs(size_of(one) - size_of(two))
    return abs(two.value - one.value)


def row(
    name: str,
    label: str,
    one: Figure | None,
    two: Figure | None,
    trusted: Mapping[str, float],
    error: Mapping[str, float],
) -> FigureRow:
    """Both sides of a figure, and whether they agree within both bars together.

    Parameters
    ----------
    name, label : str
    one, two : Figure or None
        Estimate and full wave.
    trusted, error : mapping
        Kind of figure to the bar of the estimate and of the full wave; of "beam" as a share of the beamwidth.
    """
    kind = kind_of(name)
    tolerance = trusted[kind] + error[kind] if kind in trusted else None
    if kind == "beam" and tolerance is not None:
        bar = None if two is None else two.error
        tolerance = None if bar is None else bar / error[kind] * tolerance
    if tolerance is None or not one or not two or one.value is None or two.value is None:
        return FigureRow(name, label, one, two, tolerance, None)
    apart = float(difference(name, one, two))
    return FigureRow(name, label, one, two, tolerance, bool(apart <= tolerance), apart)


def reasons(rows: Iterable[FigureRow]) -> list[str]:
    """Why levels of S11 agree that lie decibels apart; nothing where none do."""
    deep = []
    for row in rows:
        if not row.agrees or kind_of(row.name) != "s11" or row.estimate is None or row.full_wave is None:
            continue
        one, two = row.estimate, row.full_wave
        if abs(one.value - two.value) > _FAR_APART_DB:
            levels = f"{one.value:.1f} and {two.value:.1f} dB are {size_of(one):.2f} and {size_of(two):.2f}"
            deep.append((f"{row.label}: {levels}", row.tolerance))
    if not deep:
        return []
    told = "; ".join(levels for levels, _ in deep)
    return [
        "S11 is compared as a size in the plane of the reflection, where deep matches lie close together "
        f"({told}): they agree, as both bars together allow {deep[0][1]:.2g}."
    ]
