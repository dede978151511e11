"""Fields among long metal bodies, against series, images, reciprocity and integrals in space."""

from __future__ import annotations

import numpy as np
from scipy.special import h2vp, hankel2, k0

from simharness.constants import C0, MU0, TWO_PI
from simharness.em.pattern.aperture import Aperture
from simharness.em.pattern.rectangular_tube import RectangularTube
from simharness.em.scatter.bodies import Bodies, Plane
from simharness.em.scatter.coupling import mutual_admittances

K = 121.5
"""5.8 GHz, 1/m."""
PHI = np.linspace(0, TWO_PI, 25)
WIDTH, HEIGHT = 0.044, 0.024
TUBE = np.array([[-WIDTH / 2, -HEIGHT], [WIDTH / 2, -HEIGHT], [WIDTH / 2, 0.0], [-WIDTH / 2, 0.0]])
SLOTS = np.array([[0.0072, 0.0], [-0.0072, 0.0]])


def circle(radius: float, middle: tuple[float, float] = (0.0, 0.0), corners: int = 96) -> np.ndarray:
    """A polygon of the area of the circle."""
    grown = radius * np.sqrt(TWO_PI / (corners * np.sin(TWO_PI / corners)))
    angle = TWO_PI * np.arange(corners) / corners
    return grown * np.stack([np.cos(angle), np.sin(angle)], axis=1) + middle


def test_cylinder_by_its_series():
    """H_z on a metal cylinder, TE: -2j/(pi ka) sum j^m exp(j m phi) / H_m'(2)(ka) (Harrington, Time-Harmonic
    Electromagnetic Fields, sec. 5-9; memory). Seen with 24 elements per wavelength: 0.0019 of 1.9."""
    radius, corners = 0.025, 96
    outline = circle(radius, corners=corners)
    point = (outline[:1] + outline[1:2]) / 2
    found = Bodies((outline,)).solved(K).plane_waves(point, PHI)[0]
    orders = np.arange(-40, 41)
    angle = PHI - np.pi / corners
    terms = 1j ** np.abs(orders) / np.array([h2vp(abs(int(m)), K * radius) for m in orders])
    exact = -2j / (np.pi * K * radius) * np.exp(1j * orders * angle[:, None]) @ terms
    assert np.allclose(found, exact, rtol=0, atol=0.004)


def test_tube_by_the_other_integral_equation():
    """The rectangular tube of the plain estimate, with many elements. Seen: 0.012 of 2.6."""
    fine = RectangularTube(WIDTH, HEIGHT).response(K, SLOTS[:, 0], PHI, per_wavelength=600)
    found = Bodies((TUBE,)).solved(K).plane_waves(SLOTS, PHI)
    assert np.allclose(found, fine, rtol=0, atol=0.02)


def test_a_plane_is_the_mirrored_body():
    """Image principle: on the plane's side, the body with its image under both incident waves."""
    place = -0.06
    found = Bodies((TUBE,), Plane(1, place)).solved(K).plane_waves(SLOTS, PHI)
    mirrored = (TUBE * [1, -1] + [0, 2 * place])[::-1]
    both = Bodies((TUBE, mirrored)).solved(K)
    image = both.plane_waves(SLOTS, -PHI) * np.exp(2j * K * place * np.sin(PHI))
    wanted = both.plane_waves(SLOTS, PHI) + image
    above = np.sin(PHI) > 1e-9
    assert np.allclose(found[:, above], wanted[:, above], rtol=0, atol=1e-3)
    assert np.all(found[:, np.sin(PHI) < -1e-9] == 0)


def test_a_far_body_has_no_effect():
    """The field of a pole of a tenth of a wavelength falls as 1/sqrt(distance)."""
    alone = Bodies((TUBE,)).solved(K).plane_waves(SLOTS, PHI)
    change = []
    for away in (1.0, 16.0):
        there = Bodies((TUBE, circle(0.0026, (away, 0.0), 24))).solved(K).plane_waves(SLOTS, PHI)
        change.append(np.abs(there - alone).max())
    assert change[0] < 0.05
    assert np.isclose(change[0] / change[1], 4.0, rtol=0.15)


def test_reciprocity_of_line_sources():
    """Source and observer changed over, for waves that travel and that decay. Seen: 2 % of the far ones."""
    points = np.array([[0.0072, 0.0], [0.067, 0.01]])
    for wavenumber in (K, -80j):
        field = Bodies((TUBE, np.add(TUBE, (0.06, 0.01)))).solved(wavenumber).from_points(points, points)
        assert np.isclose(field[0, 1], field[1, 0], rtol=0.03)


def test_two_slots_in_space_by_the_integral_over_both():
    """The spectral integral with the free field of 2 G against the same integral in space."""
    frequency, length = 5.8e9, 0.025
    k = TWO_PI * frequency / C0

    def slot(z: float) -> Aperture:
        return Aperture(np.array([0.0]), np.array([z]), np.array([length]), np.ones(1))

    z = np.linspace(-length / 2, length / 2, 401)
    weight = np.full(z.size, z[1] - z[0])
    weight[[0, -1]] /= 2
    current = weight * np.cos(np.pi * z / length)
    charge = -weight * np.pi / length * np.sin(np.pi * z / length)
    for across, along in ((0.06, 0.0), (0.06, 0.03), (0.02, 0.0), (0.5, 0.1)):

        def greens(wavenumber: complex, across: float = across) -> np.ndarray:
            if wavenumber.imag:
                return np.array([[2 * k0(-wavenumber.imag * across) / TWO_PI]])
            return np.array([[-0.5j * hankel2(0, wavenumber.real * across)]])

        found = mutual_admittances(greens, slot(0.0), slot(along), frequency, across)[0, 0]
        distance = np.sqrt(across**2 + (z[:, None] - z[None] - along) ** 2)
        green = 2 * np.exp(-1j * k * distance) / (4 * np.pi * distance)
        wanted = -(k**2 * current @ green @ current - charge @ green @ charge) / (
            1j * TWO_PI * frequency * MU0
        )
        assert np.isclose(found, wanted, rtol=1e-3)
