"""A measured file beside a run: figures, words, pictures and the command, on invented runs.

The run and the measurement are those of the stand-in of `toy_antenna`, which takes the place of the estimate
too.
"""

from __future__ import annotations

import functools
import json
import re
from pathlib import Path

import numpy as np
import pytest
from matplotlib.image import imread
from shaped_records import SHIPPED
from toy_antenna import Truth, reflection, row_far_field

from simharness.em.signals.match import worst_match
from simharness.em.signals.reference_plane import behind_line
from simharness.errors import InputError
from simharness.estimate.deviations import deviations
from simharness.estimate.surrogate import SpaceMappingSurrogate
from simharness.files import atomic_write_text
from simharness.measurement import comparison
from simharness.measurement.comparison import match_comparison
from simharness.measurement.files import Levels, OnePort
from simharness.measurement.orientation import level_comparison
from simharness.measurement.picture import compare_figure, orientation_figure
from simharness.measurement.remedies import MIN_RELIEF_DB, remedy, remedy_sentences
from simharness.plot import write_figure
from simharness.records import GuidePort, read_record
from simharness.results.outputs import Results, write_results
from simharness.runs.store import Store
from simharness.verdict.assessment import full_wave_figures
from simharness.verdict.error_bars import solver_error

RECORD = read_record(Path(__file__).parents[2] / "models" / "five-slot-2g45.toml")
SUSPECTS = {deviation.name: deviation for deviation in deviations(RECORD)}
FREQUENCY = np.linspace(2.3165e9, 2.567e9, 201)
TRUTH = Truth(stretch=1.006, quality=6.4, conductance=1.12, probe=0.9, reactance=8.0)
RUN = Results(
    {"frequency": FREQUENCY, "s11": reflection(RECORD, FREQUENCY, TRUTH)} | row_far_field(RECORD),
    {"quality": "normal"},
)
MATCH = Results({name: RUN[name] for name in ("frequency", "s11")}, {"quality": "normal", "cells": 123456})
CONNECTOR = 60e-12


def bench(record=RECORD) -> OnePort:
    return OnePort(FREQUENCY, behind_line(FREQUENCY, reflection(record, FREQUENCY, TRUTH), -CONNECTOR))


def compared(record=RECORD, **how):
    return match_comparison(MATCH, RECORD, "normal", bench(record), reflection=reflection, **how)


SHORT_PROBE = SUSPECTS["probe height"].applied(RECORD, -2.0)


def test_figures_of_an_antenna_as_drawn_lie_within_the_bar():
    """The lower edge of the match lies below the sweep: nothing to compare."""
    found = compared()
    assert [row.within for row in found.rows] == [True, True, True, None, True]
    assert "fits the antenna as drawn" in found.sentences[1]
    assert found.delay == pytest.approx(CONNECTOR, abs=1e-12)


def test_figures_are_those_of_the_curves():
    """The deepest match of both sides from the curve itself, to its samples of 1.25 MHz."""
    found = {row.name: row for row in compared(SHORT_PROBE).rows}
    size = np.abs(reflection(SHORT_PROBE, FREQUENCY, TRUTH))
    assert found["resonance"].measured.value == pytest.approx(FREQUENCY[np.argmin(size)], abs=1.25e6)
    centre = np.interp(2.44e9, FREQUENCY, size)
    assert found["s11_at_centre"].measured.value == pytest.approx(20 * np.log10(centre), abs=0.1)


def test_a_deeper_match_than_simulated_is_within_the_bar():
    """-25 dB simulated and -46 dB measured are 0.056 and 0.005: 0.05 apart, more than the 0.04 of a normal
    mesh but less than the 0.07 of a draft (by hand); in decibels they lie far apart either way."""
    frequency = np.linspace(2.3165e9, 2.567e9, 201)
    run, bench = (depth + 1j * (frequency - 2.44e9) / 80e6 for depth in (0.056, 0.005))
    for quality, within in (("normal", False), ("draft", True)):
        error = solver_error(RECORD, quality)["s11"]
        figures = full_wave_figures({"frequency": frequency, "s11": run}, RECORD, quality)
        rows = {
            row.name: row
            for row in comparison._rows(figures, RECORD, frequency, OnePort(frequency, bench), error)
        }
        assert rows["s11_at_resonance"].within is within, quality
        assert rows["resonance"].within is True


def test_the_cause_is_told_with_what_to_do():
    found = compared(SHORT_PROBE)
    text = " ".join(found.sentences)
    assert "Likeliest single cause" in text and "shorter than drawn" in text
    assert "new wire" in text and "ps (fitted), as of 13 mm" in text


def test_every_cause_has_a_remedy_for_this_metal_or_says_that_it_has_none():
    """Filing takes metal away and tape brings it back; a cut that cannot be taken back is not gone about by
    halves.
    """
    for name, record in SHIPPED.items():
        for deviation in deviations(record):
            for amount in (1.0, -1.0) if deviation.unit else (1.0,):
                found = remedy(record, deviation, amount)
                assert found.instruction and (found.possible or not found.stepwise), (name, deviation.name)
    by_name = {deviation.name: deviation for deviation in deviations(RECORD)}
    assert (
        "tape" in remedy(RECORD, by_name["slot length"], 1.0).instruction
        and "file" in remedy(RECORD, by_name["slot length"], -1.0).instruction
    )
    assert not remedy(RECORD, by_name["scale"], 1.0).possible
    tube = RECORD.model_copy(update={"guide": RECORD.guide.model_copy(update={"make": "tube"})})
    assert "unsolder the front wall" in remedy(RECORD, by_name["slot position"], 1.0).instruction
    assert not remedy(tube, by_name["slot position"], 1.0).possible
    assert "far end" not in {
        deviation.name for deviation in deviations(SHIPPED["sixteen-slot-5g8-travelling"])
    }  # an absorber has no wall to move


def test_what_another_probe_does_for_metal_that_is_cut_too_large():
    """Everything 2 % too large: no half of the way; the probe that is named is the best of many, by the
    stand-in itself.
    """
    frequency = np.linspace(2.35e9, 2.53e9, 61)
    model = SpaceMappingSurrogate(RECORD, frequency, reflection(RECORD, frequency), reflection)
    scale, probe = SUSPECTS["scale"], SUSPECTS["probe height"]
    first, *more = remedy_sentences(model, scale, 2.0, remedy(RECORD, scale, 2.0))
    assert "cannot be made smaller" in first and "half the way" not in first
    built = scale.applied(RECORD, 2.0)

    def worst(move: float) -> float:
        return 10 * np.log10(
            worst_match(frequency, reflection(probe.applied(built, move), frequency), 2.4e9, 2.4835e9)[1]
        )

    best = min(map(worst, np.linspace(*probe.range(RECORD), 161)))
    stated = re.search(r"from (-[0-9.]+) to (-[0-9.]+) dB at worst", more[0])
    if stated is None:
        assert best > worst(0.0) - MIN_RELIEF_DB and "does not help" in more[0]
    else:
        assert float(stated[1]) == pytest.approx(
            worst(0.0), abs=0.06
        )  # tenths, and a model that is the stand-in itself
        assert float(stated[2]) == pytest.approx(best, abs=0.1)  # heights a fifth of a millimetre apart


def test_two_causes_are_not_blamed_on_one():
    text = " ".join(compared(SUSPECTS["slot length"].applied(SHORT_PROBE, 1.5)).sentences)
    assert "No single dimension explains the difference well" in text


def test_a_given_connector():
    found = compared(SHORT_PROBE, delay=CONNECTOR)
    assert found.delay == CONNECTOR and found.delay_given and "(as given)" in " ".join(found.sentences)


def test_a_guide_port_has_no_coax_to_compare_with():
    open_guide = RECORD.model_copy(update={"feed": GuidePort(kind="guide-port")})
    with pytest.raises(InputError, match="only S11 at a coax can be compared"):
        match_comparison(MATCH, open_guide, "normal", bench(), reflection=reflection)


def check_png(path: Path) -> None:
    image = imread(path)[..., :3]
    assert 0.01 < np.mean(np.any(image < 0.97, axis=2)) < 0.9
    # A margin of 4 dots stays clear on every side: nothing is cut off.
    for edge in (image[:4], image[-4:], image[:, :4], image[:, -4:]):
        assert edge.min() == 1.0


@pytest.mark.parametrize("record", [RECORD, SHORT_PROBE], ids=["as drawn", "short probe"])
def test_picture_of_a_comparison(tmp_path, record):
    check_png(write_figure(tmp_path / "new" / "compare.png", compare_figure, MATCH, RECORD, compared(record)))


@pytest.mark.parametrize("turned", ["along", "beam"])
def test_picture_of_levels(tmp_path, turned):
    angle = np.radians(np.arange(-90, 91, 15.0))
    found = level_comparison(
        Levels(angle, 20 * np.log10(np.cos(angle) ** 2 + 0.1)), RUN, RECORD, turned, 2.44e9
    )
    check_png(write_figure(tmp_path / "levels.png", orientation_figure, RECORD, found))


@pytest.fixture
def ask(call, monkeypatch, tmp_path):
    """A function that runs `compare` in a folder with one invented run: code, output in one line, errors."""
    monkeypatch.setattr(
        comparison, "match_comparison", functools.partial(match_comparison, reflection=reflection)
    )
    with Store(tmp_path / "runs").writer("0123456789abcdef", "invented") as writer:
        write_results(writer.path / "results.h5", dict(RUN), {"quality": "normal", "note": "invented"})
        atomic_write_text(
            writer.path / "record.json", RECORD.model_dump_json(by_alias=True, exclude_none=True)
        )
        writer.finalize("finished")
    rows = "".join(f"{f:.1f} {v.real:.9f} {v.imag:.9f}\n" for f, v in zip(FREQUENCY, bench(SHORT_PROBE).s11))
    (tmp_path / "bench.s1p").write_text("# Hz S RI R 50\n" + rows)
    (tmp_path / "levels.csv").write_text(
        "angle,level\n" + "".join(f"{a},{-50 - abs(a) / 3:.0f}\n" for a in range(-90, 91, 15))
    )

    def run(*words: str) -> tuple[int, str, str]:
        code, out, err = call("compare", *words)
        return code, " ".join(out.split()), err

    return run


def test_command_for_a_reflection(ask, tmp_path):
    code, out, _ = ask("invented", "bench.s1p")
    assert (
        code == 0
        and "Likeliest single cause" in out
        and "shorter than drawn" in out
        and "best match at" in out
    )
    check_png(tmp_path / "runs" / "invented-0123456789abcdef" / "figures" / "compare-bench.png")


def test_command_as_json(ask):
    code, out, err = ask("invented", "bench.s1p", "--json", "--no-figures", "--connector-mm", "12.6")
    found = json.loads(out)
    assert (code, err) == (0, "") and found["causes"][0]["name"] == "probe height" and found["pictures"] == []
    assert found["delay_given"] and found["delay_s"] == pytest.approx(
        59.9e-12, abs=0.1e-12
    )  # 12.6 mm sqrt(2.03) / c
    assert set(found["figures"]) == set(comparison.COMPARED)


def test_command_for_levels(ask, tmp_path):
    code, out, err = ask("invented", "levels.csv", "--turned", "across")
    assert (code, err) == (0, "") and "come from the pattern" in out and "polarization dB" in out
    assert (tmp_path / "runs" / "invented-0123456789abcdef" / "figures" / "compare-levels.png").exists()
    found = json.loads(ask("invented", "levels.csv", "--turned", "across", "--json", "--no-figures")[1])
    assert len(found["angle_deg"]) == 13 and found["turned"] == "across"


@pytest.mark.parametrize(
    "words, said",
    [
        (("levels.csv",), "say how the antenna was turned"),
        (("none.s1p",), "must be a readable file"),
        (("bench.s1p", "--delay-ps", "3", "--connector-mm", "2"), "give either this or --delay-ps"),
    ],
)
def test_command_refuses_in_one_sentence(ask, words, said):
    code, out, err = ask("invented", *words)
    assert (code, out) == (3, "") and said in err and err.count("\n") == 1
