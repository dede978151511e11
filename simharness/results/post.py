"""From the solver's raw records to result arrays. Pure: arrays in, arrays out.

All field quantities are scaled to an incident wave of 1 W available power at port 1.
"""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from simharness.constants import C0, TWO_PI
from simharness.em.guide.rectangular import phase_constant, surface_resistance, wave_impedance
from simharness.em.pattern.far_field import FarField, directivity, radiated_power
from simharness.em.pattern.near_field import SurfaceFace, far_field, surface_power
from simharness.em.signals.impedance import input_impedance
from simharness.em.signals.spectra import wave_split
from simharness.geometry.scene import CoaxPort, GapPort, ModePort, Port, Scene
from simharness.geometry.solids import FAR_LOAD, SUBSTRATE
from simharness.mesh.grid import Grid
from simharness.mesh.raster import coax_plane, meshed_coax_permittivity, outline_mask
from simharness.records import REFERENCE_OHM
from simharness.results.settling import Settling, missing_share, port_series, port_spectra
from simharness.results.tube_fields import tube_load_power, tube_wall_loss
from simharness.solver.settings import SolverRequest

Field = tuple[list[np.ndarray], np.ndarray]
"""Coordinates x, y, z (m) and complex field (frequency, component, x, y, z)."""

FIELD_FACTOR = 0.5
"""The solver's frequency-domain records are single-sided: twice the Fourier integral."""


def port_waves(
    port: Port, grid: Grid, voltage: np.ndarray, current: np.ndarray, frequency: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Waves into and out of the structure at the reference plane of a port.

    Coax and gap: power waves of `REFERENCE_OHM`; guide port: of the TE10 mode.
    """
    if isinstance(port, GapPort):
        return wave_split(voltage, current, REFERENCE_OHM)
    beta, impedance, line, plane = _measuring_plane(port, grid, frequency)
    a, b = wave_split(voltage, current / mean_over_cell(port, grid, frequency), impedance)
    phase = np.exp(-1j * beta * abs(port.reference - line[plane]))
    a, b = a * phase, b / phase
    if isinstance(port, ModePort):
        return a, b
    root = np.sqrt(impedance)
    return wave_split(root * (a + b), (a - b) / root, REFERENCE_OHM)


def _measuring_plane(port: CoaxPort | ModePort, grid: Grid, frequency: np.ndarray):
    """Phase constant and impedance of the port's line, mesh lines along it, index of the measuring plane."""
    if isinstance(port, ModePort):
        return (
            phase_constant(port.a, frequency),
            wave_impedance(port.a, frequency),
            grid.z,
            grid.index(2, port.plane),
        )
    beta = TWO_PI * frequency / C0 * np.sqrt(meshed_coax_permittivity(port, grid))
    return beta, port.impedance, grid.lines[port.axis], coax_plane(port, grid)


def mean_over_cell(port: CoaxPort | ModePort, grid: Grid, frequency: np.ndarray) -> np.ndarray:
    """What a travelling wave loses when its current is the mean of those half a cell before and behind.

    The cells on either side of the measuring plane are taken as equal.
    """
    beta, _, line, plane = _measuring_plane(port, grid, frequency)
    return np.cos(beta * (line[plane + 1] - line[plane - 1]) / 4)


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
        scale = np.sqrt(2.0) / incident[at]
        factor = np.ones(len(far), complex)
        if len(whole.slots):
            factor, missing, uneven = missing_share(whole.slots[:, at], plain.slots[:, at])
            arrays["slot_voltage"] = (whole.slots[:, at] * scale).T
            arrays["slot_z"] = np.array([s.z for s in scene.slots])
        arrays["far_frequency"] = far
        arrays["accepted_power"] = 1 - np.abs(s11[at]) ** 2
        if len(scene.ports) > 1:
            arrays["accepted_power"] = arrays["accepted_power"] - np.abs(waves[1][1][at] / incident[at]) ** 2
        arrays |= _field_arrays(request, fields, FIELD_FACTOR * scale * factor)
    return arrays, Settling(method, change, missing, uneven)


def _port_arrays(scene: Scene, raw, band: np.ndarray, s11: np.ndarray, waves: list) -> dict[str, np.ndarray]:
    records = port_series(raw, scene)
    arrays = {
        "frequency": band,
        "s11": s11,
        "time": records[0][0],
        "port_voltage": records[0][1],
        "current_time": records[1][0],
        "port_current": records[1][1],
    }
    if not isinstance(scene.ports[0], ModePort):
        arrays["input_impedance"] = input_impedance(s11, REFERENCE_OHM)
    if len(scene.ports) > 1:
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
        far = sphere(
            faces, np.array(scene.spectrum.far), scene.inside[5] - scene.inside[4] if scene.inside else 0.0
        )
        arrays |= {
            "theta": far.theta,
            "phi": far.phi,
            "e_theta": far.e_theta,
            "e_phi": far.e_phi,
            "directivity": directivity(far),
            "radiated_power": radiated_power(far),
            "surface_power": surface_power(faces),
        }
    if "wall_h_0_low" in fields:
        arrays["wall_loss"] = wall_loss(request, fields, scale)
    if "inner_h" in fields:
        arrays["wall_loss"] = (
            tube_wall_loss(scene, request.grid, *_within(fields["inner_h"], scene.inside))
            * np.abs(scale) ** 2
        )
    if "substrate_e" in fields:
        arrays["substrate_loss"] = substrate_loss(request, fields["substrate_e"], scale)
    if "cut_e" in fields:
        (x, _, z), field = fields["cut_e"]
        if any(prism.part == FAR_LOAD for prism in scene.prisms):
            arrays["load_power"] = (tube_load_power if scene.bore else load_power)(
                scene, fields["cut_e"], scale
            )
        arrays |= {"cut_x": x, "cut_z": z, "cut_field": field[:, 1, :, 0, :] * scale[:, None, None]}
        if scene.bore:
            arrays["axis_across"] = field[:, 0, np.argmin(np.abs(x)), 0, :] * scale[:, None]
    return arrays


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


STEP = np.radians(2.0)
FINEST_STEP = np.radians(0.4)
"""Steps of the directions of a far field, and the finest of the polar angle, rad."""
_ACROSS_A_BEAM = 5
"""Directions across a beam that its figures want (`em.pattern.half_power_beamwidth`)."""


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


def sphere(faces: list[SurfaceFace], frequency: np.ndarray, length: float = 0.0) -> FarField:
    """Far field on the whole sphere; `length` as of `polar_angles`."""
    phi = np.linspace(0, 2 * np.pi, round(2 * np.pi / STEP) + 1)
    return far_field(faces, frequency, polar_angles(frequency, length), phi)


def wall_loss(request: SolverRequest, fields: Mapping[str, Field], scale: np.ndarray) -> np.ndarray:
    """Power lost in the inner faces of the guide, W.

    `fields`: among others the magnetic field at the centres of the cells along each wall, `wall_h_0_low` to
    `wall_h_2_high`.

    Perturbation: the tangential magnetic field of the lossless run, taken half a cell inside the
    wall, on a surface of resistance Rs: P = Rs/2 integral |Ht|^2. Openings are left out; the
    currents on outer faces, slot edges and probe are not counted. Ends that are ports have no wall.
    """
    scene, grid = request.scene, request.grid
    x0, x1, y0, y1, z0, z1 = scene.inside
    lines = [
        np.asarray(line)[(line >= lo - 1e-9) & (line <= hi + 1e-9)]
        for line, lo, hi in zip(grid.lines, (x0, y0, z0), (x1, y1, z1))
    ]
    steps = [np.diff(line) for line in lines]
    resistance = surface_resistance(scene.conductivity, np.array(scene.spectrum.far))
    total = np.zeros(len(scene.spectrum.far))
    ports = [p.reference for p in scene.ports if isinstance(p, ModePort)]
    for axis in range(3):
        u, v = (i for i in range(3) if i != axis)
        area = np.outer(steps[u], steps[v])
        for end, side, wall in ((0, "low", ("", "back wall", "")), (1, "high", ("", "front wall", ""))):
            if axis == 2 and any(abs(p - (z0, z1)[end]) < 1e-9 for p in ports):
                continue
            layer = _wall_layer(fields[f"wall_h_{axis}_{side}"], axis, scene.inside)
            metal = _wall_mask(scene, grid, wall[axis], lines) if wall[axis] else 1.0
            square = np.abs(layer[:, u]) ** 2 + np.abs(layer[:, v]) ** 2
            total += resistance / 2 * np.sum(square * area * metal, axis=(1, 2))
    return total * np.abs(scale) ** 2


def _wall_layer(record: Field, axis: int, inside: tuple[float, ...]) -> np.ndarray:
    """Field (frequency, component, first, second) of the cells along a wall across `axis`: the record has
    some more around."""
    places, field = record
    u, v = (
        np.flatnonzero((places[i] > inside[2 * i]) & (places[i] < inside[2 * i + 1]))
        for i in range(3)
        if i != axis
    )
    return np.squeeze(field, axis=2 + axis)[:, :, u[0] : u[-1] + 1, v[0] : v[-1] + 1]


def _within(record: Field, inside: tuple[float, ...]) -> tuple[tuple[np.ndarray, ...], np.ndarray]:
    """Centres of the cells inside the bounds, and the field there: the record has some more around."""
    places, field = record
    cells = [
        np.flatnonzero((line > inside[2 * i]) & (line < inside[2 * i + 1])) for i, line in enumerate(places)
    ]
    return tuple(line[found] for line, found in zip(places, cells)), field[
        (..., *(slice(found[0], found[-1] + 1) for found in cells))
    ]


def load_power(scene: Scene, cut: Field, scale: np.ndarray) -> np.ndarray:
    """Power of TE10 that runs into the load at the far end, W.

    P = |A|^2 a b beta / (4 omega mu0), A the part of E_y half-way up, where the load begins, that goes as
    cos(pi x / a). All of it travels to the load, which reflects nothing; other modes have faded there.
    """
    x0, x1, y0, y1, _, end = scene.inside
    (x, _, z), field = cut
    x, field = x, field[:, 1, :, 0, int(np.argmin(np.abs(z - end)))] * scale[:, None]
    within = (x >= x0) & (x <= x1)
    profile = np.cos(np.pi * (x[within] - (x0 + x1) / 2) / (x1 - x0))
    amplitude = 2 / (x1 - x0) * np.trapezoid(field[:, within] * profile, x[within], axis=1)
    far = np.array(scene.spectrum.far)
    return np.abs(amplitude) ** 2 * (x1 - x0) * (y1 - y0) / (4 * wave_impedance(x1 - x0, far))


def substrate_loss(request: SolverRequest, substrate: Field, scale: np.ndarray) -> np.ndarray:
    """Power that heats the substrate of a laminate, W.

    P = loss/2 integral |E|^2, as the solver itself loses it: its field on each edge of a cell counts for a
    quarter of it.
    """
    scene, grid = request.scene, request.grid
    prism = next(p for p in scene.prisms if p.part == SUBSTRATE)
    lines, field = substrate
    window = [slice(grid.index(axis, line[0]), grid.index(axis, line[-1])) for axis, line in enumerate(lines)]
    steps = [np.diff(line)[part] for line, part in zip(grid.lines, window)]
    volume = np.einsum("i,j,k->ijk", *steps) * outline_mask(prism, grid)[window[0], None, window[2]]
    total = np.zeros(len(scale))
    for axis in range(3):
        square = np.abs(field[:, axis] * scale[:, None, None, None]) ** 2
        for other in range(1, 4):
            ends = np.moveaxis(square, other, 0)
            square = np.moveaxis(ends[:-1] if other == axis + 1 else (ends[1:] + ends[:-1]) / 2, 0, other)
        total += prism.material.loss / 2 * np.sum(square * volume, axis=(1, 2, 3))
    return total


def _wall_mask(scene: Scene, grid: Grid, part: str, lines: list[np.ndarray]) -> np.ndarray:
    """Metal cells of a broad wall over the inside of the guide."""
    prism = next(p for p in scene.prisms if p.part == part)
    mask = outline_mask(prism, grid)
    i0, k0 = grid.index(0, lines[0][0]), grid.index(2, lines[2][0])
    return mask[i0 : i0 + len(lines[0]) - 1, k0 : k0 + len(lines[2]) - 1].astype(float)
