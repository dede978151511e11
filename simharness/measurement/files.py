"""Measured data: a reflection as a Touchstone file, received levels as a plain table."""

from __future__ import annotations

import io
import re
import warnings
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from simharness.errors import InputError
from simharness.files import input_bytes, input_text
from simharness.printable import quoted
from simharness.records import REFERENCE_OHM

if TYPE_CHECKING:
    from skrf import Network

MIN_POINTS = 5
"""Least number of frequencies or angles of a measured curve."""

MAX_BYTES = 10_000_000
"""Largest size of a measured file: about two hundred thousand frequencies."""

LARGEST_REFLECTION = 1.1
"""|S11| beyond this is no passive antenna but a broken file or calibration."""


@dataclass(frozen=True)
class OnePort:
    """A reflection over frequency.

    Attributes
    ----------
    frequency : (f,) array
        Hz, increasing.
    s11 : (f,) complex array
        Against 50 ohm.
    remarks : tuple of str
        What was changed in the numbers of the file.
    """

    frequency: NDArray
    s11: NDArray
    remarks: tuple[str, ...] = ()

    def at(self, frequency: NDArray) -> NDArray:
        """S11 at frequencies (n,) in Hz.

        The mean of the samples within half a step of each frequency, which reduces noise where the file is
        finer; linear interpolation where there are too few.
        """
        half = 0.5 * (frequency[1] - frequency[0]) if frequency.size > 1 else 0.0
        first = np.searchsorted(self.frequency, frequency - half)
        last = np.searchsorted(self.frequency, frequency + half)
        sums = np.concatenate([[0], np.cumsum(self.s11)])
        count = last - first
        mean = (sums[last] - sums[first]) / np.maximum(count, 1)
        between = np.interp(frequency, self.frequency, self.s11)
        return np.where(count > 2, mean, between)


def read_one_port(path: Path | str) -> OnePort:
    """Read a Touchstone one-port; formats RI, MA, DB, all units, S, Y or Z, comments, versions 1 and 2.

    Another reference impedance is renormalised to 50 ohm.

    Raises
    ------
    InputError
        The file is missing, is no Touchstone one-port, or cannot be a passive antenna.
    """
    path = Path(path)
    text = _touchstone_text(path)
    kind = re.fullmatch(r"\.s(\d+)p", path.suffix.lower())
    if kind is None or kind[1] != "1":
        found = f"a file of {kind[1]} ports" if kind else "no Touchstone name"
        raise InputError(
            "measured file", path, f"must be a one-port ending in .s1p, not {found}; export S11 alone"
        )
    network, ohm = _network(path, text)
    frequency, place = np.unique(network.f, return_index=True)
    s11 = network.s[place, 0, 0]
    if not np.all(np.isfinite(s11)) or not np.all(np.isfinite(frequency)):
        raise InputError("measured file", path, "holds entries that are no numbers")
    if frequency.size < MIN_POINTS:
        raise InputError(
            "measured file", path, f"holds {frequency.size} frequencies; at least {MIN_POINTS} are needed"
        )
    if np.max(np.abs(s11)) > LARGEST_REFLECTION:
        raise InputError(
            "measured file",
            path,
            f"|S11| reaches {np.max(np.abs(s11)):.2f}; a passive antenna stays below 1: "
            "check the format line and the calibration",
        )
    return OnePort(frequency, s11, _remarks(ohm, network.f.size - frequency.size))


def _touchstone_text(path: Path) -> str:
    """Text of the file; comments may be in any encoding, numbers are ASCII in all of them."""
    data = input_bytes("measured file", path, MAX_BYTES)
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def _network(path: Path, text: str) -> tuple[Network, float]:
    """The file as a scikit-rf network against 50 ohm, and the reference in ohm that it came with."""
    from skrf import Network

    # The reader takes memory for as many ports as a file names.
    for ports in re.findall(r"(?im)^\s*\[number of ports\]\s*(\S*)", text):
        if ports != "1":
            raise InputError(
                "measured file",
                path,
                f"must be a one-port, not one of {quoted(ports)} ports; export S11 alone",
            )
    network = Network()
    stream = io.StringIO(text)
    stream.name = str(path)
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # frequencies out of order are sorted later
            network.read_touchstone(stream)
    except Exception:  # the reader raises errors of many kinds
        raise InputError(
            "measured file",
            path,
            "cannot be read as a Touchstone one-port: after comments (!) and the format "
            "line (#), each line must hold a frequency and two numbers, with decimal points; "
            "of a two-port export S11 alone",
        ) from None
    if network.nports != 1:
        raise InputError(
            "measured file", path, f"must be a one-port, not one of {network.nports} ports; export S11 alone"
        )
    if not np.all(np.isfinite(network.z0) & (network.z0.real > 0)):
        raise InputError(
            "measured file", path, "has a reference impedance that is not positive; usual are 50 ohm"
        )
    ohm = float(network.z0.real.ravel()[0]) if network.f.size else REFERENCE_OHM
    network.renormalize(REFERENCE_OHM)
    return network, ohm


def _remarks(ohm: float, dropped: int) -> tuple[str, ...]:
    said = []
    if abs(ohm - REFERENCE_OHM) > 1e-9:
        said.append(f"the file's reference of {ohm:g} ohm was turned into {REFERENCE_OHM:g} ohm")
    if dropped:
        said.append(f"{dropped} repeated frequencies were left out")
    return tuple(said)


@dataclass(frozen=True)
class Levels:
    """Received levels against the orientation of the antenna.

    Attributes
    ----------
    angle : (n,) array
        rad, increasing.
    level : (n,) array
        dB or dBm; only differences are used.
    """

    angle: NDArray
    level: NDArray


def read_levels(path: Path | str) -> Levels:
    """Read a table of two columns, angle in degrees and level in dB or dBm.

    Columns are separated by comma, semicolon, tab or blanks; with a semicolon or a tab, a comma
    is a decimal comma. Lines that begin with `#` and one line of headings are left out. Readings at
    the same angle are averaged.

    Raises
    ------
    InputError
        The file is missing, or a line holds anything else.
    """
    path = Path(path)
    text = input_text("table of levels", path, MAX_BYTES)
    rows: list[list[float]] = []
    for number, line in enumerate(text.splitlines(), 1):
        words = _cells(line)
        if not words or words[0].startswith("#"):
            continue
        try:
            values = [float(word) for word in words]
        except ValueError:
            if not rows and not any(character.isdigit() for character in words[0]):
                continue  # the headings
            values = []
        if len(values) != 2 or not np.all(np.isfinite(values)):
            raise InputError(
                f"{path}, line {number}", line.strip()[:40], "must be an angle in degrees and a level in dB"
            )
        rows.append(values)
    return _averaged(path, np.array(rows, float).reshape(-1, 2))


def _cells(line: str) -> list[str]:
    for mark in (";", "\t"):
        if mark in line:
            return [cell.strip().replace(",", ".") for cell in line.split(mark)]
    return line.replace(",", " ").split()


def _averaged(path: Path, rows: NDArray) -> Levels:
    angle, place = np.unique(rows[:, 0], return_inverse=True)
    if angle.size < MIN_POINTS:
        raise InputError(
            "table of levels", path, f"holds {angle.size} different angles; at least {MIN_POINTS} are needed"
        )
    level = np.bincount(place, rows[:, 1]) / np.bincount(place)
    return Levels(np.radians(angle), level)
