"""`simharness design` as it is typed: what it writes, what it says, what it refuses.

Expected numbers: the options themselves, and tables of standard sizes.
"""

from __future__ import annotations

import json
import re
import shlex

import pytest

from simharness.cli.commands.design import command
from simharness.design import proposal
from simharness.design.feed_requirements import CONNECTORS, FeedRequirements
from simharness.design.options import SLOTS
from simharness.design.requirements import Requirements
from simharness.design.stock import standard_guide
from simharness.records import read_record

QUICK = ("design", "--frequency", "5.8", "--slots", "2", "--guide", "WR-159")


def test_writes_a_record_that_the_other_commands_take(call, tmp_path):
    code, out, err = call(*QUICK, "--out", "my.toml")
    assert (code, err) == (0, "") and "Written to my.toml." in out
    record = read_record(tmp_path / "my.toml")
    assert record.name == "my" and len(record.slots) == 2
    # EIA RS-261 sizes (print)
    assert (record.guide.a_mm, record.guide.b_mm, record.band.centre_ghz) == (40.386, 20.193, 5.8)
    assert call("check", "my.toml")[0] == 0
    for slot in record.slots:
        assert (
            f"{slot.position_mm:g}" in out and f"{slot.offset_mm:+g}" in out and f"{slot.length_mm:g}" in out
        )


def test_the_heading_makes_the_same_record_again(call, tmp_path):
    call(*QUICK, "--cutter", "3", "--side-lobes", "25", "--out", "one.toml")
    text = (tmp_path / "one.toml").read_text()
    line = next(line for line in text.splitlines() if line.startswith("# simharness design"))
    assert call(*shlex.split(line)[2:], "--out", "two.toml")[0] == 0
    assert (tmp_path / "two.toml").read_text() == text.replace('name = "one"', 'name = "two"')
    assert "--cutter 3" in line and "--ends" not in line


def test_the_name_is_made_of_slots_and_frequency(call, tmp_path):
    assert call(*QUICK)[0] == 0
    assert [path.name for path in tmp_path.iterdir()] == ["2-slot-5g8.toml"]
    assert read_record(tmp_path / "2-slot-5g8.toml").name == "2-slot-5g8"
    assert call(*QUICK, "--out", "My Antenna.toml")[0] == 0
    assert read_record(tmp_path / "My Antenna.toml").name == "2-slot-5g8"


def test_a_file_is_replaced_only_when_asked(call, tmp_path):
    path = tmp_path / "mine.toml"
    path.write_text("mine")
    code, out, err = call(*QUICK, "--out", "mine.toml")
    assert (code, out) == (3, "") and path.read_text() == "mine"
    assert err.startswith("simharness: out = mine.toml: ") and "--replace" in err
    assert call(*QUICK, "--out", "mine.toml", "--replace")[0] == 0
    assert len(read_record(path).slots) == 2


@pytest.mark.parametrize(
    ("out", "sentence"),
    [
        (".", "out = .: that is a folder; name a file in it"),
        ("none/a.toml", "out = none/a.toml: there is no folder none; make it first"),
    ],
)
def test_a_place_where_no_file_can_go_is_refused_before_anything_is_computed(
    call, monkeypatch, tmp_path, out, sentence
):
    monkeypatch.setattr(proposal, "designed", None)
    for words in ((), ("--replace",)):
        assert call(*QUICK, "--out", out, *words) == (3, "", f"simharness: {sentence}\n")
    assert list(tmp_path.iterdir()) == []


def test_json_has_what_the_text_has(call, tmp_path):
    text = " ".join(call(*QUICK)[1].split())
    code, out, _ = call(*QUICK, "--replace", "--json")
    found = json.loads(out)
    assert code == 0 and found["file"] == "2-slot-5g8.toml"
    for sentence in [*found["choices"], found["rounding"], found["bias"], *found["warnings"]]:
        assert " ".join(sentence.split()) in text
    assert (
        read_record(tmp_path / found["file"]).model_dump(mode="json", by_alias=True, exclude_none=True)
        == found["record"]
    )
    assert found["figures"]["directivity"]["unit"] == "dBi"
    assert f"{found['figures']['directivity']['value']:.1f} dBi" in text


@pytest.mark.parametrize(
    ("words", "guide"),
    [
        (("--tube", "44x24x2"), (40.0, 20.0, 2.0, "aluminium", "tube")),
        (
            ("--tube", "44x24x2", "--connector", "stripped"),
            (40.0, 20.0, 2.0, "brass", "tube"),
        ),  # nothing is soldered to aluminium
        (
            ("--guide", "40x20", "--wall", "0.5", "--material", "copper"),
            (40.0, 20.0, 0.5, "copper", "folded"),
        ),
        (("--guide", "40x20"), (40.0, 20.0, 1.0, "brass", "folded")),
        (
            ("--sheet", "0.5"),
            (36.0, 18.0, 0.5, "brass", "folded"),
        ),  # 1.41 times half a wavelength of 51.69 mm is 36.4 mm
        ((), (40.386, 20.193, 1.63, "brass", "tube")),
    ],
    ids=lambda words: " ".join(map(str, words)),
)
def test_every_kind_of_stock(call, tmp_path, words, guide):
    assert call("design", "--frequency", "5.8", "--slots", "1", *words, "--out", "a.toml")[0] == 0
    made = read_record(tmp_path / "a.toml").guide
    assert (made.a_mm, made.b_mm, made.front_wall_mm, made.material, made.make) == guide


def test_options_reach_the_record(call, tmp_path):
    code, _, err = call(
        *QUICK,
        "--cutter",
        "3",
        "--ends",
        "square",
        "--wire",
        "1.5",
        "--coax",
        "1.5x5",
        "--permittivity",
        "2.1",
        "--bandwidth",
        "2",
        "--step",
        "0.25",
        "--axis",
        "horizontal",
        "--out",
        "a.toml",
    )
    assert (code, err) == (0, "")
    record = read_record(tmp_path / "a.toml")
    assert {(s.width_mm, s.ends) for s in record.slots} == {(3.0, "square")}
    feed = record.feed
    assert (feed.wire_diameter_mm, feed.coax_inner_mm, feed.coax_outer_mm, feed.coax_permittivity) == (
        1.5,
        1.5,
        5.0,
        2.1,
    )
    assert (record.band.low_ghz, record.band.high_ghz) == (
        5.742,
        5.858,
    ) and record.mounting.axis == "horizontal"
    assert all((4 * v).is_integer() for s in record.slots for v in (s.position_mm, s.offset_mm, s.length_mm))


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("--gain", "12"), "slots, beamwidth, gain = 2: give exactly one of the three"),
        (
            ("--tube", "50x25x2"),
            "metal = --guide and --tube: give one of --guide, --tube, --round and --sheet",
        ),
        (("--guide", "WR-91"), "guide = WR-91: must be one of WR-430"),
        (("--guide", "WR-90"), "guide = WR-90: 5.8 GHz hardly travels in it, the cutoff is 6.557 GHz"),
        (
            ("--inside", "90x45"),
            "inside = 90x45: only with --sheet; the inner size of another guide is --guide AxB",
        ),
        (
            ("--laminate", "0.8x4.4x0.02"),
            (
                "laminate = front: goes on a folded back, not on WR-159: give the sheet, or the inner size of"
                " a guide"
            ),
        ),
        (("--nbar", "5"), "nbar = 5: only with --taper taylor"),
        (
            ("--side-lobes", "20", "--taper", "uniform"),
            "side lobes = 20: slots of equal voltage have the side lobes they have",
        ),
        (("--residual-power", "5"), "residual power = 5: only with --far-end load"),
        (("--back", "same"), "back = same: only with --faces both"),
        (("--tip", "open"), "tip = open: only with --feed bent-probe"),
        (("--flange", "17.5", "--connector", "stripped"), "flange = 17.5: only with --connector panel"),
        (("--low", "5.7"), "low = 5.7: give --high too"),
        (
            ("--low", "5.7", "--high", "5.9", "--bandwidth", "1"),
            "bandwidth = 1: not with --low and --high, which are the band",
        ),
        (
            ("--low", "5.9", "--high", "6"),
            "low, high = 5.9 to 6 GHz: the lower edge comes first, and 5.8 GHz must lie between the two",
        ),
        (("--coax", "4"), "coax = 4: must be 2 numbers in mm with x between them, such as 50x25"),
        (("--coax", "5x4"), "coax = 5 x 4 mm: the second diameter must be the larger"),
        (("--cutter", "9"), "slot width = 9 mm: must be less than a tenth of a wavelength, 5.2 mm"),
        (("--material", "cheese"), "guide.material = cheese: must be one of perfect, silver"),
        (("--load", "5"), "load = 5: a slot would have to lie beyond the side wall"),
    ],
    ids=lambda v: v if isinstance(v, str) else "",
)
def test_bad_input_is_one_sentence_and_writes_nothing(call, tmp_path, words, sentence):
    code, out, err = call(*QUICK, *words, "--json")
    assert (code, out) == (3, "") and list(tmp_path.iterdir()) == []
    assert sentence in err and err.startswith("simharness: ") and err.count("\n") == 1


@pytest.mark.parametrize(
    "words",
    [
        ("--slots", "0"),
        ("--slots", "41"),
        ("--frequency", "-1"),
        ("--taper", "cosine"),
        ("--step", "0"),
        ("--target", "10"),
    ],
    ids=" ".join,
)
def test_wrong_options_are_wrong_command_lines(call, tmp_path, words):
    code, out, err = call(*QUICK, *words)
    assert (code, out) == (2, "") and "Error: " in err and list(tmp_path.iterdir()) == []


def test_metal_that_says_its_thickness_takes_no_wall(call):
    for metal in (("--sheet", "0.5"), ("--tube", "44x24x2"), ("--round", "36x1")):
        code, out, err = call("design", "--frequency", "5.8", *metal, "--wall", "1")
        assert (code, out) == (3, "") and err.startswith("simharness: wall = 1: ")


def test_a_band_must_be_given(call):
    code, out, err = call("design", "--slots", "2")
    assert (code, out) == (2, "") and "Missing option '--frequency', or '--low' and '--high'." in err


def test_band_feed_and_box_as_they_are_asked_for(call, tmp_path):
    """Stripped coax, bent, in a folded box: M17/130 cable has 0.92 mm in 2.98 mm (MIL-DTL-17, from
    memory).
    """
    code, out, err = call(
        "design",
        "--low",
        "2.4",
        "--high",
        "2.4835",
        "--target",
        "-12",
        "--slots",
        "2",
        "--sheet",
        "0.5",
        "--inside",
        "90x45",
        "--feed",
        "bent-probe",
        "--connector",
        "stripped",
        "--out",
        "a.toml",
    )
    assert (code, err) == (0, "") and "No warnings." in out
    record = read_record(tmp_path / "a.toml")
    band, guide, feed = record.band, record.guide, record.feed
    assert (band.low_ghz, band.centre_ghz, band.high_ghz, band.target_s11_db) == (2.4, 2.44175, 2.4835, -12.0)
    assert (guide.a_mm, guide.b_mm, guide.front_wall_mm, guide.make) == (90.0, 45.0, 0.5, "folded")
    assert (feed.kind, feed.tip, feed.connector) == ("bent-probe", "soldered", "stripped")
    assert (feed.wire_diameter_mm, feed.coax_inner_mm, feed.coax_outer_mm) == (0.92, 0.92, 2.98)
    assert feed.rise_mm is None and all(round(v, 1) == v for v in (feed.run_mm, feed.hole_height_mm))


def test_behind_a_board_a_tip_goes_to_the_back(call, tmp_path):
    """The inner copper of a board cannot be soldered from outside; mirrored in the middle of the guide, TE10
    sees the same wire.
    """
    words = (
        "design",
        "--frequency",
        "2.44",
        "--slots",
        "2",
        "--sheet",
        "0.5",
        "--inside",
        "92x44",
        "--feed",
        "bent-probe",
    )
    made = []
    for front in ((), ("--laminate", "1.6x4.4x0.02")):
        code, out, _ = call(*words, *front, "--out", "a.toml", "--replace")
        made.append(read_record(tmp_path / "a.toml").feed)
        assert (
            code == 0
            and f"soldered to the {made[-1].towards} wall" in out
            and "copper that faces into the guide" not in out
        )
    assert [feed.towards for feed in made] == ["front", "back"]
    # both rise through the larger part of the height: the hole lies near the other wall
    assert made[0].hole_height_mm < 22 < made[1].hole_height_mm


def test_help_states_the_defaults_of_the_requirements():
    """The help is written by hand so that it loads nothing; what it promises is what the wish holds."""
    requirements, feed = Requirements(5.8e9, standard_guide("WR-159")), FeedRequirements()
    held = {
        "bandwidth": requirements.bandwidth * 100,
        "target": requirements.target_db,
        "slots": SLOTS,
        "side_lobes": requirements.side_lobe_db,
        "nbar": requirements.nbar,
        "ends": requirements.ends,
        "feed": feed.kind,
        "tip": feed.tip,
        "connector": feed.connector,
        "permittivity": feed.coax_permittivity,
        "dielectric": feed.dielectric,
        "flange": CONNECTORS["panel"].flange * 1e3,
        "flange_thickness": feed.flange_thickness * 1e3,
        "far_end": requirements.far_end,
        "residual_power": requirements.residual_power * 100,
        "step": requirements.step * 1e3,
        "axis": requirements.axis,
        "coax": (
            "; ".join(
                f"{c.coax_inner * 1e3:g}x{c.coax_outer * 1e3:g}" for c in (feed, CONNECTORS["stripped"])
            )
            + " for stripped"
        ),
    }
    helped = {
        option.name: re.search(r"\[default: (.*)\]$", option.help)[1]
        for option in command.params
        if "[default: " in (option.help or "")
    }
    assert {name: helped[name] for name in held} == {
        n: v if isinstance(v, str) else f"{v:g}" for n, v in held.items()
    }
