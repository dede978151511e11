"""`simharness sheets` on the command line: what it says, writes and refuses."""

from __future__ import annotations

from pathlib import Path

import pytest
from click.testing import CliRunner

from simharness.cli.main import cli
from simharness.errors import InputError, MachineError

RECORD = str(Path(__file__).parents[2] / "models" / "eight-slot-5g8.toml")


def test_it_says_what_it_wrote(tmp_path):
    found = CliRunner().invoke(
        cli, ["sheets", RECORD, "--make", "tube", "--paper", "letter", "--out", str(tmp_path / "new")]
    )
    assert found.exit_code == 0, found.output
    names = sorted(p.name for p in (tmp_path / "new").iterdir())
    assert names == sorted(
        [
            "build-list.txt",
            "eight-slot-5g8-letter.pdf",
            "readings.csv",
            *(
                f"{part}.{kind}"
                for part in ("tube-front", "tube-back", "near-end", "far-end")
                for kind in ("svg", "dxf")
            ),
        ]
    )
    assert all(name in found.output for name in names)
    assert (tmp_path / "new" / "build-list.txt").read_text(encoding="utf-8") in found.output
    assert "Print the PDF at 100 %" in found.output


def test_the_folder_is_named_after_the_record(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert CliRunner().invoke(cli, ["sheets", RECORD]).exit_code == 0
    assert (tmp_path / "sheets-eight-slot-5g8" / "tube-front.dxf").exists()


@pytest.mark.parametrize(
    ("name", "options", "first"),
    [
        ("eight-slot-5g8", [], "tube-front"),
        ("eight-slot-5g8", ["--make", "folded"], "front-wall"),
        ("five-slot-2g45", [], "front-wall"),
    ],
    ids=str,
)
def test_the_record_says_how_it_is_made_unless_the_option_does(tmp_path, name, options, first):
    record = Path(RECORD).with_name(f"{name}.toml")
    found = CliRunner().invoke(cli, ["sheets", str(record), *options, "--out", str(tmp_path / "new")])
    assert found.exit_code == 0, found.output
    assert (tmp_path / "new" / f"{first}.dxf").exists()


def test_a_cutter_wider_than_a_slot_is_refused_and_nothing_is_written(tmp_path):
    found = CliRunner().invoke(cli, ["sheets", RECORD, "--cutter", "3", "--out", str(tmp_path / "new")])
    assert isinstance(found.exception, InputError)
    assert str(found.exception) == "cutter = 3 mm: must be less than the narrowest opening, 3 mm"
    assert not (tmp_path / "new").exists()


def test_a_file_in_the_way_is_the_machines_fault(tmp_path):
    (tmp_path / "file").write_text("", encoding="utf-8")
    found = CliRunner().invoke(cli, ["sheets", RECORD, "--out", str(tmp_path / "file")])
    assert isinstance(found.exception, MachineError)


@pytest.mark.parametrize(
    "words",
    [["--cutter", "-1"], ["--paper", "a3"], ["--make", "cast"], ["--date", "31.1.2030"]],
    ids=" ".join,
)
def test_wrong_options_are_a_wrong_command_line(words):
    assert CliRunner().invoke(cli, ["sheets", RECORD, *words]).exit_code == 2
