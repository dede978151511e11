"""Tolerances of a small invented antenna: slopes, limits, samples, words, picture and the command.

Expected values come from the estimate by differences of its own, from scaling, and from limits that must
hold.
"""

from __future__ import annotations

import copy
import json
from dataclasses import replace

import numpy as np
import pytest
from matplotlib.colors import to_hex
from matplotlib.image import imread
from scipy.interpolate import CubicSpline
from scipy.stats import binomtest
from shaped_records import varied
from tolerance_cases import TWO_SLOTS, end_fed, wrong

from simharness.em.signals.match import deepest_match, match_band
from simharness.estimate.antenna import estimate
from simharness.files import atomic_write_text
from simharness.numerics.proportion import wilson_interval
from simharness.plot import style, write_figure
from simharness.records.text import record_text
from simharness.results.outputs import write_results
from simharness.runs.store import Store
from simharness.tolerance.analysis import ToleranceAnalysis
from simharness.tolerance.limits import ENOUGH_DB
from simharness.tolerance.messages import tolerance_sentences, yield_text
from simharness.tolerance.model import response_surface
from simharness.tolerance.picture import tolerance_figure
from simharness.tolerance.study import Yield
from simharness.tolerance.tool_errors import TOOLS


@pytest.fixture(scope="module")
def tolerances() -> ToleranceAnalysis:
    return ToleranceAnalysis(response_surface(TWO_SLOTS), TOOLS["hand"])


@pytest.fixture(scope="module")
def study(tolerances):
    return tolerances.study("hand", 400, 1)


def scaled(tolerances: ToleranceAnalysis, factor: float, target_db: float = -10.0) -> ToleranceAnalysis:
    """The same antenna with other tolerances and another target."""
    other = copy.copy(tolerances)
    other.sizes, other.target_db = factor * tolerances.sizes, target_db
    return other


def figures_of_the_estimate(record) -> tuple[float, float, float]:
    """Middle of the -10 dB band (Hz), worst S11 in the band (dB), gain (dBi)."""
    found = estimate(record, 321)
    inside = np.linspace(record.band.low_ghz * 1e9, record.band.high_ghz * 1e9, 201)
    worst = np.abs(CubicSpline(found.frequency, found.s11)(inside)).max()
    return (
        sum(match_band(found.frequency, found.s11)) / 2,
        20 * np.log10(worst),
        found.figures["realized_gain"].value,
    )


@pytest.mark.parametrize("name", ["probe height", "slot length", "slot offset", "guide width", "far end"])
def test_slopes_are_those_of_the_estimate(tolerances, name):
    """Differences of the estimate by other steps, on other frequencies. 2 % is what the bend of the curves
    makes of the different steps (0.5 % seen). The far field of a single slot stays as drawn in the slopes:
    0.05 dB/mm of gain.
    """
    step = 0.12
    more, less = (np.array(figures_of_the_estimate(wrong(TWO_SLOTS, name, way * step))) for way in (1, -1))
    expected = (more - less) / (2 * step)
    slopes = next(effect for effect in tolerances.effects() if effect.name == name).slopes
    assert slopes["resonance"] == pytest.approx(expected[0], rel=0.02)
    assert slopes["worst_s11"] == pytest.approx(expected[1], rel=0.02)
    assert slopes["gain"] == pytest.approx(expected[2], abs=0.05)


@pytest.fixture(scope="module")
def fed_by_the_guide() -> ToleranceAnalysis:
    return ToleranceAnalysis(response_surface(end_fed(offset_mm=27.0, length_mm=61.0)), TOOLS["hand"])


def best_match(tolerances: ToleranceAnalysis) -> float:
    model = tolerances.model
    return deepest_match(model.grid, model.s11(model.drawn[None])[0, : model.grid.size])[0]


def test_everything_larger_by_a_per_cent_lowers_the_resonance_by_a_per_cent(fed_by_the_guide):
    """Maxwell's equations scale. The wall stays 0.5 mm thick, which is worth some 0.01 %."""
    slope = next(effect for effect in fed_by_the_guide.effects() if effect.name == "scale").slopes[
        "resonance"
    ]
    assert slope / best_match(fed_by_the_guide) == pytest.approx(-0.01, rel=0.02)


def test_longer_slots_lower_the_resonance(fed_by_the_guide):
    """A slot resonates near half a free-space wavelength, so df/f is about -dL/L; the line between the slots
    and the short behind them take part, which may cost or add up to a half (factor 0.84 seen)."""
    slope = next(effect for effect in fed_by_the_guide.effects() if effect.name == "slot length").slopes[
        "resonance"
    ]
    assert -61.0 * slope / best_match(fed_by_the_guide) == pytest.approx(1.0, abs=0.5)


def test_the_strongest_dimension_comes_first(study):
    changes = [np.hypot(effect.s11_change, effect.own_s11_change) for effect in study.effects]
    assert changes == sorted(changes, reverse=True) and changes[-1] >= 0


def test_an_allowed_deviation_just_meets_the_target(tolerances, study):
    """By the model itself; half of it meets the target."""
    model, checked = tolerances.model, 0
    for dimension in tolerances.common:
        allowed = study.allowed[dimension.name]
        for amount, is_open in ((allowed.more, allowed.more_open), (-allowed.less, allowed.less_open)):
            for share in (1.0, 0.5):
                parts = model.parts(dimension.applied(TWO_SLOTS, share * amount))
                spare = -10.0 - model.worst_s11(parts[None])[0]
                assert spare > -ENOUGH_DB
                if share == 1.0 and not is_open:
                    assert spare < ENOUGH_DB
                    checked += 1
    assert checked >= 6


@pytest.mark.parametrize(("target_db", "share"), [(-10.0, 1.0), (-30.0, 0.0)])
def test_without_errors_all_antennas_are_alike(tolerances, target_db, share):
    sample = scaled(tolerances, 0.0, target_db).sample(100)
    assert (sample.share, sample.spot_error) == (share, 0.0)
    assert np.ptp(sample.figures.worst_s11) == 0


def test_larger_errors_leave_fewer_good_antennas(tolerances):
    shares = [scaled(tolerances, factor).sample(400).share for factor in (0.3, 1.0, 3.0)]
    assert shares[0] > shares[1] > shares[2]


def test_a_seed_makes_the_same_antennas(tolerances):
    one, again, other = (tolerances.sample(50, seed).figures.worst_s11 for seed in (3, 3, 4))
    assert np.array_equal(one, again) and not np.array_equal(one, other)


def test_the_surrogate_keeps_to_the_model(tolerances):
    """20 antennas with twice the errors of hand tools: S11 within 0.01 anywhere in the band (0.008 seen),
    less than a tenth of what the errors themselves do."""
    amounts = 2 * tolerances.amounts(20, seed=7)
    moved = tolerances.model.band_s11(tolerances.quadratic(amounts)) - tolerances.model.band_s11(
        tolerances.model.drawn[None]
    )
    assert np.abs(moved).max() > 0.1
    assert tolerances.spot_error(amounts) < 0.01


def test_slips_are_those_of_the_worst_slot(tolerances, study):
    """By the model itself, for either slot; a covered one of two takes half the aperture, 3 dB, and more by
    mismatch.
    """
    long, covered = study.defects
    assert "1.2 mm too long" in long.description and covered.description.endswith("is covered")
    lengths = [one for one in tolerances.own if one.name.startswith("slot length ")]
    limit = lengths[0].limit
    both = np.array([tolerances.model.parts(one.applied(TWO_SLOTS, 0.3 * limit)) for one in lengths])
    assert long.figures.worst_s11[0] == pytest.approx(
        tolerances.model.worst_s11(both).max(), abs=1e-9
    )  # rounding
    assert covered.figures.gain[0] < study.drawn.gain[0] - 3


def test_the_answer_comes_in_words_first(study):
    text = tolerance_sentences(TWO_SLOTS, study)
    assert "must be within" in text[0] and "each alone" in text[0]
    assert any(
        f"{study.sample.good} of 400 antennas" in sentence and "% of all)" in sentence for sentence in text
    )
    assert "moment-method model alone" in text[-1]
    assert (
        "by run two-slot-1, whose own error remains"
        in tolerance_sentences(TWO_SLOTS, replace(study, run="two-slot-1"))[-1]
    )


@pytest.fixture(scope="module")
def hopeless():
    record = varied(TWO_SLOTS, band={"target_s11_db": -30.0})
    return record, ToleranceAnalysis(response_surface(record), TOOLS["mill"]).study("mill", 100, 1)


def test_a_drawing_that_misses_its_target_has_nothing_to_spare(hopeless):
    record, study = hopeless
    assert study.allowed == {} and study.sample.share == 0
    text = tolerance_sentences(record, study)
    assert "no dimension has anything to spare" in text[0] and "none of 100 antennas" in text[1]


def test_an_interval_is_that_of_the_library():
    """Wilson's score interval of scipy (`binomtest`), 95 %: rounding only. It has a width where all or none
    do.
    """
    for hits, count in ((0, 100), (1, 100), (37, 400), (1999, 2000), (2000, 2000), (1, 1)):
        theirs = binomtest(hits, count).proportion_ci(0.95, "wilson")
        assert wilson_interval(hits, count) == pytest.approx((theirs.low, theirs.high), abs=1e-12), (
            hits,
            count,
        )


def test_the_bars_count_what_the_share_counts(tolerances, study):
    """One antenna of a sample misses: one bar beyond the target is drawn in another colour, and the words say
    so; so does one that meets the target by nothing."""
    figures = replace(study.sample.figures, worst_s11=np.append(np.linspace(-20.0, -10.0, 1999), -9.9))
    sample = Yield(figures, figures.worst_s11 <= -10.0, 0.0)
    assert sample.good == 1999 and yield_text(sample).startswith("1,999 of 2,000 antennas (at least 99.7 %")
    with style.own_look():
        drawn = tolerance_figure(replace(study, sample=sample), TWO_SLOTS).axes[-1]
    high = {
        colour: sum(
            bar.get_height() for bar in drawn.patches if to_hex(bar.get_facecolor()) == colour.lower()
        )
        for colour in (style.SOLVER, style.ESTIMATE)
    }
    assert high == {style.SOLVER: 1999, style.ESTIMATE: 1}
    assert drawn.get_title(loc="left") == "1,999 of 2,000 meet the target"


def check_png(path) -> None:
    """Something is drawn, and a margin of 4 dots stays clear on every side."""
    image = imread(path)[..., :3]
    assert 0.01 < np.mean(np.any(image < 0.97, axis=2)) < 0.9
    for edge in (image[:4], image[-4:], image[:, :4], image[:, -4:]):
        assert edge.min() == 1.0


def test_picture(study, hopeless, tmp_path):
    check_png(write_figure(tmp_path / "new" / "hand.png", tolerance_figure, study, TWO_SLOTS))
    check_png(write_figure(tmp_path / "mill.png", tolerance_figure, hopeless[1], hopeless[0]))


@pytest.fixture
def ask(call, tmp_path):
    """A function that runs `tolerance` in a folder with a record and an invented run of it."""
    (tmp_path / "two.toml").write_text(record_text(TWO_SLOTS))
    (tmp_path / "other.toml").write_text(record_text(wrong(TWO_SLOTS, "guide width", 1.0)))
    frequency = np.linspace(2.38e9, 2.52e9, 41)
    with Store(tmp_path / "runs").writer("0123456789abcdef", "two-slot") as writer:
        write_results(
            writer.path / "results.h5",
            {"frequency": frequency, "s11": np.full(41, 0.2 + 0.1j)},
            {"quality": "normal"},
        )
        atomic_write_text(
            writer.path / "record.json", TWO_SLOTS.model_dump_json(by_alias=True, exclude_none=True)
        )
        writer.finalize("finished")

    def run(*words: str) -> tuple[int, str, str]:
        return call("tolerance", *words, "--samples", "100")

    return run


def test_command_as_json_with_a_run(ask):
    """The run's |S11| is 0.2236 over the band, -13.01 dB: that of the antenna as drawn from then on. 0.005 dB
    for the straight lines between the samples of the run, 3.5 MHz apart."""
    code, out, err = ask("two.toml", "--json", "--run", "two-slot", "--no-figures")
    found = json.loads(out)
    assert (code, err) == (0, "") and found["run"] == "two-slot-0123456789abcdef" and found["pictures"] == []
    assert found["drawn"]["worst_s11_db"] == pytest.approx(20 * np.log10(np.hypot(0.2, 0.1)), abs=0.005)
    elsewhere = {
        "permittivity",
        "cover permittivity",
        "cover gap",
        "probe rise",
        "probe run",
        "hole height",
        "screw depth",
        "screw place",
    }  # of a laminate front, a cover, a bent probe, of screws
    assert {row["name"] for row in found["dimensions"]} == set(TOOLS["hand"]) - elsewhere
    assert len(found["yield"]["worst_s11_db"]) == 100


def test_command_in_words(ask, tmp_path):
    code, out, _ = ask("two.toml", "--tools", "mill")
    assert code == 0 and "a milling machine" in out and "of 100 antennas" in " ".join(out.split())
    check_png(tmp_path / "runs" / "tolerance-two-slot" / "mill.png")


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("other.toml", "--run", "two-slot"), 3, "is a run of another antenna"),
        (("two.toml", "--run", "none"), 7, "none"),
    ],
)
def test_command_refuses_in_one_sentence(ask, words, code, said):
    found, out, err = ask(*words)
    assert (found, out) == (code, "") and said in err and err.count("\n") == 1
