"""The thin-wire model of a bent probe: what must hold of it, and its limits."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy.optimize import curve_fit

from simharness.constants import C0, ETA0
from simharness.em.probe.bent import BentShape, bent_network
from simharness.em.probe.network import CoaxLine
from simharness.em.probe.straight import ProbeShape, probe_network

A, B = 90e-3, 45e-3
COAX = CoaxLine(1.27e-3, 4.1e-3, 2.03)
FREQUENCY = np.array([2.3e9, 2.45e9, 2.6e9])
OPEN = BentShape(0.0, 14e-3, 28e-3, 20e-3, 1, False, 1.27e-3)
SOLDERED = replace(OPEN, height=14.5e-3, run=29.4e-3, rise=B - 14.5e-3, soldered=True)
CASES = [OPEN, SOLDERED, replace(OPEN, offset=12e-3, dielectric=5e-3), replace(OPEN, height=31e-3, up=-1)]
ROUNDING = 1e-9


@pytest.mark.parametrize("wire", CASES, ids=["open", "soldered", "offset with dielectric", "down"])
def test_power_balance(wire):
    """First principles: a lossless three-port scatters all that comes in; the model holds it to rounding."""
    s = bent_network(A, B, wire, COAX, FREQUENCY).s_matrix(50.0)
    unity = np.einsum("fij,fik->fjk", s.conj(), s)
    np.testing.assert_allclose(unity, np.broadcast_to(np.eye(3), unity.shape), rtol=0, atol=ROUNDING)


def test_upside_down_is_the_same():
    """First principles: a guide turned over is the same guide; only the sign of TE10 at the riser turns."""
    up = bent_network(A, B, OPEN, COAX, FREQUENCY)
    down = bent_network(A, B, replace(OPEN, height=B - OPEN.height, up=-1), COAX, FREQUENCY)
    np.testing.assert_allclose(down.own, up.own, rtol=1e-8)
    np.testing.assert_allclose(down.scatter, up.scatter, rtol=1e-8)
    np.testing.assert_allclose(down.link, -up.link, rtol=1e-8)


def test_mirrored_across_is_the_same():
    """First principles: the guide is symmetrical about its centre line."""
    left, right = (bent_network(A, B, replace(OPEN, offset=x), COAX, FREQUENCY) for x in (-15e-3, 15e-3))
    np.testing.assert_allclose(left.own, right.own, rtol=1e-8)


def test_soldered_riser_with_hardly_a_run_is_a_post_to_te10():
    """With its coax shorted a riser to the far wall scatters TE10 as a post over the full height.

    Expected: `probe_network` of that post, a model of its own (average around the wire, a few cosines for the
    current). The run of 4 mm, 2.6 mm over the wall, is in series with it: 6 % of the scattering hold its
    inductance. Seen: 4 %, 7 ohm.
    """
    frequency, run, height = np.array([1.75e9]), 4e-3, 2.6e-3
    bent = bent_network(A, B, BentShape(0.0, height, run, B - height, 1, True, 1.27e-3), COAX, frequency)
    post = probe_network(A, B, ProbeShape(0.0, B, 1.27e-3), COAX, frequency, near_short=run)
    np.testing.assert_allclose(bent.scatter, post.scatter, rtol=0.06)


def test_run_over_a_wall_is_a_line():
    """A wire over a plane is a line of 60 ohm arcosh(h/r) and the speed of light (exact), here shorted by its
    riser.

    Over six lengths the susceptance must be that of such a line, -1 / (Z tan(k l + what the riser adds)), and
    a constant capacitance of the aperture beside it; 0.2 % hold the pieces of the wire, whose length changes
    a little (seen: 0.05 %). The other walls, eleven heights away and more, take something off the impedance:
    3 % (seen: 1.5 %).
    """
    frequency, height, runs = np.array([1.75e9]), 4e-3, np.linspace(10e-3, 25e-3, 6)
    wires = [BentShape(0.0, height, run, height, -1, True, 1.27e-3) for run in runs]
    found = np.array([bent_network(A, B, wire, COAX, frequency).own[0].imag for wire in wires])
    wavenumber = 2 * math.pi * float(frequency[0]) / C0

    def shorted_line(run, line, added, aperture):
        return 1e-3 * aperture - 1 / (line * np.tan(wavenumber * run + added))

    (line, *others), _ = curve_fit(shorted_line, runs, found, p0=(150.0, 0.1, 0.5))
    np.testing.assert_allclose(shorted_line(runs, line, *others), found, rtol=2e-3)
    assert line == pytest.approx(ETA0 / (2 * math.pi) * math.acosh(2 * height / 1.27e-3), rel=0.03)


def test_dielectric_adds_capacitance():
    """First principles: a dielectric around an open wire lengthens it electrically; with air it does
    nothing.
    """
    bare, coated = (
        bent_network(A, B, replace(OPEN, run=6e-3, rise=4e-3, dielectric=d), COAX, FREQUENCY)
        for d in (0.0, 4e-3)
    )
    assert np.all(coated.own.imag > bare.own.imag)
    air = replace(COAX, eps_r=1.0)
    same = [bent_network(A, B, replace(OPEN, dielectric=d), air, FREQUENCY).own for d in (0.0, 4e-3)]
    np.testing.assert_array_equal(*same)


def test_wave_couples_through_the_riser_alone():
    """TE10 has no field along the run: with a riser moved near the side wall, where it has none either,
    nothing couples.
    """
    middle, aside = (bent_network(A, B, replace(OPEN, offset=x), COAX, FREQUENCY) for x in (0.0, 40e-3))
    assert np.all(np.abs(aside.link) < 0.25 * np.abs(middle.link)), "cos(pi x / a) is 0.17 there"
