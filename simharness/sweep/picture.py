"""A sweep: reflection curves coloured by value and figures over it, or maps for two fields."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.cm import ScalarMappable
from matplotlib.colors import Normalize
from matplotlib.figure import Figure
from numpy.typing import NDArray

from simharness.plot import style, titles
from simharness.plot.match import reflection_db
from simharness.sweep.points import value_text
from simharness.sweep.table import field_unit, figure_columns
from simharness.verdict.assessment import LABELS

if TYPE_CHECKING:
    from simharness.sweep.table import Sweep

_PANELS = ("s11_at_centre", "resonance", "realized_gain")
_SCALES = {"Hz": (1e-9, "GHz")}
_MIN_SPAN = {"dB": 1.0, "dBi": 0.5}
"""Least span of an axis, so that meaningless changes do not look large."""

_MAX_LABELS = 9
_LOWEST_DB = -45.0
_PANEL_WIDE, _NAMES_WIDE = 3.3, 1.15
"""Widths of the small charts, and of the texts between them and the large one, inches."""

_COLOURS = matplotlib.colormaps["viridis"].resampled(256)
_PALEST = 0.9
"""The pale end of the colours is left out: it does not contrast with the paper."""


def sweep_figure(found: Sweep) -> Figure:
    """Maps of the figures for two numeric fields, otherwise curves and figures over the points."""
    if len(found.variables) == 2 and all(
        variable.numeric and len(variable.values) > 1 for variable in found.variables
    ):
        return _maps(found)
    return _curves(found)


def _quantity(field: str) -> str:
    """A field with its unit, for an axis."""
    unit = field_unit(field)
    name = field.removesuffix(f"_{unit.lower()}") if unit != "1" else field
    return f"{name}, {unit}" if unit != "1" else name


def _places(found: Sweep) -> tuple[NDArray, str, list[str] | None]:
    """Positions of the points on an axis, its label, and texts of its ticks where values are not numbers."""
    if len(found.variables) == 1 and found.variables[0].numeric:
        return (
            np.array([row.values[0] for row in found.rows], float),
            _quantity(found.variables[0].field),
            None,
        )
    names = [
        ", ".join(
            style.minus(value_text(value)) if isinstance(value, (int, float)) else value_text(value)
            for value in row.values
        )
        for row in found.rows
    ]
    label = " / ".join(_quantity(variable.field) for variable in found.variables)
    return np.arange(1.0, len(names) + 1), label, names


def _shown(found: Sweep) -> list[str]:
    """Figures that at least one point has."""
    return [name for name in _PANELS if np.isfinite(figure_columns(found.rows, name)[1]).any()]


def _curves(found: Sweep) -> Figure:
    places, label, names = _places(found)
    figure = titles.record_sheet(
        12.4,
        7.0,
        found.record,
        f"S11 and figures over {', '.join(v.field for v in found.variables)}",
        note=f"full wave, {found.quality} mesh; colours: {label}{_missing_text(found)}",
    )
    norm = Normalize(places.min(), places.max() if np.ptp(places) else places.min() + 1)
    left = figure.add_axes(style.inches(figure, 0.95, 0.95, 5.5, 4.95))
    _draw_curves(left, found, [_colour(norm, place) for place in places])
    scale = figure.add_axes(style.inches(figure, 6.6, 0.95, 0.16, 4.95))
    bar = figure.colorbar(ScalarMappable(norm, _shades()), cax=scale)
    bar.outline.set_visible(False)
    short = names
    if names is not None and not _fit_beside(figure, names, _PANEL_WIDE):
        short = [f"{n}" for n in range(1, len(names) + 1)]
        names = [f"{n}: {name}".replace(", ", ",\n") for n, name in zip(short, names)]
    _name_ticks(bar.ax.yaxis, places, names)
    if names is not short:
        bar.ax.tick_params(labelsize=_fitting_size(figure, bar.ax, _NAMES_WIDE))
    panels = _shown(found)
    for number, name in enumerate(panels):
        axes = figure.add_axes(
            style.inches(figure, 8.75, 0.95 + 1.8 * (len(panels) - 1 - number), _PANEL_WIDE, 1.35)
        )
        _draw_figure(axes, found, name, places)
        last = name == panels[-1]
        _name_ticks(axes.xaxis, places, short)
        axes.tick_params(labelbottom=last)
        axes.set_xlabel(label if last else "")
    return figure


def _fit_beside(figure: Figure, names: Sequence[str], room: float) -> bool:
    """Whether names fit beside each other into a width in inches."""
    widest = max(titles.text_width(figure, name, 12.0) for name in names)
    return len(names) <= _MAX_LABELS and len(names) * (widest + 0.12) <= room


def _fitting_size(figure: Figure, axes: Axes, room: float) -> float:
    """Size in points at which the texts beside a scale fit into a width in inches."""
    widest = max(
        titles.text_width(figure, line, 12.0)
        for label in axes.get_yticklabels()
        for line in label.get_text().splitlines()
    )
    return min(10.5, max(7.0, 12.0 * room / widest))


def _shades() -> matplotlib.colors.Colormap:
    return matplotlib.colors.ListedColormap(_COLOURS(np.linspace(0, _PALEST, 256)))


def _colour(norm: Normalize, place: float) -> tuple[float, ...]:
    return _shades()(norm(place))


def _name_ticks(axis: matplotlib.axis.Axis, places: NDArray, names: Sequence[str] | None) -> None:
    """Names in place of numbers where there are few, the numbers of the points otherwise."""
    if names is not None:
        few = len(names) <= _MAX_LABELS
        axis.set_ticks(places if few else places[:: -(-len(places) // _MAX_LABELS)], names if few else None)


def _draw_curves(axes: Axes, found: Sweep, colours: Sequence[tuple[float, ...]]) -> None:
    """|S11| of all points, with band and target of the record."""
    band = found.record.band
    axes.axvspan(band.low_ghz, band.high_ghz, color=style.BAND, zorder=0, linewidth=0)
    axes.plot(
        [band.low_ghz, band.high_ghz],
        [band.target_s11_db] * 2,
        color=style.INK,
        linewidth=1.6,
        label="target in the band",
    )
    lowest = band.target_s11_db
    for row, colour in zip(found.rows, colours):
        if row.run:
            curve = reflection_db(row.s11)
            lowest = min(lowest, curve.min())
            axes.plot(row.frequency / 1e9, curve, color=colour, linewidth=1.8)
    axes.margins(x=0)
    axes.set(
        ylim=(max(_LOWEST_DB, 5 * np.floor((lowest - 1) / 5)), 1.0),
        xlabel="frequency, GHz",
        ylabel="|S11|, dB",
    )
    axes.yaxis.set_major_formatter(lambda value, _: style.minus(f"{value:g}"))
    axes.legend(loc="lower left", bbox_to_anchor=(-0.02, 1.0), borderaxespad=0)


def _draw_figure(axes: Axes, found: Sweep, name: str, places: NDArray) -> None:
    """One figure over the points, with error bars where they are symmetric."""
    unit, values, errors = figure_columns(found.rows, name)
    scale, unit = _SCALES.get(unit, (1.0, unit))
    values, errors = values * scale, errors * scale
    there = np.isfinite(values)
    order = np.argsort(places[there], kind="stable")
    axes.plot(
        places[there][order],
        values[there][order],
        color=style.SOLVER,
        marker="o",
        markersize=5.5,
        linewidth=1.4,
    )
    # The error bar of a deep match is symmetric in the complex plane, not in dB: the table holds it.
    if unit != "dB":
        axes.errorbar(
            places[there],
            values[there],
            np.nan_to_num(errors[there]),
            color=style.SOLVER,
            linestyle="none",
            capsize=3,
        )
    axes.set_title(f"{LABELS[name]}, {unit}", loc="left", fontsize=11.5)
    axes.ticklabel_format(axis="y", useOffset=False)
    if unit == "dB":
        axes.yaxis.set_major_formatter(lambda value, _: style.minus(f"{value:g}"))
    beyond = 0.06 * (np.ptp(places) or 1.0)
    axes.set_xlim(places.min() - beyond, places.max() + beyond)
    low, high = axes.get_ylim()
    least = _MIN_SPAN.get(unit, 0.0)
    if high - low < least:
        axes.set_ylim((low + high - least) / 2, (low + high + least) / 2)


def _maps(found: Sweep) -> Figure:
    """S11 at the centre, best match and gain over two fields, one cell with its number for each point."""
    fields = found.variables
    figure = titles.record_sheet(
        14.6,
        6.2,
        found.record,
        f"S11 and figures over {fields[0].field} and {fields[1].field}",
        note=f"full wave, {found.quality} mesh{_missing_text(found)}",
    )
    shape = tuple(len(variable.values) for variable in fields)
    for column, name in enumerate(_shown(found)):
        axes = figure.add_axes(style.inches(figure, 1.0 + 4.6 * column, 0.95, 3.4, 4.1))
        unit, values, _ = figure_columns(found.rows, name)
        scale, unit = _SCALES.get(unit, (1.0, unit))
        grid = (values * scale).reshape(shape)
        _draw_map(axes, grid, "{:.3f}" if unit == "GHz" else "{:.1f}")
        axes.set_title(f"{LABELS[name]}, {unit}", loc="left", fontsize=12)
        for axis, variable in zip((axes.yaxis, axes.xaxis), fields):
            step = -(-len(variable.values) // _MAX_LABELS)
            axis.set_ticks(
                range(0, len(variable.values), step),
                [value_text(value) for value in variable.values[::step]],
            )
            axis.set_label_text(_quantity(variable.field))
    return figure


def _draw_map(axes: Axes, grid: NDArray, form: str) -> None:
    """Cells coloured by value; numbers are written into them where there is room."""
    known = np.ma.masked_invalid(grid)
    image = axes.imshow(known, origin="lower", aspect="auto", cmap=_shades(), interpolation="none")
    axes.grid(False)
    if max(grid.shape) > _MAX_LABELS:
        axes.figure.colorbar(image, ax=axes)
        return
    light = np.ma.filled(image.norm(known), 1.0) > 0.6
    for (i, j), value in np.ndenumerate(grid):
        text = style.minus(form.format(value)) if np.isfinite(value) else "none"
        axes.text(
            j,
            i,
            text,
            ha="center",
            va="center",
            fontsize=10.5,
            color=style.INK if light[i, j] else "white",
        )


def _missing_text(found: Sweep) -> str:
    missing = sum(not row.run for row in found.rows)
    return f"; points missing: {missing} of {len(found.rows)}" if missing else ""
