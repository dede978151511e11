"""Results of a sweep: one row for each point, as CSV and HDF5."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

import h5py
import numpy as np
from numpy.typing import NDArray

from simharness.figures import Figure
from simharness.records import Record
from simharness.results.outputs import Results
from simharness.sweep.points import SweepPoint, Value, Variable, value_text
from simharness.verdict.assessment import LABELS, full_wave_figures

FIGURES = tuple(name for name in LABELS if name != "input_impedance")
"""Figures of the table; the impedance follows from S11, which the HDF5 file holds in full."""

STORED = "stored"
_COLUMN_UNITS = {
    "Hz": ("ghz", 1e-9),
    "dB": ("db", 1.0),
    "dBi": ("dbi", 1.0),
    "deg": ("deg", 1.0),
    "": ("", 1.0),
}
_UNITS = {"_mm": "mm", "_ghz": "GHz", "_db": "dB", "_s_per_m": "S/m"}
FORMAT_NAME = "simharness-sweep"
FORMAT_VERSION = 1


@dataclass(frozen=True)
class SweepRow:
    """One point of a sweep.

    Attributes
    ----------
    values : tuple
        In the order of the variables, in the units of the record.
    status : str
        "stored", or "failed" or "lost" with the `reason`.
    run : str
        Name of the stored run, empty where there is none.
    figures : dict
        Of `FIGURES`, in SI units, with error bars; empty where there is no run.
    frequency, s11 : (f,) arrays
        Hz, and complex; empty where there is no run.
    """

    values: tuple[Value, ...]
    status: str
    reason: str = ""
    run: str = ""
    figures: dict[str, Figure] = field(default_factory=dict)
    frequency: NDArray = field(default_factory=lambda: np.zeros(0))
    s11: NDArray = field(default_factory=lambda: np.zeros(0, complex))


@dataclass(frozen=True)
class Sweep:
    """A whole sweep; rows in the order of the points, the last variable changing fastest."""

    record: Record
    quality: str
    variables: tuple[Variable, ...]
    rows: tuple[SweepRow, ...]


def stored_row(point: SweepPoint, run: str, results: Results, quality: str) -> SweepRow:
    """The row of a point whose run is stored."""
    frequency, s11 = results["frequency"], results["s11"]
    figures = full_wave_figures(results, point.record, quality)
    # A minimum at the border of the span is no resonance.
    if figures["resonance"].value in (frequency[0], frequency[-1]):
        figures["resonance"] = Figure(None, "Hz", "the best match is at the border of the span")
    return SweepRow(
        point.values, STORED, "", run, {n: figures[n] for n in FIGURES if n in figures}, frequency, s11
    )


def figure_columns(rows: Sequence[SweepRow], name: str) -> tuple[str, NDArray, NDArray]:
    """Unit, values (n,) and half error bars (n,) of one figure; NaN where a row has none."""
    found = [row.figures.get(name) for row in rows]
    unit = next((figure.unit for figure in found if figure is not None), "")
    values = [np.nan if f is None or f.value is None else f.value for f in found]
    errors = [np.nan if f is None or f.value is None or f.error is None else f.error for f in found]
    return unit, np.array(values, float), np.array(errors, float)


def known_figures(rows: Sequence[SweepRow]) -> list[str]:
    """Those of `FIGURES` that at least one row has."""
    return [name for name in FIGURES if any(name in row.figures for row in rows)]


def csv_text(found: Sweep) -> str:
    """The table as CSV: values as in the record, frequencies in GHz, an error column beside each figure."""
    columns: list[tuple[str, list[str]]] = [
        (variable.field, [value_text(row.values[i]) for row in found.rows])
        for i, variable in enumerate(found.variables)
    ]
    columns += [(name, [getattr(row, name) for row in found.rows]) for name in ("status", "run")]
    for name in known_figures(found.rows):
        unit, values, errors = figure_columns(found.rows, name)
        suffix, scale = _COLUMN_UNITS[unit]
        head = f"{name}_{suffix}" if suffix else name
        columns += [(head, _numbers(values * scale)), (f"{head}_error", _numbers(errors * scale))]
    columns.append(("reason", [row.reason for row in found.rows]))
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([head for head, _ in columns])
    writer.writerows(zip(*(cells for _, cells in columns)))
    return out.getvalue()


def _numbers(values: NDArray) -> list[str]:
    """Seven significant digits; empty where there is no number."""
    return ["" if np.isnan(value) else f"{value:.7g}" for value in values]


def hdf5_bytes(found: Sweep) -> memoryview:
    """The table as an HDF5 file: groups `variables`, `figures`, `errors`, and S11 (points, frequencies).

    Each point has its own row of frequencies, since a sweep may change the band. Rows without a run hold NaN.
    """
    image = io.BytesIO()
    with h5py.File(image, "w") as file:
        file.attrs.update(
            {
                "format": FORMAT_NAME,
                "format_version": FORMAT_VERSION,
                "quality": found.quality,
                "record": found.record.model_dump_json(by_alias=True, exclude_none=True),
            }
        )
        for name in ("status", "run", "reason"):
            file[name] = [getattr(row, name) for row in found.rows]
        for i, variable in enumerate(found.variables):
            column = _plain_array([row.values[i] for row in found.rows])
            data = file.create_dataset(f"variables/{variable.field}", data=column)
            data.attrs["unit"] = field_unit(variable.field)
        for name in known_figures(found.rows):
            unit, values, errors = figure_columns(found.rows, name)
            for group, numbers, meaning in (
                ("figures", values, LABELS[name]),
                ("errors", errors, f"half error bar: {LABELS[name]}"),
            ):
                data = file.create_dataset(f"{group}/{name}", data=numbers)
                data.attrs.update({"unit": unit or "1", "meaning": meaning})
        for name, unit, curves in _curves(found.rows):
            file[name] = curves
            file[name].attrs.update({"unit": unit, "axes": ["point", "f"]})
    return image.getbuffer()


def _plain_array(values: Sequence[Value]) -> NDArray | list[str]:
    """Numbers as an array, anything else as text."""
    if all(isinstance(value, (int, float)) and not isinstance(value, bool) for value in values):
        return np.array(values)
    return [value_text(value) for value in values]


def _curves(rows: Sequence[SweepRow]) -> Iterator[tuple[str, str, NDArray]]:
    """Name, unit and array (points, frequencies) of the curves, padded with NaN."""
    longest = max(row.frequency.size for row in rows)
    for name, unit, kind in (("frequency", "Hz", float), ("s11", "1", complex)):
        curves = np.full((len(rows), longest), np.nan, kind)
        for line, row in zip(curves, rows):
            line[: row.frequency.size] = getattr(row, name)
        yield name, unit, curves


def field_unit(name: str) -> str:
    """Unit of a field of the record by its suffix.

    Examples
    --------
    >>> field_unit("feed.height_mm"), field_unit("slot_rule.count")
    ('mm', '1')
    """
    return next((unit for suffix, unit in _UNITS.items() if name.endswith(suffix)), "1")
