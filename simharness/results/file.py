"""A result file read: each array is measured against the table of outputs before it is taken into memory."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from pathlib import Path
from typing import Any

import h5py
import numpy as np

from simharness.errors import StoreError
from simharness.files import UnreadableError, check_regular, machine_errors
from simharness.printable import printable
from simharness.results.outputs import (
    AXES,
    DTYPES,
    FORMAT_NAME,
    FORMAT_VERSION,
    OUTPUTS,
    RESERVED,
    Output,
    Results,
    checked_arrays,
)

MAX_BYTES = 400_000_000
"""Of all arrays of a file together; a run has some ten million."""

_NUMBERS = {
    "threads",
    "cells",
    "steps",
    "pec_edges",
    "engine_seconds",
    "solver_seconds",
    "total_seconds",
    "change_s",
    "field_missing",
    "field_uneven",
    "mesh_moved_m",
    "mesh_ratio",
    "time_step_s",
    "worst_s11_db",
}
"""Attributes of a run that are numbers; the others are text."""


def read_results(path: Path | str, only: Collection[str] = tuple(OUTPUTS)) -> Results:
    """Read a result file.

    Parameters
    ----------
    path : Path or str
        A file written by `write_results`.
    only : collection of str
        Names of the arrays wanted, as far as the file has them.

    Returns
    -------
    Results
        The arrays by name, and the root attributes as plain Python values.

    Raises
    ------
    StoreError
        When the file is missing, is no result file, is damaged, or was written
        in a newer format.
    MachineError
        When the file may not be read.
    """
    path = Path(path)
    try:
        check_regular(path, 2 * MAX_BYTES)
        with machine_errors(f"read {path}"), h5py.File(path, "r") as file:
            attributes = {name: _plain(path, name, value) for name, value in file.attrs.items()}
            _check_format(path, attributes)
            arrays = _read_arrays(path, file, only)
    except FileNotFoundError as exc:
        raise StoreError(f"there is no result file {path}") from exc
    except UnreadableError as exc:
        raise StoreError(f"the result file {path} is not read: {exc}") from exc
    # HDF5 raises one or the other, as the damage goes.
    except (OSError, RuntimeError, KeyError, ValueError, TypeError, OverflowError, MemoryError) as exc:
        raise StoreError(f"{path} cannot be read as HDF5: the file is damaged or foreign") from exc
    try:
        checked = checked_arrays(arrays)
        for name in checked.keys() & {axis.coordinate for axis in AXES.values()}:
            if not (checked[name].size and (np.diff(checked[name]) > 0).all()):
                raise StoreError(f"array {name} is not a rising row of numbers")
    except StoreError as exc:
        raise StoreError(f"{path} is damaged or foreign: {exc}") from exc
    return Results(checked, {k: v for k, v in attributes.items() if k not in RESERVED})


def _read_arrays(path: Path, file: h5py.File, only: Collection[str]) -> dict[str, np.ndarray]:
    """The arrays of the table that a file holds; each is looked at before it is read."""
    found = {}
    links = file.id.links
    for name, output in OUTPUTS.items():
        if not links.exists(name.encode()):
            continue
        # A link may lead into another file, or to a device.
        if links.get_info(name.encode()).type != h5py.h5l.TYPE_HARD:
            raise StoreError(f"{path} is damaged or foreign: {name} is a link")
        found[name] = _bounded(path, file[name], output)
    if (total := sum(dataset.nbytes for dataset in found.values())) > MAX_BYTES:
        raise StoreError(
            f"{path} is not read: its arrays take {total / 1e6:.0f} MB, "
            f"at most {MAX_BYTES / 1e6:.0f} MB are read"
        )
    return {name: dataset[()] for name, dataset in found.items() if name in only}


def _bounded(path: Path, dataset: object, output: Output) -> h5py.Dataset:
    """A dataset that may be read: numbers of the kind of the table, plainly stored in the file, not too
    many along any axis.

    Compressed, virtual and external storage, and what was never written, make a small file stand for more
    than memory holds.
    """
    bad = f"{path} is damaged or foreign: {output.name}"
    if not isinstance(dataset, h5py.Dataset):
        raise StoreError(f"{bad} is no array")
    if dataset.dtype != DTYPES[output.dtype] or dataset.shape is None:
        raise StoreError(f"{bad} holds {dataset.dtype}: {np.dtype(DTYPES[output.dtype])} is wanted")
    if len(dataset.shape) != len(output.axes):
        raise StoreError(f"{bad} has {len(dataset.shape)} axes: {', '.join(output.axes)} are wanted")
    for symbol, length in zip(output.axes, dataset.shape):
        if length > AXES[symbol].most:
            raise StoreError(
                f"{bad} has {length} entries along {symbol}: at most {AXES[symbol].most} are read"
            )
    stored = dataset.id.get_create_plist()
    if (
        stored.get_layout() != h5py.h5d.CONTIGUOUS
        or stored.get_external_count()
        or dataset.id.get_storage_size() < dataset.nbytes
    ):
        raise StoreError(f"{bad} is not stored number by number")
    return dataset


def _plain(path: Path, name: str, value: Any) -> Any:
    """An attribute as a plain value, text printable."""
    value = value.item() if isinstance(value, np.generic) else value
    number = isinstance(value, (int, float)) and abs(value) < 1e300
    if not (number or (isinstance(value, str) and name not in _NUMBERS)):
        raise StoreError(
            f"{path} is damaged or foreign: its attribute {name} is neither text nor a number, "
            "or the wrong one"
        )
    return printable(value) if isinstance(value, str) else value


def _check_format(path: Path, attributes: Mapping[str, Any]) -> None:
    if attributes.get("format") != FORMAT_NAME:
        raise StoreError(f"{path} is not a result file of this program")
    version = attributes.get("format_version")
    if not isinstance(version, int) or version > FORMAT_VERSION:
        raise StoreError(
            f"{path} has the format version {version}: this program reads up to {FORMAT_VERSION}"
        )
