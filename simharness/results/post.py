"""From the solver's raw records to result arrays. Pure: arrays in, arrays out.

All field quantities are scaled to 1 W available: at port 1, or at both ports together where both are driven.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from simharness.em.pattern.far_field import directivity, radiated_power
from simharness.em.pattern.near_field import surface_power
from simharness.em.signals.impedance import input_impedance
from simharness.geometry.scene import CoaxPort, Scene
from simharness.geometry.solids import COVERS, SUBSTRATE
from simharness.records import REFERENCE_OHM
from simharness.results.fields import Field
from simharness.results.near_field_box import sphere, surface_faces
from simharness.results.ports import port_results, port_waves
from simharness.results.settling import Settling, missing_share, port_series, port_spectra
from simharness.results.shapes import guide_arrays
from simharness.results.wall_fields import dielectric_loss
from simharness.solver.settings import SolverRequest

FIELD_FACTOR = 0.5
"""The solver's frequency-domain records are single-sided: twice the Fourier integral."""


def results(
    request: SolverRequest, raw: Mapping[str, np.ndarray], fields: Mapping[str, Field]
) -> tuple[dict[str, np.ndarray], Settling]:
    """All result arrays of a run (names as in `outputs.OUTPUTS`) and how settled they are."""
    scene, grid = request.scene, request.grid
    band = np.linspace(scene.spectrum.low, scene.spectrum.high, scene.spectrum.points)
    far = np.array(scene.spectrum.far)
    frequency = np.concatenate([band, far])
    whole, plain, method, change = port_spectra(request, raw, frequency)
    waves = [
        port_waves(p, grid, whole.voltage[n], whole.current[n], frequency) for n, p in enumerate(scene.ports)
    ]
    incident, reflected = waves[0]
    s11 = reflected / incident
    arrays = _port_arrays(scene, raw, band, s11[: len(band)], waves)
    arrays |= {f"grid_{n}": line for n, line in zip("xyz", grid.lines)}
    missing = uneven = 0.0
    if len(far):
        at = slice(len(band), None)
        scale = np.sqrt(2.0) / incident[at] / np.sqrt(_driven(scene))
        factor = np.ones(len(far), complex)
        if len(whole.slots):
            factor, missing, uneven = missing_share(whole.slots[:, at], plain.slots[:, at])
            arrays["slot_voltage"] = (whole.slots[:, at] * scale).T
            arrays["slot_z"] = np.array([s.z for s in scene.slots])
        arrays["far_frequency"] = far
        arrays["accepted_power"] = 1 - np.abs(s11[at]) ** 2
        if _driven(scene) > 1:
            back = sum(np.abs(out[at]) ** 2 for _, out in waves) / sum(
                np.abs(into[at]) ** 2 for into, _ in waves
            )
            arrays["accepted_power"] = 1 - back
        elif len(scene.ports) > 1:
            arrays["accepted_power"] = arrays["accepted_power"] - np.abs(waves[1][1][at] / incident[at]) ** 2
        arrays |= _field_arrays(request, fields, FIELD_FACTOR * scale * factor)
        if _driven(scene) > 1 and "wall_loss" in arrays:  # recorded in the first antenna alone
            arrays["wall_loss"] = _driven(scene) * arrays["wall_loss"]
    return arrays, Settling(method, change, missing, uneven)


def _driven(scene: Scene) -> int:
    """How many ports are driven, all alike."""
    return sum(isinstance(port, CoaxPort) and port.drive != 0 for port in scene.ports) or 1


def _port_arrays(
    scene: Scene, raw: Mapping[str, np.ndarray], band: np.ndarray, s11: np.ndarray, waves: list
) -> dict[str, np.ndarray]:
    records = port_series(raw, scene)
    arrays = {
        "frequency": band,
        "s11": s11,
        "time": records[0][0],
        "port_voltage": records[0][1],
        "current_time": records[1][0],
        "port_current": records[1][1],
    }
    if port_results(scene.ports[0]).has_terminals:
        arrays["input_impedance"] = input_impedance(s11, REFERENCE_OHM)
    if len(scene.ports) > _driven(scene):
        arrays["s21"] = (waves[1][1] / waves[0][0])[: len(band)]
        arrays["port2_voltage"], arrays["port2_current"] = records[2][1], records[3][1]
    return arrays


def _field_arrays(
    request: SolverRequest, fields: Mapping[str, Field], scale: np.ndarray
) -> dict[str, np.ndarray]:
    scene = request.scene
    arrays: dict[str, np.ndarray] = {}
    faces = surface_faces(fields, scale)
    if faces:
        x0, x1, y0, y1, z0, z1 = scene.bounds()
        length = scene.inside[5] - scene.inside[4] if scene.inside else 0.0
        if isinstance(scene.ports[-1], CoaxPort) and len(scene.ports) > 1:
            length = z1 - z0
        far = sphere(faces, np.array(scene.spectrum.far), length, float(np.hypot(x1 - x0, y1 - y0)))
        arrays |= {
            "theta": far.theta,
            "phi": far.phi,
            "e_theta": far.e_theta,
            "e_phi": far.e_phi,
            "directivity": directivity(far),
            "radiated_power": radiated_power(far),
            "surface_power": surface_power(faces),
        }
    if "substrate_e" in fields:
        arrays["substrate_loss"] = dielectric_loss(request, SUBSTRATE, fields["substrate_e"], scale)
    for face, part in COVERS.items():
        if (record := f"{face}_cover_e") in fields:
            before = arrays.get("cover_loss", 0.0)
            arrays["cover_loss"] = dielectric_loss(request, part, fields[record], scale, before)
    return arrays | guide_arrays(request, fields, scale)
