"""Guides against printed tables; each number keeps its printed digits."""

import math

import numpy as np
import pytest

from simharness.constants import C0
from simharness.em.guide import rectangular

# EIA RS-261 / IEC 60153-2 chart of standard sizes (print): TE10 cutoff, GHz.
CUTOFF = {
    "WR-430": 1.372,
    "WR-340": 1.736,
    "WR-284": 2.078,
    "WR-229": 2.577,
    "WR-187": 3.152,
    "WR-159": 3.712,
    "WR-137": 4.301,
    "WR-112": 5.260,
    "WR-90": 6.557,
    "WR-62": 9.488,
}
WR90 = 22.86e-3, 10.16e-3


@pytest.mark.parametrize("size", rectangular.standard_guides(), ids=lambda g: g.name)
def test_standard_cutoff(size):
    # One unit of the last printed digit: some of the chart is cut off, not rounded.
    assert rectangular.cutoff_frequency(size.a) / 1e9 == pytest.approx(CUTOFF[size.name], abs=1e-3)


def test_standard_bands_lie_between_cutoff_and_next_mode():
    for size in rectangular.standard_guides():
        assert (
            rectangular.cutoff_frequency(size.a)
            < size.low
            < size.high
            < rectangular.next_mode(size.a, size.b)[1]
        )


@pytest.mark.parametrize(
    ("frequency", "wavelength_mm", "impedance"), [(9.375e9, 44.743, 527.1), (10e9, 39.707, 499.0)]
)
def test_wr90_wavelength_and_impedance(frequency, wavelength_mm, impedance):
    # Computed from the dispersion relation elsewhere; half a unit of the last digit.
    assert rectangular.guide_wavelength(WR90[0], frequency) * 1e3 == pytest.approx(wavelength_mm, abs=5e-4)
    assert rectangular.wave_impedance(WR90[0], frequency) == pytest.approx(impedance, abs=0.05)


def test_wr90_copper_loss():
    # Print: about 0.11 dB/m; computed elsewhere with 5.8e7 S/m: 0.1084.
    loss = rectangular.attenuation_db(rectangular.attenuation(*WR90, 10e9, 5.8e7))
    assert loss == pytest.approx(0.1084, abs=5e-5)


def test_pozar_example_3_1():
    # Pozar, Microwave Engineering, Example 3.1 (memory): 10.7 x 4.3 mm copper guide, er 2.08,
    # tan d 0.0004, 15 GHz: beta 345.1, alpha_d 1.03 dB/m, alpha_c 0.434 dB/m. The book rounds k to
    # 453.1 and c to 3e8; recomputed 345.5, 1.034, 0.4336, so beta agrees to 0.15 %.
    a, b, f = 10.7e-3, 4.3e-3, 15e9
    assert rectangular.phase_constant(a, f, 2.08) == pytest.approx(345.1, rel=0.0015)
    assert rectangular.phase_constant(a, f, 2.08) == pytest.approx(345.5, abs=0.05)
    k = 2 * math.pi * f * math.sqrt(2.08) / C0
    dielectric = k**2 * 0.0004 / (2 * rectangular.phase_constant(a, f, 2.08))  # Np/m, equation 3.29
    assert rectangular.attenuation_db(dielectric) == pytest.approx(1.03, abs=0.005)
    wall = rectangular.attenuation_db(rectangular.attenuation(a, b, f, 5.8e7, 2.08))
    assert wall == pytest.approx(0.434, abs=0.0005)


@pytest.mark.parametrize(
    ("name", "printed", "recomputed"),
    [
        ("WR-90", (6.45, 4.48), (6.42, 4.45)),
        ("WR-284", (1.102, 0.752), (1.102, 0.755)),
        ("WR-187", (2.08, 1.44), (2.07, 1.44)),
    ],
)
def test_brass_loss_table(name, printed, recomputed):
    # JAN table, dB/100 ft, low to high band edge, as reprinted in Reference Data for Radio Engineers
    # (memory). The table's conductivity is not known; with Pozar's 2.564e7 S/m it agrees within 0.8 %.
    size = next(g for g in rectangular.standard_guides() if g.name == name)
    ends = np.array([size.low, size.high])
    loss = rectangular.attenuation_db(rectangular.attenuation(size.a, size.b, ends, 2.564e7)) * 30.48
    np.testing.assert_allclose(loss, printed, rtol=0.008, atol=0)
    np.testing.assert_allclose(loss, recomputed, rtol=0, atol=0.0051)
