"""Slots on a round tube: the series against the plane, the boundary integral and reciprocity."""

import numpy as np
import pytest
from scipy.special import hankel2

from simharness.em.pattern.round_tube import RoundTube

PHI = np.radians(np.arange(0, 360, 5.0))


def _boundary_integral(radius, k, phi, count=400):
    """H_z at the front line of a rigid circle, an independent route.

    By collocation as in `em.pattern.rectangular_tube`, on a polygon of its own.
    """
    angle = 2 * np.pi * (np.arange(count) + 0.5) / count
    points = radius * np.stack([np.sin(angle), np.cos(angle) - 1], axis=1)
    normal = np.stack([np.sin(angle), np.cos(angle)], axis=1)
    seen = np.concatenate([points, [[0.13 * radius, -0.8 * radius], [-0.31 * radius, -1.3 * radius]]])
    step = seen[:, None] - points[None]
    distance = np.hypot(step[..., 0], step[..., 1])
    own = distance == 0
    distance = np.where(own, 1.0, distance)
    along = np.einsum("mnc,nc->mn", step, normal) / distance
    length = 2 * np.pi * radius / count
    matrix = 0.25j * k * hankel2(1, k * distance) * along * length
    matrix[own] = 0.5 + length / (4 * np.pi * radius)
    incident = np.exp(1j * k * (seen @ np.stack([np.cos(phi), np.sin(phi)])))
    field = np.linalg.lstsq(matrix, incident, rcond=None)[0]
    return (field[0] + field[count - 1]) / 2


def test_series_agrees_with_a_boundary_integral():
    """Two independent routes; the polygon of 400 elements is good to a few parts in a thousand."""
    k, radius = 51.1, 45e-3
    series = RoundTube(2 * radius).responses(np.array([k]), np.zeros(1), PHI)[0, 0]
    np.testing.assert_allclose(series, _boundary_integral(radius, k, PHI), atol=0.01)


def test_a_slot_round_the_tube_has_the_turned_pattern():
    """Symmetry: an arc of R times 30 degrees towards +x turns the pattern by 30 degrees (phi falls); exact
    but for rounding.
    """
    tube, k = RoundTube(90e-3), np.array([51.1])
    one = tube.responses(k, np.zeros(1), PHI)[0, 0]
    two = tube.responses(k, np.array([45e-3 * np.radians(30)]), PHI)[0, 0]
    np.testing.assert_allclose(np.abs(two), np.abs(np.roll(one, -6)), atol=1e-9)


def test_a_wide_tube_radiates_as_a_plane_does():
    """Mean over azimuth of |h|^2 against that of the plane, which is 2 in front and 0 behind; a narrow tube
    has less.
    """

    def share(diameter):
        h = RoundTube(diameter).responses(np.array([51.1]), np.zeros(1), 2 * np.pi * np.arange(720) / 720)
        return np.mean(np.abs(h) ** 2) / 2

    assert share(9.0) == pytest.approx(1, abs=0.02)
    assert 0.5 < share(60e-3) < 1
