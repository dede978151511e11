"""Bad input of every kind, over all commands: one sentence, the code of its kind, no traceback, quickly,
nothing written.

Each table is one test, which names all the rows that fail. Commands are called through `main`, the entry
point, in this process; all files are invented. Exit codes: README, which holds for the table in DEVELOPERS.md
too.
"""

from __future__ import annotations

import json
import os
import resource
import struct
import subprocess
import sys
import time
import zlib
from collections.abc import Callable
from pathlib import Path

import h5py
import numpy as np
import pytest

from simharness.files import atomic_write_text
from simharness.results.outputs import FORMAT_NAME, write_results
from simharness.runs import planning
from simharness.runs.store import Store
from simharness.solver.machine import Machine

MODELS = Path(__file__).parents[2] / "models"
RECORD = MODELS / "eight-slot-5g8.toml"
TEXT = RECORD.read_text(encoding="utf-8")
LINE, INPUT, MACHINE, STORE = 2, 3, 4, 7

QUICK_S = 5.0
"""Of processor time, so that the load of the machine does not count. The slowest case takes a fifth of it."""

Case = tuple[tuple[str, ...], int, str]


@pytest.fixture(autouse=True)
def solver(monkeypatch):
    """A machine that is said to have the solver: nothing here comes so far as to use it."""
    monkeypatch.setattr(planning, "machine", lambda: Machine("openEMS 0.0.35", 2))


def listing(folder: Path) -> set[tuple[str, int]]:
    return {(str(path.relative_to(folder)), path.lstat().st_mtime_ns) for path in folder.rglob("*")}


def complaints(call: Callable, folder: Path, cases: dict[str, Case]) -> list[str]:
    """What is wrong with the answers to the cases; nothing if all are as they should be."""
    wrong = []
    for name, (words, code, phrase) in cases.items():
        before, begun = listing(folder), time.process_time()
        try:
            found, out, err = call(*words)
        except BaseException as error:  # a traceback, which is what must not be
            wrong.append(f"{name}: {type(error).__name__}: {str(error)[:200]}")
            continue
        spent, line = time.process_time() - begun, err.rstrip("\n").split("\n")[-1]
        whole = (
            line.startswith("Error: ")
            if found == LINE
            else err == f"{line}\n" and line.startswith("simharness: ")
        )
        acts = [c for c in out + err if not (c.isprintable() or c == "\n")]
        for ok, what in (
            (found == code, f"code {found}, not {code}"),
            (out == "", f"printed {out[:80]!r}"),
            (whole, "not one sentence"),
            (phrase in line, f"does not say {phrase!r}"),
            (len(line) < 600, "too long"),
            (not acts, f"acts: {acts[:3]}"),
            (spent < QUICK_S, f"took {spent:.1f} s"),
            (listing(folder) == before, "wrote something"),
        ):
            if not ok:
                wrong.append(f"{name}: {what}: {err[:300]!r}")
    return wrong


# --- records ------------------------------------------------------------------------------------


def edited(old: str, new: str) -> str:
    assert old in TEXT
    return TEXT.replace(old, new)


def many_slots(count: int, **more: object) -> str:
    """The record with so many slots, one by one: all tiny, so that they would fit."""
    head, tail = TEXT.split("[slot_rule]")[0], TEXT[TEXT.index("[feed]") :]
    extra = "".join(f"{key} = {json.dumps(value)}\n" for key, value in more.items())
    slot = "[[slot]]\nposition_mm = {z}\noffset_mm = 3.0\nlength_mm = 1.1\nwidth_mm = 0.1\n" + extra
    return head + "".join(slot.format(z=30 + 200 * i / count) for i in range(count)) + tail


NESTED = "[" * 5000 + "]" * 5000
RECORDS: dict[str, tuple[str | bytes, str]] = {
    "nothing": ("", "the file is empty"),
    "noise": (bytes(range(256)), "not UTF-8"),
    "UTF-16": (TEXT.encode("utf-16"), "not UTF-8"),
    "a picture": (b"\x89PNG\r\n\x1a\n" + bytes(100), "not UTF-8"),
    "a byte that is no text": (TEXT.encode() + b"\xff", "not UTF-8"),
    "no TOML": ("{}", "must be valid TOML"),
    "a NUL": (TEXT + "\0", "must be valid TOML"),
    "brackets in brackets": (f"note = {NESTED}", "brackets are nested too deeply"),
    "tables in tables": ("a" + ".a" * 5000 + " = 1\n" + TEXT, "unknown key"),
    "inline tables": ("note = " + "{a=" * 3000 + "1" + "}" * 3000, "brackets are nested too deeply"),
    "a number of 5,000 digits": (edited("a_mm = 40.0", "a_mm = " + "9" * 5000), "must be valid TOML"),
    "a number of 1,000 digits": (
        edited("a_mm = 40.0", "a_mm = " + "9" * 1000),
        "a number of reasonable size",
    ),
    "too large": (TEXT + "#" * 200_000, "at most 0.2 MB are read"),
    "20,000 slots": (many_slots(20_000), "at most 0.2 MB are read"),
    "2,000 slots": (many_slots(2000), "at most 40 slots in one wall"),
    "41 slots in a wall": (many_slots(41), "slot = 41: so many lie in the front wall; at most 40"),
    "nan": (edited("a_mm = 40.0", "a_mm = nan"), "must be a finite number"),
    "inf": (edited("length_mm = 300.5", "length_mm = inf"), "must be a finite number"),
    "-inf": (edited("target_s11_db = -10.0", "target_s11_db = -inf"), "must be a finite number"),
    "1e400": (edited("height_mm = 11.5", "height_mm = 1e400"), "must be a finite number"),
    "text for a number": (edited("a_mm = 40.0", 'a_mm = "40"'), "written without quotes"),
    "truth for a number": (edited("a_mm = 40.0", "a_mm = true"), "must be a number"),
    "a date for a number": (edited("a_mm = 40.0", "a_mm = 2020-01-01"), "must be a number"),
    "a list for a table": (
        edited('[mounting]\naxis = "vertical"', '[[mounting]]\naxis = "vertical"'),
        "must be a table",
    ),
    "bell in the title": (edited("Eight-slot antenna", "\\u0007Eight"), "without control characters"),
    "escape in the title": (edited("Eight-slot antenna", "\\u001b[2JEight"), "without control characters"),
    "line turned around": (edited("Eight-slot antenna", "\\u202eEight"), "without control characters"),
    "two lines of title": (edited("Eight-slot antenna", "a\\nb"), "without control characters"),
    "escape in the note": (edited("Invented for", "\\u009b2J"), "free of control characters"),
    "escape in the name": (edited('name = "eight-slot-5g8"', 'name = "\\u001b"'), "a-z, 0-9 and hyphens"),
    "a path for a name": (edited('name = "eight-slot-5g8"', 'name = "../../x"'), "a-z, 0-9 and hyphens"),
    "escape in a key": (TEXT.replace("a_mm =", '"\\u001b[2J" = 1\na_mm ='), "unknown key"),
    "misspelt key": (
        edited("height_mm = 11.5", "height_mm = 11.5\nhight_mm = 11.5"),
        "unknown key (do you mean height_mm?)",
    ),
    "unit left out": (
        edited("far_end", "near") if "far_end" in TEXT else edited("make =", "length = 3\nmake ="),
        "(do you mean length_mm?)",
    ),
    "misspelt table": (
        TEXT.replace("[mounting]", '[mounting]\naxis = "vertical"\n[mountings]'),
        "unknown key (do you mean mounting?)",
    ),
    "MHz": (edited("high_ghz = 5.875", "high_ghz = 5875"), "(do you mean 5.875?)"),
    "Hz": (edited("high_ghz = 5.875", "high_ghz = 5.875e9"), "(do you mean 5.875?)"),
    "metres": (edited("a_mm = 40.0", "a_mm = 0.04"), "(do you mean 40?)"),
    "metres of a slot": (edited("length_mm = 25.2", "length_mm = 0.0252"), "(do you mean 25.2?)"),
    "micrometres": (edited("front_wall_mm = 2.0", "front_wall_mm = 2000"), "(do you mean 2?)"),
}


def test_bad_records(call, tmp_path):
    for name, (content, _) in RECORDS.items():
        (tmp_path / f"{name}.toml").write_bytes(content if isinstance(content, bytes) else content.encode())
    cases = {name: (("check", f"./{name}.toml"), INPUT, phrase) for name, (_, phrase) in RECORDS.items()}
    assert not (wrong := complaints(call, tmp_path, cases)), "\n".join(wrong)


def test_what_is_no_file(call, tmp_path):
    """A device may have no end, and a named pipe waits for somebody who writes: every command refuses both,
    for every file it reads.
    """
    (
        os.mkfifo(tmp_path / "pipe.toml"),
        os.mkfifo(tmp_path / "pipe.s1p"),
        os.mkfifo(tmp_path / "pipe.csv"),
        os.mkfifo(tmp_path / "pipe.png"),
    )
    (tmp_path / "folder.toml").mkdir()
    (tmp_path / "loop.toml").symlink_to("loop.toml")
    sealed(tmp_path)
    reads = [
        ("check",),
        ("estimate",),
        ("solve", "--plan"),
        ("converge", "--plan"),
        ("tune", "--plan"),
        ("tolerance",),
        ("sheets",),
        ("sweep", "--plan", "--vary", "feed.height_mm=1,2"),
    ]
    cases: dict[str, Case] = {}
    for words in reads:
        cases[f"{words[0]} device"] = (*words, "/dev/zero"), INPUT, "it is a device or a pipe"
        cases[f"{words[0]} pipe"] = (*words, "pipe.toml"), INPUT, "it is a device or a pipe"
    cases |= {
        "folder": (("check", "folder.toml"), INPUT, "it is a folder"),
        "missing": (("check", "none.toml"), INPUT, "No such file"),
        "loop of links": (("check", "loop.toml"), INPUT, "must be a readable TOML file"),
        "long name": (("check", "x" * 400), INPUT, "the name is too long"),
        "below a file": (("check", "/dev/null/x.toml"), INPUT, "a part of the path is a file"),
        "escape in a name": (("check", "\x1b[2J.toml"), LINE, "holds control characters"),
        "two lines of name": (("check", "a\nb.toml"), LINE, "holds control characters"),
        "half a character in a name": (("check", "a\udcff.toml"), LINE, "holds control characters"),
        "Touchstone device": (("compare", "invented", "/dev/zero"), INPUT, "it is a device or a pipe"),
        "Touchstone pipe": (("compare", "invented", "pipe.s1p"), INPUT, "it is a device or a pipe"),
        "levels pipe": (
            ("compare", "invented", "pipe.csv", "--turned", "beam"),
            INPUT,
            "it is a device or a pipe",
        ),
        "picture pipe": (
            ("report", "invented", "--add", "pipe.png", "words"),
            INPUT,
            "it is a device or a pipe",
        ),
        "picture device": (
            ("report", "invented", "--add", "/dev/zero", "words"),
            INPUT,
            "it is a device or a pipe",
        ),
    }
    assert not (wrong := complaints(call, tmp_path, cases)), "\n".join(wrong)


# --- options ------------------------------------------------------------------------------------

DESIGN = ("design", "--frequency", "5.8")
LINK = ("link", "--frequency-ghz", "5.8", "--gain-dbi", "12", "--power-dbm", "20")
NUMBERS: dict[tuple[str, ...], tuple[str, ...]] = {
    ("design",): ("--frequency",),
    DESIGN: (
        "--beamwidth",
        "--gain",
        "--side-lobes",
        "--sheet",
        "--wall",
        "--cutter",
        "--wire",
        "--permittivity",
        "--bandwidth",
        "--load",
        "--residual-power",
        "--step",
    ),
    LINK: (
        "--gain-dbi",
        "--power-dbm",
        "--frequency-ghz",
        "--along-deg",
        "--across-deg",
        "--cable-db",
        "--other-gain-dbi",
        "--other-cable-db",
        "--distance-m",
        "--sensitivity-dbm",
        "--margin-db",
    ),
    ("solve", str(RECORD), "--plan"): ("--limit-minutes",),
    ("tune", str(RECORD), "--plan"): ("--step",),
    ("tolerance", str(RECORD)): ("--seam",),
    ("sheets", str(RECORD)): ("--inside-radius", "--k-factor", "--tab", "--lip", "--land", "--cutter"),
    ("compare", "invented", "x.s1p"): ("--delay-ps", "--connector-mm", "--frequency-ghz", "--other-tilt-deg"),
}


def test_no_option_takes_what_is_no_number(call, tmp_path):
    cases = {
        f"{words[0]} {option} {value}": (
            (*words, option, value),
            LINE,
            "is not a finite number" if value != "2x" else "is not a number",
        )
        for words, options in NUMBERS.items()
        for option in options
        for value in ("nan", "inf", "-inf", "1e400", "2x")
    }
    assert not (wrong := complaints(call, tmp_path, cases)), "\n".join(wrong)


OPTIONS: dict[str, Case] = {
    "no command": (("nonsense",), LINE, "No such command"),
    "escape for a command": (("\x1b[2J",), LINE, "No such command"),
    "no option": ((*DESIGN, "--slot", "8"), LINE, "No such option"),
    "MHz": (("design", "--frequency", "5800"), LINE, "(do you mean 5.8?)"),
    "Hz": ((*LINK[:1], "--frequency-ghz", "5.8e9", *LINK[3:]), LINE, "(do you mean 5.8?)"),
    "decimal comma": (("design", "--frequency", "5,8"), LINE, "(do you mean 5.8?)"),
    "metres of sheet": ((*DESIGN, "--sheet", "0.001"), LINE, "(do you mean 1?)"),
    "negative length": ((*DESIGN, "--sheet", "-1"), LINE, "is not in the range"),
    "no step": ((*DESIGN, "--step", "0"), LINE, "is not in the range"),
    "much power": ((*LINK[:-1], "1e300"), LINE, "is not in the range"),
    "far away": ((*LINK, "--distance-m", "1e300"), LINE, "is not in the range"),
    "many slots": ((*DESIGN, "--slots", "20000"), LINE, "is not in the range"),
    "many digits": ((*DESIGN, "--slots", "9" * 5000), LINE, "is not a valid integer"),
    "huge guide": ((*DESIGN, "--guide", "9" * 400 + "x20"), INPUT, "2 numbers in mm"),
    "huge tube": ((*DESIGN, "--tube", "1e9x20x1"), INPUT, "3 numbers in mm"),
    "nan tube": ((*DESIGN, "--round", "nanx1"), INPUT, "2 numbers in mm"),
    "no size": ((*DESIGN, "--coax", "0x0"), INPUT, "2 numbers in mm"),
    "escape in a size": ((*DESIGN, "--tube", "\x1b[31m"), INPUT, "3 numbers in mm"),
    "escape in a guide": ((*DESIGN, "--guide", "WR\x1b[31m"), INPUT, "must be one of"),
    "escape in a material": ((*DESIGN, "--material", "tin\x07"), INPUT, "must be one of"),
    "no angle": ((*LINK, "--polarization", "nan"), INPUT, "must be horizontal"),
    "escape for an angle": ((*LINK, "--other-polarization", "\x1b[2J"), INPUT, "must be horizontal"),
    "out in no folder": ((*DESIGN, "--out", "none/x.toml"), INPUT, "there is no folder"),
    "escape in out": ((*DESIGN, "--out", "\x07.toml"), LINE, "holds control characters"),
    "NUL in out": ((*DESIGN, "--out", "a\0.toml"), LINE, "holds control characters"),
    "vary nan": (
        ("sweep", str(RECORD), "--plan", "--vary", "feed.height_mm=NaN,5"),
        INPUT,
        "no finite number",
    ),
    "vary inf": (
        ("sweep", str(RECORD), "--plan", "--vary", "feed.height_mm=1:inf:3"),
        INPUT,
        "of reasonable size",
    ),
    "vary to the end": (
        ("sweep", str(RECORD), "--plan", "--vary", "feed.height_mm=-1e308:1e308:9"),
        INPUT,
        "of reasonable size",
    ),
    "vary often": (
        ("sweep", str(RECORD), "--plan", "--vary", "feed.height_mm=1:2:1000000000"),
        INPUT,
        "a count from 2 to",
    ),
    "vary nested": (
        ("sweep", str(RECORD), "--plan", "--vary", f"feed.hight_mm={NESTED}"),
        INPUT,
        "unknown key",
    ),
    "vary a misspelt field": (
        ("sweep", str(RECORD), "--plan", "--vary", "feed.hight_mm=5,6"),
        INPUT,
        "(do you mean height_mm?)",
    ),
    "vary a misspelt table": (
        ("sweep", str(RECORD), "--plan", "--vary", "feeds.height_mm=5,6"),
        INPUT,
        "(do you mean feed?)",
    ),
    "vary the slot of a superscript": (
        ("sweep", str(RECORD), "--plan", "--vary", "slot.\u00b2.length_mm=5,6"),
        INPUT,
        "one of the slots",
    ),
    "vary a far slot": (
        ("sweep", str(RECORD), "--plan", "--vary", f"slot.{'9' * 5000}.length_mm=5,6"),
        INPUT,
        "one of the slots",
    ),
    "vary an escape": (("sweep", str(RECORD), "--plan", "--vary", "\x1b[2J=5,6"), INPUT, "unknown key"),
    "many points": (("estimate", str(RECORD), "--points", "1000000000"), LINE, "is not in the range"),
    "runs in a file": (("show", "x", "--runs", str(RECORD)), MACHINE, "a part of the path is a file"),
    "escape for a run": (("show", "\x1b[2J"), STORE, "there is no run"),
    "two lines for a run": (("show", "a\nb"), STORE, "there is no run"),
    "path for a run": (("show", "../../etc"), STORE, "there is no run"),
    "long run": (("show", "x" * 100_000), STORE, "there is no run"),
}


def test_bad_options(call, tmp_path):
    assert not (wrong := complaints(call, tmp_path, OPTIONS)), "\n".join(wrong)


# --- files from the bench -----------------------------------------------------------------------

POINTS = "".join(f"{5.7 + 0.01 * i:.2f} 0.1 0.2\n" for i in range(9))
MEASURED: dict[str, tuple[str, str | bytes, str]] = {
    "two ports by name": ("x.s2p", POINTS, "a file of 2 ports"),
    "no Touchstone name": ("x.zip", POINTS, "no Touchstone name"),
    "nothing": ("x.s1p", "", "holds 0 frequencies"),
    "noise": ("x.s1p", bytes(range(256)) * 10, "cannot be read as a Touchstone one-port"),
    "too large": ("x.s1p", "! long\n" * 2_000_000, "at most 10 MB are read"),
    "ports beyond count": (
        "x.s1p",
        "[Version] 2.0\n# GHz S RI R 50\n[Number of Ports] 300000000\n! Port[1] = a\n" + POINTS,
        "not one of 300000000 ports",
    ),
    "words": ("x.s1p", "# GHz S RI R 50\none two three\n", "cannot be read as a Touchstone one-port"),
    "nan": ("x.s1p", "# GHz S RI R 50\n" + POINTS + "5.9 nan nan\n", "entries that are no numbers"),
    "inf": ("x.s1p", "# GHz S RI R 50\n" + POINTS + "5.9 1e400 0\n", "entries that are no numbers"),
    "two points": ("x.s1p", "# GHz S RI R 50\n5.7 0 0\n5.8 0 0\n", "at least 5 are needed"),
    "no antenna": (
        "x.s1p",
        "# GHz S RI R 50\n" + POINTS.replace("0.1", "9.1"),
        "a passive antenna stays below 1",
    ),
    "reference of nothing": (
        "x.s1p",
        "# GHz S RI R 0\n" + POINTS,
        "a reference impedance that is not positive",
    ),
    "reference of nan": (
        "x.s1p",
        "# GHz S RI R nan\n" + POINTS,
        "a reference impedance that is not positive",
    ),
    "no levels": ("x.csv", "", "at least 5 are needed"),
    "noise for levels": ("x.csv", bytes(range(256)), "not UTF-8"),
    "levels that are none": (
        "x.csv",
        "angle,level\n" + "".join(f"{i},nan\n" for i in range(9)),
        "must be an angle in degrees and a level",
    ),
    "escape for a level": ("x.csv", "0,1\n1,\x1b[2J\n", "must be an angle in degrees and a level"),
    "large levels": ("x.csv", "0,1\n" * 3_000_000, "at most 10 MB are read"),
}


def test_bad_files_from_the_bench(call, tmp_path):
    sealed(tmp_path)
    cases: dict[str, Case] = {}
    for number, (name, (file, content, phrase)) in enumerate(MEASURED.items()):
        path = tmp_path / f"{number}{file}"
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        cases[name] = ("compare", "invented", path.name, "--turned", "beam"), INPUT, phrase
    assert not (wrong := complaints(call, tmp_path, cases)), "\n".join(wrong)


def png(width: int, height: int, data: bytes = b"") -> bytes:
    """A grey PNG with what is said to be its picture (PNG specification, W3C 2003, chapters 5 and 11)."""
    chunks = (
        (b"IHDR", struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)),
        (b"IDAT", zlib.compress(data)),
        (b"IEND", b""),
    )
    return b"\x89PNG\r\n\x1a\n" + b"".join(
        struct.pack(">I", len(content)) + kind + content + struct.pack(">I", zlib.crc32(kind + content))
        for kind, content in chunks
    )


def test_bad_pictures_for_a_report(call, tmp_path):
    sealed(tmp_path)
    pictures = {
        "no picture": (b"GIF89a", "must be a PNG picture"),
        "head only": (png(9, 9)[:20], "pixels"),
        "cut off": (png(99, 99), "cannot be unpacked"),
        "bomb": (png(60_000, 60_000), "at most 40 million are taken in"),
        "of no size": (png(0, 9), "pixels"),
    }
    cases: dict[str, Case] = {}
    for name, (content, phrase) in pictures.items():
        (tmp_path / f"{name}.png").write_bytes(content)
        cases[name] = ("report", "invented", "--add", f"{name}.png", "a view"), INPUT, phrase
    (tmp_path / "good.png").write_bytes(png(1, 1, b"\0\0"))
    cases["escape in the words"] = (
        ("report", "invented", "--add", "good.png", "\x1b[2J"),
        INPUT,
        "without control characters",
    )
    cases["no words"] = ("report", "invented", "--add", "good.png", " "), INPUT, "say in words"
    assert not (wrong := complaints(call, tmp_path, cases)), "\n".join(wrong)


# --- run folders from elsewhere -----------------------------------------------------------------

KEY = "0123456789abcdef"


def sealed(
    root: Path,
    label: str = "invented",
    spoil: Callable[[Path], object] = lambda folder: None,
    status: str = "finished",
) -> Path:
    """A run whose manifest is right whatever was done to its files before it was finished."""
    with Store(root / "runs").writer(KEY, label, replace=True) as writer:
        write_results(
            writer.path / "results.h5", {"frequency": np.linspace(5.7e9, 5.9e9, 5)}, {"note": "invented"}
        )
        from simharness.records import read_record

        atomic_write_text(
            writer.path / "record.json", read_record(RECORD).model_dump_json(by_alias=True, exclude_none=True)
        )
        spoil(writer.path)
        return writer.finalize(status).path


def hdf5(**contents: object) -> Callable[[Path], None]:
    """Replaces the result file by one of the right format with these contents, each made by a function of
    file and name.
    """

    def spoil(folder: Path) -> None:
        with h5py.File(folder / "results.h5", "w") as file:
            file.attrs["format"], file.attrs["format_version"] = FORMAT_NAME, 1
            for name, make in contents.items():
                make(file, name)

    return spoil


def dataset(shape: tuple[int, ...], dtype: object = float, **how: object) -> Callable:
    return lambda file, name: file.create_dataset(name, shape, dtype, **how)


def attribute(value: object) -> Callable:
    return lambda file, name: file.attrs.__setitem__(name, value)


BAND = np.linspace(5.7e9, 5.9e9, 50)


def rewritten(name: str, text: str | bytes) -> Callable[[Path], object]:
    return lambda folder: (folder / name).write_bytes(text if isinstance(text, bytes) else text.encode())


NUMBER = "is damaged or foreign"
HOSTILE: dict[str, tuple[Callable[[Path], object], str]] = {
    "compressed zeros": (
        hdf5(frequency=dataset((50_000,), compression="gzip", chunks=(50_000,))),
        "not stored number by number",
    ),
    "never written": (hdf5(frequency=dataset((99_999,))), "not stored number by number"),
    "huge": (hdf5(frequency=dataset((10**12,))), "at most 100000 are read"),
    "huge and compressed": (
        hdf5(e_theta=dataset((900, 3000, 7000), complex, compression="gzip")),
        "not stored number by number",
    ),
    "kept elsewhere": (
        hdf5(frequency=dataset((8,), external=[("/etc/passwd", 0, 64)])),
        "not stored number by number",
    ),
    "link to another file": (
        hdf5(frequency=lambda f, n: f.__setitem__(n, h5py.ExternalLink("/etc/passwd", "/x"))),
        "frequency is a link",
    ),
    "link in circles": (
        hdf5(frequency=lambda f, n: f.__setitem__(n, h5py.SoftLink("/frequency"))),
        "frequency is a link",
    ),
    "a group for an array": (hdf5(frequency=lambda f, n: f.create_group(n)), "is no array"),
    "text for numbers": (hdf5(frequency=lambda f, n: f.__setitem__(n, ["a", "b"])), "float64 is wanted"),
    "records for numbers": (hdf5(frequency=dataset((3,), [("a", float), ("b", int)])), "float64 is wanted"),
    "single numbers": (
        hdf5(frequency=lambda f, n: f.__setitem__(n, np.zeros(5, np.float32))),
        "float64 is wanted",
    ),
    "no axis": (hdf5(frequency=lambda f, n: f.__setitem__(n, 1.0)), "0 axes"),
    "too many axes": (hdf5(frequency=lambda f, n: f.__setitem__(n, np.zeros((2, 2)))), "2 axes"),
    "nothing at all": (hdf5(frequency=dataset((), h5py.Empty("f8").dtype)), "0 axes"),
    "no coordinates": (
        hdf5(s11=lambda f, n: f.__setitem__(n, np.zeros(5, complex))),
        "lacks its coordinate array",
    ),
    "uneven": (
        hdf5(
            frequency=lambda f, n: f.__setitem__(n, np.ones(5)),
            s11=lambda f, n: f.__setitem__(n, np.zeros(9, complex)),
        ),
        "entries along f",
    ),
    "no numbers": (hdf5(frequency=lambda f, n: f.__setitem__(n, np.full(5, np.nan))), "NaN"),
    "array for an attribute": (hdf5(solver=attribute(np.zeros(9))), "its attribute solver"),
    "text for seconds": (hdf5(solver_seconds=attribute("soon")), "its attribute solver_seconds"),
    "no seconds": (hdf5(solver_seconds=attribute(float("inf"))), "its attribute solver_seconds"),
    "not rising": (
        hdf5(frequency=lambda f, n: f.__setitem__(n, np.ones(5))),
        "is not a rising row of numbers",
    ),
    "of another band": (
        hdf5(frequency=lambda f, n: f.__setitem__(n, np.linspace(1e9, 2e9, 50))),
        "0 frequencies lie in the band",
    ),
    "of other slots": (
        hdf5(frequency=lambda f, n: f.__setitem__(n, BAND), slot_z=lambda f, n: f.__setitem__(n, np.ones(3))),
        "3 slots instead of 8",
    ),
    "half a sphere": (
        hdf5(
            frequency=lambda f, n: f.__setitem__(n, BAND),
            theta=lambda f, n: f.__setitem__(n, np.linspace(0, 1, 91)),
            phi=lambda f, n: f.__setitem__(n, np.linspace(0, 6, 91)),
        ),
        "0 to pi in equal steps",
    ),
    "no S11": (hdf5(frequency=lambda f, n: f.__setitem__(n, BAND)), "the run holds no s11"),
    "another file": (rewritten("results.h5", "simple text"), "cannot be read as HDF5"),
    "head of HDF5": (rewritten("results.h5", b"\x89HDF\r\n\x1a\n" + bytes(90)), "cannot be read as HDF5"),
    "a pickle": (rewritten("results.h5", b"cos\nsystem\n(S'touch RAN'\ntR."), "cannot be read as HDF5"),
    "no results": (lambda folder: (folder / "results.h5").unlink(), "there is no result file"),
    "no record": (lambda folder: (folder / "record.json").unlink(), "holds no design record"),
    "record: no JSON": (rewritten("record.json", "{"), "it is not JSON"),
    "record: brackets in brackets": (rewritten("record.json", "[" * 100_000), "it is not JSON"),
    "record: a number of 5,000 digits": (rewritten("record.json", "9" * 5000), "it is not JSON"),
    "record: noise": (rewritten("record.json", bytes(range(256))), "it is not JSON"),
    "record: large": (rewritten("record.json", " " * 2_000_000), "at most 1 MB are read"),
    "record: a list": (rewritten("record.json", "[1]"), "must be a table"),
    "record: nothing in it": (rewritten("record.json", "null"), "must be a table"),
    "record: another format": (
        rewritten("record.json", RECORD.name.join(['{"schema": 99, "name": "x", "', '": 1}'])),
        "schema = 99",
    ),
}
COMMANDS = (
    ("show",),
    ("report",),
    ("compare", "x.s1p"),
    ("link", "--power-dbm", "20"),
    ("tolerance", str(RECORD), "--run"),
)


def test_hostile_runs(call, tmp_path):
    """Every file agrees with the manifest: it is the content that lies."""
    (tmp_path / "x.s1p").write_text("# GHz S RI R 50\n" + POINTS)
    wrong = []
    for number, (name, (spoil, phrase)) in enumerate(HOSTILE.items()):
        run = sealed(tmp_path, f"r{number}", spoil)
        command, *more = COMMANDS[0 if "no S11" in name else number % len(COMMANDS)]
        if command == "compare":
            words: tuple[str, ...] = (command, run.name, *more)
        else:
            words = (command, *more, run.name)
        for asked in {words, ("show", run.name)}:
            code, _out, err = call(*asked)
            if (
                code != STORE
                or phrase not in err
                or "Traceback" in err
                or not err.startswith("simharness: ")
                or "\x1b" in err
            ):
                wrong.append(f"{name}, {asked[0]}: code {code}: {err[:300]!r}")
    assert wrong == [] and not (tmp_path / "RAN").exists()


def manifest(**changed: object) -> Callable[[dict], object]:
    return lambda content: content.update(changed)


MANIFESTS: dict[str, tuple[Callable[[dict], object], str]] = {
    "a file outside": (
        lambda m: m["files"].update({"../../../etc/passwd": {"bytes": 1, "sha256": "0"}}),
        "outside of the run",
    ),
    "a file from the root": (
        lambda m: m["files"].update({"/etc/passwd": {"bytes": 1, "sha256": "0"}}),
        "outside of the run",
    ),
    "an escape in a file": (
        lambda m: m["files"].update({"\x1b[2J": {"bytes": 1, "sha256": "0"}}),
        "outside of the run",
    ),
    "no files": (manifest(files=[1, 2]), "an entry is missing or wrong"),
    "infinite bytes": (
        lambda m: m["files"]["record.json"].update(bytes=float("inf")),
        "an entry is missing or wrong",
    ),
    "no moment": (manifest(created="\x1b[2J"), "an entry is missing or wrong"),
    "a number for a label": (manifest(label=7), "an entry is not text"),
    "another label": (manifest(label="\x1b[2J"), "does not fit its manifest"),
    "another format": (manifest(format="x"), "is not a run folder of this program"),
    "a later format": (manifest(format_version=10**9), "reads up to"),
    "truth for a version": (manifest(format_version="1"), "reads up to"),
}


def test_hostile_manifests(call, tmp_path):
    wrong = []
    for number, (name, (spoil, phrase)) in enumerate(MANIFESTS.items()):
        run = sealed(tmp_path, f"m{number}")
        content = json.loads((run / "manifest.json").read_text())
        spoil(content)
        (run / "manifest.json").write_text(json.dumps(content))
        for words in (("show", run.name), ("runs",)):
            code, out, err = call(*words)
            listed = words == ("runs",)
            if (
                code != (0 if listed else STORE)
                or (not listed and phrase not in err)
                or "Traceback" in err
                or "\x1b" in out + err
            ):
                wrong.append(f"{name}, {words[0]}: code {code}: {out[:100]!r} {err[:300]!r}")
    assert not wrong, "\n".join(wrong)


def test_a_link_in_a_run_folder_is_not_followed(call, tmp_path):
    """Size and checksum of what it leads to would be right."""
    run = sealed(tmp_path)
    os.rename(run / "results.h5", tmp_path / "elsewhere.h5")
    (run / "results.h5").symlink_to(tmp_path / "elsewhere.h5")
    code, out, err = call("show", run.name)
    assert (code, out) == (STORE, "") and "file results.h5: it is missing" in err


def test_what_a_failed_run_says_cannot_act(call, tmp_path):
    """The reason quotes the transcript of a program."""
    with Store(tmp_path / "runs").writer(KEY, "invented") as writer:
        run = writer.fail("its last words: \x1b]0;title\x07\x9b2J").path
    code, out, err = call("show", run.name)
    assert (code, out) == (STORE, "") and err.count("\n") == 1 and "\\x1b]0;title\\x07\\x9b2J" in err
    assert not {"\x1b", "\x07", "\x9b"} & set(err + call("runs")[1])


def test_a_device_without_end_takes_no_memory(tmp_path):
    """In a process of its own that may take 3 GB: address space, of which the libraries alone reserve one."""
    done = subprocess.run(
        [sys.executable, "-m", "simharness.cli.main", "check", "/dev/zero"],
        cwd=tmp_path,
        capture_output=True,
        text=True,
        timeout=60,
        preexec_fn=lambda: resource.setrlimit(resource.RLIMIT_AS, (3 << 30, 3 << 30)),
    )
    assert (done.returncode, done.stdout) == (INPUT, "")
    assert done.stderr.startswith("simharness: record = /dev/zero: ") and "device or a pipe" in done.stderr
    assert done.stderr.count("\n") == 1
