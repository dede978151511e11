"""Pictures: files, what is drawn in them, and that nothing global is touched.

Expected values come from the arrays handed in or from first principles, as stated.
All data is invented.
"""

from __future__ import annotations

import subprocess
import sys
from dataclasses import replace

import matplotlib
import numpy as np
import pytest
from matplotlib.image import NonUniformImage, imread

from simharness.constants import ETA0
from simharness.em.pattern.far_field import FarField, directivity, radiated_power
from simharness.errors import MachineError
from simharness.estimate.antenna import Cut, Estimate, Figure
from simharness.plot import (
    album,
    antenna_solid,
    cuts,
    gain_body,
    inside,
    match,
    overview,
    smith,
    sphere,
    style,
    write_figures,
)
from simharness.records import parse_record
from simharness.results.outputs import Results

ALL = ["match", "smith", "cuts", "sphere", "slots", "field", "overview"]
PROBE = {
    "kind": "probe",
    "position_mm": 40.0,
    "height_mm": 24.0,
    "wire_diameter_mm": 1.5,
    "coax_inner_mm": 1.27,
    "coax_outer_mm": 4.1,
}
RULE = {
    "count": 3,
    "first_mm": 125.0,
    "spacing_mm": 83.5,
    "offset_mm": 13.7,
    "length_mm": 60.0,
    "width_mm": 6.0,
}
EXACT = {"rtol": 1e-12, "atol": 1e-12}
"""The same arithmetic on the same doubles: rounding only."""


def record(**changes):
    data = {
        "schema": 1,
        "name": "invented",
        "title": "An invented antenna",
        "band": {"low_ghz": 2.40, "centre_ghz": 2.45, "high_ghz": 2.50},
        "mounting": {"axis": "vertical"},
        "guide": {
            "a_mm": 90.0,
            "b_mm": 45.0,
            "length_mm": 334.0,
            "front_wall_mm": 0.5,
            "other_walls_mm": 0.5,
        },
        "slot_rule": RULE,
        "feed": PROBE,
    }
    return parse_record({key: value for key, value in (data | changes).items() if value is not None})


def two_port():
    guide = {
        "a_mm": 90.0,
        "b_mm": 45.0,
        "length_mm": 200.0,
        "front_wall_mm": 0.5,
        "other_walls_mm": 0.5,
        "near_end": "port",
        "far_end": "port",
    }
    return record(guide=guide, slot_rule=None, feed={"kind": "guide-port"})


def arrays():
    """A result of a resonance, a broad lobe to the front tilted to neither side, and a standing wave."""
    frequency = np.linspace(2.3e9, 2.6e9, 61)
    detuning = (frequency - 2.45e9) / 40e6
    theta, phi = np.radians(np.linspace(0, 180, 37)), np.radians(np.linspace(0, 360, 73))
    lobe = (1 + np.sin(theta)[:, None] * np.sin(phi)) ** 2 + 0.05
    far = np.array([2.40e9, 2.45e9, 2.50e9])
    cut_x, cut_z = np.linspace(-0.045, 0.045, 13), np.linspace(0, 0.334, 40)
    wave = 300 * np.cos(np.pi * cut_x / 0.09)[:, None] * np.sin(2 * np.pi * cut_z / 0.167) * np.exp(0.7j)
    scale = np.array([0.5, 1.0, 0.7])[:, None, None]
    field = FarField(far, theta, phi, 0.02 * scale * lobe * 1j, scale * lobe * (2 + 1j))
    power = radiated_power(field)  # without loss
    return {
        "frequency": frequency,
        "s11": (0.1 + 1j * detuning) / (1 + 1j * detuning),
        "far_frequency": far,
        "theta": theta,
        "phi": phi,
        "e_phi": field.e_phi,
        "e_theta": field.e_theta,
        "directivity": directivity(field),
        "radiated_power": power,
        "accepted_power": power,
        "slot_voltage": np.outer([1, 2, 3], [10.0, 12j, 14.0]) + 0j,
        "slot_z": np.array([0.125, 0.2085, 0.292]),
        "cut_x": cut_x,
        "cut_z": cut_z,
        "cut_field": scale * wave,
    }


def guess():
    angle = np.radians(np.linspace(-180, 180, 361))
    lobe = Cut(angle, (1 + np.cos(angle)) ** 2 / 4)
    frequency = np.linspace(2.3e9, 2.6e9, 31)
    figures = {
        "realized_gain": Figure(9.0, "dBi", "invented"),
        "beamwidth_along": Figure(130.0, "deg", "invented"),
        "side_lobe_level": Figure(None, "dB", "invented"),
        "front_to_back": Figure(20.0, "dB", "invented"),
    }
    s11 = np.full(31, 0.3 + 0.1j)
    return Estimate(
        frequency,
        s11,
        50 * (1 + s11) / (1 - s11),
        np.array([0.9, 1.0, 0.9j]),
        np.ones(3) / 3,
        lobe,
        lobe,
        figures,
    )


@pytest.fixture
def look():
    with style.own_look():
        yield


def line(axes, label):
    return next(found for found in axes.lines if found.get_label() == label)


def words(figure):
    """All text of a figure."""
    return " | ".join(text.get_text() for text in figure.findobj(matplotlib.text.Text))


def check_png(path):
    assert path.read_bytes()[:8] == b"\x89PNG\r\n\x1a\n"
    image = imread(path)[..., :3]
    height, width = image.shape[:2]
    # A sheet of 7 to 15 inches at 150 dots per inch.
    assert 1000 <= width <= 2250 and 700 <= height <= 2250
    drawn = np.mean(np.any(image < 0.97, axis=2))
    assert 0.01 < drawn < 0.9
    # A margin of 4 dots stays clear on every side: nothing is cut off.
    for edge in (image[:4], image[-4:], image[:, :4], image[:, -4:]):
        assert edge.min() == 1.0


@pytest.mark.parametrize("with_estimate", [True, False])
def test_all_pictures_of_an_antenna_are_written(tmp_path, with_estimate):
    written = write_figures(
        Results(arrays(), {}), record(), guess() if with_estimate else None, tmp_path / "new" / "folder"
    )
    assert [path.name for path in written] == [f"{name}.png" for name in ALL]
    for path in written:
        check_png(path)


def test_pictures_of_a_horizontal_antenna_with_one_slot(tmp_path):
    one = record(slot_rule=RULE | {"count": 1}, mounting={"axis": "horizontal"}, title="long words " * 10)
    found = arrays() | {"slot_voltage": arrays()["slot_voltage"][:, :1], "slot_z": np.array([0.125])}
    for path in write_figures(Results(found, {"cells": 123456, "quality": "draft"}), one, None, tmp_path):
        check_png(path)


def test_two_port_without_far_field_gets_what_applies(tmp_path):
    names = ("frequency", "s11", "far_frequency", "cut_x", "cut_z", "cut_field")
    found = {name: array for name, array in arrays().items() if name in names}
    found["s21"] = np.full(61, 0.5 + 0j)
    written = write_figures(Results(found, {}), two_port(), None, tmp_path)
    assert [path.stem for path in written] == ["match", "smith", "field", "overview"]
    for path in written:
        check_png(path)


def test_nothing_is_drawn_from_nothing(tmp_path):
    assert write_figures(Results({}, {}), record(), guess(), tmp_path) == []


def test_far_field_of_a_closed_guide_is_not_drawn(look):
    """Without slots nothing but rounding is left to radiate."""
    assert cuts.cuts_figure(Results(arrays(), {}), two_port(), None) is None
    assert sphere.sphere_figure(Results(arrays(), {}), two_port(), None) is None


def test_match_shows_the_results_and_the_estimate(look):
    found, estimate = arrays(), guess()
    figure = match.match_figure(Results(found, {}), record(), estimate)
    upper, lower = figure.axes[:2]
    full = line(upper, "full wave")
    np.testing.assert_allclose(full.get_xdata(), found["frequency"] / 1e9, **EXACT)
    np.testing.assert_allclose(full.get_ydata(), 20 * np.log10(np.abs(found["s11"])), **EXACT)
    np.testing.assert_allclose(line(upper, "estimate").get_ydata(), 10 * np.log10(0.1), **EXACT)
    size = np.abs(found["s11"])
    np.testing.assert_allclose(lower.lines[1].get_ydata(), (1 + size) / (1 - size), **EXACT)
    assert "An invented antenna" in words(figure) and "target −10 dB" in words(figure)


def test_match_states_the_ten_db_band(look):
    """|S11|^2 = (0.01 + d^2)/(1 + d^2) = 0.1 at d = sqrt(0.1), so 2.45 GHz -+ 12.65 MHz (by hand).

    Straight lines between samples 5 MHz apart move an edge by less than 0.5 MHz.
    """
    found = arrays()
    [(low, high)] = match.spans_below(found["frequency"], found["s11"], -10.0)
    assert low == pytest.approx(2.45e9 - 12.65e6, abs=0.5e6, rel=0)
    assert high == pytest.approx(2.45e9 + 12.65e6, abs=0.5e6, rel=0)
    assert f"{low / 1e9:.3f} to {high / 1e9:.3f} GHz" in words(
        match.match_figure(Results(found, {}), record(), None)
    )
    found["s11"] = found["s11"] * 0 + 0.9
    assert "nowhere below −10 dB" in words(match.match_figure(Results(found, {}), record(), None))


def test_spans_end_with_the_data_and_may_be_several():
    below = np.array([0.0, 0.5, 0.0, 0.5, 0.0])
    spans = match.spans_below(np.arange(5.0), below, 20 * np.log10(0.25))
    # Linear in |S11|^2: 0.0625 of 0.25 is a quarter of the way up.
    np.testing.assert_allclose(spans, [(0, 0.25), (1.75, 2.25), (3.75, 4)], **EXACT)


def test_standing_wave_ratio_of_total_reflection_is_infinite():
    np.testing.assert_array_equal(match.standing_wave_ratio(np.array([0.5, 1.0, 1.1])), [3.0, np.inf, np.inf])


def test_smith_chart_shows_s11_and_marks_the_band(look):
    found = arrays()
    [axes] = smith.smith_figure(Results(found, {}), record(), guess()).axes
    trace = line(axes, "full wave, 2.30 to 2.60 GHz")
    np.testing.assert_array_equal(trace.get_xdata() + 1j * trace.get_ydata(), found["s11"])
    for name, at in (("low", 2.4), ("centre", 2.45), ("high", 2.5)):
        mark = line(axes, f"{at:g} GHz ({name})")
        value = found["s11"][np.argmin(np.abs(found["frequency"] - at * 1e9))]
        # The three frequencies are samples of the data.
        np.testing.assert_allclose(
            [mark.get_xdata()[0], mark.get_ydata()[0]], [value.real, value.imag], atol=1e-6, rtol=0
        )


def isotropic():
    """E_phi alone, 1 W spread evenly: |E|^2/(2 eta0) = 1/(4 pi) W/sr."""
    found = arrays()
    found["e_phi"] = np.full_like(found["e_phi"], np.sqrt(2 * ETA0 / (4 * np.pi)))
    found["e_theta"] = np.zeros_like(found["e_theta"])
    return found


@pytest.mark.parametrize("which", ["along", "across"])
def test_one_watt_spread_evenly_is_0_dbi_in_every_direction(look, which):
    figure = style.sheet(5, 5)
    axes = style.polar_axes(figure, (0.2, 0.2, 0.6, 0.6))
    results = Results(isotropic(), {})
    cuts.draw_cut(axes, style.far_field(results, record()), 1, which, record(), None)
    gain = line(axes, "full wave, co-polar (E across the guide)").get_ydata()
    # Rounding at the directions of the grid, 5 degrees apart. Between them cubic splines of a phase that
    # turns by up to 0.93 rad a step (51.3 rad/m, 0.2085 m): (0.93^4)/384 of the field, 0.02 dB, and twice
    # that at the ends of the grid.
    np.testing.assert_allclose(gain[::20], 0.0, atol=1e-9)
    np.testing.assert_allclose(gain, 0.0, atol=0.04)
    bottom, top = axes.get_ylim()
    assert top - bottom == cuts.RANGE_DB
    # Nothing is cross-polar, so there is no curve of it.
    assert [found.get_label() for found in axes.lines] == ["full wave, co-polar (E across the guide)"]
    assert (
        cuts.hidden_cross(style.far_field(results, record()), 1, which, bottom) == "cross-polar below −35 dBi"
    )


def test_gain_in_pictures_is_that_of_the_verdict():
    """0.9 W accepted, 1.02 W in the stored field, 0.18 W lost: efficiency 0.85, so 0.765 of the directivity,
    which is 1.
    """
    found = isotropic()
    watts = {"accepted_power": 0.9, "radiated_power": 1.02, "wall_loss": 0.18}
    powers = {name: np.full(found["far_frequency"].size, power) for name, power in watts.items()}
    field = np.sqrt(1.02) * found["e_phi"]  # 1.02 W spread evenly
    far = style.far_field(Results(found | powers | {"e_phi": field}, {}), record())
    np.testing.assert_allclose(style.field_gain(far, 1), 0.765, rtol=1e-12)  # rounding


def test_cuts_show_the_centre_frequency_at_the_right_angles(look):
    found = arrays()
    found["e_phi"][1, 12, 18] = 30.0  # theta 60 deg, phi 90 deg: 30 deg from the front towards the far end
    found["e_phi"][1, 18, 12] = 20.0  # theta 90 deg, phi 60 deg: 30 deg from the front towards +x
    far = style.far_field(Results(found, {}), record())
    for which, field in (("along", 30.0), ("across", 20.0)):
        axes = style.polar_axes(style.sheet(5, 5), (0.2, 0.2, 0.6, 0.6))
        cuts.draw_cut(axes, far, 1, which, record(), guess())
        co = line(axes, "full wave, co-polar (E across the guide)")
        at = np.argmin(np.abs(co.get_xdata() - np.radians(30)))
        expected = 10 * np.log10(4 * np.pi * field**2 / (2 * ETA0))
        np.testing.assert_allclose(co.get_ydata()[at], expected, **EXACT)
        estimate = line(axes, "estimate")
        np.testing.assert_allclose(estimate.get_ydata().max(), 9.0, **EXACT)
        # Clockwise from the top: +30 deg lies to the right of broadside on the sheet.
        front, right = (axes.transData.transform((np.radians(d), co.get_ydata()[at])) for d in (0, 30))
        assert right[0] > front[0] and right[1] < front[1]


def test_cuts_state_beamwidth_and_lobes(look):
    """((1 + cos)^2 + 0.05)^2 falls to half power at 53.0 deg by hand: (1 + c)^2 = 4.05/sqrt(2) - 0.05."""
    half = np.degrees(np.arccos(np.sqrt(4.05 / np.sqrt(2) - 0.05) - 1))
    shown = words(cuts.cuts_figure(Results(arrays(), {}), record(), guess()))
    assert f"half-power beamwidth {2 * half:.1f}°" in shown
    back = 20 * np.log10(4.05 / 0.05)
    assert f"front to back {back:.1f} dB" in shown
    assert "no side lobes in front" in shown
    assert "estimate: 9.0 dBi, beamwidth 130.0°" in shown
    assert "never falls to half power" in words(cuts.cuts_figure(Results(isotropic(), {}), record(), None))


def test_cut_scale_holds_the_higher_of_full_wave_and_estimate():
    """Full wave 0 dBi, estimate 9 dBi: the scale ends at 10; alone at 5."""
    far = style.far_field(Results(isotropic(), {}), record())
    assert cuts.scale_top(far, 1, guess()) == 10.0
    assert cuts.scale_top(far, 1) == 5.0


def test_estimate_without_gain_is_not_drawn_in_the_cuts(look):
    silent = replace(guess(), along=None, across=None)
    assert "estimate" not in words(cuts.cuts_figure(Results(arrays(), {}), record(), silent))


def test_gain_body_points_where_the_gain_is():
    gain = np.array([[10.0, 10.0], [-5.0, 10.0]])
    body = gain_body.gain_body(gain, np.radians([0.0, 90.0]), np.radians([0.0, 90.0]), top=10.0)
    expected = [[[0, 0, 1], [0, 0, 1]], [[0.5, 0, 0], [0, 1, 0]]]  # 15 of 30 dB: half the radius
    np.testing.assert_allclose(body, expected, atol=1e-12)


def test_viewer_sees_the_near_side_of_a_ball():
    """A patch of a ball about the origin is seen where its outward direction points at the viewer, here along
    z.
    """
    theta, phi = np.radians(np.arange(0, 181, 5)), np.radians(np.arange(0, 361, 5))
    patches = antenna_solid.patches_between(
        gain_body.gain_body(np.zeros((len(theta), len(phi))), theta, phi, top=0.0)
    )
    seen = gain_body.faces_viewer(patches, np.eye(3))
    assert np.array_equal(seen, patches[:, :, 2].mean(axis=1) > 0)


def test_map_has_the_front_in_its_middle_and_plus_x_on_the_right():
    found = arrays()
    far = style.far_field(Results(found, {}), record())
    gain = np.zeros((37, 73))
    gain[9, 0] = gain[9, 72] = 7.0  # theta 45 deg, phi 0 = 360 deg: halfway from +x to +z
    gain[18, 18] = 5.0  # +y
    longitude, latitude, shown = sphere.front_map(far.theta, far.phi, gain)
    assert longitude[0] == -np.pi and longitude[-1] == np.pi and np.all(np.diff(longitude) >= 0)
    where = np.argwhere(shown == 7.0)
    np.testing.assert_allclose(np.degrees([longitude[where[0, 1]], latitude[where[0, 0]]]), [90, 45], **EXACT)
    where = np.argwhere(shown == 5.0)
    np.testing.assert_allclose(np.degrees([longitude[where[0, 1]], latitude[where[0, 0]]]), 0, atol=1e-9)
    # Both ends of the map are the same direction: the back.
    np.testing.assert_array_equal(shown[:, 0], shown[:, -2])


def test_slot_figure_shows_the_centre_frequency_relative_to_the_mean(look):
    """20, 24, 28 V at 0, 90, 0 deg: mean 24 V; the sum 48 + 24j has the phase 26.565 deg (by hand)."""
    upper, lower = inside.slots_figure(Results(arrays(), {}), record(), guess()).axes
    full = line(upper, "full wave")
    np.testing.assert_allclose(full.get_xdata(), [125, 208.5, 292], **EXACT)
    np.testing.assert_allclose(full.get_ydata(), 20 * np.log10([20 / 24, 1, 28 / 24]), **EXACT)
    # The phase by hand is rounded to 0.001 deg.
    np.testing.assert_allclose(
        line(lower, "full wave").get_ydata(), [-26.565, 63.435, -26.565], atol=6e-4, rtol=0
    )
    expected = 20 * np.log10(np.array([0.9, 1, 0.9]) / (2.8 / 3))
    np.testing.assert_allclose(line(upper, "estimate").get_ydata(), expected, **EXACT)


def test_slots_that_cancel_still_have_phases():
    np.testing.assert_allclose(
        inside.relative_excitation(np.array([1.0, -1.0]))[1] % 360, [0, 180], atol=1e-9
    )


def test_field_maps_hold_the_normalized_field_in_place(look):
    found = arrays()
    figure = inside.field_figure(Results(found, {}), record(), None)
    images = [
        child for axes in figure.axes for child in axes.get_children() if isinstance(child, NonUniformImage)
    ]
    magnitude, instant = images
    field = found["cut_field"][1]
    top = np.abs(field).max()
    np.testing.assert_allclose(magnitude.get_array(), np.abs(field) / top, **EXACT)
    # A standing wave of one phase: at the best instant its modulus is its magnitude everywhere.
    np.testing.assert_allclose(np.abs(instant.get_array()), np.abs(field) / top, atol=1e-12)
    assert instant.get_array().min() < -0.9
    np.testing.assert_allclose(magnitude.get_extent(), [0, 334, -45, 45], **EXACT)
    assert figure.axes[0].get_aspect() == 1.0
    outlines = figure.axes[0].collections[0].get_paths()
    np.testing.assert_allclose(outlines[1].get_extents().extents, [178.5, -16.7, 238.5, -10.7], rtol=1e-9)


def test_overview_holds_all_four_parts(look):
    found = arrays()
    figure = overview.overview_figure(Results(found, {}), record(), guess())
    np.testing.assert_allclose(
        line(figure.axes[0], "full wave").get_ydata(), 20 * np.log10(np.abs(found["s11"])), **EXACT
    )
    assert [axes.name for axes in figure.axes] == [
        "rectilinear",
        "polar",
        "polar",
        "rectilinear",
        "rectilinear",
    ]
    assert any(isinstance(child, NonUniformImage) for child in figure.axes[3].get_children())


@pytest.mark.parametrize(
    "attributes, shown",
    [
        ({"cells": 612864}, "full wave (solver mesh: 612,864 cells)"),
        ({"cells": 612864, "quality": "draft"}, "full wave (solver mesh: 612,864 cells, quality: draft)"),
    ],
)
def test_foot_names_the_mesh_where_known(look, attributes, shown):
    assert shown in words(match.match_figure(Results(arrays(), attributes), record(), None))
    assert "cells" not in words(match.match_figure(Results(arrays(), {}), record(), None))


def test_a_file_in_place_of_the_folder_is_refused(tmp_path):
    (tmp_path / "file").write_text("in the way")
    with pytest.raises(MachineError, match="file"):
        write_figures(Results(arrays(), {}), record(), None, tmp_path / "file")


def test_what_goes_wrong_in_the_second_process_is_told_by_the_first(tmp_path, monkeypatch):
    def fail(*_):
        raise ZeroDivisionError("in the cuts")

    monkeypatch.setitem(album.DRAWINGS, "cuts", fail)
    with pytest.raises(ZeroDivisionError, match="in the cuts"):
        write_figures(Results(arrays(), {}), record(), None, tmp_path)


def test_global_settings_and_pyplot_stay_as_they_were(tmp_path):
    with matplotlib.rc_context({"font.size": 5.0, "axes.facecolor": "black"}):
        before = dict(matplotlib.rcParams)
        [path, *_] = write_figures(Results(arrays(), {}), record(), None, tmp_path)
        assert dict(matplotlib.rcParams) == before
    check_png(path)
    pyplot = sys.modules.get("matplotlib.pyplot")
    assert pyplot is None or pyplot.get_fignums() == []


def test_importing_the_package_does_not_load_matplotlib():
    code = "import sys, simharness.plot; print('matplotlib' in sys.modules, 'skrf' in sys.modules)"
    done = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, timeout=60, check=True
    )
    assert done.stdout.split() == ["False", "False"]
