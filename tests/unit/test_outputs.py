"""The table of outputs and its HDF5 files. Expected values follow from the table itself."""

from __future__ import annotations

import os
import subprocess
import sys

import h5py
import numpy as np
import pytest

from simharness.errors import MachineError, StoreError
from simharness.results.file import read_results
from simharness.results.outputs import AXES, OUTPUTS, outputs_table, write_results

COORDINATES = {axis.coordinate for axis in AXES.values()}


def sample_arrays() -> dict[str, np.ndarray]:
    """One array of every output, invented numbers, every axis of a different length."""
    lengths = {symbol: 2 + index for index, symbol in enumerate(AXES)}
    rng = np.random.default_rng(7)
    arrays = {}
    for output in OUTPUTS.values():
        shape = tuple(lengths[symbol] for symbol in output.axes)
        array = rng.standard_normal(shape)
        if output.name in COORDINATES:
            array.sort()
        arrays[output.name] = array + 1j * array[::-1] if output.dtype == "complex" else array
    return arrays


def test_table_is_consistent():
    for output in OUTPUTS.values():
        assert output.unit and output.meaning and output.axes
        assert set(output.axes) <= set(AXES)
        assert output.dtype in ("float", "complex", "int")
    for axis in AXES.values():
        if axis.coordinate is not None:
            assert OUTPUTS[axis.coordinate].axes == (axis.symbol,)


def test_what_is_written_is_read_bit_for_bit(tmp_path):
    arrays = sample_arrays()
    attributes = {"design": "[guide]\nwidth_mm = 86.36\n" * 5000, "steps": 12, "dt": 1.5e-12, "lossy": True}
    write_results(tmp_path / "r.h5", arrays, attributes)
    results = read_results(tmp_path / "r.h5")
    assert set(results) == set(arrays) and len(results) == len(arrays)
    for name, array in arrays.items():
        np.testing.assert_array_equal(results[name], array)
        assert results[name].dtype == array.dtype
    assert dict(results.attributes) == attributes
    assert type(results.attributes["lossy"]) is bool
    assert [p.name for p in tmp_path.iterdir()] == ["r.h5"]


def test_read_arrays_cannot_be_changed(tmp_path):
    write_results(tmp_path / "r.h5", {"frequency": np.array([1.0])})
    with pytest.raises(ValueError, match="read-only"):
        read_results(tmp_path / "r.h5")["frequency"][0] = 2.0


def test_file_explains_itself(tmp_path):
    write_results(tmp_path / "r.h5", sample_arrays())
    with h5py.File(tmp_path / "r.h5") as file:
        assert file.attrs["format"] == "simharness-results"
        assert file.attrs["format_version"] == 1
        field = file["e_theta"]
        assert field.attrs["unit"] == "V"
        assert list(field.attrs["axes"]) == ["ff", "th", "ph"]
        assert field.attrs["meaning"] == OUTPUTS["e_theta"].meaning
        assert field.dtype.kind == "c"
        scales = [dimension[0].name for dimension in field.dims]
        assert scales == ["/far_frequency", "/theta", "/phi"]
        assert [dimension.label for dimension in field.dims] == ["ff", "th", "ph"]
        assert len(file["slot_voltage"].dims[1]) == 0


@pytest.mark.parametrize(
    "change, sentence",
    [
        ({"s12": np.ones(2, complex)}, "array s12 is not in the table"),
        ({"s11": np.ones(2)}, "array s11 holds float64: complex is wanted"),
        ({"frequency": np.array([1, 2])}, "array frequency holds int64: float is wanted"),
        ({"frequency": np.array(["a", "b"])}, "array frequency holds <U1"),
        ({"s11": np.ones((2, 1), complex)}, r"array s11 has the shape \(2, 1\)"),
        ({"s11": np.ones(3, complex)}, "array s11 has 3 entries along f: frequency has 2"),
        ({"s11": np.array([1, np.nan + 0j])}, "array s11 holds 1 NaN"),
        (
            {
                "theta": np.ones(4),
                "phi": np.ones(5),
                "far_frequency": np.ones(1),
                "e_phi": np.ones((1, 5, 4), complex),
            },
            "array e_phi has 5 entries along th",
        ),
        ({"port_voltage": np.ones(4)}, "array port_voltage lacks its coordinate array time"),
    ],
)
def test_wrong_arrays_are_refused_by_name(tmp_path, change, sentence):
    arrays = {"frequency": np.array([1e9, 2e9]), "s11": np.ones(2, complex)} | change
    with pytest.raises(StoreError, match=sentence):
        write_results(tmp_path / "r.h5", arrays)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("attributes", [{"format": "x"}, {"mesh": [1, 2]}, {"none": None}])
def test_wrong_attributes_are_refused(tmp_path, attributes):
    with pytest.raises(StoreError, match=next(iter(attributes))):
        write_results(tmp_path / "r.h5", {}, attributes)


def test_single_precision_is_widened(tmp_path):
    write_results(tmp_path / "r.h5", {"frequency": np.float32([0.25, 0.5])})
    assert read_results(tmp_path / "r.h5")["frequency"].dtype == np.float64


def test_foreign_damaged_and_newer_files_are_refused(tmp_path):
    good = tmp_path / "good.h5"
    write_results(good, sample_arrays())
    with pytest.raises(StoreError, match="there is no result file"):
        read_results(tmp_path / "none.h5")
    (tmp_path / "text.h5").write_text("not HDF5")
    (tmp_path / "short.h5").write_bytes(good.read_bytes()[:3000])
    for name in ("text.h5", "short.h5"):
        with pytest.raises(StoreError, match="damaged or foreign"):
            read_results(tmp_path / name)
    with h5py.File(tmp_path / "foreign.h5", "w") as file:
        file["frequency"] = [1.0]
    with pytest.raises(StoreError, match="not a result file of this program"):
        read_results(tmp_path / "foreign.h5")
    with h5py.File(good, "a") as file:
        file.attrs["format_version"] = 2
    with pytest.raises(StoreError, match="format version 2: this program reads up to 1"):
        read_results(good)


def test_old_file_survives_a_refused_writing(tmp_path):
    """A real refusal: the kernel limits the size of files of the child process."""
    path = tmp_path / "r.h5"
    write_results(path, {"frequency": np.array([3.0])})
    code = (
        "import resource, sys, numpy as np\n"
        "from simharness.results.outputs import write_results\n"
        "resource.setrlimit(resource.RLIMIT_FSIZE, (20000, 20000))\n"
        "write_results(sys.argv[1], {'frequency': np.zeros(100000)})\n"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, path], capture_output=True, text=True, timeout=20, env=os.environ
    )
    assert MachineError.__name__ in done.stderr and "file-size limit" in done.stderr
    assert read_results(path)["frequency"][0] == 3.0
    assert [p.name for p in tmp_path.iterdir()] == ["r.h5"]


def test_every_line_of_a_table_for_the_page_has_as_many_cells_as_its_head():
    for table in outputs_table().split("\n\n"):
        assert len({line.count("|") for line in table.splitlines()}) == 1
