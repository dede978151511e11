"""The solver's own files: read while it runs, and gathered into one raw record at the end."""

from __future__ import annotations

import shutil
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import h5py
import numpy as np

if TYPE_CHECKING:
    # The child imports this module, by an interpreter that may lack what this package depends on.
    from simharness.geometry.scene import Scene

SERIES = ("voltage", "current_a", "current_b")


def series_names(scene: Scene) -> list[str]:
    """Names of the probe files a scene may give."""
    ports = [f"port{n}_{kind}" for n in range(1, len(scene.ports) + 1) for kind in SERIES]
    return ports + [f"slot{n}_voltage" for n in range(1, len(scene.slots) + 1)]


def read_series(path: Path, component: int = 0) -> np.ndarray:
    """Times (s) and values of a probe file, (2, n); an unfinished last line is left out.

    Field probes write three components; `component` picks one, and is ignored for scalar probes.
    """
    text = path.read_text(errors="replace")
    whole = text[: text.rfind("\n") + 1]
    rows = [line.split() for line in whole.splitlines() if line and not line.startswith("%")]
    column = 1 + component if rows and len(rows[0]) >= 4 else 1
    picked = [(row[0], row[column]) for row in rows if len(row) > column]
    return np.array(picked, dtype=float).T.reshape(2, -1)


def read_named_series(engine: Path, names: Iterable[str]) -> dict[str, np.ndarray]:
    """Those of the named probe files that are there; of a guide port's field probes E_y and H_x."""
    return {
        name: read_series(engine / name, component=0 if "current" in name else 1)
        for name in names
        if (engine / name).exists()
    }


def read_all_series(engine: Path, scene: Scene, slots: Sequence[int] | None = None) -> dict[str, np.ndarray]:
    """All probe files of a scene that are there.

    `slots`: numbers of the solver's slots that stand for those of the scene, in order.
    """
    names = {name: name for name in series_names(scene)}
    for position, number in enumerate(slots or (), start=1):
        names[f"slot{position}_voltage"] = f"slot{number}_voltage"
    found = read_named_series(engine, names.values())
    return {name: found[file] for name, file in names.items() if file in found}


def read_field(path: Path) -> tuple[list[np.ndarray], np.ndarray]:
    """Coordinates (m) and complex field (frequency, component, x, y, z) of a frequency-domain record."""
    with h5py.File(path) as file:
        mesh = [np.array(file["Mesh"][name], dtype=float) for name in "xyz"]
        group = file["FieldData/FD"]
        count = sum(1 for name in group if name.endswith("_real"))
        parts = [np.array(group[f"f{i}_real"]) + 1j * np.array(group[f"f{i}_imag"]) for i in range(count)]
    return mesh, np.stack([part.transpose(0, 3, 2, 1) for part in parts])


def collect(engine: Path, target: Path, probes: Iterable[str]) -> None:
    """Gather the solver's files into one raw record, written beside its final name first; `probes`: names
    of theirs."""
    partial = target.with_suffix(".partial")
    with h5py.File(partial, "w") as file:
        for name, series in read_named_series(engine, probes).items():
            file[f"series/{name}"] = series
        for path in sorted(engine.glob("*.h5")):
            mesh, field = read_field(path)
            group = file.create_group(f"fields/{path.stem}")
            group["field"] = field.astype(np.complex64)
            for name, line in zip("xyz", mesh):
                group[name] = line
    partial.rename(target)


def read_raw(path: Path) -> tuple[dict[str, np.ndarray], dict[str, tuple[list[np.ndarray], np.ndarray]]]:
    """Series and fields of a raw record."""
    with h5py.File(path) as file:
        series = {name: data[:] for name, data in file["series"].items()}
        fields = {
            name: ([group[axis][:] for axis in "xyz"], group["field"][:])
            for name, group in file.get("fields", {}).items()
        }
    return series, fields


def clear_engine(folder: Path) -> None:
    """Drop what can be made again; the transcript stays."""
    shutil.rmtree(folder / "engine", ignore_errors=True)
    for name in ("raw.h5", "raw.partial", "request.json"):
        (folder / name).unlink(missing_ok=True)
