"""What the charts show is what the answer says, and an update changes nothing but what moves."""

from __future__ import annotations

import json

import numpy as np
import pytest
from each_case import each_case
from shaped_records import SHIPPED
from tolerance_cases import TWO_SLOTS, end_fed

from simharness.live.answers import NearFigures, Prediction
from simharness.live.cuts import ANGLE
from simharness.live.tool_band import ToolBand
from simharness.page.charts.pattern import (
    cut_options,
    cut_summary,
    cut_update,
    voltage_options,
    voltage_summary,
    voltage_update,
)
from simharness.page.charts.reflection import s11_curve, s11_options, s11_summary, s11_update
from simharness.page.charts.smith import (
    reactance_arc,
    resistance_circle,
    smith_curve,
    smith_options,
    smith_summary,
    smith_update,
)

FREQUENCY = np.linspace(2.3e9, 2.6e9, 121)
S11 = 0.5 * np.exp(-1j * (FREQUENCY - 2.445e9) / 4e7) * np.abs(FREQUENCY - 2.445e9) / 1.5e8


def answer(exact: bool = True, slots: int = 3) -> Prediction:
    along = np.maximum(20 * np.log10(np.maximum(np.cos(ANGLE - 0.1), 1e-9)), -60)
    return Prediction(
        FREQUENCY,
        S11,
        np.array([1.0, -0.5j, 0.25, 0.1][:slots]),
        ANGLE,
        along,
        along - 3,
        NearFigures(2.445e9, -38.0, -12.34, -38.0, 9.15, -13.2),
        exact,
    )


BAND = ToolBand("hand", FREQUENCY, np.full(121, -50.0), np.linspace(-20, -5, 121), 0.87)


def series(options: dict, key: str) -> dict:
    """The one series with an id."""
    (found,) = [one for one in options["series"] if one["id"] == key]
    return found


def test_the_curve_is_s11_in_decibels_over_gigahertz():
    data = np.array(series(s11_options(TWO_SLOTS, answer()), "s11")["data"])
    np.testing.assert_allclose(data[:, 0], FREQUENCY / 1e9, atol=1e-5)  # rounded for the browser
    level = 20 * np.log10(np.maximum(np.abs(S11), 1e-2))
    np.testing.assert_allclose(data[:, 1], level, atol=0.006)


def test_the_band_of_the_tools_lies_between_its_edges():
    options = s11_options(TWO_SLOTS, answer(), BAND)
    low, rise = (np.array(series(options, key)["data"])[:, 1] for key in ("tools-low", "tools-high"))
    np.testing.assert_allclose(low, -40.0)  # the lower end of the axis
    np.testing.assert_allclose(low + rise, BAND.high_db, atol=0.011)
    assert "hand tools" in series(options, "tools-high")["name"]


def test_band_and_target_are_those_of_the_record():
    target = series(s11_options(TWO_SLOTS, answer()), "target")
    band = TWO_SLOTS.band
    assert target["data"] == [[band.low_ghz, band.target_s11_db], [band.high_ghz, band.target_s11_db]]
    assert target["markArea"]["data"] == [[{"xAxis": band.low_ghz}, {"xAxis": band.high_ghz}]]


@each_case("exact", [True, False])
def test_what_is_predicted_is_told_from_the_estimate(exact):
    found = answer(exact)
    word = "estimate" if exact else "predicted"
    curves = (
        series(s11_curve(found), "s11"),
        series(smith_curve(TWO_SLOTS, found), "band"),
        series(cut_update("along", found), "cut"),
    )
    assert {curve["name"] for curve in curves} == {word}
    assert {curve["lineStyle"]["type"] == "solid" for curve in curves} == {exact}
    for said in (s11_summary(found), smith_summary(TWO_SLOTS, found), cut_summary("along", found)):
        assert word in said
    assert word in voltage_summary(found)


@each_case("resistance", [0.0, 0.2, 1.0, 5.0])
def test_circles_hold_one_resistance(resistance):
    gamma = resistance_circle(resistance)
    gamma = gamma[np.abs(1 - gamma) > 1e-6]
    np.testing.assert_allclose(((1 + gamma) / (1 - gamma)).real, resistance, atol=1e-9)


@each_case("reactance", [0.5, -2.0])
def test_arcs_hold_one_reactance_and_end_on_the_rim(reactance):
    gamma = reactance_arc(reactance)
    assert abs(gamma[0]) == pytest.approx(1.0, abs=1e-12)
    np.testing.assert_allclose(((1 + gamma[:-1]) / (1 - gamma[:-1])).imag, reactance, rtol=1e-9)


def test_the_arc_of_the_band_begins_and_ends_at_its_edges():
    band = np.array(series(smith_update(TWO_SLOTS, answer()), "band")["data"])
    marks = [mark["value"] for mark in series(smith_update(TWO_SLOTS, answer()), "marks")["data"]]
    assert marks[0] == band[0].tolist() and marks[2] == band[-1].tolist()
    low = np.interp(TWO_SLOTS.band.low, FREQUENCY, S11)
    assert band[0] == pytest.approx([low.real, low.imag], abs=1e-4)


def test_the_impedance_is_in_ohm_at_a_coax_and_relative_at_a_guide_port():
    found = answer()
    assert "50.0 + j0.0 ohm" in smith_summary(TWO_SLOTS, found)  # matched at the design frequency
    assert "of the wave impedance" in smith_summary(end_fed(), found)
    shown = [
        [label["label"]["formatter"] for label in series(smith_options(record, found), "labels")["data"]]
        for record in (TWO_SLOTS, end_fed())
    ]
    assert shown == [["10", "25", "50", "100", "250"], ["0.2", "0.5", "1", "2", "5"]]


def test_a_cut_is_cut_off_where_nothing_is_seen_any_more():
    data = np.array(series(cut_options("along", answer()), "cut")["data"])
    assert data[:, 0].min() == -90 and data[:, 0].max() == 90
    assert data[:, 1].min() == -30
    # two decimals of a dB are flat within 2 degrees of the top of a cosine
    assert data[np.argmax(data[:, 1]), 0] == pytest.approx(np.degrees(0.1), abs=2.0)
    assert "strongest at 6 degrees" in cut_summary("along", answer())


def test_voltages_are_magnitudes_and_phases_slot_by_slot():
    options = voltage_options(answer())
    assert options["xAxis"]["data"] == ["1", "2", "3"]
    assert series(options, "size")["data"] == [1.0, 0.5, 0.25]
    assert series(options, "phase")["data"] == [0.0, -90.0, 0.0]
    assert "weakest is slot 3 with 0.25" in voltage_summary(answer())


def test_the_summary_says_the_figures():
    said = s11_summary(answer(), BAND)
    for words in ("-38.0 dB at 2.445 GHz", "worst in the band -12.3 dB", "hand tools, 87 of 100"):
        assert words in said


@each_case("found", [None, answer(), answer(slots=0)], ids=lambda one: "none" if one is None else "some")
def test_every_chart_is_plain_data_and_an_update_has_ids_of_the_first_drawing(found):
    record = SHIPPED["eight-slot-5g8"]
    pairs = [
        (s11_options(record, found, BAND), s11_update(record, found, BAND)),
        (s11_options(record, found), s11_curve(found)),
        (smith_options(record, found), smith_update(record, found)),
        (smith_options(record, found), smith_curve(record, found)),
        (cut_options("along", found), cut_update("along", found)),
        (cut_options("across", found), cut_update("across", found)),
        (voltage_options(found), voltage_update(found)),
    ]
    for options, update in pairs:
        json.dumps(options, allow_nan=False)
        assert set(update) == {"series"}
        assert {one["id"] for one in update["series"]} <= {one["id"] for one in options["series"]}
    assert len(json.dumps(s11_curve(found))) < 5000  # bytes for each step of a dragged dimension
