"""Pictures of the slot voltages, and of the field in the guide."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import PolyCollection
from matplotlib.colors import Colormap, LinearSegmentedColormap, Normalize
from matplotlib.figure import Figure
from matplotlib.image import NonUniformImage
from matplotlib.patches import Rectangle
from matplotlib.patheffects import withStroke
from numpy.typing import NDArray

from simharness.estimate.antenna import Estimate
from simharness.geometry import front_outline
from simharness.numerics.decibels import decibels
from simharness.plot import style, titles
from simharness.plot.feeds import Halo, feed_picture
from simharness.records import Record
from simharness.results.outputs import Results

MM = 1e3


def relative_excitation(voltage: NDArray, leading: NDArray | None = None) -> tuple[NDArray, NDArray]:
    """Amplitudes in dB relative to the mean magnitude, phases in degrees relative to that of the sum.

    Parameters
    ----------
    voltage : (n,) complex array
    leading : (n,) bool array, optional
        Whose sum is the reference of the phase; by default all.

    Examples
    --------
    >>> amplitude, phase = relative_excitation(np.array([2j, 2j, 2j]))
    >>> print(np.round(amplitude, 12), phase)
    [0. 0. 0.] [0. 0. 0.]
    """
    size = np.abs(voltage)
    total = np.sum(voltage if leading is None else voltage[leading])
    # Voltages that cancel have no mean phase: then the first one is the reference.
    turn = total if abs(total) > 1e-6 * size.sum() else voltage[0]
    return decibels((size / size.mean()) ** 2), np.degrees(np.angle(voltage * np.conj(turn)))


def slots_figure(results: Results, record: Record, estimate: Estimate | None) -> Figure | None:
    """Amplitude and phase of the slot voltages against position; None without slots."""
    if "slot_voltage" not in results or results["slot_voltage"].shape[1] == 0:
        return None
    index = style.centre_index(results, record)
    voltage, place = results["slot_voltage"][index], results["slot_z"] * MM
    figure = titles.record_sheet(
        7.6,
        8.2 + 0.25 * record.two_faced,
        record,
        f"Slot voltages at {results['far_frequency'][index] / 1e9:.3f} GHz",
        note=style.mesh_text(results),
    )
    upper = figure.add_axes(style.inches(figure, 1.05, 4.2, 6.3, 2.5))
    lower = figure.add_axes(style.inches(figure, 1.05, 1.05, 6.3, 2.5), sharex=upper)
    series = [(place, voltage, "full wave", style.SOLVER_LINE, "o")]
    if estimate is not None and estimate.slot_voltages.size == len(record.slots):
        where = np.array([slot.position_mm for slot in record.open_slots])
        series.append((where, estimate.slot_voltages, "estimate", style.ESTIMATE_LINE, "D"))
    for where, values, label, line, marker in series:
        _excitation(record, (upper, lower), where, values, {"label": label, "marker": marker, **line})
    _spread(upper, 1.0)
    _spread(lower, 10.0)
    upper.tick_params(labelbottom=False)
    upper.set(ylabel="amplitude in dB", xlim=(0, record.guide.length_mm))
    lower.set(ylabel="phase in degrees", xlabel="position along the guide from its near end in mm")
    numbers: dict[float, list[str]] = {}
    for number, z in enumerate(place, 1):
        numbers.setdefault(round(float(z), 3), []).append(f"{number}")
    for z, there in numbers.items():
        upper.annotate(
            ", ".join(there),
            (z, 1.0),
            (0, 4),
            xycoords=("data", "axes fraction"),
            textcoords="offset points",
            ha="center",
            color=style.FAINT,
        )
    figure.text(
        *style.at(figure, 1.05, 7.03),
        f"against the mean of {np.abs(voltage).mean():.3g} V (peak, 1 W available); slot number above",
        fontsize=11,
        color=style.FAINT,
        va="center",
    )
    words = "against the phase of the sum of all slots"
    if record.two_faced:
        words = "against the sum of those in front; back (hollow) counted around the guide"
    lower.text(0.0, 1.03, words, transform=lower.transAxes, fontsize=11, color=style.FAINT)
    titles.legend(figure, upper, 0.95, 7.44 + 0.25 * record.two_faced, ncols=2)
    return figure


def _excitation(record: Record, axes: tuple[Axes, Axes], where: NDArray, values: NDArray, line: dict) -> None:
    """Amplitude and phase, one line for each wall with slots; open markers for the back where both have."""
    back = np.array([slot.face == "back" for slot in record.slots])
    leading = ~back if record.two_faced else None
    for each, shown in zip(axes, relative_excitation(values, leading)):
        if not record.two_faced:
            each.plot(where, shown, markersize=8, markeredgecolor="white", **line)
            continue
        if shown.min() < -135:  # phases on either side of 180 degrees belong together
            shown = np.where(shown < -135, shown + 360, shown)
        each.plot(where[~back], shown[~back], markersize=8, markeredgecolor="white", **line)
        behind = {**line, "label": f"{line['label']}, back", "linestyle": ":"}
        each.plot(where[back], shown[back], markersize=8, markerfacecolor="white", **behind)


def _spread(axes: Axes, least: float) -> None:
    """Symmetric limits about zero, at least +-`least`."""
    largest = max(float(np.max(np.abs(line.get_ydata()))) for line in axes.lines)
    axes.set_ylim(*(np.array([-1, 1]) * max(least, 1.25 * largest)))
    axes.axhline(0, color=style.FAINT, linewidth=1.0, zorder=1)


def best_phase_field(field: NDArray) -> NDArray:
    """Instantaneous value of a phasor field when its mean square is largest.

    Examples
    --------
    >>> print(np.round(np.abs(best_phase_field(np.array([[1j, -2j]]))), 12))
    [[1. 2.]]
    """
    instant = np.real(field * np.exp(-0.5j * np.angle(np.sum(field**2))))
    return instant if np.sum(instant[np.abs(instant) == np.abs(instant).max()]) >= 0 else -instant


def signed_map() -> Colormap:
    """Blue over white to red-brown, both ends equally dark."""
    return LinearSegmentedColormap.from_list(
        "signed", ["#053a61", style.SOLVER, "#8fbfe0", "#f7f7f7", "#f0b48c", style.ESTIMATE, "#6e2f00"]
    )


def draw_field(axes: Axes, results: Results, record: Record, index: int, signed: bool) -> NonUniformImage:
    """|E_y| or its instantaneous value over the cut plane, relative to the largest magnitude."""
    field = results["cut_field"][index]
    top = np.abs(field).max() or 1.0
    values = best_phase_field(field) / top if signed else np.abs(field) / top
    z, x = results["cut_z"] * MM, results["cut_x"] * MM
    image = NonUniformImage(
        axes,
        interpolation="bilinear",
        extent=(z[0], z[-1], x[0], x[-1]),
        cmap=signed_map() if signed else "viridis",
        norm=Normalize(-1 if signed else 0, 1),
    )
    image.set_data(z, x, values)
    axes.add_image(image)
    _draw_guide(axes, record, style.INK if signed else "white")
    axes.set(ylabel="x in mm", aspect="equal")
    axes.grid(False)
    return image


def _draw_guide(axes: Axes, record: Record, colour: str) -> None:
    """Inner outline of the guide, slots and feed over a field map, in mm."""
    guide = record.guide
    halo: Halo = [withStroke(linewidth=2.4, foreground="white" if colour == style.INK else style.INK)]
    for face, line in (("front", "-"), ("back", ":")):
        outlines = [
            np.array(front_outline(guide, s).exterior.coords)[:, ::-1] * MM
            for s in record.open_slots
            if s.face == face
        ]
        axes.add_collection(
            PolyCollection(
                outlines,
                facecolors="none",
                edgecolors=colour,
                linewidths=1.3,
                linestyles=line,
                zorder=3,
                path_effects=halo,
            )
        )
    half = guide.width_mm / 2
    axes.add_patch(
        Rectangle(
            (0, -half),
            guide.length_mm,
            guide.width_mm,
            fill=False,
            edgecolor=style.INK,
            linewidth=1.2,
            zorder=4,
            clip_on=False,
        )
    )
    place = feed_picture(record).draw(axes, colour, halo)
    # In a long narrow guide the name would run over the border.
    if place is not None and guide.width_mm > 0.12 * guide.length_mm:
        axes.annotate(
            "probe",
            place,
            (0, -4),
            textcoords="offset points",
            ha="center",
            va="top",
            fontsize=10.5,
            zorder=5,
            bbox={"facecolor": "white", "edgecolor": "none", "alpha": 0.75, "pad": 1.0},
        )
    axes.set(xlim=(0, guide.length_mm), ylim=(-half, half))


def _marks(record: Record) -> str:
    """The meaning of the marks in a map of the field."""
    said = [feed_picture(record).marks, "dotted: slots in the back" if record.two_faced else ""]
    return "".join(f"; {words}" for words in said if words)


def field_figure(results: Results, record: Record, estimate: Estimate | None) -> Figure | None:
    """Both maps of the field over the cut plane; None without it."""
    if "cut_field" not in results:
        return None
    index = style.centre_index(results, record)
    guide = record.guide
    wide = 8.6
    high = wide * min(max(guide.width_mm / guide.length_mm, 0.06), 0.9)
    figure = titles.record_sheet(
        wide + 1.9,
        2 * high + 3.2,
        record,
        f"Field in the guide at {results['far_frequency'][index] / 1e9:.3f} GHz, seen from the front"
        + _marks(record),
        note=style.mesh_text(results),
    )
    peak = np.abs(results["cut_field"][index]).max() / 1e3
    captions = {
        False: f"|E| normal to the broad walls, peak over time; 1 = {peak:.3g} kV/m at 1 W available power",
        True: "the same at one instant",
    }
    for signed, bottom in ((False, high + 1.85), (True, 0.95)):
        axes = figure.add_axes(style.inches(figure, 0.85, bottom, wide, high))
        mesh = draw_field(axes, results, record, index, signed)
        axes.set_title(captions[signed], loc="left", fontsize=12, pad=6)
        bar = figure.colorbar(
            mesh,
            cax=figure.add_axes(style.inches(figure, wide + 1.05, bottom, 0.16, high)),
            ticks=[-1, 0, 1] if signed else [0, 0.5, 1],
        )
        bar.outline.set_visible(False)
    axes.set_xlabel("position along the guide from its near end in mm")
    return figure
