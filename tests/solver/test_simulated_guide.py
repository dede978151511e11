"""An empty guide between two guide ports.

Layout: closed guide, absorbing ends, waves counted 0.9 guide wavelengths apart.
Theory: TE10 phase constant and wave impedance (any textbook; sizes EIA RS-261).
Known bias: numerical dispersion, about (k h)^2/24 = 0.2 % at 32 cells a wavelength, less what the
finite time step takes back. Seen: wavelength within 0.07 %, impedance within 0.2 %.
"""

import numpy as np
import pytest
from textbook_scenes import guide_scene, solved

from simharness.em.guide.rectangular import guide_wavelength, phase_constant, wave_impedance
from simharness.em.signals.spectra import spectrum
from simharness.mesh.grid import grid
from simharness.mesh.settings import MeshSettings
from simharness.results.ports import mean_over_cell

GUIDES = {"WR-90": (22.86e-3, 10.16e-3, 8.2e9, 12.4e9), "WR-340": (86.36e-3, 43.18e-3, 2.2e9, 3.3e9)}


@pytest.mark.parametrize("name", GUIDES)
def test_wavelength_and_impedance_of_the_simulated_guide_within_0_3_percent(store, name):
    a, b, low, high = GUIDES[name]
    half = 0.9 * guide_wavelength(a, low)
    mesh = MeshSettings(per_wavelength=32)
    scene = guide_scene(name, a, b, low, high, half=half)
    results = solved(store, scene, mesh)
    f = np.linspace(low, high, 9)
    u1, u2 = (spectrum(results["time"], results[n], f) for n in ("port_voltage", "port2_voltage"))
    i1 = spectrum(results["current_time"], results["port_current"], f)
    beta, distance = phase_constant(a, f), scene.ports[1].plane - scene.ports[0].plane
    found = beta + np.angle(u1 / u2 * np.exp(-1j * beta * distance)) / distance
    np.testing.assert_allclose(found, beta, rtol=3e-3)
    impedance = u1 / (i1 / mean_over_cell(scene.ports[0], grid(scene, mesh), f))
    np.testing.assert_allclose(np.abs(impedance), wave_impedance(a, f), rtol=3e-3)
    assert np.max(np.abs(results["s11"])) < 5e-3  # the ports and the absorber themselves; seen 1.2e-3
    np.testing.assert_allclose(np.abs(results["s21"]), 1, atol=1e-3)  # lossless; seen 1e-4
