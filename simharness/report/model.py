"""What the turning view of the report draws, as plain values: solids of the scene, gain in all directions."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

import matplotlib
import numpy as np
from matplotlib.colors import to_hex
from numpy.typing import NDArray

from simharness.geometry.scene import Scene
from simharness.geometry.solids import COVERS, SUBSTRATE, Prism
from simharness.numerics.decibels import decibels
from simharness.plot import style
from simharness.plot.gain_body import RANGE_DB, gain_body
from simharness.records import Record
from simharness.results.outputs import Results

MAX_THETA, MAX_PHI = 91, 73
"""Greatest number of directions: 2 and 5 degrees apart where the run has them."""
BODY = 0.85
"""Radius of the gain body at its peak, the top of the scale, over the length of the antenna."""
SHADES = 16
"""Number of colours of the scale; the page interpolates."""
_WIRES = ("probe", "probe riser", "coax pin")


def model_data(scene: Scene, results: Results, record: Record) -> dict[str, Any]:
    """Everything that the page's renderer needs, in types that JSON knows.

    Parameters
    ----------
    scene : Scene
        Of the record, with the feed that was solved.
    results : Results
    record : Record

    Returns
    -------
    dict
        ``solids``, ``inside`` (inner bounds of the guide) and ``middle`` in mm, axes of the record;
        ``up``, the axis that points up as the antenna hangs, and the named ``views`` (degrees);
        ``pattern`` or None.
    """
    inside = scene.inside or scene.bounds()
    middle = [sum(inside[i : i + 2]) / 2 for i in (0, 2, 4)]
    upright = record.mounting.axis == "vertical"
    return {
        "solids": [_solid(prism) for prism in scene.prisms if not prism.material.absorber],
        "inside": _mm(inside),
        "middle": _mm(middle),
        "up": "z" if upright else "x",
        "views": _views(upright),
        "pattern": _pattern(results, record, inside[5] - inside[4]),
    }


def _mm(lengths: Iterable[float]) -> list[float]:
    """Lengths in mm to 0.1 micrometre."""
    return [round(1e3 * float(length), 4) for length in lengths]


def _solid(prism: Prism) -> dict[str, Any]:
    kind = (
        "wire"
        if prism.part in _WIRES
        else "wall"
        if prism.material.metal
        else "laminate"
        if prism.part in (SUBSTRATE, *COVERS.values())
        else "filling"
    )
    low, high = _mm((prism.low, prism.high))
    rings = (prism.outline.exterior, *prism.outline.holes)
    return {
        "part": prism.part,
        "kind": kind,
        "axis": prism.axis,
        "low": low,
        "high": high,
        "rings": [[_mm(point) for point in ring] for ring in rings],
    }


def _views(upright: bool) -> list[dict[str, Any]]:
    """Named directions to look from: azimuth and elevation in degrees about the axis that points up.

    Azimuth counts from x to y where z is up, and from y to z where x is up.
    """
    front = 90 if upright else 0
    named = {"slanted": (front - 35, 18), "front": (front, 0), "back": (front + 180, 0)}
    if upright:
        named |= {"side": (0, 0), "far end": (front, 89)}
    else:
        named |= {"near end": (-90, 0), "far end": (90, 0)}
    return [
        {"name": name, "azimuth": azimuth, "elevation": elevation}
        for name, (azimuth, elevation) in named.items()
    ]


def thinned(count: int, most: int) -> NDArray:
    """Indices of at most about `most` of `count` samples at even steps, the last one always among them.

    Examples
    --------
    >>> print(thinned(7, 4), thinned(5, 9), thinned(6, 3))
    [0 2 4 6] [0 1 2 3 4] [0 3 5]
    """
    step = max(1, -(-(count - 1) // (most - 1)))
    return np.unique(np.append(np.arange(0, count, step), count - 1))


def _pattern(results: Results, record: Record, length: float) -> dict[str, Any] | None:
    """The gain body of the pictures, thinned: points around the guide's middle, mm, or None."""
    far = style.far_field(results, record)
    if far is None:
        return None
    index = style.centre_index(results, record)
    rows, columns = thinned(far.theta.size, MAX_THETA), thinned(far.phi.size, MAX_PHI)
    gain = decibels(style.field_gain(far, index))[np.ix_(rows, columns)]
    top = float(gain.max())
    radius = 1e3 * BODY * length
    points = np.round(radius * gain_body(gain, far.theta[rows], far.phi[columns], top), 1)
    colours = matplotlib.colormaps["viridis"](np.linspace(0, 1, SHADES))
    return {
        "points": points.tolist(),
        "radius": round(radius, 1),
        "top_dbi": round(top, 2),
        "floor_dbi": round(top - RANGE_DB, 2),
        "colours": [to_hex(colour) for colour in colours],
    }
