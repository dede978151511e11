"""Realized gain in all directions: a body around the antenna, and an equal-area map."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.collections import LineCollection, PolyCollection, TriMesh
from matplotlib.colors import Colormap, Normalize
from matplotlib.figure import Figure
from matplotlib.ticker import MultipleLocator
from matplotlib.tri import Triangulation
from numpy.typing import NDArray

from simharness.constants import ETA0
from simharness.em.pattern.direction import field_towards
from simharness.em.pattern.far_field import FarField
from simharness.em.pattern.gain import realized_gain
from simharness.estimate.antenna import Estimate
from simharness.numerics.decibels import decibels
from simharness.plot import style, titles
from simharness.plot.antenna_solid import edge_lines, patches_between, slot_patches, tube_patches
from simharness.records import Record
from simharness.results.far_field import antenna_middle
from simharness.results.outputs import Results
from simharness.verdict.assessment import stored_figures

RANGE_DB = 30.0
"""The body has no radius where the gain is this far below the top of the scale."""

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


def even_gain(far: FarField, index: int, record: Record) -> tuple[NDArray, NDArray, NDArray]:
    """Theta and phi (rad) in even steps fine enough for a picture, and the realized gain there in dBi."""
    theta, phi = np.radians(np.arange(0.0, 181.0)), np.radians(np.arange(0.0, 361.0, 2.0))
    shape = (theta.size, phi.size)
    towards = np.broadcast_to(theta[:, None], shape).ravel(), np.broadcast_to(phi, shape).ravel()
    one, two = field_towards(far, index, *towards, antenna_middle(record))
    power = (np.abs(one) ** 2 + np.abs(two) ** 2) / (2 * ETA0)
    return theta, phi, decibels(realized_gain(power)).reshape(shape)


def view_rows(upright: bool) -> NDArray:
    """Unit vectors to the right, up and towards the viewer (3, 3), who stands to the side of the front and above.

    Up is z for an antenna that stands, x for one that lies.
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
    """Which patches (n, 4, 3) of a closed surface are seen from outside: the others lie behind these.

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
    """Colours (i, j, 3) at the points (i, j, 3) of a closed surface about the origin, darkened where it turns from the light."""
    normal = np.cross(np.gradient(points, axis=0), np.gradient(points, axis=1))
    length = np.linalg.norm(normal, axis=-1, keepdims=True)
    normal = normal / np.where(length > 1e-12, length, np.inf)
    normal = normal * np.sign(np.sum(normal * points, axis=-1, keepdims=True))
    shade = 0.72 + 0.28 * np.clip(normal @ _LIGHT, -0.4, 1.0)
    return np.clip(colours * shade[..., None], 0, 1)


def _draw_shaded(axes: Axes, rows: NDArray, patches: NDArray, colours: NDArray) -> None:
    """Patches from back to front, with a colour at each corner and even shades between."""
    x, y, near = np.moveaxis(patches @ rows.T, 2, 0)
    order = np.argsort(near.mean(axis=1), kind="stable")
    halves = 4 * order[:, None, None] + np.array([[0, 1, 2], [0, 2, 3]])
    surface = TriMesh(Triangulation(x.ravel(), y.ravel(), halves.reshape(-1, 3)))
    surface.set_facecolor(colours.reshape(-1, 3))
    axes.add_collection(surface)


def draw_body(axes: Axes, sphere: Sphere, record: Record, norm: Normalize, cmap: Colormap) -> None:
    """The gain body with the antenna in it, in parallel projection; slots and edges of the antenna show through."""
    theta, phi, gain = sphere
    rows = view_rows(record.mounting.axis == "vertical")
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
    """Lines to the front, to the back and along the guide until they leave what is drawn (n, 2), each named beyond its tip.

    Returns the tips, and where from them words end, inches.
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
            6 * away,
            textcoords="offset points",
            fontsize=11.5,
            zorder=10,
            ha=("right", "center", "left")[right + 1],
            va=("top", "center", "bottom")[up + 1],
        )
        lines = words.splitlines()
        size = np.array(
            [max(titles.text_width(axes.figure, line, 11.5) for line in lines), 0.22 * len(lines)]
        )
        middle = 6 / 72 * away + np.array([right, up]) * size / 2
        found += [(end, middle - size / 2), (end, middle + size / 2)]
    return found


def _fit(axes: Axes, points: NDArray, words: list[tuple[NDArray, NDArray]]) -> None:
    """Limits with equal scales around points (n, 2) and words, whose corners lie some inches from points."""
    size = np.array([axes.get_position().width, axes.get_position().height]) * axes.figure.get_size_inches()
    scale = np.max(np.ptp(points, axis=0) / size)
    for _ in range(30):  # words take the more of the picture the smaller it is
        corners = np.concatenate([points, [end + scale * away for end, away in words]])
        low, high = corners.min(axis=0), corners.max(axis=0)
        scale = np.max((high - low) / size)
    middle, half = (low + high) / 2, scale * size / 2
    axes.set(xlim=middle[0] + half[0] * np.array([-1, 1]), ylim=middle[1] + half[1] * np.array([-1, 1]))
    axes.set_axis_off()


def front_map(theta: NDArray, phi: NDArray, gain_db: NDArray) -> tuple[NDArray, NDArray, NDArray]:
    """Longitude, latitude (rad) and gain for a map with the front in its middle.

    Longitude counts from +y towards +x, latitude towards +z: the view of one who looks out
    of the slots, with the far end up. The repeated direction phi = 360 deg is left out.
    """
    turn = phi - phi[0] < 2 * np.pi - 1e-9
    longitude = np.angle(np.exp(1j * (np.pi / 2 - phi[turn])))
    order = np.argsort(longitude)
    longitude, gain = longitude[order], gain_db[:, turn][:, order]
    # The seam at the back is closed on both sides of the map.
    longitude = np.concatenate([[longitude[-1] - 2 * np.pi], longitude, [longitude[0] + 2 * np.pi]])
    gain = np.concatenate([gain[:, -1:], gain, gain[:, :1]], axis=1)
    return np.clip(longitude, -np.pi, np.pi), np.pi / 2 - theta, gain


def draw_map(axes: Axes, sphere: Sphere, norm: Normalize, cmap: Colormap) -> None:
    """Equal-area map of the realized gain with contours at 3, 10 and 20 dB below its peak."""
    longitude, latitude, gain = front_map(*sphere)
    axes.pcolormesh(longitude, latitude, gain, norm=norm, cmap=cmap, shading="gouraud", rasterized=True)
    lines = axes.contour(
        longitude,
        latitude,
        gain,
        levels=gain.max() + np.array([-20.0, -10.0, -3.0]),
        colors=["white", "white", style.INK],
        linewidths=[0.8, 1.0, 1.5],
        linestyles="solid",
    )
    lines.set_zorder(4)
    axes.set_xticks(np.radians([-90, 0, 90]), [])
    axes.set_yticks(
        np.radians([-60, -30, 0, 30, 60]),
        ["−60°", "−30°", "0°", "30°", "60°"],
        fontsize=10,
        color=style.FAINT,
    )
    axes.grid(color="white", alpha=0.35, linewidth=0.7)
    plate = {"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 1.5}
    for degrees, words in ((0, "front"), (90, "side +x"), (-90, "side −x"), (163, "back"), (-163, "back")):
        axes.text(
            np.radians(degrees),
            np.radians(-24),
            words,
            ha="center",
            va="center",
            fontsize=10.5,
            bbox=plate,
            zorder=6,
        )
    axes.annotate(
        "along the guide, far end",
        (0.5, 1.0),
        (0, 4),
        xycoords="axes fraction",
        textcoords="offset points",
        ha="center",
        fontsize=11,
    )
    axes.annotate(
        "along the guide, near end",
        (0.5, 0.0),
        (0, -4),
        xycoords="axes fraction",
        textcoords="offset points",
        ha="center",
        va="top",
        fontsize=11,
    )


def sphere_figure(results: Results, record: Record, estimate: Estimate | None) -> Figure | None:
    """The gain body above the map, with one colour bar that ends at the peak; None without a far field."""
    far = style.far_field(results, record)
    if far is None:
        return None
    import matplotlib

    index = style.centre_index(results, record)
    peak = float(decibels(style.field_gain(far, index).max()))
    norm, cmap = Normalize(peak - RANGE_DB, peak), matplotlib.colormaps["viridis"]
    gain = style.minus(f"{stored_figures(results, record)['realized_gain'].value:.1f}")
    figure = titles.record_sheet(
        7.6,
        12.1,
        record,
        f"Realized gain in all directions at {far.frequency[index] / 1e9:.3f} GHz, peak {gain} dBi",
        note=style.mesh_text(results),
    )
    shown = even_gain(far, index, record)
    body = figure.add_axes(style.inches(figure, 0.3, 5.85, 7.0, 5.45))
    draw_body(body, shown, record, norm, cmap)
    figure.text(
        *style.at(figure, 0.35, 5.5),
        "The same as a map of all directions (equal area)",
        fontsize=12,
        weight="bold",
    )
    figure.text(
        *style.at(figure, 0.35, 5.42),
        "black line: 3 dB below the peak; white lines: 10 and 20 dB below",
        fontsize=11,
        color=style.FAINT,
        va="top",
    )
    flat = figure.add_axes(style.inches(figure, 0.75, 1.7, 6.5, 3.25), projection="mollweide")
    draw_map(flat, shown, norm, cmap)
    bar = figure.colorbar(
        ScalarMappable(norm, cmap),
        cax=figure.add_axes(style.inches(figure, 1.0, 1.08, 5.6, 0.16)),
        orientation="horizontal",
        ticks=MultipleLocator(5),
        format=lambda value, _: style.minus(f"{value:g}"),
    )
    bar.outline.set_visible(False)
    bar.set_label("realized gain in dBi, from the peak to 30 dB below it", labelpad=2)
    return figure
