"""Records, runs and measurements side by side: agreement, rows of fields, words, picture, commands."""

from __future__ import annotations

import json
import shutil
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import skrf
from picture_cases import DrawnTexts
from shaped_records import SHIPPED
from stand_in_runs import run_replaced

import simharness
from simharness.beside.axis import shared_axis
from simharness.beside.picture import beside_figure
from simharness.beside.rows import AGREE, DIFFER, compared_fields, within_bars
from simharness.beside.side import WORST, barred, estimate_side, run_side
from simharness.errors import InputError
from simharness.estimate.antenna import estimate
from simharness.figures import Figure
from simharness.library import SideBySide
from simharness.plot import style
from simharness.records import parse_record
from simharness.records.text import plain_data, record_text
from simharness.results.outputs import Results
from simharness.verdict.error_bars import ESTIMATE_ERROR, SOLVER_ERROR

ROOT = Path(__file__).parents[2]
BENCH = ROOT / "docs" / "bench-9g6.s1p"
RECORD = simharness.read_record(ROOT / "docs" / "four-slot-9g6.toml")
BOX, TUBE = SHIPPED["five-slot-2g45"], SHIPPED["four-slot-tube-2g44"]


@pytest.fixture(scope="module")
def run():
    return simharness.open_run("four-slot-9g6", runs=ROOT / "docs" / "runs")


@pytest.fixture(scope="module")
def shorter():
    return simharness.changed(RECORD, {"name": "shorter", "feed.height_mm": 5.0})


@pytest.fixture(scope="module")
def found(run, shorter):
    return simharness.side_by_side([run, shorter, BENCH])


def flat_run(label: str, size: float, quality: str = "draft", record=RECORD):
    """An invented run that reflects the same everywhere."""
    frequency = np.linspace(record.band.low * 0.96, record.band.high * 1.04, 101)
    results = Results({"frequency": frequency, "s11": np.full(101, size + 0j)}, {"quality": quality})
    return run_side(label, record, results, quality)


def rows(found: SideBySide) -> dict:
    return {row.name: row for row in found.figures}


@pytest.mark.parametrize(
    ("quality", "sizes", "state"),
    [
        # S11 of a draft is known to 0.07, of a normal mesh to 0.04: two of them to 0.14 and 0.08
        ("draft", (0.05, 0.18), AGREE),
        ("draft", (0.05, 0.20), DIFFER),
        ("normal", (0.05, 0.12), AGREE),
        ("normal", (0.05, 0.14), DIFFER),
    ],
)
def test_levels_differ_by_their_distance_in_the_complex_plane(quality, sizes, state):
    assert 2 * SOLVER_ERROR["draft"]["s11"] == pytest.approx(0.14)
    assert 2 * SOLVER_ERROR["normal"]["s11"] == pytest.approx(0.08)
    beside = SideBySide(tuple(flat_run(f"r{size}", size, quality) for size in sizes))
    assert rows(beside)[WORST].state == rows(beside)["s11_at_centre"].state == state
    said = beside.sentences[0]
    assert ("r0.05 has a better match" in said) is (state == DIFFER)
    assert ("No match is certainly the better one" in said) is (state == AGREE)


def test_the_best_of_three_is_named_and_from_whom_it_is_not_told():
    beside = SideBySide(tuple(flat_run(name, size) for name, size in (("c", 0.5), ("a", 0.1), ("b", 0.2))))
    assert rows(beside)[WORST].apart == ((0, 1), (0, 2))
    said = beside.sentences[0]
    assert "a has a better match than c by more than the error bars, but not certainly than b." in said


def test_nothing_is_said_without_bars_and_a_measured_figure_counts_as_it_stands():
    one, two = Figure(0.99, "", "", 0.002), Figure(0.5, "", "")
    assert within_bars("efficiency", one, two) is None
    assert within_bars("efficiency", one, None) is None
    assert within_bars("efficiency", one, Figure(None, "", "", 0.1)) is None
    assert within_bars("efficiency", one, two, sure=2) is False
    assert within_bars("resonance", Figure(9.6e9, "Hz", "", 1e7), Figure(9.609e9, "Hz", ""), sure=2) is True


def test_impedances_are_held_against_each_other_in_their_plane():
    one, two = Figure(50 + 0j, "ohm", "", 3.0), Figure(50 + 4j, "ohm", "", 2.0)
    assert within_bars("input_impedance", one, two) is True
    assert within_bars("input_impedance", one, replace(two, value=50 + 6j)) is False


def test_bars_of_an_estimate_are_those_of_its_kind():
    """The bar of an impedance against the largest step it makes for a small step of S11 in any direction."""
    guess = estimate(RECORD)
    figures = barred(guess.figures, RECORD)
    assert figures["resonance"].error == pytest.approx(0.015 * figures["resonance"].value)
    assert figures["realized_gain"].error == ESTIMATE_ERROR["gain"]
    assert figures["efficiency"].error is None
    z, small = figures["input_impedance"].value, 1e-6
    s11 = (z - 50) / (z + 50) + small * np.exp(1j * np.linspace(0, 6, 40))
    step = np.abs(50 * (1 + s11) / (1 - s11) - z).max() / small
    assert figures["input_impedance"].error == pytest.approx(ESTIMATE_ERROR["s11"] * step, rel=1e-3)


def test_cuts_peak_at_the_realized_gain(found):
    """Both cuts hold the beam, which these antennas have near broadside; dB by the grid of 2 deg."""
    for side in found.sides[:2]:
        peak = max(cut.gain.max() for cut in side.cuts.values())
        assert peak == pytest.approx(side.figures["realized_gain"].value, abs=0.05)
        assert abs(np.degrees(side.cuts["along"].angle[side.cuts["along"].gain.argmax()])) < 3
    assert not found.sides[2].cuts


def test_measured_figures_are_those_of_the_curve(found):
    """The deepest sample of the file itself, and the worst in the band; the file has steps of 10 MHz."""
    network = skrf.Network(str(BENCH))
    size = np.abs(network.s[:, 0, 0])
    measured = found.sides[2].figures
    assert measured["resonance"].value == pytest.approx(network.f[size.argmin()], abs=5e6)
    band = (network.f >= RECORD.band.low) & (network.f <= RECORD.band.high)
    assert measured[WORST].value == pytest.approx(20 * np.log10(size[band].max()), abs=0.3)
    assert all(figure.error is None for figure in measured.values())


def test_rows_and_words_of_a_shorter_probe(found):
    assert [(row.name, row.values, row.unit) for row in found.fields] == [
        ("feed.height_mm", ("6.3", "5", "-"), "mm")
    ]
    assert "tip of the probe" in found.fields[0].meaning
    table = rows(found)
    assert table["resonance"].apart == ((0, 1), (0, 2))
    assert table["directivity"].state == AGREE
    text = " ".join(found.sentences)
    best = [side.figures["resonance"].value for side in found.sides]
    assert f"shorter is {(best[1] - best[0]) / 1e6:.0f} MHz" in text
    assert f"The records differ in one field; all other {found.same} are the same." in text
    assert "has no error bar of its own" in text


def test_the_same_record_twice_differs_in_no_field(run):
    found = simharness.side_by_side([run, run.record])
    assert found.fields == () and found.same > 20
    assert [side.label for side in found.sides] == ["four-slot-9g6 (draft)", "four-slot-9g6 (estimate)"]
    assert "The records say the same in all" in " ".join(found.sentences)


def test_the_estimate_of_twin_items_has_names_apart():
    guess = simharness.estimate(RECORD, points=21)
    found = simharness.side_by_side([guess, guess, RECORD])
    assert len({side.label for side in found.sides}) == 3


def test_one_slot_more_is_a_count_where_both_have_a_rule():
    longer = simharness.changed(BOX, {"slot_rule.count": 6, "guide.length_mm": 572.5})
    sides = [estimate_side(name, one, estimate(one, 21)) for name, one in (("a", BOX), ("b", longer))]
    fields, same = compared_fields(sides)
    assert {row.name: row.values for row in fields} == {
        "guide.length_mm": ("489", "572.5"),
        "slot_rule.count": ("5", "6"),
    }
    assert compared_fields([sides[0], sides[0]]) == ((), same + 2)


def test_estimates_of_nearly_the_same_antenna_share_their_errors(shorter):
    words = "errors that both share cancel"
    assert words in " ".join(simharness.side_by_side([RECORD, shorter]).sentences)
    assert words not in " ".join(simharness.side_by_side([BOX, TUBE]).sentences)
    assert words not in " ".join(simharness.side_by_side([BOX, BOX]).sentences)


def test_a_slot_that_one_record_lacks_is_a_dash():
    data = plain_data(RECORD)
    fewer = parse_record(data | {"slot": data["slot"][:3]})
    sides = [estimate_side(name, one, estimate(one, 21)) for name, one in (("a", RECORD), ("b", fewer))]
    fields, _ = compared_fields(sides)
    assert {row.name.split(".")[1] for row in fields} == {"4"}
    assert all(row.values[1] == "-" and row.values[0] != "-" for row in fields)
    by_name = {row.name: row for row in fields}
    assert by_name["slot.4.length_mm"].values[0] == "15.5" and by_name["slot.4.length_mm"].unit == "mm"


def test_a_port_in_the_guide_is_not_held_against_a_coax_by_impedance():
    data = plain_data(BOX)
    data["guide"]["near_end"] = "port"
    port = parse_record(data | {"feed": {"kind": "guide-port"}, "name": "port"})
    found = simharness.side_by_side([BOX, port])
    assert rows(found)["input_impedance"].state == ""
    assert "they are not the same quantity" in " ".join(found.sentences)
    kind = next(row for row in found.fields if row.name == "feed.kind")
    assert kind.values == ("probe", "guide-port")
    assert next(row for row in found.fields if row.name == "feed.height_mm").values == ("26", "-")


def test_bands_that_lie_apart_share_an_axis_of_shares():
    """The band of the box begins at 2.4 / 2.44 of its design frequency."""
    near = shared_axis([flat_run("a", 0.1), flat_run("b", 0.2)])
    assert near.label == "frequency in GHz" and near.bands == ((9.552, 9.648),)
    far = shared_axis([flat_run("a", 0.1), flat_run("b", 0.2, record=BOX), flat_run("c", 0.2, record=TUBE)])
    assert far.label == "frequency over design frequency"
    assert far.bands[0][0] == pytest.approx(2.4 / 2.44)
    assert all(place[0] < 1 < place[-1] for place in far.places)
    found = SideBySide((flat_run("a", 0.1), flat_run("b", 0.2, record=BOX)))
    assert "each in its own band" in found.sentences[0]


@pytest.mark.parametrize(
    ("items", "said"),
    [
        ([RECORD], "side by side = 1 given: must be 2 or 3"),
        ([RECORD] * 4, "side by side = 4 given: must be 2 or 3"),
        ([RECORD, ROOT / "docs" / "none.s1p"], "must be a readable file"),
        ([BOX, BENCH], "must have 5 points or more from 2."),
        (
            [RECORD, skrf.Network(f=[9.5e9, 9.6e9], s=np.zeros((2, 2, 2)), z0=50)],
            "must be a network of one port",
        ),
    ],
)
def test_what_cannot_be_set_side_by_side(items, said):
    with pytest.raises(InputError) as error:
        simharness.side_by_side(items)
    assert said in str(error.value)


def test_labels_are_one_for_each_and_safe_to_show(shorter):
    with pytest.raises(InputError, match="labels = 1 given: must be one for each of the 2 items"):
        simharness.side_by_side([RECORD, shorter], ["one"])
    found = simharness.side_by_side([RECORD, shorter], ["a\x1b[2J", "b" * 300])
    assert "\x1b" not in found.sides[0].label and len(found.sides[1].label) == 60


def test_two_measurements_stand_side_by_side_without_a_record():
    found = simharness.side_by_side([BENCH, BENCH], ["one", "two"])
    assert {row.state for row in found.figures} == {""}
    assert (found.fields, found.same) == ((), 0) and "s11_at_centre" not in rows(found)


def test_words_of_the_picture_fit(found):
    long = SideBySide(tuple(replace(side, label=letter * 60) for side, letter in zip(found.sides, "WMX")))
    for sides in (found.sides, long.sides, long.sides[:2]):
        with style.own_look():
            drawn = DrawnTexts(beside_figure(sides))
        assert (drawn.clipped(), drawn.overlapping()) == ([], [])


def test_json_is_whole(found):
    data = json.loads(json.dumps(found.as_dict()))
    assert [side["kind"] for side in data["sides"]] == ["full wave", "estimate", "measured"]
    assert len(data["sides"][0]["frequency_hz"]) == len(data["sides"][0]["s11"])
    assert data["figures"]["realized_gain"]["values"][2] is None
    assert data["fields"]["feed.height_mm"] == {"unit": "mm", "values": ["6.3", "5", "-"]}


def test_the_commands_say_what_the_library_says(call, tmp_path, run, shorter):
    shutil.copytree(ROOT / "docs" / "runs", tmp_path / "runs")
    (tmp_path / "shorter.toml").write_text(record_text(shorter))
    code, out, _ = call("show", "four-slot-9g6", "shorter.toml")
    assert code == 0 and "feed.height_mm" in out and "Worst S11" not in out
    code, out, _ = call("compare", "four-slot-9g6", "shorter.toml")
    assert code == 0 and "has a better match" in " ".join(out.split())
    picture = tmp_path / out.split("picture:")[1].strip()
    assert picture.read_bytes().startswith(b"\x89PNG")
    code, out, _ = call("runs")
    assert code == 0 and out.count("finished") == 1 and "damaged" not in out
    code, out, _ = call("compare", "four-slot-9g6", "shorter.toml", str(BENCH), "--json", "--no-figures")
    beside = simharness.side_by_side([run, shorter, BENCH])
    assert code == 0 and json.loads(out) == beside.as_dict() | {"remarks": [], "pictures": []}
    code, out, _ = call("show", "four-slot-9g6", "shorter.toml", str(BENCH), "--json")
    assert json.loads(out)["figures"] == beside.as_dict()["figures"]


def test_two_stored_runs_and_two_qualities_of_one(call, tmp_path, monkeypatch, shorter):
    """Runs of a stand-in for the solver, which all reflect 0.05: every S11 agrees, whatever the mesh."""
    run_replaced(monkeypatch, 0.05)
    kept = [
        simharness.solve(simharness.plan(record, quality), runs=tmp_path / "runs")
        for record, quality in ((RECORD, "draft"), (RECORD, "normal"), (shorter, "draft"))
    ]
    names = [one.name for one in kept]
    code, out, _ = call("compare", *names, "--no-figures", "--json")
    found = json.loads(out)
    assert code == 0 and list(found["fields"]) == ["feed.height_mm"]
    assert len({side["label"] for side in found["sides"]}) == 3
    assert found["figures"][WORST]["state"] == AGREE
    assert [round(value["value"], 2) for value in found["figures"][WORST]["values"]] == [-26.02] * 3
    code, out, _ = call("show", RECORD.name, "shorter", "--quality", "draft")
    assert code == 0 and "full wave, draft mesh" in out and "normal" not in out


@pytest.mark.parametrize(
    ("line", "code", "said"),
    [
        (("show", "a.toml", "b.toml", "--record"), 2, "go with one RUN"),
        (("compare", "a.toml", "b.toml", "--delay-ps", "60"), 2, "go with MEASURED alone"),
        (("compare", "a.toml", "b.toml"), 3, "a.toml"),
        (("compare", "x", "y"), 7, "there is no run 'x'"),
        (("show", "x", "y", "z", "w"), 3, "must be 2 or 3"),
        (("compare", "x"), 2, "Missing argument"),
    ],
)
def test_what_the_commands_refuse(call, line, code, said):
    found, _, err = call(*line)
    assert found == code and said in err and "Traceback" not in err
