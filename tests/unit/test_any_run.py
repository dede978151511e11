"""Any run folder brought from elsewhere: figures, or refused in one sentence, and nothing in it is run.

Whoever spoils the files can write the manifest that vouches for them: here it always does, so that what is
read stands on its own feet.
"""

from __future__ import annotations

import copy
import hashlib
import json
import math
import shutil
from pathlib import Path
from typing import Any

import h5py
import numpy as np
import pytest
from any_input import of_any, spoilt, strange, words
from hypothesis import strategies as st

import simharness
from simharness.errors import HarnessError, StoreError
from simharness.figures import number
from simharness.printable import is_printable
from simharness.results.outputs import DTYPES, OUTPUTS

SHIPPED = next((Path(__file__).parents[2] / "docs" / "runs").glob("four-slot-9g6-*"))
TEXTS = {name: (SHIPPED / name).read_bytes() for name in ("manifest.json", "record.json", "provenance.json")}
RESULTS = (SHIPPED / "results.h5").read_bytes()


def vouched(folder: Path) -> None:
    """Write the manifest anew for the files as they are."""
    manifest = json.loads(TEXTS["manifest.json"])
    for name in manifest["files"]:
        data = (folder / name).read_bytes()
        manifest["files"][name] = {"bytes": len(data), "sha256": hashlib.sha256(data).hexdigest()}
    (folder / "manifest.json").write_text(json.dumps(manifest))


def told(folder: Path) -> str:
    """What the run says, its figures or why it is refused."""
    try:
        (listed,) = simharness.runs(folder.parent)
        said = [listed.name, listed.status, listed.reason]
        run = simharness.open_run(folder.name, runs=folder.parent)
        said += [run.name, repr(run), run.record.name, *(number(one) for one in run.figures.values())]
    except HarnessError as exc:
        said = str(exc).splitlines()  # a record may have more than one fault, a line each
        assert said and len(said) < 40
    text = " ".join(said)
    assert is_printable(text), text
    return text


@pytest.fixture(scope="module")
def folder(tmp_path_factory) -> Path:
    """A copy of a run that the examples write over."""
    return Path(shutil.copytree(SHIPPED, tmp_path_factory.mktemp("runs") / SHIPPED.name))


def restored(folder: Path) -> None:
    """The copy as it was shipped."""
    for name, data in {**TEXTS, "results.h5": RESULTS}.items():
        (folder / name).write_bytes(data)


def test_the_shipped_run_tells_its_figures(folder):
    restored(folder)
    assert "GHz" in told(folder) and "dBi" in told(folder)


@of_any(60, name=st.sampled_from(sorted(TEXTS)), data=st.data())
def test_texts_of_a_run_with_pieces_cut_out_doubled_or_turned(folder, name, data):
    restored(folder)
    (folder / name).write_bytes(data.draw(spoilt(TEXTS[name])))
    if name != "manifest.json":
        vouched(folder)
    told(folder)


@st.composite
def retold(draw: Any, data: bytes) -> bytes:
    """A JSON text some of whose values are others, of any kind."""
    found = json.loads(data)
    for _ in range(draw(st.integers(1, 3))):
        place = found
        while True:
            keys = list(place) if isinstance(place, dict) else list(range(len(place)))
            key = draw(st.sampled_from(keys))
            if not isinstance(place[key], dict | list) or not place[key] or draw(st.booleans()):
                break
            place = place[key]
        place[key] = copy.deepcopy(draw(st.one_of(words, strange.filter(_plain))))
    return json.dumps(found).encode("utf-8", "surrogatepass")


def _plain(value: Any) -> bool:
    return isinstance(value, bool | int | float | str | list | dict) and not (
        isinstance(value, int) and abs(value) > 10**300
    )


@of_any(60, name=st.sampled_from(sorted(TEXTS)), data=st.data())
def test_texts_of_a_run_with_strange_values(folder, name, data):
    restored(folder)
    (folder / name).write_bytes(data.draw(retold(TEXTS[name])))
    if name != "manifest.json":
        vouched(folder)
    told(folder)


bytes_anywhere = st.one_of(st.integers(0, 3000), st.integers(0, len(RESULTS) - 1))
flips = st.lists(st.tuples(bytes_anywhere, st.integers(0, 255)), min_size=1, max_size=6)


@of_any(60, most=2000, turned=flips, end=st.one_of(st.none(), st.integers(0, len(RESULTS))))
def test_results_with_bytes_turned_and_an_end_cut_off(folder, turned, end):
    restored(folder)
    data = bytearray(RESULTS)
    for at, byte in turned:
        data[at] = byte
    (folder / "results.h5").write_bytes(bytes(data[:end]))
    vouched(folder)
    told(folder)


numbers = st.sampled_from((0.0, -0.0, 1.0, -1.0, 1e300, -1e300, 5e-324, math.nan, math.inf, -math.inf))


@of_any(
    60,
    name=st.sampled_from(sorted(OUTPUTS)),
    shape=st.lists(st.integers(0, 4), max_size=6),
    kind=st.sampled_from((*DTYPES.values(), "i8", "S4", "O")),
    value=numbers,
    all_of_it=st.booleans(),
)
def test_results_with_an_array_of_another_shape_kind_or_of_no_numbers(
    folder, name, shape, kind, value, all_of_it
):
    restored(folder)
    with h5py.File(folder / "results.h5", "r+") as file:
        if name in file and all_of_it:
            shape = file[name].shape
        if name in file:
            del file[name]
        if kind == "O":
            file.create_dataset(name, data=["text"] * 2, dtype=h5py.string_dtype())
        elif kind == "S4":
            file.create_dataset(name, data=np.full(tuple(shape), b"abcd"))
        else:
            fits = (math.isfinite(value) and abs(value) < 1e9) or np.dtype(kind).kind != "i"
            file.create_dataset(name, data=np.full(tuple(shape), value if fits else 1).astype(kind))
    vouched(folder)
    told(folder)


@of_any(40, name=st.text(min_size=1, max_size=12).filter(lambda n: n.isidentifier()), value=words)
def test_results_with_attributes_of_any_text(folder, name, value):
    restored(folder)
    with h5py.File(folder / "results.h5", "r+") as file:
        try:
            file.attrs[name] = value
        except (ValueError, UnicodeError):
            return  # text that HDF5 itself does not take
    vouched(folder)
    told(folder)


def test_an_array_that_is_a_link_is_not_followed(folder, tmp_path):
    """Soft, and into another file: by the HDF5 File Format Specification a reader follows both by itself."""
    for link in (h5py.SoftLink("/frequency"), h5py.ExternalLink(str(tmp_path / "other.h5"), "/s11")):
        restored(folder)
        with h5py.File(folder / "results.h5", "r+") as file:
            del file["s11"]
            file["s11"] = link
        vouched(folder)
        run = simharness.open_run(folder.name, runs=folder.parent)
        with pytest.raises(StoreError, match="link"):
            run.results  # noqa: B018
