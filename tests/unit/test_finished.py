"""Readings of a finished antenna: the table, what it refuses, and what the model makes of it."""

from __future__ import annotations

from copy import copy
from dataclasses import replace

import numpy as np
import pytest
from shaped_records import SHIPPED, varied

from simharness.constants import TWO_PI
from simharness.em.signals.match import worst_match
from simharness.em.slot.shape import rectangular_length
from simharness.errors import InputError
from simharness.estimate.antenna import estimate, estimated_match
from simharness.estimate.model_inputs import acting_slots
from simharness.improvement.change import Undo
from simharness.measurement.files import OnePort
from simharness.numerics.decibels import decibels
from simharness.records import parse_record, read_record
from simharness.records.text import plain_data
from simharness.verdict.error_bars import ESTIMATE_ERROR, estimate_error
from simharness.verdict.match_state import MatchState
from simharness.workshop.antenna import WITHIN_95, smooth_errors
from simharness.workshop.dimensions import dimensions, explicit_slots, tool_covariance
from simharness.workshop.form import form_text
from simharness.workshop.mend_messages import mend_sentences
from simharness.workshop.mending import MendStudy
from simharness.workshop.messages import built_sentences
from simharness.workshop.operations import operations
from simharness.workshop.readings import read_readings, usual_within, without_readings
from simharness.workshop.study import built_study, state_of_share
from simharness.workshop.weighing import weighed

SMALL = read_record("docs/four-slot-9g6.toml")


def filled(path, record, **read):
    """The empty form of a record with some readings written in ('slot_1_length': 12.3), as a file."""
    wanted = {name.replace("_", " "): value for name, value in read.items()}
    lines = []
    for line in form_text(record).splitlines():
        cells = line.split(",")
        if not line.startswith("#") and cells[1] in wanted:
            cells[3] = str(wanted.pop(cells[1]))
        lines.append(",".join(cells))
    assert not wanted
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


@pytest.mark.parametrize("name", SHIPPED)
def test_every_shipped_record_has_a_form_that_is_read_back(name, tmp_path):
    """Each dimension can be written in as drawn, and then nothing is off."""
    record = SHIPPED[name]
    read = {one.name.replace(" ", "_"): one.drawn for one in dimensions(record)}
    found = read_readings(filled(tmp_path / "form.csv", record, **read), record)
    assert len(found.read) == len(found.rows) > 0
    assert np.abs(found.amounts).max() < 1e-9
    built = plain_data(found.built(), rule=False)
    drawn = plain_data(explicit_slots(record), rule=False)
    assert built["guide"] == drawn["guide"] and built["slot"] == drawn["slot"]


def test_readings_reach_the_dimensions_that_they_are_of(tmp_path):
    """Two slots on either side: an offset is a distance from the centre line, so both go outwards."""
    first, second = SMALL.slots[:2]
    assert first.offset_mm * second.offset_mm < 0
    path = filled(
        tmp_path / "r.csv",
        SMALL,
        slot_1_offset=abs(first.offset_mm) + 0.3,
        slot_2_offset=abs(second.offset_mm) + 0.2,
        slot_2_length=second.length_mm - 0.4,
        guide_length=SMALL.guide.length_mm + 0.5,
        probe_height=SMALL.feed.height_mm - 0.6,
    )
    built = read_readings(path, SMALL).built()
    assert abs(built.slots[0].offset_mm) == pytest.approx(abs(first.offset_mm) + 0.3)
    assert abs(built.slots[1].offset_mm) == pytest.approx(abs(second.offset_mm) + 0.2)
    assert built.slots[1].length_mm == pytest.approx(second.length_mm - 0.4)
    assert built.guide.length_mm == pytest.approx(SMALL.guide.length_mm + 0.5)
    assert built.feed.height_mm == pytest.approx(SMALL.feed.height_mm - 0.6)


def test_tables_of_other_habits_are_read(tmp_path):
    """Semicolons with decimal commas, tabs, rows left out, another order, an uncertainty of its own."""
    length = SMALL.slots[0].length_mm
    path = tmp_path / "r.csv"
    path.write_text(
        f"dimension;read_mm;within_mm\nslot 1 length;{str(length + 0.2).replace('.', ',')};0,3\n", "utf-8"
    )
    (row,) = read_readings(path, SMALL).read
    assert row.amount == pytest.approx(0.2) and row.within == 0.3
    path.write_text(f"dimension\tread_mm\nSLOT 1 LENGTH\t{length:g}\n", "utf-8")
    (row,) = read_readings(path, SMALL, caliper_mm=0.2).read
    assert row.within == 0.2


def test_a_stock_tube_has_walls_of_one_thickness(tmp_path):
    """As the tube that is bought: one reading moves them all, and what was read can be drawn as sheets."""
    assert SMALL.guide.make == "tube" and SMALL.guide.front_wall_mm == SMALL.guide.other_walls_mm
    built = read_readings(filled(tmp_path / "r.csv", SMALL, wall=1.2), SMALL).built()
    assert (built.guide.front_wall_mm, built.guide.other_walls_mm) == (1.2, 1.2)


@pytest.mark.parametrize(
    "text, said",
    [
        ("", "must be headed by"),
        ("a,b\n1,2\n", "must be headed by"),
        ("dimension,read_mm\n", "at least one number"),
        ("dimension,read_mm\nslot 1 lenght,12\n", r"do you mean slot 1 length\?"),
        ("dimension,read_mm\nslot 1 length,long\n", "must be a number of mm"),
        ("dimension,read_mm\nslot 1 length,nan\n", "must be a number of mm"),
        ("dimension,read_mm\nslot 1 length,150\n", "slot 1 length is drawn"),
        ("dimension,read_mm\nprobe height,-3\n", "must be from"),
        ("dimension,read_mm,within_mm\nprobe height,6,0\n", "must be from 0.001 to 5"),
        ("dimension,drawn_mm,read_mm\nprobe height,3,5\n", "readings of another record"),
        ("dimension,read_mm\nprobe height,5\nprobe height,5\n", "stands there twice"),
        ("dimension,read_mm\nprobe height,5,9\n", "one cell for each column"),
    ],
)
def test_what_is_wrong_is_said_in_one_sentence(text, said, tmp_path):
    path = tmp_path / "r.csv"
    path.write_text(text, "utf-8")
    with pytest.raises(InputError, match=said) as found:
        read_readings(path, SMALL)
    assert "\n" not in str(found.value)


def test_a_caliper_reads_as_far_as_it_reaches():
    """150 mm, the usual size (common practice)."""
    long = next(one for one in dimensions(SHIPPED["five-slot-2g45"]) if one.name == "guide length")
    short = next(one for one in dimensions(SMALL) if one.name == "slot 1 width")
    assert (usual_within(short), usual_within(long)) == (0.1, 0.5)


def test_slots_that_were_not_read_are_off_together():
    """The part of an error that all slots share counts in full in each other slot; the covariance is one."""
    wanted = dimensions(SMALL)
    found = tool_covariance(wanted, "hand")
    assert np.all(np.linalg.eigvalsh(found) > -1e-12)
    lengths = [n for n, one in enumerate(wanted) if one.error == "slot length"]
    one, other = lengths[:2]
    assert found[one, other] == pytest.approx(0.075**2) and found[one, one] == pytest.approx(
        0.075**2 + 0.15**2
    )
    walls = [n for n, one in enumerate(wanted) if one.name in ("wall", "guide width")]
    assert found[walls[0], walls[1]] == 0.0


def test_errors_of_the_model_stay_within_what_is_said():
    """95 of 100 at each independent frequency, by their construction from a Rayleigh distribution."""
    errors = smooth_errors(6, 20_000, 0.05, 1)
    assert np.mean(np.abs(errors) <= 0.05) == pytest.approx(0.95, abs=0.005)
    assert pytest.approx((-2 * np.log(0.05)) ** 0.5, abs=1e-3) == WITHIN_95


def test_states_follow_the_share_that_meets_the_target():
    assert [state_of_share(share) for share in (1.0, 0.9, 0.1, 0.0)] == [
        MatchState.MET,
        MatchState.CLOSE,
        MatchState.CLOSE,
        MatchState.MISSED,
    ]


def test_metal_is_not_put_back():
    """Slots are filed longer and wider, shortened by tape alone; ends come in; probes go both ways."""
    for record in (SMALL, SHIPPED["four-slot-tube-2g44"], SHIPPED["bent-probe-5g8"]):
        found = {change.dimension.name: change for change in operations(explicit_slots(record))}
        for name, change in found.items():
            if name.startswith("slot"):
                assert change.low == 0 < change.high and change.undo is Undo.SLOTS, name
            if name.endswith(" end") or name.startswith("tape"):
                assert change.low < 0 == change.high, name
        wires = [change for change in found.values() if change.undo is Undo.WIRE]
        assert wires and all(change.low < 0 < change.high for change in wires)


def test_tape_takes_off_what_is_said_as_the_slot_acts():
    """The same for one that acts shorter by 0.4 mm, then by 0.1 more, square and round; never longer."""
    for ends in ("square", "round"):
        drawn_slots = [slot.model_dump(exclude_none=True) | {"ends": ends} for slot in SMALL.slots]
        record = parse_record(plain_data(SMALL, rule=False) | {"slot": drawn_slots})
        tape = {change.dimension.name: change for change in operations(record)}["tape on slots"].dimension
        bare, taped = acting_slots(record), tape.applied(record, -0.4)
        more = tape.applied(taped, -0.1)
        for before, after, last in zip(bare, acting_slots(taped), acting_slots(more)):
            drawn = 1e3 * rectangular_length(before.length, before.width, ends)
            assert [drawn - slot.length_mm for slot in (after, last)] == pytest.approx([0.4, 0.5], abs=2e-3)
            assert after.position_mm == pytest.approx(before.position_mm)
        assert all(t.covers_mm > 0.2 for t in taped.tape) and len(taped.tape) == 2 * len(record.slots)
        with pytest.raises(InputError, match="no longer"):
            tape.applied(taped, 0.5)


@pytest.fixture(scope="module")
def as_read():
    """The small antenna, its probe not read and all else as drawn, by the model alone."""
    start = without_readings(SMALL)
    rows = tuple(
        row
        if row.dimension.name == "probe height"
        else replace(row, read=row.dimension.drawn, within=usual_within(row.dimension))
        for row in start.rows
    )
    return built_study(replace(start, rows=rows))


def curve(study, amount, delay=40e-12):
    """S11 of the same antenna with its probe off by an amount (mm), as measured through a connector."""
    data = plain_data(study.readings.record, rule=False)
    data["feed"]["height_mm"] += amount
    frequency, s11 = estimated_match(parse_record(data), 201)
    return OnePort(frequency, s11 * np.exp(-2j * TWO_PI * frequency * delay))


def test_as_drawn_and_well_read_is_as_drawn(as_read):
    """By the model alone: the figures are those of the estimate, and errors of the model widen them."""
    guess = estimate(SMALL)
    found = as_read.figures
    worst = worst_match(guess.frequency, guess.s11, SMALL.band.low, SMALL.band.high)[1]
    assert found["worst_s11"].value == pytest.approx(decibels(worst), abs=0.1)
    ends = np.clip(
        [guess.figures[name].value or edge for name, edge in zip(("band_low", "band_high"), (0.0, 1e12))],
        *as_read.antenna.frequency[[0, -1]],
    )
    assert [found["band_low"].value, found["band_high"].value] == pytest.approx(ends, rel=2e-4)
    for name in ("worst_s11", "band_low", "band_high"):
        inner, outer = as_read.by_readings[name], found[name]
        assert inner.low <= inner.value <= inner.high <= outer.high


def test_a_curve_tells_what_was_not_read(as_read):
    """The probe's height, 0.25 mm off and not read, comes out of the curve with less left open."""
    bench = curve(as_read, -0.25).at(as_read.base.frequency)
    told = weighed(as_read.antenna, bench)
    number = [row.dimension.name for row in as_read.antenna.rows].index("probe height")
    first = as_read.readings.covariance[number, number] ** 0.5
    assert told.agrees and told.misfit < told.before
    assert told.delay == pytest.approx(40e-12, abs=2e-12)
    assert told.covariance[number, number] ** 0.5 < first
    assert -0.35 < told.shift[number] < -0.05  # between the drawing and what the curve says alone


def test_a_curve_that_readings_contradict_is_called_so(as_read):
    """The probe 1.6 mm short where 0.3 mm is what tools may be off: no agreement, and the probe is named."""
    antenna = copy(as_read.antenna)
    antenna.base = replace(as_read.base, error=0.03, mesh_error=0.0)
    told = weighed(antenna, curve(as_read, -1.6).at(antenna.base.frequency))
    names = [as_read.antenna.rows[slip.number].dimension.name for slip in told.slips]
    assert not told.agrees and "probe height" in names[:2]
    slip = told.slips[names.index("probe height")]
    assert slip.amount == pytest.approx(-1.6, abs=0.25)
    study = replace(as_read, weighed=told)
    first, *others = mend_sentences(MendStudy(study, (), ("probe height",)))
    assert first in built_sentences(study) and "cannot be explained" in first
    assert "Clear that up before you touch the metal." in others


def test_gain_before_a_wall_is_trusted_as_far_as_its_estimate():
    """All read as drawn: no more is known of the gain than the estimate of such a record tells."""
    wall = {"shape": "wall", "distance_mm": 30.0, "width_mm": 220.0}
    record = varied(varied(SHIPPED["on-mast-5g8"], mast=None), mast=wall)
    start = without_readings(record)
    rows = tuple(replace(row, read=row.dimension.drawn, within=0.01) for row in start.rows)
    gain = built_study(replace(start, rows=rows)).figures["gain"]
    trusted = estimate_error(record)["gain"]
    assert trusted > ESTIMATE_ERROR["gain"]
    assert min(gain.value - gain.low, gain.high - gain.value) > trusted - 1e-9  # rounding
