"""Free-space loss, power density and exposure levels against the printed figures."""

from __future__ import annotations

import math

import numpy as np
import pytest

from simharness.link.propagation import (
    exposure_distance,
    free_space_loss,
    polarization_match,
)
from simharness.link.rules import exposure_limits, radiated_limit


@pytest.mark.parametrize("mhz, km", [(2450.0, 1.0), (5800.0, 12.0), (10370.0, 0.05)])
def test_free_space_loss_of_p525(mhz, km):
    """ITU-R P.525 (print): 32.4 + 20 log f_MHz + 20 log d_km. Tolerance: half a unit of its last digit."""
    printed = 32.4 + 20 * math.log10(mhz) + 20 * math.log10(km)
    assert free_space_loss(mhz * 1e6, km * 1e3) == pytest.approx(printed, abs=0.05)


def test_hundred_milliwatts_at_one_metre():
    """1.732 V/m and 7.96 mW/m2 (computed, the former with 120 pi ohm as usual); half a unit of the last
    digit.
    """
    assert exposure_distance(0.1, 7.96e-3) == pytest.approx(1.0, rel=0.005 / 7.96 / 2)
    assert exposure_distance(0.1, 1.732**2 / (120 * math.pi)) == pytest.approx(1.0, rel=0.0005 / 1.732)


def test_exposure_levels_of_icnirp_2020():
    """Local, general public (print): 40 W/m2 to 6 GHz, 55 f^-0.177 above; the two meet within a tenth at 6
    GHz.
    """
    assert [limit.density for limit in exposure_limits(2.45e9)] == [40.0, 10.0, 10.0]
    assert exposure_limits(10e9)[0].density == pytest.approx(
        55 / 10**0.177, rel=1e-12
    )  # the same powers, rounding
    assert exposure_limits(6.0001e9)[0].density == pytest.approx(40.0, abs=0.1)


def test_exposure_distance_by_the_formula():
    """r = sqrt(P G / (4 pi S)): 1 W with 12 dBi against 10 W/m2 is 0.355 m (by hand); half a unit of the last
    digit.
    """
    assert exposure_distance(10**1.2, 10.0) == pytest.approx(0.355, abs=0.0005)


@pytest.mark.parametrize("tilt, loss", [(0.0, 0.0), (30.0, 1.25), (45.0, 3.01), (60.0, 6.02)])
def test_polarization_loss_between_linear_antennas(tilt, loss):
    """The cosine-squared law of every textbook, in dB to two digits; half a unit of the last."""
    found = -10 * math.log10(polarization_match(0.0, 0.0, 0.0, math.radians(tilt)))
    assert found == pytest.approx(loss, abs=0.005)


@pytest.mark.parametrize("ratio_db", [1.0, 3.0, 10.0])
def test_elliptical_against_linear(ratio_db):
    """Major and minor axis share the power as 1 to g^2: 1/(1 + g^2) and g^2/(1 + g^2), from first principles;
    rounding.
    """
    g = 10 ** (-ratio_db / 20)
    assert polarization_match(g, 0.0, 0.0, 0.0) == pytest.approx(1 / (1 + g**2), rel=1e-12)
    assert polarization_match(g, 0.0, 0.0, np.pi / 2) == pytest.approx(g**2 / (1 + g**2), rel=1e-12)


@pytest.mark.parametrize(
    "region, ghz, gain, dbm",
    [
        ("europe", 2.44, 12.0, 20.0),
        ("europe", 5.8, -3.0, 13.98),
        ("us", 2.44, 6.0, 36.0),
        ("us", 2.44, 12.0, 36.0),
        ("us", 5.8, 2.0, 32.0),
        ("us-point-to-point", 2.44, 12.0, 40.0),
    ],
)
def test_limits_on_radiated_power(region, ghz, gain, dbm):
    """100 and 25 mW EIRP; 1 W to 6 dBi, then a decibel less for each, or for each three (print); two
    digits.
    """
    assert radiated_limit(region, ghz * 1e9).radiated_dbm(gain) == pytest.approx(dbm, abs=0.005)


def test_no_limit_at_hand_outside_the_bands():
    assert radiated_limit("europe", 3.5e9) is None
