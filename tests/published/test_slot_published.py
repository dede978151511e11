"""Slot, probe and taper against published values."""

import math

import numpy as np
import pytest
from collin import shorted_resistance

from simharness.em.guide.rectangular import guide_wavelength
from simharness.em.probe.straight import ProbeShape
from simharness.em.row import taper
from simharness.em.slot.one_term import stevenson_conductance


def test_stevenson_factor():
    # Print gives the factor as 2.09; 480/(73 pi) is 2.0930. With 2.09, WR-90 at 9.375 GHz has 1.2353
    # (computed).
    printed = (
        float(stevenson_conductance(22.86e-3, 10.16e-3, 22.86e-3 / 2, 9.375e9))
        * 2.09
        / (480 / (73 * math.pi))
    )
    assert printed == pytest.approx(1.2353, abs=5e-5)


@pytest.mark.parametrize(
    ("a", "b", "frequency", "height"),
    [(22.86e-3, 10.16e-3, 10e9, 5.92e-3), (86.36e-3, 43.18e-3, 2.45e9, 23.2e-3)],
)
def test_collin_probe_of_50_ohm(a, b, frequency, height):
    # Collin, Field Theory of Guided Waves, ch. 7 (memory, re-derived): heights for 50 ohm a quarter guide
    # wavelength from the short. Half a unit of the last digit of the height is 0.2 % of it; tan^2(kd/2)
    # makes 0.6 % of that.
    short = float(guide_wavelength(a, frequency)) / 4
    resistance = shorted_resistance(a, b, ProbeShape(0.0, height, 1e-3), short, frequency)
    assert resistance == pytest.approx(50, rel=0.006)


def test_dolph_chebyshev_printed_weights():
    eight = taper.dolph_chebyshev_weights(8, 26)
    np.testing.assert_allclose(eight[:4] / eight[0], [1, 1.6313, 2.3916, 2.8603], rtol=0, atol=5e-5)  # print
    # Balanis' 26 dB is a voltage ratio of 20, 26.02 dB; with 26.00 dB the centre would be 0.2 % lower.
    ten = taper.dolph_chebyshev_weights(10, 20 * math.log10(20))
    np.testing.assert_allclose(
        ten[:5] / ten[0], [1, 1.3570, 1.9709, 2.4830, 2.7745], rtol=0, atol=5e-5
    )  # exact
    # Balanis (memory) prints values up to 0.9 % higher at the centre.
    np.testing.assert_allclose(ten[:5] / ten[0], [1, 1.357, 1.974, 2.496, 2.798], rtol=0.009, atol=0)


def test_dolph_five_elements():
    # By hand from T4(x0 cos(psi/2)), x0 = cosh(arcosh(10)/4): edge x0^4/2, next 2 (x0^4 - x0^2), middle
    # 3 x0^4 - 4 x0^2 + 1.
    x0 = math.cosh(math.acosh(10) / 4)
    exact = np.array([x0**4 / 2, 2 * (x0**4 - x0**2), 3 * x0**4 - 4 * x0**2 + 1])
    five = taper.dolph_chebyshev_weights(5, 20)
    np.testing.assert_allclose(five[:3] / five[0], exact / exact[0], rtol=1e-12)
    # Stutzman & Thiele (memory) 1, 1.61, 1.94; exact 1, 1.6085, 1.9319, so the last is 0.4 % high.
    np.testing.assert_allclose(five[:3] / five[0], [1, 1.61, 1.94], rtol=0.0045, atol=0)
    # Their D 4.69 at half-wave spacing, (sum w)^2 / sum w^2; half a unit of the last digit.
    assert five.sum() ** 2 / np.sum(five**2) == pytest.approx(4.69, abs=0.005)


def taylor_sigma(side_lobe_db, nbar):
    """Dilation of the Taylor line source: its beam is broader than Chebyshev's by this."""
    a = math.acosh(10 ** (side_lobe_db / 20)) / math.pi
    return nbar / math.sqrt(a**2 + (nbar - 0.5) ** 2)


def taylor_coefficients(side_lobe_db, nbar):
    """Fourier coefficients of the line source, orders 1 to nbar - 1 (T. T. Taylor, IRE Trans. AP-3, 1955)."""
    a2 = (math.acosh(10 ** (side_lobe_db / 20)) / math.pi) ** 2
    sigma2 = taylor_sigma(side_lobe_db, nbar) ** 2
    n = np.arange(1, nbar)
    values = []
    for m in n:
        above = np.prod(1 - m**2 / (sigma2 * (a2 + (n - 0.5) ** 2)))
        below = np.prod(1 - m**2 / n[n != m] ** 2)
        values.append((-1) ** (m + 1) * above / (2 * below))
    return np.array(values)


@pytest.mark.parametrize(("db", "nbar", "sigma"), [(25, 5, 1.07728), (30, 6, 1.06079)])
def test_taylor_sigma(db, nbar, sigma):
    # Formula in print, numbers computed elsewhere; half a unit of the last digit.
    assert taylor_sigma(db, nbar) == pytest.approx(sigma, abs=5e-6)


@pytest.mark.parametrize("count", [5, 8, 17])
def test_dolph_chebyshev_against_an_independent_library(count):
    from scipy.signal import windows

    # 50 dB: the library's Chebyshev window warns below 45 dB. Two algorithms, rounding only.
    np.testing.assert_allclose(
        taper.dolph_chebyshev_weights(count, 50), windows.chebwin(count, 50), rtol=1e-9
    )


@pytest.mark.parametrize("count", [5, 8, 17])
def test_taylor_against_the_published_series(count):
    """The series of the line source at the centres of the cells; two programs, rounding only."""
    place = (np.arange(count) - (count - 1) / 2) / count
    other = 1 + 2 * np.cos(2 * math.pi * np.outer(place, np.arange(1, 5))) @ taylor_coefficients(30, 5)
    np.testing.assert_allclose(taper.taylor_nbar_weights(count, 30, 5), other / other.max(), rtol=1e-12)
