"""Realized gain in all directions: a body around the antenna, and an equal-area map."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.colors import Normalize
from matplotlib.figure import Figure
from mpl_toolkits.mplot3d.art3d import Poly3DCollection
from numpy.typing import NDArray

from simharness.em.centre_line import centre_line
from simharness.em.farfield import FarField
from simharness.estimate import Estimate
from simharness.outputs import Results
from simharness.plot import style
from simharness.plot.cuts import scale_top
from simharness.records import Record
from simharness.verdict import stored_figures

RANGE_DB = 30.0
"""The body has no radius where the gain is this far below the top of the scale."""

_BOX_LENGTH = 1.15
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
        [sine * np.cos(phi), sine * np.sin(phi), np.broadcast_to(np.cos(theta)[:, None], radius.shape)], axis=-1
    )
    return radius[..., None] * unit


def _finer(theta: NDArray, gain_db: NDArray, parts: int = 3) -> tuple[NDArray, NDArray]:
    """Steps of theta divided, gain in dB linear in between: for even shades, not for numbers."""
    fine = np.interp(np.arange((len(theta) - 1) * parts + 1) / parts, np.arange(len(theta)), theta)
    return fine, np.stack([np.interp(fine, theta, column) for column in gain_db.T], axis=1)


def _patches(points: NDArray) -> NDArray:
    """Four-cornered patches (n, 4, 3) between neighbouring points."""
    corners = [points[:-1, :-1], points[1:, :-1], points[1:, 1:], points[:-1, 1:]]
    return np.stack(corners, axis=2).reshape(-1, 4, 3)


def faces_viewer(patches: NDArray, projection: NDArray) -> NDArray:
    """Which patches (n, 4, 3) of a closed surface are seen from outside: the others lie behind these.

    Parameters
    ----------
    patches : (n, 4, 3) array
        Corners, anticlockwise as seen from outside.
    projection : (4, 4) array
        Matrix of homogeneous coordinates of the 3-D axes.

    Examples
    --------
    >>> square = np.array([[[0, 0, 0], [1, 0, 0], [1, 1, 0], [0, 1, 0]]])
    >>> print(faces_viewer(np.concatenate([square, square[:, ::-1]]), np.eye(4)))
    [ True False]
    """
    flat = patches @ projection[:3, :3].T + projection[:3, 3]
    flat = flat[..., :2] / (patches @ projection[3, :3] + projection[3, 3])[..., None]
    one, two = flat[:, 2] - flat[:, 0], flat[:, 3] - flat[:, 1]
    return one[:, 0] * two[:, 1] - one[:, 1] * two[:, 0] > 0


def _lit(patches: NDArray, colours: NDArray, outward: NDArray) -> NDArray:
    """Colours (n, 3) darkened where a patch turns from the light."""
    normal = np.cross(patches[:, 2] - patches[:, 0], patches[:, 3] - patches[:, 1])
    length = np.linalg.norm(normal, axis=1, keepdims=True)
    normal = normal / np.where(length > 0, length, 1.0)
    normal = normal * np.sign(np.sum(normal * outward, axis=1, keepdims=True))
    shade = 0.72 + 0.28 * np.clip(normal @ _LIGHT, -0.4, 1.0)
    return np.clip(colours * shade[:, None], 0, 1)


def _box_patches(record: Record) -> tuple[NDArray, NDArray]:
    """The guide as small patches (so that they sort well by depth) and their greys.

    Drawn to its own proportions, its length set to fit the body.
    """
    guide = record.guide
    size = np.array([guide.width_mm, guide.height_mm, guide.length_mm]) / guide.length_mm * _BOX_LENGTH
    patches, greys = [], []
    for axis, grey in ((0, 0.62), (1, 0.78), (2, 0.70)):
        u, v = (i for i in range(3) if i != axis)
        lines = [np.linspace(-0.5, 0.5, n) for n in ((5, 25) if v == 2 else (5, 5))]
        grid = np.stack(np.meshgrid(*lines, indexing="ij"), axis=-1)
        for side in (-0.5, 0.5):
            points = np.full(grid.shape[:2] + (3,), side)
            points[..., [u, v]] = grid
            found = _patches(points * size)
            patches.append(found)
            greys.append(np.full((len(found), 3), grey))
    slots, dark = _slot_patches(record, size)
    return np.concatenate([*patches, slots]), np.concatenate([*greys, dark])


def _slot_patches(record: Record, size: NDArray) -> tuple[NDArray, NDArray]:
    """Slots as dark bands just above their faces, curved ones in pieces."""
    guide = record.guide
    scale = size[2] / guide.length_mm
    found = []
    for slot in record.slots:
        along = np.linspace(-0.5, 0.5, 2 if slot.shape == "straight" else 13) * slot.length_mm
        points, tangents = centre_line(slot.shape, slot.length_mm, slot.aside_mm, along)
        points = points + (slot.offset_mm, slot.position_mm - guide.length_mm / 2)
        left, right = (points + side * slot.width_mm / 2 * tangents[:, ::-1] * (1, -1) for side in (-1, 1))
        corners = np.stack([left[:-1], right[:-1], right[1:], left[1:]], axis=1)
        y = (size[1] / 2 + 0.004) * (1 if slot.face == "front" else -1)
        found.append(np.stack([corners[..., 0] * scale, np.full(corners.shape[:2], y), corners[..., 1] * scale], axis=-1))
    patches = np.concatenate([np.empty((0, 4, 3)), *found])
    return patches, np.full((len(patches), 3), 0.15)


def draw_body(axes: Axes, far: FarField, index: int, record: Record, norm: Normalize, cmap) -> None:
    """The gain body with the antenna's box in it, on 3-D axes."""
    gain = style.decibels(style.field_gain(far, index))
    theta, gain = _finer(far.theta, gain)
    patches = _patches(gain_body(gain, theta, far.phi, norm.vmax))
    middle = (gain[:-1, :-1] + gain[1:, :-1] + gain[1:, 1:] + gain[:-1, 1:]) / 4
    colours = _lit(patches, cmap(norm(middle.ravel()))[:, :3], patches.mean(axis=1))
    upright = record.mounting.axis == "vertical"
    axes.view_init(elev=18, azim=38 if upright else 40, vertical_axis="z" if upright else "x")
    far_end = ((0, 0, 0.72), "along the guide, far end") if upright else ((0, 0, 0.84), "along the guide,\nfar end")
    behind = -1.1 if record.two_faced else -0.70
    for tip, words in (((0, 1.1, 0), "front (slots)"), far_end, ((0, behind, 0), "back (slots)" if record.two_faced else "back")):
        axes.plot(*zip((0, 0, 0), tip), color=style.INK, linewidth=1.0, zorder=0)
        axes.text(*(1.08 * np.array(tip)), words, ha="center", va="center", fontsize=11.5, zorder=10,
                  bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.75, "pad": 1.0})
    if record.two_faced:  # as much behind as in front
        axes.set(xlim=(-0.92, 0.92), ylim=(-0.92, 0.92), zlim=(-0.92, 0.92))
    else:
        axes.set(xlim=(-0.72, 0.72), ylim=(-0.52, 0.92), zlim=(-0.72, 0.72))
    axes.set_box_aspect((1, 1, 1), zoom=1.4 if upright else 1.2)
    axes.set_axis_off()
    seen = faces_viewer(patches, axes.get_proj())
    box, greys = _box_patches(record)
    everything, shades = np.concatenate([patches[seen], box]), np.concatenate([colours[seen], greys])
    axes.add_collection3d(Poly3DCollection(everything, facecolors=shades, edgecolors=shades, linewidths=0.3), autolim=False)


def front_map(far: FarField, gain_db: NDArray) -> tuple[NDArray, NDArray, NDArray]:
    """Longitude, latitude (rad) and gain for a map with the front in its middle.

    Longitude counts from +y towards +x, latitude towards +z: the view of one who looks out
    of the slots, with the far end up. The repeated direction phi = 360 deg is left out.
    """
    turn = far.phi - far.phi[0] < 2 * np.pi - 1e-9
    longitude = np.angle(np.exp(1j * (np.pi / 2 - far.phi[turn])))
    order = np.argsort(longitude)
    longitude, gain = longitude[order], gain_db[:, turn][:, order]
    # The seam at the back is closed on both sides of the map.
    longitude = np.concatenate([[longitude[-1] - 2 * np.pi], longitude, [longitude[0] + 2 * np.pi]])
    gain = np.concatenate([gain[:, -1:], gain, gain[:, :1]], axis=1)
    return np.clip(longitude, -np.pi, np.pi), np.pi / 2 - far.theta, gain


def draw_map(axes: Axes, far: FarField, index: int, norm: Normalize, cmap) -> None:
    """Equal-area map of the realized gain with contours at 3, 10 and 20 dB below its peak."""
    longitude, latitude, gain = front_map(far, style.decibels(style.field_gain(far, index)))
    axes.pcolormesh(longitude, latitude, gain, norm=norm, cmap=cmap, shading="gouraud", rasterized=True)
    lines = axes.contour(longitude, latitude, gain, levels=gain.max() + np.array([-20.0, -10.0, -3.0]),
                         colors=["white", "white", style.INK], linewidths=[0.8, 1.0, 1.5], linestyles="solid")
    lines.set_zorder(4)
    axes.set_xticks(np.radians([-90, 0, 90]), [])
    axes.set_yticks(np.radians([-60, -30, 0, 30, 60]), ["−60°", "−30°", "0°", "30°", "60°"], fontsize=10,
                    color=style.FAINT)
    axes.grid(color="white", alpha=0.35, linewidth=0.7)
    plate = {"facecolor": "white", "edgecolor": "none", "alpha": 0.8, "pad": 1.5}
    for degrees, words in ((0, "front"), (90, "side +x"), (-90, "side −x"), (163, "back"), (-163, "back")):
        axes.text(np.radians(degrees), np.radians(-24), words, ha="center", va="center", fontsize=10.5, bbox=plate, zorder=6)
    axes.annotate("along the guide, far end", (0.5, 1.0), (0, 4), xycoords="axes fraction", textcoords="offset points",
                  ha="center", fontsize=11)
    axes.annotate("along the guide, near end", (0.5, 0.0), (0, -4), xycoords="axes fraction", textcoords="offset points",
                  ha="center", va="top", fontsize=11)


def _half_the_azimuths(far: FarField) -> FarField:
    """Every second azimuth, and the last: as fine as a picture of this size shows, in half the time."""
    kept = [*range(0, far.phi.size - 1, 2), far.phi.size - 1]
    return replace(far, phi=far.phi[kept], e_theta=far.e_theta[..., kept], e_phi=far.e_phi[..., kept])


def sphere_figure(results: Results, record: Record, estimate: Estimate | None) -> Figure | None:
    """The gain body above the map, with one colour bar; None without a far field."""
    far = style.far_field(results, record)
    if far is None:
        return None
    import matplotlib

    index = style.centre_index(results, record)
    top = scale_top(far, index)
    norm, cmap = Normalize(top - RANGE_DB, top), matplotlib.colormaps["viridis"]
    figure = style.sheet(7.6, 11.7)
    style.head(figure, record, f"Realized gain in all directions at {far.frequency[index] / 1e9:.3f} GHz, "
               f"peak {stored_figures(results, record)['realized_gain'].value:.1f} dBi")
    shown = _half_the_azimuths(far)
    body = figure.add_axes(style.inches(figure, 0.3, 4.95, 7.0, 5.9), projection="3d", computed_zorder=False)
    draw_body(body, shown, index, record, norm, cmap)
    figure.text(0.35 / 7.6, 5.5 / 11.7, "The same as a map of all directions (equal area)", fontsize=12, weight="bold")
    figure.text(0.35 / 7.6, 5.42 / 11.7, "black line: 3 dB below the peak; white lines: 10 and 20 dB below", fontsize=11,
                color=style.FAINT, va="top")
    flat = figure.add_axes(style.inches(figure, 0.75, 1.7, 6.5, 3.25), projection="mollweide")
    draw_map(flat, shown, index, norm, cmap)
    bar = figure.colorbar(ScalarMappable(norm, cmap), cax=figure.add_axes(style.inches(figure, 1.0, 1.08, 5.6, 0.16)),
                          orientation="horizontal")
    bar.outline.set_visible(False)
    bar.set_label("realized gain in dBi", labelpad=2)
    style.foot(figure, style.mesh_words(results))
    return figure
