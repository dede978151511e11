"""The pictures of a finished run, of a mesh before a run, and of a mesh study.

matplotlib and scikit-rf are imported when a picture is asked for, not before: commands
that draw nothing start quickly. No picture touches the global state of pyplot.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from simharness.compare import Comparison
    from simharness.estimate import Estimate
    from simharness.grid import Grid
    from simharness.orientation import Orientation
    from simharness.outputs import Results
    from simharness.records import Record
    from simharness.scene import Scene
    from simharness.study import Study
    from simharness.tolerances import ToleranceStudy
    from simharness.tuning import Tuning

__all__ = [
    "write_compare_figure", "write_convergence_figure", "write_figures", "write_mesh_figure", "write_orientation_figure",
    "write_tolerance_figure", "write_tuning_figure",
]


def write_figures(results: Results, record: Record, estimate: Estimate | None, folder: Path | str) -> list[Path]:
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


def write_mesh_figure(scene: Scene, grid: Grid, path: Path | str) -> Path:
    """Draw the mesh lines over the front wall and over cross-sections, as PNG.

    Parameters
    ----------
    scene : Scene
    grid : Grid
        Mesh of that scene.
    path : Path or str
        The file, replaced if it exists.

    Returns
    -------
    Path

    Raises
    ------
    MachineError
        The file cannot be written.
    """
    from simharness.plot import mesh, style

    with style.own_look():
        return style.save(mesh.mesh_figure(scene, grid), Path(path))


def write_convergence_figure(study: Study, record: Record, path: Path | str) -> Path:
    """Draw the figures of a mesh study over the cell size, as PNG.

    Parameters
    ----------
    study : Study
        At least one of its figures has a convergence.
    record : Record
        The design.
    path : Path or str
        The file, replaced if it exists.

    Returns
    -------
    Path

    Raises
    ------
    MachineError
        The file cannot be written.
    """
    from simharness.plot import convergence, style

    with style.own_look():
        return style.save(convergence.convergence_figure(study, record), Path(path))


def write_compare_figure(results: Results, record: Record, found: Comparison, path: Path | str) -> Path:
    """Draw a measured reflection over that of a run, as PNG.

    Parameters
    ----------
    results : Results
        Of the run.
    record : Record
    found : Comparison
    path : Path or str
        The file, replaced if it exists.

    Returns
    -------
    Path

    Raises
    ------
    MachineError
        The file cannot be written.
    """
    from simharness.plot import compare, style

    with style.own_look():
        return style.save(compare.compare_figure(results, record, found), Path(path))


def write_orientation_figure(record: Record, found: Orientation, path: Path | str) -> Path:
    """Draw received levels over orientation with their prediction, as PNG.

    Parameters
    ----------
    record : Record
    found : Orientation
    path : Path or str
        The file, replaced if it exists.

    Returns
    -------
    Path

    Raises
    ------
    MachineError
        The file cannot be written.
    """
    from simharness.plot import compare, style

    with style.own_look():
        return style.save(compare.orientation_figure(record, found), Path(path))


def write_tuning_figure(found: Tuning, path: Path | str) -> Path:
    """Draw S11 against the height of the probe, with the runs that it rests on, as PNG.

    Parameters
    ----------
    found : Tuning
    path : Path or str
        The file, replaced if it exists.

    Returns
    -------
    Path

    Raises
    ------
    MachineError
        The file cannot be written.
    """
    from simharness.plot import style, tuning

    with style.own_look():
        return style.save(tuning.tuning_figure(found), Path(path))


def write_tolerance_figure(study: ToleranceStudy, record: Record, path: Path | str) -> Path:
    """Draw the ranked dimensions and the sample of a tolerance study, as PNG.

    Parameters
    ----------
    study : ToleranceStudy
    record : Record
    path : Path or str
        The file, replaced if it exists.

    Returns
    -------
    Path

    Raises
    ------
    MachineError
        The file cannot be written.
    """
    from simharness.plot import style, tolerances

    with style.own_look():
        return style.save(tolerances.tolerance_figure(study, record), Path(path))
