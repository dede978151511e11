"""`simharness start` as it is answered: through a pipe, where nobody waits for an answer.

Expected: the answers themselves, and the sentences of `simharness design`.
"""

from __future__ import annotations

import io
import re
import shlex

import pytest

from simharness.records import read_record

ANSWERS = {
    "band": "5.725-5.875",
    "target": "-12",
    "metal": "tube 44x24x2",
    "row": "2",
    "feed": "bent-probe",
    "connector": "panel",
    "material": "copper",
    "slots": "3 square",
    "step": "0.5",
    "file": "mine.toml",
}
"""Invented."""


@pytest.fixture
def answered(call, monkeypatch):
    """A function that answers the questions: exit code, standard output, standard error."""

    def run(*answers: str) -> tuple[int, str, str]:
        monkeypatch.setattr("sys.stdin", io.StringIO("".join(f"{answer}\n" for answer in answers)))
        return call("start")

    return run


def test_answers_make_the_record_and_the_command_that_makes_it_again(answered, call, tmp_path):
    code, out, err = answered(*ANSWERS.values())
    assert (code, err) == (0, "")
    record = read_record(tmp_path / "mine.toml")
    band, guide, feed, slot = record.band, record.guide, record.feed, record.slots[0]
    assert (record.name, len(record.slots)) == ("mine", 2)
    assert (band.low_ghz, band.high_ghz, band.target_s11_db) == (5.725, 5.875, -12.0)
    assert (guide.a_mm, guide.b_mm, guide.material) == (40.0, 20.0, "copper")
    assert (feed.kind, feed.tip, feed.connector) == ("bent-probe", "soldered", "panel")
    assert (slot.width_mm, slot.ends) == (3.0, "square") and (2 * slot.length_mm).is_integer()
    assert "simharness solve mine.toml" in out
    line = re.search(r"^  (simharness design .*)$", out, re.MULTILINE)[1]
    before = (tmp_path / "mine.toml").read_text()
    assert call(*shlex.split(line)[1:], "--replace")[0] == 0
    assert (tmp_path / "mine.toml").read_text() == before


def test_enter_takes_what_design_takes(answered, monkeypatch):
    """Only the band has to be said; the computation is left out."""
    typed = []
    monkeypatch.setattr("simharness.cli.commands.start._design", typed.extend)
    code, out, err = answered(*[""] * len(ANSWERS))
    assert (code, err, typed) == (0, "", ["--frequency", "5.8", "--out", "8-slot-5g8.toml"])
    shown = re.findall(r" \[([^]]*)\]: ", out)
    assert shown == [
        "5.8",
        "-10",
        "guide WR-159",
        "8",
        "probe",
        "bare",
        "brass",
        "2.5 round",
        "0.1",
        "8-slot-5g8.toml",
    ]


@pytest.mark.parametrize(
    ("question", "bad", "sentence"),
    [
        (
            "band",
            "soon",
            "band = soon: must be a centre such as 5.8, or two edges such as 2.4-2.4835, in GHz",
        ),
        (
            "band",
            "5.9-5.7",
            "low, high = 5.9 to 5.7 GHz: the lower edge comes first, and 5.8 GHz must lie between the two",
        ),
        ("band", "0", "Invalid value for '--frequency': 0 is not in the range 0.1<=x<=100"),
        ("target", "-1", "Invalid value for '--target': -1 is not in the range -40<=x<=-3"),
        ("target", "low", "Invalid value for '--target': 'low' is not a number."),
        (
            "metal",
            "plank 20",
            (
                "metal = plank 20: must be one of guide, tube, round, sheet, and its size, such as 'tube"
                " 50x25x2'"
            ),
        ),
        ("metal", "tube 44x24", "tube = 44x24: must be 3 numbers in mm with x between them, such as 50x25x2"),
        ("metal", "WR-90", "guide = WR-90: 5.8 GHz hardly travels in it"),
        ("material", "cheese", "guide.material = cheese: must be one of perfect, silver"),
        ("row", "50", "Invalid value for '--slots': 50 is not in the range 1<=x<=40."),
        ("row", "many 3", "row = many 3: must be a number of slots, or 'gain' in dBi, or 'beam' in degrees"),
        ("row", "gain 40", "gain = 40 dBi: "),
        ("feed", "probe open", "tip = open: only with --feed bent-probe"),
        ("connector", "glue", "Invalid value for '--connector': 'glue' is not one of"),
        ("slots", "3 wavy", "slots = 3 wavy: must be a width in mm, the ends (round or square), or both"),
        ("slots", "9", "slot width = 9 mm: must be less than a tenth of a wavelength, 5.2 mm"),
        ("step", "0", "Invalid value for '--step': 0 is not in the range 0<x<=5"),
        ("file", "a\tb.toml", "Invalid value: 'a\\tb.toml' holds control characters: rename it."),
        ("file", "none/a.toml", "out = none/a.toml: there is no folder none; make it first"),
    ],
    ids=lambda v: v.replace(" ", "_") if len(v) < 12 else "",
)
def test_a_bad_answer_is_refused_as_the_option_is_and_asked_again(
    answered, monkeypatch, question, bad, sentence
):
    typed = []
    monkeypatch.setattr("simharness.cli.commands.start._design", typed.extend)
    before = list(ANSWERS).index(question)
    code, out, err = answered(*list(ANSWERS.values())[:before], bad, *list(ANSWERS.values())[before:])
    assert (code, err) == (0, "") and f"\n  {sentence}" in out
    assert typed[-2:] == ["--out", "mine.toml"] and bad not in typed


def test_a_round_tube_is_not_asked_for_its_feed(answered, monkeypatch):
    typed = []
    monkeypatch.setattr("simharness.cli.commands.start._design", typed.extend)
    code, out, _ = answered("2.44", "", "round 88x1", "gain 10", "stripped", "", "", "", "")
    assert code == 0 and "Feed: " not in out
    assert typed[:8] == ["--frequency", "2.44", "--round", "88x1", "--gain", "10", "--connector", "stripped"]


def test_a_file_that_is_there_is_replaced_only_when_asked(answered, monkeypatch, tmp_path):
    (tmp_path / "mine.toml").write_text("mine")
    typed = []
    monkeypatch.setattr("simharness.cli.commands.start._design", typed.extend)
    assert answered(*ANSWERS.values(), "no", "other.toml")[0] == 0
    assert typed[-2:] == ["--out", "other.toml"]
    assert answered(*ANSWERS.values(), "yes")[0] == 0
    assert typed[-3:] == ["--out", "mine.toml", "--replace"]


@pytest.mark.parametrize("count", [0, 1, 5, 10])
def test_the_end_of_input_is_a_clean_end(answered, tmp_path, count):
    (tmp_path / "mine.toml").write_text("mine")
    code, _, err = answered(*list(ANSWERS.values())[:count])
    assert code == 130 and err.endswith("interrupted: nothing was kept\n")
    assert [path.name for path in tmp_path.iterdir()] == ["mine.toml"] and (
        tmp_path / "mine.toml"
    ).read_text() == "mine"
