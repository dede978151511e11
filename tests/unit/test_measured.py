"""Files from the bench: Touchstone one-ports in every format, tables of levels, and what is refused.

The contents follow the Touchstone 1.1 and 2.0 descriptions (IBIS open forum): expected values by hand.
"""

from __future__ import annotations

import numpy as np
import pytest

from simharness.errors import InputError
from simharness.measurement.files import OnePort, read_levels, read_one_port

VALUES = np.array([0.5j, 0.3 + 0.4j, -0.2, 0.1j, 0.25])
GHZ = np.array([2.40, 2.42, 2.44, 2.46, 2.48])


def written(tmp_path, text: str, name: str = "bench.s1p"):
    path = tmp_path / name
    path.write_bytes(text.encode("latin-1"))
    return path


def table(kind: str, scale: float = 1.0) -> str:
    def pair(value: complex) -> tuple[float, float]:
        if kind == "RI":
            return value.real, value.imag
        size = abs(value) if kind == "MA" else 20 * np.log10(abs(value))
        return size, np.degrees(np.angle(value))

    return "".join(
        f"{f * scale:.6f} {one:.12g} {two:.12g} ! comment\n" for f, (one, two) in zip(GHZ, map(pair, VALUES))
    )


@pytest.mark.parametrize("kind", ["RI", "MA", "DB"])
@pytest.mark.parametrize("unit, scale", [("GHz", 1.0), ("MHz", 1e3), ("kHz", 1e6), ("Hz", 1e9), ("mhz", 1e3)])
def test_every_format_and_unit(tmp_path, kind, unit, scale):
    found = read_one_port(
        written(tmp_path, f"! made by nobody, caf\xe9\n# {unit} S {kind} R 50\n{table(kind, scale)}")
    )
    np.testing.assert_allclose(found.frequency, GHZ * 1e9, rtol=1e-12)
    np.testing.assert_allclose(found.s11, VALUES, rtol=0, atol=1e-11)  # twelve digits were written
    assert found.remarks == ()


def test_without_a_format_line_the_defaults_hold(tmp_path):
    """GHz, S, MA, R 50."""
    np.testing.assert_allclose(read_one_port(written(tmp_path, table("MA"))).s11, VALUES, rtol=0, atol=1e-11)


def test_carriage_returns_capitals_and_a_mark_of_utf8(tmp_path):
    text = ("# GHZ s ma r 50\n" + table("MA")).replace("\n", "\r\n")
    path = tmp_path / "BENCH.S1P"
    path.write_bytes(b"\xef\xbb\xbf" + text.encode())
    np.testing.assert_allclose(read_one_port(path).s11, VALUES, rtol=0, atol=1e-11)


def test_another_reference_is_renormalised(tmp_path):
    """75 ohm: Z = 75 (1 + S)/(1 - S), then back against 50."""
    found = read_one_port(written(tmp_path, "# GHz S RI R 75\n" + table("RI")))
    impedance = 75 * (1 + VALUES) / (1 - VALUES)
    np.testing.assert_allclose(found.s11, (impedance - 50) / (impedance + 50), rtol=0, atol=1e-11)
    assert found.remarks == ("the file's reference of 75 ohm was turned into 50 ohm",)


def test_normalised_impedances(tmp_path):
    """Version 1 writes Z divided by R."""
    z = (1 + VALUES) / (1 - VALUES)
    rows = "".join(f"{f} {v.real:.12g} {v.imag:.12g}\n" for f, v in zip(GHZ, z))
    np.testing.assert_allclose(
        read_one_port(written(tmp_path, "# GHz Z RI R 50\n" + rows)).s11, VALUES, rtol=0, atol=1e-10
    )


def test_version_two(tmp_path):
    head = (
        "[Version] 2.0\n# GHz S MA R 50\n[Number of Ports] 1\n[Number of Frequencies] 5\n"
        "[Reference] 50\n[Network Data]\n"
    )
    np.testing.assert_allclose(
        read_one_port(written(tmp_path, head + table("MA") + "[End]\n")).s11, VALUES, rtol=0, atol=1e-11
    )


def test_frequencies_are_put_in_order_and_repeated_ones_dropped(tmp_path):
    rows = table("RI").splitlines(keepends=True)
    found = read_one_port(written(tmp_path, "# GHz S RI R 50\n" + "".join(rows[::-1]) + rows[0]))
    np.testing.assert_allclose(found.frequency, GHZ * 1e9, rtol=1e-12)
    assert found.remarks == ("1 repeated frequencies were left out",)


@pytest.mark.parametrize(
    "text, name, said",
    [
        (
            table("MA"),
            "bench.s2p",
            "must be a one-port ending in .s1p, not a file of 2 ports; export S11 alone",
        ),
        (table("MA"), "bench.xls", "not no Touchstone name"),
        (
            "# GHz S MA R 50\n" + "".join(f"{f} 0.5 90 0.1 3 0.1 3 0.4 2\n" for f in GHZ),
            "bench.s1p",
            "of a two-port export S11 alone",
        ),
        (
            "# GHz S MA R 50\n2.4 0.5\n2.41 0.3 45\n",
            "bench.s1p",
            "each line must hold a frequency and two numbers",
        ),
        ("# GHz S MA R 50\n2,4 0,5 90\n2,41 0,3 45\n", "bench.s1p", "with decimal points"),
        ("hello\n", "bench.s1p", "cannot be read as a Touchstone one-port"),
        ("", "bench.s1p", "holds 0 frequencies; at least 5 are needed"),
        ("# GHz S MA R 50\n2.4 0.5 90\n", "bench.s1p", "holds 1 frequencies"),
        (
            "# GHz S MA R 50\n" + table("MA").replace("0.5 ", "nan "),
            "bench.s1p",
            "entries that are no numbers",
        ),
        ("# GHz S MA R 50\n" + table("DB"), "bench.s1p", "a passive antenna stays below 1"),
    ],
)
def test_what_cannot_be_meant_is_refused_in_one_sentence(tmp_path, text, name, said):
    with pytest.raises(InputError) as refusal:
        read_one_port(written(tmp_path, text, name))
    assert said in str(refusal.value) and "\n" not in str(refusal.value)


def test_a_missing_file(tmp_path):
    with pytest.raises(InputError, match="must be a readable file"):
        read_one_port(tmp_path / "none.s1p")


def test_a_finer_sweep_is_averaged_and_a_coarser_one_interpolated():
    """The mean of a straight line over a window is its middle; noise falls with the root of the count."""
    fine = np.linspace(2.0e9, 3.0e9, 2001)
    wanted = np.linspace(2.2e9, 2.8e9, 13)
    line = (fine - 2.5e9) / 1e9 * (1 + 2j)
    noise = np.random.default_rng(2).normal(scale=0.1, size=fine.size)
    exact = (wanted - 2.5e9) / 1e9 * (1 + 2j)
    # A window of 50 MHz holds 100 of the points; where it begins shifts its mean by half a step at most.
    np.testing.assert_allclose(
        OnePort(fine, line).at(wanted), exact, rtol=0, atol=0.25e-3 * np.sqrt(5) * 1.01
    )
    assert (
        np.std(OnePort(fine, line + noise).at(wanted) - exact) < 0.1 / np.sqrt(100) * 2
    )  # 13 of them: within a factor of 2
    np.testing.assert_allclose(OnePort(fine[::400], line[::400]).at(wanted), exact, rtol=0, atol=1e-12)


@pytest.mark.parametrize(
    "text",
    [
        "angle,level\n-10,-50\n0,-47.5\n10,-51\n20,-55\n30,-60\n",
        "-10;-50\n0;-47,5\n10;-51\n20;-55\n30;-60\n",
        "# turned by hand\n-10\t-50\n0\t-47.5\n\n10\t-51\n20\t-55\n30\t-60\n",
        "30 -60\n20 -55\n10 -51\n0 -47.5\n-10 -50\n",
        "angle;level\n-10;-50\n0;-47\n0;-48\n10;-51\n20;-55\n30;-60\n",
    ],
)
def test_tables_of_levels(tmp_path, text):
    """Commas, decimal commas, tabs, blanks, any order, and two readings at one angle."""
    found = read_levels(written(tmp_path, text, "levels.csv"))
    np.testing.assert_allclose(np.degrees(found.angle), [-10, 0, 10, 20, 30], rtol=0, atol=1e-12)
    np.testing.assert_allclose(found.level, [-50, -47.5, -51, -55, -60], rtol=0, atol=1e-12)


@pytest.mark.parametrize(
    "text, said",
    [
        ("0,-47\n10,x\n", "line 2 = 10,x: must be an angle in degrees and a level in dB"),
        ("0,-47,3\n", "line 1"),
        ("0,-47\n10,-50\n", "holds 2 different angles"),
        ("", "holds 0 different angles"),
        ("0,nan\n", "line 1"),
    ],
)
def test_tables_that_are_none(tmp_path, text, said):
    with pytest.raises(InputError, match=said):
        read_levels(written(tmp_path, text, "levels.csv"))
