"""What the page's view of the finished antenna stands on, without a browser: what is typed, work, curves."""

from __future__ import annotations

import json
import tomllib
from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from scipy.interpolate import CubicSpline
from shaped_records import SHIPPED

import simharness
from simharness.errors import HarnessError, InputError
from simharness.page.built.answers import Asked, BuiltAnswer, MendAnswer
from simharness.page.built.charts import finished_options
from simharness.page.built.sheet import LONGEST, READ, WITHIN, Sheet, Sheets
from simharness.page.built.work import work
from simharness.page.compare.dropped import dropped
from simharness.records import parse_record
from simharness.workshop.dimensions import dimensions
from simharness.workshop.form import form_text
from simharness.workshop.readings import parsed_readings

ROOT = Path(__file__).parents[2]
SMALL = simharness.read_record(ROOT / "docs" / "four-slot-9g6.toml")
FIVE = SHIPPED["five-slot-2g45"]
TABLE = (ROOT / "docs" / "readings-five-slot-2g45.csv").read_bytes()


def dimension(record, name):
    return next(one for one in dimensions(record) if one.name == name)


def typed(**read):
    """A sheet with some readings ('slot_1_length': "15.9")."""
    sheet = Sheet()
    for name, words in read.items():
        sheet.type(name.replace("_", " "), READ, words)
    return sheet


@pytest.mark.parametrize(
    ("read", "within", "said"),
    [
        ("", "", ""),
        ("15.9", "", ""),
        (" 15,9 ", "0,2", ""),
        ("abc", "", "slot 1 length, read in mm = abc: must be a number of mm, or left blank"),
        ("nan", "", "slot 1 length, read in mm = nan: must be a number of mm"),
        ("1e9", "", "must be from 12.4 to 18.6: slot 1 length is drawn 15.5"),
        ("15.9", "9", "within_mm = 9: must be from 0.001 to 5"),
        ("", "0.1", "slot 1 length: right within 0.1 mm, but what was read is blank; type it"),
        ("<b>", "", "read in mm = <b>: must be a number"),
    ],
)
def test_a_cell_that_cannot_be_is_told_and_kept(read, within, said):
    """The limits are a tenth of a wavelength of 9.6 GHz, 3.12 mm, beside what is drawn."""
    sheet = typed(slot_1_length=read)
    sheet.type("slot 1 length", WITHIN, within)
    found = sheet.refused(SMALL, dimension(SMALL, "slot 1 length"))
    assert said in found and bool(said) == bool(found)
    assert sheet.cells("slot 1 length") == [read, within]
    if said:
        with pytest.raises(HarnessError) as error:
            sheet.ask(SMALL, ROOT)
        assert str(error.value) == found


def test_what_is_typed_is_the_table_that_the_command_reads():
    sheet = typed(slot_1_length="15,9", probe_height="6.0")
    sheet.type("probe height", WITHIN, "0.25")
    found = parsed_readings(sheet.table(SMALL), "typed", SMALL)
    assert {row.dimension.name: (row.read, row.within) for row in found.read} == {
        "probe height": (6.0, 0.25),
        "slot 1 length": (15.9, 0.1),
    }


def test_a_table_fills_the_form_and_a_wrong_one_leaves_it():
    sheet = typed(probe_height="1")
    assert sheet.fill(FIVE, "mine.csv", TABLE) == 9
    assert sheet.cells("probe height") == ["23.4", "0.3"] and sheet.cells("guide width") == ["90.2", ""]
    again, first = (parsed_readings(text, "typed", FIVE) for text in (sheet.table(FIVE), TABLE.decode()))
    assert np.array_equal(again.amounts, first.amounts)
    assert np.array_equal(again.covariance, first.covariance)
    before = dict(sheet.typed)
    for data, said in (
        (b"\xff\xfe\x00", "it is not UTF-8 text"),
        (b"a,b\n1,2\n", "must be headed by number, dimension"),
        (b"x" * 200_000, "must be at most 100 kB"),
        (form_text(SMALL).replace("15.5,,", "15.5,15.5,").encode(), "these are readings of another"),
    ):
        with pytest.raises(InputError) as error:
            sheet.fill(FIVE, "<b>.csv", data)
        assert said in str(error.value) and sheet.typed == before


def test_what_was_replaced_can_be_taken_back():
    sheet = typed(probe_height="abc")
    sheet.replace({})
    sheet.replace({})  # of nothing there is nothing to take back
    sheet.take_back()
    assert sheet.cells("probe height")[0] == "abc" and sheet.before is None


def test_nothing_known_is_nothing_to_work_out():
    sheet = Sheet()
    with pytest.raises(InputError, match="type at least one of them"):
        sheet.ask(SMALL, ROOT)
    sheet.file = dropped("a.s1p", b"")
    assert sheet.ask(SMALL, ROOT).readings is None
    sheet.type("probe height", READ, "6" * 1000)
    assert sheet.cells("probe height") == ["6" * LONGEST, ""]


def test_what_is_shown_is_old_when_something_has_changed():
    sheet = typed(probe_height="6.0")
    assert not sheet.is_old(SMALL, ROOT)  # nothing is shown
    sheet.asked = sheet.ask(SMALL, ROOT)
    assert not sheet.is_old(SMALL, ROOT)
    assert sheet.is_old(simharness.changed(SMALL, {"feed.height_mm": 6.5}), ROOT)
    sheet.type("probe height", READ, "6.1")
    assert sheet.is_old(SMALL, ROOT)


def test_each_record_of_a_tab_has_its_own_readings():
    """And keeps them under another name, and when it is opened again."""

    class Desk(SimpleNamespace):
        __hash__ = object.__hash__

    sheets, first, other = Sheets(), Desk(record=SMALL), Desk(record=FIVE)
    one = sheets.of(first)
    first.record = SMALL.model_copy(update={"name": "renamed"})
    assert sheets.of(first) is one and sheets.of(other) is not one
    assert sheets.of(Desk(record=first.record)) is one


class Heard:
    """A teller that keeps what it is told."""

    def __init__(self):
        self.parts, self.shares = [], []

    def note(self, text): ...

    def advance(self, share, seconds_left, text):
        self.shares.append(share)

    def done(self): ...

    def found(self, part):
        self.parts.append(part)


@pytest.fixture(scope="module")
def worked(tmp_path_factory):
    """Long slots in the small antenna, worked out as the page does, and by the library."""
    sheet = typed(**{f"slot_{n}_length": "16.1" for n in range(1, 5)}, probe_height="6.0")
    asked = sheet.ask(SMALL, ROOT / "docs" / "runs")
    teller, folder = Heard(), tmp_path_factory.mktemp("private")
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(folder)
        answer = work(asked, teller)
    run = simharness.open_run("four-slot-9g6", runs=ROOT / "docs" / "runs")
    built = simharness.as_built(SMALL, parsed_readings(asked.readings, "typed", SMALL), run=run)
    return teller, answer, built


def test_the_work_says_what_the_commands_say(worked):
    teller, answer, built = worked
    (part,) = teller.parts
    assert isinstance(part, BuiltAnswer) and isinstance(answer, MendAnswer)
    assert part.sentences[: len(built.sentences)] == built.sentences and part.state == "close"
    assert max(teller.shares) <= 1 and len(teller.shares) > 10
    mended = simharness.mend(built)
    assert [one.title for one in answer.operations]
    told = (*answer.head, *(text for one in answer.operations for text in one.sentences), *answer.rest)
    assert told == mended.sentences
    for one, record in zip(answer.operations, mended.records, strict=True):
        assert parse_record(tomllib.loads(one.record)) == record
    assert parse_record(tomllib.loads(part.record)) == built.record


def test_the_curves_are_those_of_the_figures(worked):
    """The worst of each curve in the band is the figure beside it; the sample lies around the curve."""
    teller, answer, built = worked
    (part,) = teller.parts
    curves, inside = part.curves, np.linspace(SMALL.band.low, SMALL.band.high, 61)
    for s11, worst in ((curves.before, built.study.drawn_db), (curves.after, built.worst_s11_db)):
        at = CubicSpline(curves.frequency, s11)(inside)
        assert 20 * np.log10(np.abs(at).max()) == pytest.approx(worst, abs=0.1)  # dB, of the interpolation
    assert np.all(curves.least <= curves.most)
    options = finished_options(SMALL, curves, "as drawn", "as built")
    json.dumps(options, allow_nan=False)
    assert [one["id"] for one in options["series"]] == ["span-low", "span-high", "target", "before", "after"]
    low, rise = (np.array(options["series"][n]["data"])[:, 1] for n in (0, 1))
    assert np.allclose(low + rise, np.clip(curves.most, -40, 0), rtol=0, atol=0.011)  # two decimals are kept
    after = answer.operations[0].curves
    done = np.abs(CubicSpline(after.frequency, after.after)(inside)).max()
    assert 20 * np.log10(done) < SMALL.band.target_s11_db < built.worst_s11_db


def test_as_drawn_is_what_the_run_says(worked):
    """The calibrated model gives the antenna as drawn the match of its full-wave run."""
    *_, built = worked
    run = simharness.open_run("four-slot-9g6", runs=ROOT / "docs" / "runs")
    assert built.study.drawn["worst_s11"] == pytest.approx(run.verdict.worst_s11.value, abs=0.2)
    assert built.study.drawn["gain"] == pytest.approx(run.figures["realized_gain"].value, abs=0.5)


def test_a_curve_that_cannot_be_read_is_called_as_its_owner_does(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    text = Sheet()
    text.file = dropped("<b>.s1p", b"# GHz S RI R 50\nx y z\n")
    asked = text.ask(SMALL, tmp_path)
    assert isinstance(asked, Asked)
    with pytest.raises(HarnessError) as error:
        work(asked, Heard())
    assert "<b>.s1p" in str(error.value) and "measured.s1p" not in str(error.value)
