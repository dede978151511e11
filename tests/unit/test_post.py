"""From raw records to waves, losses and settling, on fields and records made here; the formulas are the
source.
"""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest
from shaped_records import SHIPPED, WR90, two_port, varied

from simharness.constants import C0, MU0, TWO_PI
from simharness.em.guide.rectangular import attenuation, phase_constant, wave_impedance
from simharness.em.pattern.levels import half_power_beamwidth
from simharness.em.pattern.side_lobes import side_lobe_level
from simharness.geometry import antenna_scene
from simharness.mesh.grid import grid
from simharness.mesh.raster import coax_plane, meshed_coax_permittivity
from simharness.mesh.settings import QUALITIES, MeshSettings
from simharness.results.near_field_box import polar_angles
from simharness.results.ports import port_waves
from simharness.results.settling import missing_share, port_spectra
from simharness.results.wall_fields import load_power, wall_loss
from simharness.solver.settings import SolverRequest, SolverSettings

FREQUENCY = np.linspace(9.5e9, 11e9, 7)
REFLECTION = 0.4 * np.exp(0.7j) * np.exp(-1j * np.linspace(0, 1, 7))


def travelling(beta, impedance, reflection, away, before, behind):
    """Voltage at a distance from the reference plane, and the mean of two currents half a cell off it.

    `away` from the plane, towards the generator; the current flows into the structure.
    """
    ahead, back = np.exp(1j * beta * away), reflection * np.exp(-1j * beta * away)
    current = [
        np.exp(1j * beta * (away + s)) - reflection * np.exp(-1j * beta * (away + s))
        for s in (before / 2, -behind / 2)
    ]
    return ahead + back, (current[0] + current[1]) / 2 / impedance


def test_power_into_the_load_is_that_of_the_wave_that_runs_into_it():
    """A wave of TE10 of 0.3 W with TE20 and TE30 beside it; P = |A|^2 a b / (4 Z). 1 %: eleven lines across,
    trapezes.
    """
    scene = antenna_scene(varied(guide={"far_end": "load", "load_mm": 40.0}))
    x0, x1, y0, y1, _, end = scene.inside
    far, a, b = np.array(scene.spectrum.far), x1 - x0, y1 - y0
    size = np.sqrt(4 * wave_impedance(a, far) * 0.3 / (a * b))
    x, z = np.linspace(x0 - 2e-3, x1 + 2e-3, 13), np.array([end - 5e-3, end, end + 5e-3])
    u = np.clip((x - x0) / a, 0, 1)
    profile = np.sin(np.pi * u) + 0.5j * np.sin(2 * np.pi * u) - 0.2 * np.sin(3 * np.pi * u)
    field = np.zeros((far.size, 3, x.size, 1, z.size), dtype=complex)
    field[:, 1, :, 0, :] = (size[:, None] * profile)[:, :, None] * np.exp(-1j * np.arange(3))
    found = load_power(scene, ([x, np.zeros(1), z], field), np.full(far.size, 2.0))
    assert found == pytest.approx(4 * 0.3, rel=0.01)


@pytest.mark.parametrize("end", ["near", "far"])
def test_guide_port_returns_the_reflection_at_its_reference(end):
    scene = antenna_scene(two_port())
    mesh = grid(scene, QUALITIES["draft"])
    port = scene.ports[end == "far"]
    k = mesh.index(2, port.plane)
    cell = (mesh.z[k + 1] - mesh.z[k - 1]) / 2
    u, i = travelling(
        phase_constant(port.a, FREQUENCY),
        wave_impedance(port.a, FREQUENCY),
        REFLECTION,
        abs(port.plane - port.reference),
        cell,
        cell,
    )
    a, b = port_waves(port, mesh, u, i, FREQUENCY)
    assert np.abs(b / a - REFLECTION).max() < 1e-12
    # At the reference plane the wave made here has 1 V and phase 0.
    assert np.abs(a * np.sqrt(wave_impedance(port.a, FREQUENCY)) - 1).max() < 1e-12


def test_coax_port_returns_the_reflection_in_fifty_ohm():
    """The line's own impedance is 49.3 ohm; S11 is stated for 50 ohm at the outer face of the wall."""
    scene = antenna_scene(SHIPPED[WR90])
    mesh = grid(scene, QUALITIES["draft"])
    (port,) = scene.ports
    j = coax_plane(port, mesh)
    cell = (mesh.y[j + 1] - mesh.y[j - 1]) / 2
    beta = TWO_PI * FREQUENCY / C0 * math.sqrt(meshed_coax_permittivity(port, mesh))
    u, i = travelling(beta, port.impedance, REFLECTION, abs(mesh.y[j] - port.reference), cell, cell)
    load = port.impedance * (1 + REFLECTION) / (1 - REFLECTION)
    a, b = port_waves(port, mesh, u, i, FREQUENCY)
    assert np.abs(b / a - (load - 50) / (load + 50)).max() < 1e-12
    # Power does not depend on the reference impedance.
    power = (1 - np.abs(REFLECTION) ** 2) / (2 * port.impedance)
    assert (np.abs(a) ** 2 - np.abs(b) ** 2) / 2 == pytest.approx(power, rel=1e-12)


def test_cells_about_the_coax_plane_are_equal():
    """As the mean of the two currents presumes; unequal ones by a share q would turn a by beta cell q / 4."""
    for record in SHIPPED.values():
        scene = antenna_scene(record)
        for settings in QUALITIES.values():
            mesh = grid(scene, settings)
            port = scene.ports[0]
            j = coax_plane(port, mesh)
            before, behind = np.diff(mesh.lines[port.axis][j - 1 : j + 2])
            assert before == pytest.approx(behind, rel=0.02)


def test_gap_port_is_read_as_it_stands():
    scene = antenna_scene(SHIPPED[WR90], "gap")
    load = 30 + 12j
    a, b = port_waves(
        scene.ports[0], grid(scene, QUALITIES["draft"]), load * np.ones(7), np.ones(7), FREQUENCY
    )
    assert b / a == pytest.approx(np.full(7, (load - 50) / (load + 50)), rel=1e-14)


def test_missing_share():
    rng = np.random.default_rng(3)
    plain = rng.normal(size=(5, 3)) + 1j * rng.normal(size=(5, 3))
    common = np.array([1.1, 0.9 + 0.2j, 1.0])
    factor, missing, uneven = missing_share(common * plain, plain)
    assert factor == pytest.approx(common, rel=1e-13) and uneven < 1e-13
    # |whole - plain| / |whole| at the middle frequency is the largest.
    assert missing == pytest.approx(abs(-0.1 + 0.2j) / abs(0.9 + 0.2j), rel=1e-13)
    whole = plain.copy()
    whole[0] += 0.1 * plain[1]
    assert missing_share(whole, plain)[2] > 1e-3


def _te10(mesh, scene, frequency):
    """H of a TE10 wave of 1 W towards +z at the cell centres inside the guide, and its coordinates."""
    a, b = scene.inside[1] - scene.inside[0], scene.inside[3] - scene.inside[2]
    centre = [(line[1:] + line[:-1]) / 2 for line in mesh.lines]
    x, y, z = (c[(c > lo) & (c < hi)] for c, lo, hi in zip(centre, scene.inside[0::2], scene.inside[1::2]))
    beta, impedance = phase_constant(a, frequency), wave_impedance(a, frequency)
    amplitude = np.sqrt(4 * impedance / (a * b))  # P = E^2 a b / (4 Z) for the peak field E
    wave = amplitude[:, None, None, None] * np.exp(-1j * beta[:, None] * z)[:, None, None, :]
    one = np.ones((1, 1, len(y), 1))
    h_x = -np.cos(np.pi * x / a)[None, :, None, None] * one * wave / impedance[:, None, None, None]
    h_z = (
        -1j
        * np.pi
        / a
        / (TWO_PI * frequency * MU0)[:, None, None, None]
        * np.sin(np.pi * x / a)[None, :, None, None]
        * one
        * wave
    )
    return (x, y, z), np.stack([h_x, np.zeros_like(h_x), h_z], axis=1)


def _at_walls(places, field):
    """The records of the cells along the six walls."""
    ends = {"low": slice(0, 1), "high": slice(-1, None)}
    cuts = {
        (axis, end): [ends[end] if i == axis else slice(None) for i in range(3)]
        for axis in range(3)
        for end in ends
    }
    return {
        f"wall_h_{axis}_{end}": ([line[part] for line, part in zip(places, cut)], field[:, :, *cut])
        for (axis, end), cut in cuts.items()
    }


def test_wall_loss_of_a_travelling_wave():
    """A wave of 1 W loses 2 alpha L in a section of length L (Pozar 3.96), the open ends nothing.

    The field is read half a cell off the wall, midpoint rule: errors of (pi h / a)^2 / 4 and less, h = a /
    40.
    """
    scene = antenna_scene(two_port(slot_rule=None))
    mesh = grid(scene, MeshSettings(per_wavelength=50))
    request = SolverRequest(scene, mesh, SolverSettings(MeshSettings()))
    frequency = np.array(scene.spectrum.far)
    field = _at_walls(*_te10(mesh, scene, frequency))
    a, b, length = scene.inside[1] - scene.inside[0], scene.inside[3] - scene.inside[2], scene.inside[5]
    exact = 2 * attenuation(a, b, frequency, scene.conductivity) * length
    lost = wall_loss(request, field, np.ones(3))
    assert lost == pytest.approx(exact, rel=2e-3)
    assert wall_loss(request, field, np.full(3, 2.0)) == pytest.approx(4 * lost, rel=1e-12)
    # Shorted ends add Rs / 2 times |Hx|^2 over two plates: Rs / Z per plate for 1 W.
    shorted = replace(request, scene=replace(scene, ports=()))
    resistance = np.sqrt(np.pi * frequency * MU0 / scene.conductivity)
    plates = wall_loss(shorted, field, np.ones(3)) - lost
    assert plates == pytest.approx(2 * resistance / wave_impedance(a, frequency), rel=2e-3)


def _records(request, decay: float, periods: float, noise: float = 0.0):
    """Voltage and current of a port with a resonance: a Gaussian pulse comes in, pulse and ringing go out."""
    centre = request.scene.spectrum.centre
    step = 1 / (30 * centre)
    time = np.arange(0.0, request.pulse_length + periods / centre, step)
    middle, width = request.pulse_length / 2, request.pulse_length / 9
    coming = np.exp(-(((time - middle) / width * 2) ** 2)) * np.cos(TWO_PI * centre * (time - middle))
    ringing = np.exp(-decay * centre * time) * np.sin(TWO_PI * 0.99 * centre * time)
    going = -0.3 * coming + 0.5 * np.convolve(coming, ringing)[: len(time)] * step * centre * 2
    going = going + noise * np.random.default_rng(1).normal(size=len(time))
    root = math.sqrt(50.0)
    voltage, current = root * (coming + going), (coming - going) / root
    return {"port1_voltage": np.array([time, voltage]), "port1_current_a": np.array([time, current])}


@pytest.mark.parametrize(
    "decay, periods, noise, method",
    [(0.3, 60, 0.0, "record"), (0.03, 40, 0.0, "tail"), (0.03, 40, 0.05, "unsettled")],
)
def test_settling(decay, periods, noise, method):
    """Rung down; a clean exponential that stops early; the same buried in noise."""
    scene = replace(antenna_scene(SHIPPED[WR90], "gap"), slots=())
    request = SolverRequest(scene, grid(scene, QUALITIES["draft"]), SolverSettings(QUALITIES["draft"]))
    frequency = np.linspace(0.97, 1.03, 13) * scene.spectrum.centre
    whole, plain, found, change = port_spectra(request, _records(request, decay, periods, noise), frequency)
    assert found == method
    assert (change < request.settings.settled) == (method == "record") or method == "tail"
    if method != "tail":
        assert np.array_equal(whole.voltage, plain.voltage)
        return
    # The truth: the same resonance recorded until nothing is left, exp(-0.03 * 600) = 1.5e-8.
    truth = port_spectra(request, _records(request, decay, 600), frequency)[0]

    def reflection(s):
        return (s.voltage - 50 * s.current) / (s.voltage + 50 * s.current)

    assert np.abs(reflection(plain) - reflection(truth)).max() > 0.02
    # 2e-3: what the continuation is allowed to leave open.
    assert np.abs(reflection(whole) - reflection(truth)).max() < 2e-3
    assert change < 2e-3


def test_a_narrow_beam_is_sampled_as_finely_as_its_figures_want():
    """A uniform line source, |sinc|^2 of u = L sin(angle) / wavelength: half-power beamwidth 0.886
    wavelengths / L (print), first side lobe -13.26 dB (memory, recomputed), for guides of 4 to 40
    wavelengths; directions even, broadside among them.
    """
    for count in (4, 10, 20, 40):
        theta = polar_angles(np.array([C0]), float(count))  # wavelengths of 1 m
        assert theta.size % 2 == 1 and theta[theta.size // 2] == pytest.approx(np.pi / 2, abs=1e-12)
        power = np.sinc(count * np.cos(theta)) ** 2
        width = half_power_beamwidth(np.pi / 2 - theta[::-1], power[::-1])
        assert width == pytest.approx(0.886 / count, rel=0.01), (
            count
        )  # sine against angle at 4 wavelengths: 0.4 %
        assert side_lobe_level(np.pi / 2 - theta[::-1], power[::-1]) == pytest.approx(-13.26, abs=0.02), (
            count
        )  # 0.006 seen
