"""Realized gain as a body around the antenna, in parallel projection."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection, PolyCollection, TriMesh
from matplotlib.colors import Colormap, Normalize
from matplotlib.tri import Triangulation
from numpy.typing import NDArray

from simharness.plot import style, titles
from simharness.plot.antenna_solid import edge_lines, patches_between, slot_patches, tube_patches
from simharness.records import Record

RANGE_DB = 30.0
"""The radius of the body is zero where the gain is this far below the top of the scale."""

Sphere = tuple[NDArray, NDArray, NDArray]
"""Theta and phi in rad, gain (theta, phi) in dBi."""
_LIGHT = np.array([0.45, 0.75, 0.5]) / np.linalg.norm([0.45, 0.75, 0.5])


def gain_body(gain_db: NDArray, theta: NDArray, phi: NDArray, top: float) -> NDArray:
    """Points (theta, phi, 3) of a surface whose radius is the gain over a floor.

    Parameters
    ----------
    gain_db : (nt, np) array
        dBi.
    theta, phi : (nt,), (np,) arrays
        rad.
    top : float
        Gain of radius 1 in dBi; radius 0 lies `RANGE_DB` below.

    Examples
    --------
    >>> print(np.round(gain_body(np.array([[10.0]]), np.array([0.0]), np.array([0.0]), 10.0), 12))
    [[[0. 0. 1.]]]
    """
    radius = np.clip((gain_db - top + RANGE_DB) / RANGE_DB, 0.0, 1.0)
    sine = np.sin(theta)[:, None]
    unit = np.stack(
        [sine * np.cos(phi), sine * np.sin(phi), np.broadcast_to(np.cos(theta)[:, None], radius.shape)],
        axis=-1,
    )
    return radius[..., None] * unit


def view_rows(upright: bool) -> NDArray:
    """Unit vectors (3, 3) to the right, up and towards the viewer, who looks from the front side and above.

    Up is z for a vertical antenna, x for a horizontal one.
    """
    azimuth, elevation = np.radians(38.0 if upright else 40.0), np.radians(18.0)
    sine, cosine = np.sin(azimuth), np.cos(azimuth)
    rows = np.array(
        [
            [-sine, cosine, 0.0],
            [-np.sin(elevation) * cosine, -np.sin(elevation) * sine, np.cos(elevation)],
            [np.cos(elevation) * cosine, np.cos(elevation) * sine, np.sin(elevation)],
        ]
    )
    return rows if upright else np.roll(rows, 1, axis=1)


def faces_viewer(patches: NDArray, rows: NDArray) -> NDArray:
    """Which patches (n, 4, 3) of a closed surface face the viewer; the others are hidden by these.

    Parameters
    ----------
    patches : (n, 4, 3) array
        Corners, anticlockwise as seen from outside.
    rows : (3, 3) array
        See `view_rows`.

    Examples
    --------
    >>> square = np.array([[[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]]])
    >>> print(faces_viewer(np.concatenate([square, square[:, ::-1]]), np.eye(3)))
    [ True False]
    """
    flat = patches @ rows[:2].T
    one, two = flat[:, 2] - flat[:, 0], flat[:, 3] - flat[:, 1]
    return one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0] > 0


def _lit(points: NDArray, colours: NDArray) -> NDArray:
    """Colours (i, j, 3) at points (i, j, 3) of a closed surface about the origin, shaded by a light."""
    normal = np.cross(np.gradient(points, axis=0), np.gradient(points, axis=1))
    length = np.linalg.norm(normal, axis=-1, keepdims=True)
    normal = normal / np.where(length > 1e-12, length, np.inf)
    normal = normal * np.sign(np.sum(normal * points, axis=-1, keepdims=True))
    shade = 0.72 + 0.28 * np.clip(normal @ _LIGHT, -0.4, 1.0)
    return np.clip(colours * shade[..., None], 0, 1)


def _draw_shaded(axes: Axes, rows: NDArray, patches: NDArray, colours: NDArray) -> None:
    """Patches from back to front, coloured by interpolation between their corners."""
    x, y, near = np.moveaxis(patches @ rows.T, 2, 0)
    order = np.argsort(near.mean(axis=1), kind="stable")
    halves = 4 * order[:, None, None] + np.array([[0, 1, 2], [0, 2, 3]])
    surface = TriMesh(Triangulation(x.ravel(), y.ravel(), halves.reshape(-1, 3)))
    surface.set_facecolor(colours.reshape(-1, 3))  # type: ignore[arg-type]  # one for each corner
    axes.add_collection(surface)


def draw_body(axes: Axes, sphere: Sphere, record: Record, norm: Normalize, cmap: Colormap) -> None:
    """The gain body in parallel projection with the antenna in it, whose slots and edges remain visible."""
    theta, phi, gain = sphere
    rows = view_rows(record.mounting.axis == "vertical")
    assert norm.vmax is not None
    points = gain_body(gain, theta, phi, norm.vmax)
    patches, colours = (patches_between(each) for each in (points, _lit(points, cmap(norm(gain))[..., :3])))
    seen = faces_viewer(patches, rows)
    tube, greys = tube_patches(record)
    _draw_shaded(
        axes,
        rows,
        np.concatenate([patches[seen], tube]),
        np.concatenate([colours[seen], np.repeat(greys[:, None], 4, axis=1)]),
    )
    axes.add_collection(
        LineCollection(
            [line @ rows[:2].T for line in edge_lines(record)],
            colors=style.INK,
            linewidths=0.8,
            alpha=0.5,
            zorder=5,
        )
    )
    slots = slot_patches(record)
    slots = slots[faces_viewer(slots, rows)] @ rows[:2].T
    axes.add_collection(
        PolyCollection(slots, facecolors=style.INK, edgecolors="white", linewidths=0.7, zorder=6)
    )
    everything = np.concatenate([points.reshape(-1, 3), tube.reshape(-1, 3)]) @ rows[:2].T
    _fit(axes, everything, _draw_axes(axes, record, rows, everything))


def _draw_axes(axes: Axes, record: Record, rows: NDArray, drawn: NDArray) -> list[tuple[NDArray, NDArray]]:
    """Named lines to the front, to the back and along the guide, beyond what is drawn (n, 2).

    Returns pairs of a tip, and the distance of a corner of its name from it, inches.
    """
    upright = record.mounting.axis == "vertical"
    named = {
        "front (slots)": (0, 1, 0),
        "back (slots)" if record.two_faced else "back": (0, -1, 0),
        "along the guide, far end" if upright else "along the guide,\nfar end": (0, 0, 1),
    }
    found = []
    for words, axis in named.items():
        away = rows[:2] @ axis
        away = away / np.linalg.norm(away)
        near = np.abs(drawn @ (-away[1], away[0])) < 0.12
        end = away * (np.max(drawn[near] @ away) + 0.1)
        right, up = np.where(np.abs(away) < 0.4, 0, np.sign(away)).astype(int)
        axes.plot(*zip((0, 0), end), color=style.INK, linewidth=1.0, zorder=0)
        axes.annotate(
            words,
            end,
            (6 * away[0], 6 * away[1]),
            textcoords="offset points",
            fontsize=11.5,
            zorder=10,
            ha=("right", "center", "left")[right + 1],
            va=("top", "center", "bottom")[up + 1],
        )
        lines = words.splitlines()
        size = np.array(
            [max(titles.text_width(style.figure_of(axes), line, 11.5) for line in lines), 0.22 * len(lines)]
        )
        middle = 6 / 72 * away + np.array([right, up]) * size / 2
        found += [(end, middle - size / 2), (end, middle + size / 2)]
    return found


def _fit(axes: Axes, points: NDArray, names: list[tuple[NDArray, NDArray]]) -> None:
    """Limits with equal scales around points (n, 2) and names, whose corners are inches from their tips."""
    place, sheet = axes.get_position(), style.figure_of(axes).get_size_inches()
    size = np.array([place.width, place.height]) * sheet
    scale = np.max(np.ptp(points, axis=0) / size)
    for _ in range(30):  # the size of names is fixed in inches
        corners = np.concatenate([points, [end + scale * away for end, away in names]])
        low, high = corners.min(axis=0), corners.max(axis=0)
        scale = np.max((high - low) / size)
    middle, half = (low + high) / 2, scale * size / 2
    axes.set(xlim=middle[0] + half[0] * np.array([-1, 1]), ylim=middle[1] + half[1] * np.array([-1, 1]))
    axes.set_axis_off()
