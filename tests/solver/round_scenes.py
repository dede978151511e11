"""A matched round guide as a scene."""

from __future__ import annotations

from simharness.em.guide.rectangular import guide_wavelength
from simharness.em.guide.round import equivalent_rectangle
from simharness.geometry.scene import Feature, RoundModePort, Scene, Spectrum
from simharness.geometry.solids import METAL, tube_part

CLOSED = ("metal", "metal", "metal", "metal", "open", "open")


def tube_scene(
    name: str, diameter: float, low: float, high: float, *, turn: float = 0.0, far: tuple = ()
) -> Scene:
    """Round guide along z, E along y or turned from it, that runs into the absorber at both ends; m, Hz,
    rad.
    """
    a, radius = equivalent_rectangle(diameter)[0], diameter / 2
    half = 0.9 * guide_wavelength(a, low)
    wall = 0.04 * diameter
    ports = (
        RoundModePort(
            a, diameter, 0.0, -diameter, +1, plane=-0.35 * half, reference=0.0, source=-0.9 * half, turn=turn
        ),
        RoundModePort(a, diameter, 0.0, -diameter, -1, plane=+0.55 * half, reference=0.0),
    )
    features = (
        Feature("tube", 0, -radius, radius),
        Feature("tube", 1, -diameter, 0.0),
        Feature("guide length", 1, -radius, -radius),
        *(Feature("plane", 2, z, z) for z in (-0.9 * half, -0.35 * half, 0.55 * half)),
    )
    tube = tube_part("tube", "wall", METAL, (radius, radius + wall), -radius, (-3 * half, 3 * half))
    return Scene(
        name,
        (tube,),
        ports,
        features,
        Spectrum((low + high) / 2, low, high, far),
        boundaries=CLOSED,
        radiates=False,
        domain=(-radius - wall, radius + wall, -diameter - wall, wall, -half, half),
        bore=diameter,
        inside=(-radius, radius, -diameter, 0.0, -half, half),
    )
