"""Results for the tests of pictures: every shipped record with a run made up of its estimate; and which texts a picture draws.

The stand-in holds all arrays that a picture looks at. Reflection and slot voltages are those of the estimate, a little
off; the far field is that of the estimate's pattern on a coarse grid. None of it was solved.
"""

from __future__ import annotations

from functools import cache

import numpy as np
from shaped_records import SHIPPED

from simharness import design
from simharness.em.farfield import FarField, directivity, radiated_power
from simharness.em.tube import radiated_field
from simharness.estimate import Estimate, estimate
from simharness.outputs import Results
from simharness.records import Record

ABOUT = {"quality": "draft", "cells": 1234567, "feed": "CoaxPort"}
POINTS = 61


@cache
def shipped_case(name: str) -> tuple[Results, Record, Estimate]:
    """Stand-in results of a shipped record, the record, and its estimate."""
    record = SHIPPED[name]
    guess = estimate(record, POINTS)
    return stand_in_run(record, guess), record, guess


def stand_in_run(record: Record, guess: Estimate, step_deg: float = 4.0) -> Results:
    """Everything that pictures ask of a run."""
    centre = record.band.centre_ghz * 1e9
    s11 = 0.95 * np.exp(0.1j) * guess.s11 + 0.02
    accepted = 1 - abs(np.interp(centre, guess.frequency, np.abs(s11))) ** 2
    far = _far_field(record, guess, centre, accepted, step_deg)
    guide = record.guide
    x = np.linspace(-guide.width_mm / 2, guide.width_mm / 2, 15) * 1e-3
    z = np.linspace(0, guide.length_mm, 120) * 1e-3
    wave = 500 * np.cos(np.pi * x / np.ptp(x))[:, None] * np.sin(40 * z) * np.exp(0.7j)
    return Results({
        "frequency": guess.frequency, "s11": s11, "input_impedance": 50 * (1 + s11) / (1 - s11),
        "far_frequency": far.frequency, "theta": far.theta, "phi": far.phi, "e_theta": far.e_theta, "e_phi": far.e_phi,
        "directivity": directivity(far), "accepted_power": np.array([accepted]), "radiated_power": np.array([accepted]),
        "slot_voltage": 12 * np.exp(0.3j) * guess.slot_voltages[None] * (1 + 0.05 * np.cos(np.arange(len(record.slots)))),
        "slot_z": np.array([slot.position_mm for slot in record.slots]) * 1e-3,
        "cut_x": x, "cut_z": z, "cut_field": wave[None],
    }, dict(ABOUT))


def _far_field(record: Record, guess: Estimate, frequency: float, accepted: float, step_deg: float) -> FarField:
    """The estimate's pattern, with a fiftieth of it as cross-polar field, scaled to the accepted power."""
    theta, phi = (np.radians(np.arange(0, end + 1, step_deg)) for end in (180.0, 360.0))
    bent = np.clip(theta, 0.01, np.pi - 0.01)  # the pattern of an endless tube has no value on its axis
    field = radiated_field(design.tube(record), design.aperture(record, guess.slot_voltages), frequency, bent, phi)[None]
    far = FarField(np.array([frequency]), theta, phi, 0.02 * field, field)
    scale = np.sqrt(accepted / radiated_power(far))[:, None, None]
    return FarField(far.frequency, theta, phi, far.e_theta * scale, far.e_phi * scale)
