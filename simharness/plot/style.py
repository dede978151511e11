"""The style that all pictures share: fonts, colours, lines, placing, files."""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any, cast

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
from matplotlib.projections.polar import PolarAxes
from numpy.typing import NDArray
from PIL import Image

from simharness.constants import ETA0
from simharness.em.pattern.far_field import FarField, nearest_field
from simharness.em.pattern.gain import realized_gain
from simharness.files import atomic_write_bytes, machine_errors
from simharness.records import Record
from simharness.results.outputs import Results
from simharness.results.powers import run_efficiency
from simharness.verdict.match_state import MatchState

DPI = 150

# Hues of Okabe and Ito's palette (M. Okabe, K. Ito, Color Universal Design, 2008; memory),
# which stay apart for every common kind of colour blindness.
SOLVER = "#0072B2"
ESTIMATE = "#D55E00"
SECOND = "#117755"
INK = "#222222"
FAINT = "#707070"
GRID = "#D4D8DC"
BAND = "#E8EFF5"
METAL = "#B9C0C7"
STATES = {MatchState.MET: "#0b6b3a", MatchState.CLOSE: "#6b4e00", MatchState.MISSED: "#a33a00"}
"""Colours of the states, the same as in the report."""

SOLVER_LINE: dict[str, Any] = {"color": SOLVER, "linewidth": 2.4}
ESTIMATE_LINE: dict[str, Any] = {"color": ESTIMATE, "linewidth": 2.0, "linestyle": (0, (5, 2.5))}
SECOND_LINE: dict[str, Any] = {"color": SECOND, "linewidth": 1.8, "linestyle": (0, (1.2, 1.2))}

_LOOK: dict[str, Any] = {
    "font.family": "sans-serif",
    "font.sans-serif": ["DejaVu Sans"],
    "font.size": 12.0,
    "axes.labelsize": 12.0,
    "axes.titlesize": 13.0,
    "axes.edgecolor": FAINT,
    "axes.labelcolor": INK,
    "axes.spines.top": False,
    "axes.spines.right": False,
    "axes.grid": True,
    "axes.axisbelow": True,
    "grid.color": GRID,
    "grid.linewidth": 0.8,
    "text.color": INK,
    "xtick.color": FAINT,
    "ytick.color": FAINT,
    "xtick.labelcolor": INK,
    "ytick.labelcolor": INK,
    "legend.frameon": False,
    "legend.fontsize": 11.5,
    "lines.solid_capstyle": "round",
    "lines.dash_capstyle": "butt",
    "text.hinting": "none",  # invisible at this resolution, and saves a tenth of the time of a picture
}


@contextmanager
def own_look() -> Iterator[None]:
    """Context in which pictures have the style of this package, whatever the settings of the user are."""
    with matplotlib.rc_context():
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(cast(Any, _LOOK))
        yield


def sheet(width: float, height: float) -> Figure:
    """An empty figure of a size in inches, with the Agg canvas."""
    figure = Figure(figsize=(width, height), dpi=DPI, facecolor="white")
    FigureCanvasAgg(figure)
    return figure


def at(figure: Figure, x: float, y: float) -> tuple[float, float]:
    """Fractions of the figure for a point in inches from its lower left corner."""
    across, up = figure.get_size_inches()
    return x / across, y / up


def mesh_text(results: Results) -> str:
    """Number of cells and quality by the attributes of a result file; empty if it has neither."""
    attributes, words = results.attributes, []
    if isinstance(attributes.get("cells"), int):
        words.append(f"solver mesh: {attributes['cells']:,} cells")
    if attributes.get("quality"):
        words.append(f"quality: {attributes['quality']}")
    return f"full wave ({', '.join(words)})" if words else ""


def figure_of(axes: Axes) -> Figure:
    """The figure in which axes stand."""
    return cast(Figure, axes.figure)


def canvas(figure: Figure) -> FigureCanvasAgg:
    """The Agg canvas of a figure of `sheet`."""
    return cast(FigureCanvasAgg, figure.canvas)


def save(figure: Figure, path: Path) -> Path:
    """Write a figure as PNG in one step, making its folder where needed.

    Raises
    ------
    MachineError
        The file cannot be written.
    """
    with machine_errors(f"make the folder {path.parent}"):
        path.parent.mkdir(parents=True, exist_ok=True)
    atomic_write_bytes(path, png(figure))
    return path


def png(figure: Figure) -> bytes:
    """A figure of `sheet` as PNG without opacity."""
    figure.canvas.draw()
    image = io.BytesIO()
    # Half the time of matplotlib's own writer (level 6, with opacity) at the same file size.
    Image.fromarray(np.asarray(canvas(figure).buffer_rgba())).convert("RGB").save(
        image, "png", compress_level=2, dpi=(DPI, DPI)
    )
    return image.getvalue()


def inches(
    figure: Figure, left: float, bottom: float, width: float, height: float
) -> tuple[float, float, float, float]:
    """Fractions of the figure for a rectangle in inches."""
    across, up = figure.get_size_inches()
    return left / across, bottom / up, width / across, height / up


def minus(text: str) -> str:
    """Text with minus signs in place of hyphens."""
    return text.replace("-", "−")


def polar_axes(figure: Figure, place: tuple[float, float, float, float]) -> PolarAxes:
    """Polar axes with zero at the top and angles clockwise."""
    axes = cast(PolarAxes, figure.add_axes(place, projection="polar"))
    axes.set_theta_zero_location("N")
    axes.set_theta_direction(-1)
    return axes


def far_field(results: Results, record: Record) -> FarField | None:
    """The far field of a result file; None if it holds none, or if the record has no slots.

    Where the file holds the powers, fields are scaled so that the gain in pictures is that of the verdict:
    directivity times efficiency times accepted power. The stored fields do not include the loss in the walls,
    and contain reflections from the boundary.
    """
    if "e_theta" not in results or not record.slots:
        return None
    far = FarField.stored(results)
    if "radiated_power" not in results or "accepted_power" not in results:
        return far
    efficiency = np.array([run_efficiency(results, index) for index in range(far.frequency.size)])
    scale = np.sqrt(results["accepted_power"] * efficiency / results["radiated_power"])[:, None, None]
    return replace(far, e_theta=far.e_theta * scale, e_phi=far.e_phi * scale)


def field_gain(far: FarField, index: int) -> NDArray:
    """Realized gain (linear, both polarizations) over theta and phi."""
    return realized_gain((np.abs(far.e_theta[index]) ** 2 + np.abs(far.e_phi[index]) ** 2) / (2 * ETA0))


def centre_index(results: Results, record: Record) -> int:
    """Index of the far frequency nearest to the design frequency."""
    return nearest_field(results["far_frequency"], record.band.centre)
