"""The plain look that all pictures share: type, colours, title, foot line, file."""

from __future__ import annotations

import io
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path
from typing import Any

import matplotlib
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.figure import Figure
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
"""Those of the report's page."""

SOLVER_LINE: dict[str, Any] = {"color": SOLVER, "linewidth": 2.4}
ESTIMATE_LINE: dict[str, Any] = {"color": ESTIMATE, "linewidth": 2.0, "linestyle": (0, (5, 2.5))}
SECOND_LINE: dict[str, Any] = {"color": SECOND, "linewidth": 1.8, "linestyle": (0, (1.2, 1.2))}

_LOOK = {
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
    "text.hinting": "none",  # unseen at this resolution, and a tenth of the time of a picture
}


@contextmanager
def own_look() -> Iterator[None]:
    """The look of this package, whatever the machine's own settings say, for a while."""
    with matplotlib.rc_context():
        matplotlib.rcdefaults()
        matplotlib.rcParams.update(_LOOK)
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
    """What the attributes of a result file say of the mesh; empty if nothing."""
    attributes, words = results.attributes, []
    if isinstance(attributes.get("cells"), int):
        words.append(f"solver mesh: {attributes['cells']:,} cells")
    if attributes.get("quality"):
        words.append(f"quality: {attributes['quality']}")
    return f"full wave ({', '.join(words)})" if words else ""


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
    # Half the time of matplotlib's own way (level 6, opacity kept), and files as large.
    Image.fromarray(np.asarray(figure.canvas.buffer_rgba())).convert("RGB").save(
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
    """Text with the sign of subtraction for every hyphen."""
    return text.replace("-", "−")


def polar_axes(figure: Figure, place: tuple[float, float, float, float]) -> Axes:
    """Polar axes with zero at the top, turning clockwise."""
    axes = figure.add_axes(place, projection="polar")
    axes.set_theta_zero_location("N")
    axes.set_theta_direction(-1)
    return axes


def far_field(results: Results, record: Record) -> FarField | None:
    """The far field of a result file; None if it holds none, or if nothing is there to radiate.

    Where the file knows the powers, fields are scaled so that the gain seen in pictures is that of the verdict: directivity
    times efficiency times accepted power. The fields as stored lack the loss in the walls, and hold what the border sends back.
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
