"""The recorded near-field box, and the far field that it makes."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from simharness.constants import C0
from simharness.em.pattern.far_field import FarField
from simharness.em.pattern.near_field import SurfaceFace, far_field
from simharness.results.fields import Field

STEP = np.radians(2.0)
FINEST_STEP = np.radians(0.4)
"""Steps of the directions of a far field, and the finest of the polar angle, rad."""
_ACROSS_A_BEAM = 5
"""Directions across a beam that its figures want (`em.pattern.half_power_beamwidth`)."""


def surface_faces(fields: Mapping[str, Field], scale: np.ndarray) -> list[SurfaceFace]:
    """The recorded faces of the near-field box, scaled."""
    faces = []
    for axis in range(3):
        for side, name in ((-1, "low"), (1, "high")):
            if f"face_e_{axis}_{name}" not in fields:
                continue
            lines, electric = fields[f"face_e_{axis}_{name}"]
            magnetic = fields[f"face_h_{axis}_{name}"][1]
            first, second = (lines[i] for i in range(3) if i != axis)
            e, h = (np.squeeze(f, axis=2 + axis) * scale[:, None, None, None] for f in (electric, magnetic))
            faces.append(SurfaceFace(axis, side, float(lines[axis][0]), first, second, e, h))
    return faces


def polar_angles(frequency: np.ndarray, length: float) -> np.ndarray:
    """Polar angles of a far field: narrow beams of long guides are sampled more finely than others.

    Parameters
    ----------
    frequency : (nf,) array
        Hz.
    length : float
        Of the guide, m; its beam is no narrower than 0.886 wavelengths over this (uniform line source).

    Returns
    -------
    (nt,) array
        rad, 0 to pi, the middle among them.
    """
    beam = 0.886 * C0 / np.max(frequency) / length if length > 0 else np.pi
    step = np.clip(beam / _ACROSS_A_BEAM, FINEST_STEP, STEP)
    return np.linspace(0, np.pi, 2 * int(np.ceil(0.5 * np.pi / step - 1e-6)) + 1)


def azimuths(frequency: np.ndarray, width: float) -> np.ndarray:
    """Azimuths of a far field, a whole turn: finer where the lobes of wide structures are narrow.

    Parameters
    ----------
    frequency : (nf,) array
        Hz.
    width : float
        Largest dimension across the axis, m.

    Returns
    -------
    (np,) array
        rad, 0 to 2 pi, all quarters of a turn among them.
    """
    beam = 0.886 * C0 / np.max(frequency) / width if width > 0 else np.pi
    step = np.clip(beam / _ACROSS_A_BEAM, FINEST_STEP, STEP)
    return np.linspace(0, 2 * np.pi, 4 * int(np.ceil(0.5 * np.pi / step - 1e-6)) + 1)


def sphere(
    faces: list[SurfaceFace], frequency: np.ndarray, length: float = 0.0, width: float = 0.0
) -> FarField:
    """Far field on the whole sphere; `length` as of `polar_angles`, `width` as of `azimuths`."""
    phi = azimuths(frequency, width)
    return far_field(faces, frequency, polar_angles(frequency, length), phi)
