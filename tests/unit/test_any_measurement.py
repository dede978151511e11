"""Any file from the bench: a curve of plain numbers, or refused in one sentence.

The pieces of Touchstone files are those of the Touchstone File Format Specification, versions 1.1 and 2.0
(EIA/IBIS Open Forum, 2002 and 2009): option line, comments, keywords in brackets.
"""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest
from any_input import ACTING, of_any, spoilt
from hypothesis import strategies as st

from simharness.errors import InputError
from simharness.measurement.files import MIN_POINTS, read_levels, read_one_port
from simharness.printable import is_printable

SHIPPED = (Path(__file__).parents[2] / "docs" / "bench-9g6.s1p").read_bytes()
LEVELS = (Path(__file__).parents[2] / "docs" / "turned-across.csv").read_bytes()
NUMBERS = (
    "0",
    "-0",
    "1",
    "0.1",
    "-.5",
    "1e-3",
    "5.8",
    "50",
    "5,8",
    "1e400",
    "-1e308",
    "1e-320",
    "nan",
    "-inf",
    "0x10",
    "1_000",
    "٣",
    "9" * 400,
    "1e",
    "1j",
    "",
    *ACTING,
)
number = st.one_of(st.sampled_from(NUMBERS), st.floats(-2, 2).map(str), st.floats().map(repr))
options = st.lists(
    st.sampled_from(
        (
            "HZ",
            "kHz",
            "GHz",
            "THz",
            "S",
            "Y",
            "Z",
            "G",
            "H",
            "RI",
            "MA",
            "DB",
            "R",
            "50",
            "0",
            "-1",
            "nan",
            "1+1j",
            "x",
        )
    ),
    max_size=8,
).map(lambda words: " ".join(["#", *words]))
KEYWORDS = (
    "Version",
    "Number of Ports",
    "Two-Port Data Order",
    "Two-Port Order",
    "Number of Frequencies",
    "Reference",
    "Number of Noise Frequencies",
    "Matrix Format",
    "Mixed-Mode Order",
    "Network Data",
    "Noise Data",
    "End",
    "Begin Information",
    "End Information",
    "x",
)
VALUES = (
    "2.0",
    "1",
    "2",
    "0",
    "-1",
    "1000000000",
    "9" * 30,
    "12_21",
    "Full",
    "Lower",
    "D2,3 C2,3 S1",
    "50 75",
    "",
)
keyword = st.builds("[{}] {}".format, st.sampled_from(KEYWORDS), st.sampled_from(VALUES))
comment = st.one_of(
    st.sampled_from(
        (
            "! Port Impedance 50 0",
            "! Gamma 0 1",
            "! Port[1] = a",
            "! Port[1000000000] = b",
            "! Port Impedance nan 1e400",
            "! Modal data exported",
            "! S-parameter uses the power definition",
            "! Port Impedance" + " 1" * 60,
        )
    ),
    st.text(max_size=20).map("! {}".format),
)
row = st.lists(number, max_size=9).map(" ".join)
good = st.integers(0, 9).map(lambda i: f"{5.7 + 0.02 * i:.2f} 0.1 -0.2")
touchstone = st.builds(
    lambda head, body: "\n".join([*head, *body]).encode("utf-8", "surrogatepass"),
    st.lists(st.one_of(options, keyword, comment), max_size=8),
    st.lists(st.one_of(good, good, good, row, keyword, comment), max_size=25),
)
tables = st.builds(
    lambda lines, mark, end: end.join(mark.join(cells) for cells in lines).encode("utf-8", "surrogatepass"),
    st.lists(st.lists(number, max_size=3) | st.tuples(st.integers(-180, 180).map(str), number), max_size=20),
    st.sampled_from((",", ";", "\t", " ", "#")),
    st.sampled_from(("\n", "\r\n", "\r", "\x0b")),
)


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    """Where the files are written."""
    return tmp_path_factory.mktemp("bench") / "any.s1p"


def sentence(error: InputError) -> None:
    """What is said of a bad file is one printable sentence."""
    assert is_printable(str(error)) and len(str(error)) < 600


@of_any(200, content=st.one_of(touchstone, touchstone, spoilt(SHIPPED), st.binary(max_size=200)))
def test_any_touchstone_file_is_a_reflection_or_refused(file, content):
    file.write_bytes(content)
    try:
        curve = read_one_port(file)
    except InputError as error:
        sentence(error)
        return
    assert curve.frequency.size == curve.s11.size >= MIN_POINTS and (np.diff(curve.frequency) > 0).all()
    assert np.isfinite(curve.frequency).all() and np.isfinite(curve.s11).all()
    assert all(map(is_printable, curve.remarks))
    assert np.isfinite(curve.at(np.linspace(5.7e9, 5.9e9, 9))).all()


@of_any(
    200,
    content=st.one_of(tables, spoilt(LEVELS), st.text(max_size=99).map(str.encode), st.binary(max_size=99)),
)
def test_any_table_of_levels_is_one_or_refused(file, content):
    file.write_bytes(content)
    try:
        found = read_levels(file)
    except InputError as error:
        sentence(error)
        return
    assert found.angle.size == found.level.size >= MIN_POINTS and (np.diff(found.angle) > 0).all()
    assert np.isfinite(found.angle).all() and np.isfinite(found.level).all()
