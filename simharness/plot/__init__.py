"""The pictures of a finished run, and what all pictures share.

matplotlib and scikit-rf are imported when a picture is drawn, not before, so that commands
that draw nothing start quickly. No picture touches the global state of pyplot.
"""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from simharness.estimate.antenna import Estimate
    from simharness.records import Record
    from simharness.results.outputs import Results

__all__ = ["write_figure", "write_figures"]


def write_figures(
    results: Results, record: Record, estimate: Estimate | None, folder: Path | str
) -> list[Path]:
    """Draw all pictures that the results allow, as PNG.

    Parameters
    ----------
    results : Results
        Arrays of a finished run; what is missing is not drawn.
    record : Record
        The design.
    estimate : Estimate or None
        Drawn for comparison where given.
    folder : Path or str
        Made if it does not exist; pictures of the same name are replaced.

    Returns
    -------
    list of Path
        Of ``match.png``, ``smith.png``, ``cuts.png``, ``sphere.png``, ``slots.png``,
        ``field.png`` and ``overview.png`` those that were written, in this order.

    Raises
    ------
    MachineError
        The folder cannot be written.
    """
    from simharness.plot.album import written_pictures

    return written_pictures(results, record, estimate, Path(folder))


def write_figure(path: Path | str, drawing: Callable[..., Figure], *shown: object) -> Path:
    """Draw one picture, as PNG.

    Parameters
    ----------
    path : Path or str
        The file, replaced if it exists; its folder is made where needed.
    drawing : callable
        One of the functions ``..._figure`` of the modules here.
    shown
        What it takes.

    Returns
    -------
    Path

    Raises
    ------
    MachineError
        The file cannot be written.
    """
    from simharness.plot import style

    with style.own_look():
        return style.save(drawing(*shown), Path(path))
