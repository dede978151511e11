"""Coax probe and post by the method of moments against published values."""

import numpy as np
import pytest

from simharness.em.guide.rectangular import guide_wavelength, phase_constant
from simharness.em.probe.network import CoaxLine
from simharness.em.probe.straight import ProbeShape, probe_network


@pytest.mark.parametrize(
    ("radius", "reflected", "passed"),
    [(0.5e-3, 0.7471, 0.6647), (0.635e-3, 0.7965, 0.6046), (1.0e-3, 0.8870, 0.4618)],
)
def test_marcuvitz_centred_post(radius, reflected, passed):
    # Marcuvitz, Waveguide Handbook, sec. 5.11(a), p. 257-258, formula in print, WR-90 at 10 GHz (computed
    # from it). The model has the same current all around the post. What varies around it is a series
    # reactance (a/lambda_g)(pi d/a)^2 each side, 0.011, 0.018 and 0.043 of the wave impedance; it turns the
    # odd mode by twice that and so moves |S11| and |S21| by about its own size: found 0.007, 0.011, 0.019 and
    # 0.008, 0.014, 0.039.
    a, frequency = 22.86e-3, 10e9
    series = a / float(guide_wavelength(a, frequency)) * (np.pi * 2 * radius / a) ** 2
    post = ProbeShape(0.0, 10.16e-3, 2 * radius)
    network = probe_network(a, 10.16e-3, post, CoaxLine(2 * radius, 8 * radius, 1.0), np.array([frequency]))
    s11 = -0.5 * network.scatter[0]
    assert abs(s11) == pytest.approx(reflected, abs=series)
    assert abs(1 + s11) == pytest.approx(passed, abs=series)


@pytest.mark.parametrize(
    ("a", "b", "frequency", "height"),
    [(22.86e-3, 10.16e-3, 10e9, 5.92e-3), (86.36e-3, 43.18e-3, 2.45e9, 23.2e-3)],
)
def test_collin_probe_of_50_ohm(a, b, frequency, height):
    # Collin, Field Theory of Guided Waves, ch. 7 (memory, re-derived; computed): 50 ohm a quarter guide
    # wavelength before a short, for an infinitely thin wire with a sinusoidal current. That current is the
    # leading term for a thin wire; d/r from 40 to 4000 gave resistances from 49.5 to 50.9 ohm, d/r = 100 here
    # 50.2 and 49.5. Collin's height is rounded to 0.2 %, 0.6 % of resistance.
    back = float(guide_wavelength(a, frequency)) / 4
    wire, coax = ProbeShape(0.0, height, height / 50), CoaxLine(height / 50, 2.3 * height / 50, 1.0)
    f = np.array([frequency])
    network = probe_network(a, b, wire, coax, f, back)
    line = 1 / (1 - 1j / np.tan(phase_constant(a, f) * back))
    assert (1 / network.admittance(line)).real == pytest.approx(50, rel=0.02)
