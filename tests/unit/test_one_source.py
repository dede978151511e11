"""Every figure has one home: table, page, pictures, JSON, link and tolerances print the same digits for one
run. The run is invented.

Its beam leans by 3 degrees, its cross-polar field is strongest behind it, and its match is worst at an edge
of the band that lies between two samples: where a figure is computed twice, that shows.
"""

from __future__ import annotations

import html
import json
import re

import matplotlib
import numpy as np
import pytest
from shaped_records import SHIPPED, varied
from tolerance_cases import TWO_SLOTS
from toy_antenna import FREQUENCY, Truth, reflection, row_factor

from simharness.constants import C0
from simharness.em.pattern.far_field import FarField, directivity, radiated_power
from simharness.em.signals.match import value_at, worst_match
from simharness.figures import number
from simharness.files import atomic_write_text
from simharness.plot import cuts, match, overview, sphere, style
from simharness.report import content
from simharness.report.content import with_minus_signs
from simharness.results.match import worst_in_band
from simharness.results.outputs import Results, write_results
from simharness.runs.store import Store
from simharness.tolerance.model import response_surface
from simharness.verdict.assessment import LABELS, stored_figures

RECORD = varied(SHIPPED["five-slot-2g45"], band={"target_s11_db": -3.0})
"""Its target is met: what to change is not looked for."""
LEAN = 3.0
TRUTH = Truth(stretch=1.006, quality=6.4, conductance=1.12, probe=0.9, reactance=8.0)


def leaning_row() -> dict[str, np.ndarray]:
    """Five isotropic slots in a row with a steady lag, a cardioid across the guide, and a cross-polar field
    behind.
    """
    theta, phi = np.radians(np.arange(0, 181, 2.0)), np.radians(np.arange(0, 361, 2.0))
    middle = 0.5e-3 * (RECORD.slots[0].position_mm + RECORD.slots[-1].position_mm)
    wave = row_factor(np.cos(theta) - np.sin(np.radians(LEAN))) * np.exp(
        2j * np.pi * FREQUENCY / C0 * middle * np.cos(theta)
    )
    far = FarField(
        np.array([FREQUENCY]),
        theta,
        phi,
        0.15 * (wave[:, None] * (1 - np.sin(phi)))[None],
        (wave[:, None] * (1.2 + np.sin(phi)))[None],
    )
    scale = float(np.sqrt(0.9 / radiated_power(far)[0]))  # 0.9 W of the 1 W that is available
    return {
        "far_frequency": far.frequency,
        "theta": theta,
        "phi": phi,
        "e_theta": scale * far.e_theta,
        "e_phi": scale * far.e_phi,
        "directivity": directivity(far),
        "radiated_power": np.array([0.9]),
        "accepted_power": np.array([0.93]),
        "wall_loss": np.array([0.02]),
    }


@pytest.fixture(scope="module")
def results() -> Results:
    frequency = np.linspace(2.3165e9, 2.567e9, 61)
    s11 = reflection(RECORD, frequency, TRUTH)
    return Results(
        {"frequency": frequency, "s11": s11, "input_impedance": 50 * (1 + s11) / (1 - s11)} | leaning_row(),
        {"quality": "normal", "solver": "invented", "steps": 1, "solver_seconds": 1.0},
    )


@pytest.fixture
def ask(call, tmp_path, results):
    """A function that runs a command in a folder that holds the run; it gives the output in one line."""
    with Store(tmp_path / "runs").writer("0123456789abcdef", "invented") as writer:
        write_results(writer.path / "results.h5", dict(results), dict(results.attributes))
        atomic_write_text(
            writer.path / "record.json", RECORD.model_dump_json(by_alias=True, exclude_none=True)
        )
        writer.finalize("finished")

    def run(*words: str) -> str:
        code, out, err = call(*words)
        assert code == 0, err
        return " ".join(out.split())

    return run


def picture_words(drawn) -> str:
    """All text of a figure."""
    return " | ".join(text.get_text() for text in drawn.findobj(matplotlib.text.Text))


def test_table_page_and_json_print_the_figures_of_the_verdict(ask, results, tmp_path, monkeypatch):
    monkeypatch.setattr(
        content, "run_pictures", lambda *shown: {}
    )  # they take their time, and have a test of their own
    found = stored_figures(results, RECORD)
    shown = ask("show", "invented")
    told = json.loads(ask("show", "invented", "--json"))
    ask("report", "invented", "--no-pdf")
    page = html.unescape((tmp_path / f"report-{RECORD.name}.html").read_text())
    for name in LABELS:
        if name in found and found[name].value is not None:
            words = number(found[name])
            assert " ".join(words.split()) in shown, name
            assert with_minus_signs(words) in page, name
            value = told["figures"][name]["value"]
            if not isinstance(value, dict):  # an impedance is written in two parts
                assert value == pytest.approx(found[name].value, rel=1e-12), name
    worst = f"{worst_in_band(RECORD, results)[1]:.1f}"
    assert f"S11 is at worst {worst} dB" in shown and f"S11 is at worst {worst} ± " in shown


def test_pictures_print_the_figures_of_the_verdict(results):
    found = {name: figure.value for name, figure in stored_figures(results, RECORD).items()}
    with style.own_look():
        drawn = {
            name: style.minus(picture_words(draw(results, RECORD, None)))
            for name, draw in (
                ("cuts", cuts.cuts_figure),
                ("overview", overview.overview_figure),
                ("sphere", sphere.sphere_figure),
                ("match", match.match_figure),
            )
        }
    numbers = (
        f"{found['realized_gain']:.1f} dBi",
        f"{found['beam_direction']:.1f}°",
        f"{found['beamwidth_along']:.1f}°",
        f"{found['beamwidth_across']:.1f}°",
        f"front to back {found['front_to_back']:.1f} dB",
        f"side lobes {found['side_lobe_level']:.1f} dB",
    )
    for name in ("cuts", "overview"):
        for words in numbers:
            assert style.minus(words) in drawn[name], (name, words)
    assert f"{found['realized_gain']:.1f} dBi" in drawn["sphere"]
    edges = [f"{found[name] / 1e9:.3f}" for name in ("band_low", "band_high") if found[name] is not None]
    assert edges
    for name in ("match", "overview"):
        for edge in edges:
            assert edge in drawn[name], (name, edge)


def test_a_link_has_the_gain_of_the_verdict(ask, results):
    """Aimed with the beam the gain is the largest; straight out of the slots it is less by as much as the
    verdict says.
    """
    found = stored_figures(results, RECORD)
    told = json.loads(ask("link", "invented", "--power-dbm", "20", "--json"))
    assert told["largest_gain_dbi"] == pytest.approx(found["realized_gain"].value, abs=1e-9)  # rounding
    assert told["gain_error_db"] == found["realized_gain"].error
    text, shown = ask("link", "invented", "--power-dbm", "20"), ask("show", "invented")
    assert number(found["beam_direction"]) in shown and f"leans {number(found['beam_direction'])}" in text
    loss = re.search(r"straight out of the slots the gain is ([0-9.]+) dB less", shown)[1]
    assert f"lies {loss} dB below the peak" in text


def test_a_model_set_right_by_a_run_is_as_bad_as_the_run():
    """The worst S11 of a run, and that of the antenna as drawn in the tolerances that it sets right: 0.02 dB
    for the model's own points in the band. The run's resonance is narrow, so that straight lines between the
    points of the model would show.
    """
    frequency = np.linspace(2.38e9, 2.52e9, 101)
    s11 = (0.1 + 1j * (frequency - 2.449e9) / 25e6) / (1 + 1j * (frequency - 2.449e9) / 25e6)
    model = response_surface(TWO_SLOTS)
    model.correct(frequency, s11)
    low, high = (1e9 * edge for edge in (TWO_SLOTS.band.low_ghz, TWO_SLOTS.band.high_ghz))
    assert model.figures(model.drawn[None]).worst_s11[0] == pytest.approx(
        10 * np.log10(worst_match(frequency, s11, low, high)[1]), abs=0.02
    )


def test_the_worst_match_counts_the_edges_of_the_band():
    """|S11| = 1.2 |f - 2.44| over GHz is worst at the upper edge, 1.2 x 0.0435, between samples 5 MHz apart
    (by hand).
    """
    frequency = np.linspace(2.3e9, 2.6e9, 61)
    s11 = 1.2e-9 * (frequency - 2.44e9) + 0j
    where, worst = worst_match(frequency, s11, 2.40e9, 2.4835e9)
    assert (where, np.sqrt(worst)) == (2.4835e9, pytest.approx(1.2 * 0.0435, rel=1e-9))
    assert value_at(frequency, s11**3, 2.4835e9) == pytest.approx(
        (1.2 * 0.0435) ** 3, rel=1e-9
    )  # cubics exactly
    assert worst_match(frequency, s11, 2.2e9, 2.4e9)[0] == 2.3e9  # as far as the span goes
