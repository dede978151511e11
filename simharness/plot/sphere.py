"""Realized gain in all directions: a body around the antenna above an equal-area map."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.colors import Colormap, Normalize
from matplotlib.figure import Figure
from matplotlib.ticker import MultipleLocator
from numpy.typing import NDArray

from simharness.constants import ETA0
from simharness.em.pattern.direction import field_towards
from simharness.em.pattern.far_field import FarField
from simharness.em.pattern.gain import realized_gain
from simharness.estimate.antenna import Estimate
from simharness.numerics.decibels import decibels
from simharness.plot import style, titles
from simharness.plot.gain_body import RANGE_DB, Sphere, draw_body
from simharness.records import Record
from simharness.results.far_field import antenna_middle
from simharness.results.outputs import Results
from simharness.verdict.assessment import stored_figures


def even_gain(far: FarField, index: int, record: Record) -> tuple[NDArray, NDArray, NDArray]:
    """Theta and phi (rad) in equal steps fine enough for a picture, and the realized gain there in dBi."""
    theta, phi = np.radians(np.arange(0.0, 181.0)), np.radians(np.arange(0.0, 361.0, 2.0))
    shape = (theta.size, phi.size)
    towards = np.broadcast_to(theta[:, None], shape).ravel(), np.broadcast_to(phi, shape).ravel()
    one, two = field_towards(far, index, *towards, antenna_middle(record))
    power = (np.abs(one) ** 2 + np.abs(two) ** 2) / (2 * ETA0)
    return theta, phi, decibels(realized_gain(power)).reshape(shape)


def front_map(theta: NDArray, phi: NDArray, gain_db: NDArray) -> tuple[NDArray, NDArray, NDArray]:
    """Longitude, latitude (rad) and gain for a map with the front in its middle.

    Longitude counts from +y towards +x, latitude towards +z: the view outwards through the slots,
    with the far end up. The repeated direction phi = 360 deg is left out.
    """
    turn = phi - phi[0] < 2 * np.pi - 1e-9
    longitude = np.angle(np.exp(1j * (np.pi / 2 - phi[turn])))
    order = np.argsort(longitude)
    longitude, gain = longitude[order], gain_db[:, turn][:, order]
    # The map is closed at the back on both sides.
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
