"""Thick inductive irises and centred posts in WR-90."""

import numpy as np
import pytest
from textbook_scenes import iris_scene, post_scene, solved

from simharness.mesh.settings import MeshSettings

A = 22.86e-3
IRIS_FREQUENCIES = (8.2e9, 9.375e9, 10.0e9, 12.4e9)
# Thickness 1.524 mm (geometry in print); |S11| computed by two independent mode-matching codes
# that agree to four digits.
IRIS = {
    18.288: (0.2329, 0.1677, 0.1463, 0.0955),
    12.192: (0.8561, 0.7573, 0.7068, 0.5264),
    7.62: (0.9917, 0.9836, 0.9785, 0.9505),
}
# Marcuvitz, Waveguide Handbook, sec. 5.11(a), p. 257-258, 10 GHz: |S11| and |S21|, computed from the
# printed formula (valid for d/a < 0.10).
POST = {0.5: (0.7471, 0.6647), 0.635: (0.7965, 0.6046), 1.0: (0.8870, 0.4618)}


@pytest.mark.parametrize("opening_mm", IRIS)
def test_thick_iris_within_0_02(store, opening_mm):
    """Edges on mesh lines, 0.25 mm cells at them: reads high, seen by up to 0.010."""
    mesh = MeshSettings(per_wavelength=24)
    results = solved(store, iris_scene(A, opening_mm * 1e-3, 1.524e-3, 0.25e-3), mesh)
    found = np.interp(IRIS_FREQUENCIES, results["frequency"], np.abs(results["s11"]))
    np.testing.assert_allclose(found, IRIS[opening_mm], atol=0.02)
    balance = np.abs(results["s11"]) ** 2 + np.abs(results["s21"]) ** 2
    np.testing.assert_allclose(balance, 1, atol=5e-3)  # lossless; seen 2e-4


@pytest.mark.parametrize("radius_mm", POST)
def test_centred_post_within_0_03(store, radius_mm):
    """A square post of the same electrostatic radius on the lattice, two cells across: seen within 0.003
    in |S11| and 0.005 in |S21|; with lines on the edges of the equivalent square it was 0.025 off."""
    results = solved(store, post_scene(A, radius_mm * 1e-3), MeshSettings(per_wavelength=24, post_cells=2))
    found = [np.interp(10e9, results["frequency"], np.abs(results[n])) for n in ("s11", "s21")]
    np.testing.assert_allclose(found, POST[radius_mm], atol=0.03)


def test_post_does_not_depend_on_the_cells_across_it(store):
    """The lattice radius makes one cell and two cells across the same post: within 0.01 (seen 0.002)."""
    found = [
        np.interp(10e9, r["frequency"], np.abs(r["s11"]))
        for r in (
            solved(store, post_scene(A, 0.5e-3), MeshSettings(per_wavelength=24, post_cells=n))
            for n in (1, 2)
        )
    ]
    assert abs(found[0] - found[1]) < 0.01
