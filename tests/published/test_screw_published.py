"""Posts and screws across a rectangular guide against the Waveguide Handbook and bounds that must hold."""

from __future__ import annotations

import math

import numpy as np
import pytest

from simharness.constants import C0, TWO_PI
from simharness.em.guide.rectangular import phase_constant
from simharness.em.screw.moment import screwed_guide
from simharness.em.slot.basis import Screw, SlottedGuide

# Marcuvitz, Waveguide Handbook, sec. 5.11(a), p. 257-258, WR-90 at 10 GHz: |S11| and |S21| of a centred post
# from wall to wall by its radius in mm, computed from the printed formula (valid for d/a < 0.10).
POST = {0.5: (0.7471, 0.6647), 0.635: (0.7965, 0.6046), 1.0: (0.8870, 0.4618)}


def two_port(a, b, screw, frequency):
    return screwed_guide(SlottedGuide(a, b, 1e-3, (), screws=(screw,)), np.array([frequency]))[0]


@pytest.mark.parametrize("radius_mm", POST)
def test_a_post_from_wall_to_wall(radius_mm):
    """The printed formula is good to a few parts in a thousand; seen within 0.003 in |S11| and 0.005 in
    |S21|."""
    s = two_port(22.86e-3, 10.16e-3, Screw(0.0, 0.0, 10.16e-3, 2e-3 * radius_mm), 10e9)
    np.testing.assert_allclose(np.abs(s[:, 0]), POST[radius_mm], atol=6e-3)


def axial_polarizability(long: float, across: float) -> float:
    """Of a conducting prolate spheroid along its axis, over eps_0, m^3: volume over its depolarization factor
    (closed form; L. D. Landau, E. M. Lifshitz, Electrodynamics of Continuous Media, sec. 4)."""
    e = math.sqrt(1.0 - (across / long) ** 2)
    factor = (1.0 - e**2) / e**3 * (math.atanh(e) - e)
    return 4.0 / 3.0 * math.pi * long * across**2 / factor


@pytest.mark.parametrize("slender", [1.5, 2.0, 4.0, 8.0])
def test_a_short_screw_lies_between_spheroids(slender):
    """The polarizability of a conductor grows with all that is added to it (G. Polya, G. Szego, Isoperimetric
    Inequalities in Mathematical Physics): a cylinder with its image in the wall has more than the spheroid
    within it, and less than the one about it whose axes are sqrt(2) times as long. A dipole p in the guide is
    a susceptance of 2 k^2 (p / eps_0 E) / (a b beta), small-obstacle theory, half of the dipole with its
    image being in the guide."""
    a, b, frequency, depth = 40e-3, 20e-3, 5.8e9, 1.0e-3
    s = two_port(a, b, Screw(0.0, 0.0, depth, 2 * depth / slender), frequency)
    even = s[0, 0] + s[0, 1]
    found = 2 * ((1 - even) / (1 + even)).imag
    k, beta = TWO_PI * frequency / C0, float(phase_constant(a, np.array([frequency]))[0])
    per_volume = 2 * k**2 / (a * b * beta)
    least, most = (
        per_volume * axial_polarizability(depth * size, depth * size / slender) / 2
        for size in (1.0, math.sqrt(2.0))
    )
    assert least < found < most
