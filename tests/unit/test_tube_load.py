"""What runs into a load at the end of a round tube."""

from pathlib import Path

import numpy as np
import pytest
from scipy.special import jv, jvp

from simharness.em.guide.rectangular import wave_impedance
from simharness.em.guide.round import TE11_ROOT, equivalent_rectangle
from simharness.geometry import antenna_scene
from simharness.records import parse_record, read_record
from simharness.records.text import plain_data
from simharness.results.tube_fields import tube_load_power

RECORD = read_record(Path(__file__).parents[2] / "models" / "four-slot-tube-2g44.toml")


def _te11(radius, x, y):
    """E_x and E_y of TE11, E along y on the axis, from H_z = J1(k r) cos(phi), phi from +x (any textbook),
    arbitrary unit.
    """
    k, r, phi = TE11_ROOT / radius, np.maximum(np.hypot(x, y), 1e-12), np.arctan2(y, x)
    radial, turning = jv(1, k * r) / (k * r) * np.sin(phi), jvp(1, k * r) * np.cos(phi)
    return radial * np.cos(phi) - turning * np.sin(phi), radial * np.sin(phi) + turning * np.cos(phi)


@pytest.mark.parametrize("turned", [False, True])
def test_power_into_the_load_is_that_of_te11_in_either_direction(turned):
    """|E|^2/(2 Z) integrated over the cross-section; 1e-3: midpoint rule in r, whose error is (pi/200)^2/24,
    and room to spare.
    """
    data = plain_data(RECORD)
    data["guide"] |= {"far_end": "load", "load_mm": 300.0}
    scene = antenna_scene(parse_record(data))
    x0, x1, _y0, _y1, _, end = scene.inside
    radius, far = (x1 - x0) / 2, np.array(scene.spectrum.far)
    r, phi = (np.arange(200) + 0.5) * radius / 200, np.arange(64) * 2 * np.pi / 64
    e = _te11(radius, r[:, None] * np.cos(phi), r[:, None] * np.sin(phi))
    whole = np.sum((e[0] ** 2 + e[1] ** 2) * r[:, None]) * (radius / 200) * (2 * np.pi / 64)
    expected = whole / (2 * wave_impedance(equivalent_rectangle(2 * radius)[0], far))
    x, z = np.linspace(x0 - 2e-3, x1 + 2e-3, 41), np.array([end - 5e-3, end, end + 5e-3])
    field = np.zeros((far.size, 3, x.size, 1, z.size), dtype=complex)
    along_x = _te11(radius, np.zeros_like(x), x) if turned else _te11(radius, x, np.zeros_like(x))
    field[:, 0 if turned else 1, :, 0, :] = along_x[1][:, None]
    found = tube_load_power(scene, ([x, np.zeros(1), z], field), np.full(far.size, 2j))
    assert found == pytest.approx(4 * expected, rel=1e-3)
