"""The one table of result arrays: name, unit, axes, kind and meaning.

A result file is HDF5. It holds arrays of this table and nothing else; each array
carries its unit, the names of its axes and its meaning, and hangs on the
coordinate arrays of its axes by HDF5 dimension scales. The same table prints the
documentation (`outputs_table`). Phasors are peak values with time factor
exp(+j omega t); theta counts from +z, phi from +x.
"""

from __future__ import annotations

import io
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import h5py
import numpy as np

from simharness.errors import StoreError
from simharness.files import atomic_write_bytes

FORMAT_NAME = "simharness-results"
FORMAT_VERSION = 1

_KINDS = {"float": "f", "complex": "c", "int": "iu"}
DTYPES = {"float": np.float64, "complex": np.complex128, "int": np.int64}
RESERVED = ("format", "format_version")
_LARGEST = 1e60
"""Magnitude in any unit beyond which an array is damaged: squares and products stay finite."""


@dataclass(frozen=True)
class Axis:
    """A symbolic axis: all arrays of one file agree on its length.

    `coordinate` names the array of its coordinates (then required in every file
    that uses the axis), or is None for an axis that is merely counted. A file with more than
    `most` entries along it is not read.
    """

    symbol: str
    coordinate: str | None
    meaning: str
    most: int


@dataclass(frozen=True)
class Output:
    """One result array; `dtype` is ``"float"``, ``"complex"`` or ``"int"`` (64 bits per part)."""

    name: str
    unit: str
    axes: tuple[str, ...]
    dtype: str
    meaning: str


AXES: dict[str, Axis] = {
    axis.symbol: axis
    for axis in (
        Axis("f", "frequency", "frequencies of the port quantities", 100_000),
        Axis("t", "time", "samples of voltages", 10_000_000),
        Axis("ti", "current_time", "samples of currents, half a step from those of voltages", 10_000_000),
        Axis("ff", "far_frequency", "frequencies of fields and powers", 1_000),
        Axis("th", "theta", "polar angles", 3_601),
        Axis("ph", "phi", "azimuth angles", 7_201),
        Axis("slot", None, "slots, in the order of the design record", 1_000),
        Axis("cx", "cut_x", "points of the field cut across the guide", 100_000),
        Axis("cz", "cut_z", "points of the field cut along the guide", 100_000),
        Axis("gx", "grid_x", "mesh lines across the guide", 100_000),
        Axis("gy", "grid_y", "mesh lines normal to the broad walls", 100_000),
        Axis("gz", "grid_z", "mesh lines along the guide", 100_000),
    )
}
"""The symbolic axes by symbol. The limits are ten times what a run has, and more."""

_FAR = "far field times distance, 1 W available power, peak phasor, phase referred to the origin"
_PER_WATT = "1 W available power"

OUTPUTS: dict[str, Output] = {
    output.name: output
    for output in (
        Output("frequency", "Hz", ("f",), "float", "frequencies of the port quantities"),
        Output("s11", "1", ("f",), "complex", "reflection at the reference plane of port 1"),
        Output("s21", "1", ("f",), "complex", "transmission from port 1 to port 2"),
        Output("input_impedance", "ohm", ("f",), "complex", "impedance at the plane of port 1"),
        Output("time", "s", ("t",), "float", "instants of the voltage samples"),
        Output("current_time", "s", ("ti",), "float", "instants of the current samples"),
        Output("port_voltage", "V", ("t",), "float", "voltage at port 1"),
        Output("port_current", "A", ("ti",), "float", "current into port 1"),
        Output("port2_voltage", "V", ("t",), "float", "voltage at port 2"),
        Output("port2_current", "A", ("ti",), "float", "current into port 2"),
        Output("far_frequency", "Hz", ("ff",), "float", "frequencies of fields and powers"),
        Output("theta", "rad", ("th",), "float", "polar angle from +z"),
        Output("phi", "rad", ("ph",), "float", "azimuth angle from +x"),
        Output("e_theta", "V", ("ff", "th", "ph"), "complex", f"E_theta: {_FAR}"),
        Output("e_phi", "V", ("ff", "th", "ph"), "complex", f"E_phi: {_FAR}"),
        Output("directivity", "1", ("ff", "th", "ph"), "float", "directivity, linear"),
        Output("accepted_power", "W", ("ff",), "float", f"accepted at port 1, {_PER_WATT}"),
        Output("radiated_power", "W", ("ff",), "float", f"in the far field, {_PER_WATT}"),
        Output("surface_power", "W", ("ff",), "float", f"through the box, {_PER_WATT}"),
        Output("wall_loss", "W", ("ff",), "float", f"lost in the walls, {_PER_WATT}"),
        Output("substrate_loss", "W", ("ff",), "float", f"lost in the substrate of a laminate, {_PER_WATT}"),
        Output("cover_loss", "W", ("ff",), "float", f"lost in the cover of the slots, {_PER_WATT}"),
        Output("load_power", "W", ("ff",), "float", f"into the load at the far end, {_PER_WATT}"),
        Output(
            "slot_voltage",
            "V",
            ("ff", "slot"),
            "complex",
            f"voltage across the middle of each slot, {_PER_WATT}, peak phasor",
        ),
        Output("slot_z", "m", ("slot",), "float", "centre of each slot along the guide"),
        Output("cut_x", "m", ("cx",), "float", "points of the field cut across the guide"),
        Output("cut_z", "m", ("cz",), "float", "points of the field cut along the guide"),
        Output(
            "cut_field",
            "V/m",
            ("ff", "cx", "cz"),
            "complex",
            f"E normal to the broad walls on the cut, {_PER_WATT}, peak phasor",
        ),
        Output(
            "axis_across",
            "V/m",
            ("ff", "cz"),
            "complex",
            f"round tube: E across, along x, on the axis, {_PER_WATT}, peak phasor",
        ),
        Output("grid_x", "m", ("gx",), "float", "mesh lines across the guide"),
        Output("grid_y", "m", ("gy",), "float", "mesh lines normal to the broad walls"),
        Output("grid_z", "m", ("gz",), "float", "mesh lines along the guide"),
    )
}
"""The result arrays by name. All are optional but for the coordinates of the axes in use."""


class MissingError(StoreError, KeyError):
    """A result file lacks what is wanted of it."""

    __str__ = Exception.__str__


class Attributes(Mapping[str, Any]):
    """The root attributes of a result file by name (read-only)."""

    def __init__(self, values: Mapping[str, Any]):
        self._values = dict(values)

    def __getitem__(self, name: str) -> Any:
        try:
            return self._values[name]
        except KeyError:
            raise MissingError(
                f"the run does not say its {name}: it is damaged, or of another program"
            ) from None

    def __iter__(self) -> Iterator[str]:
        return iter(self._values)

    def __len__(self) -> int:
        return len(self._values)


class Results(Mapping[str, np.ndarray]):
    """The arrays of one result file by name (read-only), with the file's `attributes`."""

    def __init__(self, arrays: Mapping[str, np.ndarray], attributes: Mapping[str, Any]):
        self._arrays = dict(arrays)
        for array in self._arrays.values():
            array.flags.writeable = False
        self.attributes = Attributes(attributes)

    def __getitem__(self, name: str) -> np.ndarray:
        try:
            return self._arrays[name]
        except KeyError:
            raise MissingError(
                f"the run holds no {name} ({OUTPUTS[name].meaning})" if name in OUTPUTS else name
            ) from None

    def __iter__(self) -> Iterator[str]:
        return iter(self._arrays)

    def __len__(self) -> int:
        return len(self._arrays)


def write_results(
    path: Path | str, arrays: Mapping[str, Any], attributes: Mapping[str, Any] | None = None
) -> None:
    """Write result arrays to an HDF5 file, replacing it in one step.

    Parameters
    ----------
    path : Path or str
        The file.
    arrays : mapping of str to array_like
        Arrays named in `OUTPUTS`, in their units and shapes.
    attributes : mapping of str to str, bool, int or float, optional
        Root attributes of the file, e.g. the design record as text.

    Raises
    ------
    StoreError
        For an unknown name, a wrong kind of number, NaN, or a shape at odds with
        the axes; the message names the array. Nothing is written then.
    MachineError
        When the disk is full or not writable.
    """
    checked = checked_arrays(arrays)
    attributes = dict(attributes or {})
    for name, value in attributes.items():
        if name in RESERVED or not isinstance(value, (str, bool, int, float, np.generic)):
            raise StoreError(
                f"attribute {name} = {value!r} cannot be stored: "
                f"it must be text or a number and not be called {RESERVED}"
            )
    image = io.BytesIO()
    with h5py.File(image, "w") as file:
        file.attrs["format"] = FORMAT_NAME
        file.attrs["format_version"] = FORMAT_VERSION
        for name, value in attributes.items():
            file.attrs[name] = value
        _fill(file, checked)
    atomic_write_bytes(path, image.getbuffer())


def checked_arrays(arrays: Mapping[str, Any]) -> dict[str, np.ndarray]:
    """Arrays by name as the table wants them; StoreError names the first that it does not allow."""
    checked: dict[str, np.ndarray] = {}
    lengths: dict[str, tuple[int, str]] = {}
    # Coordinates first: the blame for a wrong length then falls on the other array.
    own = {axis.coordinate for axis in AXES.values()}
    for name in sorted(arrays, key=lambda name: (name not in own, name)):
        output = OUTPUTS.get(name)
        if output is None:
            raise StoreError(f"array {name} is not in the table of outputs")
        array = np.asarray(arrays[name])
        if array.dtype.kind not in _KINDS[output.dtype]:
            raise StoreError(f"array {name} holds {array.dtype}: {output.dtype} is wanted")
        if array.ndim != len(output.axes):
            raise StoreError(
                f"array {name} has the shape {array.shape}: the axes ({', '.join(output.axes)}) are wanted"
            )
        if not (finite := np.isfinite(array)).all():
            raise StoreError(
                f"array {name} holds {int((~finite).sum())} NaN or infinite numbers: none is allowed"
            )
        for symbol, length in zip(output.axes, array.shape):
            known, first = lengths.setdefault(symbol, (length, name))
            if length != known:
                raise StoreError(f"array {name} has {length} entries along {symbol}: {first} has {known}")
        checked[name] = np.ascontiguousarray(array, dtype=DTYPES[output.dtype])
        if array.size and np.abs(checked[name]).max() > _LARGEST:
            raise StoreError(f"array {name} holds a number beyond {_LARGEST:g}: no quantity here is so large")
    for name in checked:
        for symbol in OUTPUTS[name].axes:
            coordinate = AXES[symbol].coordinate
            if coordinate is not None and coordinate not in checked:
                raise StoreError(f"array {name} lacks its coordinate array {coordinate}")
    return checked


def _fill(file: h5py.File, arrays: Mapping[str, np.ndarray]) -> None:
    for name, array in arrays.items():
        output = OUTPUTS[name]
        dataset = file.create_dataset(name, data=array)
        dataset.attrs["unit"] = output.unit
        dataset.attrs["axes"] = list(output.axes)
        dataset.attrs["meaning"] = output.meaning
    for axis in AXES.values():
        if axis.coordinate in arrays:
            file[axis.coordinate].make_scale(axis.coordinate)
    for name in arrays:
        for index, symbol in enumerate(OUTPUTS[name].axes):
            dimension = file[name].dims[index]
            coordinate = AXES[symbol].coordinate
            # HDF5 does not let a scale have a scale of its own.
            if coordinate is not None and coordinate != name:
                dimension.attach_scale(file[coordinate])
            dimension.label = symbol


def outputs_table() -> str:
    """The table of outputs as Markdown, one line per array, and a second table of the axes."""
    lines = ["| array | unit | axes | kind | meaning |", "|---|---|---|---|---|"]
    for output in OUTPUTS.values():
        axes = ", ".join(output.axes)
        lines.append(f"| `{output.name}` | {output.unit} | {axes} | {output.dtype} | {output.meaning} |")
    lines += ["", "| axis | coordinates | counts |", "|---|---|---|"]
    for axis in AXES.values():
        coordinate = f"`{axis.coordinate}`" if axis.coordinate else "none"
        lines.append(f"| {axis.symbol} | {coordinate} | {axis.meaning} |")
    return "\n".join(lines) + "\n"
