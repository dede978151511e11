"""Longitudinal slots on one TE10 line: voltages, currents and input impedance.

The line carries TE10 only and is normalised to its wave impedance. Every slot is the
one-term model of `simharness.em.slot`; outside, all slots see each other through the
half space (infinite plane). Inside they couple through TE10 alone, so the estimate
degrades when neighbours come within about a quarter of a guide wavelength.

With A the admittance matrix of the slots (without TE10) and D = diag(s sqrt(2 G10)), s
the side, the line sees the shunt matrix D A^-1 D: slot voltages V = A^-1 D v, line
currents i = D V. For one slot this is y = 2 G10 / Y.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simharness.em import slot as slots
from simharness.em.guide import attenuation, phase_constant
from simharness.em.slot import SlotShape

_LEAST_LOSS = 1e-8
"""Floor of alpha/beta: keeps a lossless closed guide off its exact resonances."""


@dataclass(frozen=True)
class SlottedLine:
    """A guide with slots, SI units.

    Attributes
    ----------
    a, b, length : float
        Inner width, height and length, m.
    positions : tuple of float
        Centres of the slots from z = 0, m.
    shapes : tuple of SlotShape
    conductivity : float
        Of the walls, S/m; infinite for no loss.
    near_short, far_short : bool
        Whether a short closes the end (it is matched otherwise).
    """

    a: float
    b: float
    length: float
    positions: tuple[float, ...]
    shapes: tuple[SlotShape, ...]
    conductivity: float = math.inf
    near_short: bool = True
    far_short: bool = True


@dataclass(frozen=True)
class LineState:
    """What a unit shunt current at the source does to the line.

    Attributes
    ----------
    frequency : (f,) array
        Hz.
    source_impedance : (f,) complex array
        Normalised impedance of the whole line at the source.
    line_voltage : (f, n) complex array
        Line voltage at each slot, normalised.
    slot_voltage : (f, n) complex array
        Voltage across each slot at its outer face, common unit.
    power : (f, n) array
        Power taken by each slot as a fraction of that leaving the source.
    """

    frequency: NDArray
    source_impedance: NDArray
    line_voltage: NDArray
    slot_voltage: NDArray
    power: NDArray

    @property
    def efficiency(self) -> NDArray:
        """Radiated over accepted power: (f,) array; the rest heats walls or a matched end."""
        return self.power.sum(axis=-1)


def line_constant(line: SlottedLine, frequency: NDArray) -> NDArray:
    """Propagation constant alpha + j beta, 1/m.

    Raises
    ------
    InputError
        A frequency is at or below cutoff.
    """
    beta = phase_constant(line.a, frequency)
    alpha = attenuation(line.a, line.b, frequency, line.conductivity)
    return np.maximum(alpha, _LEAST_LOSS * beta) + 1j * beta


def line_green(line: SlottedLine, gamma: NDArray, first: NDArray, second: NDArray) -> NDArray:
    """Voltage at one place of the empty line for a unit current at the other, normalised.

    Parameters
    ----------
    gamma : (f,) complex array
        1/m.
    first, second : arrays
        Places, m; they broadcast to shape s, the result is (f,) + s.
    """
    low, high = np.minimum(first, second), line.length - np.maximum(first, second)
    near, far = (-1.0 if line.near_short else 0.0), (-1.0 if line.far_short else 0.0)
    g = gamma.reshape(gamma.shape + (1,) * np.ndim(low))
    # Written with decaying exponentials only, so that long lines cannot overflow.
    path = np.exp(-g * (line.length - low - high))
    left, right = 1 + near * np.exp(-2 * g * low), 1 + far * np.exp(-2 * g * high)
    return 0.5 * path * left * right / (1 - near * far * np.exp(-2 * g * line.length))


def outside_matrix(line: SlottedLine, frequency: NDArray, coupling: bool = True) -> NDArray:
    """Admittances (f, n, n) of the slots towards the half space, S."""
    count = len(line.shapes)
    matrix = np.zeros((frequency.size, count, count), dtype=complex)
    known: dict[tuple[float, ...], NDArray] = {}
    for i, one in enumerate(line.shapes):
        for j in range(i + 1):
            two = line.shapes[j]
            if i == j:
                key = (one.length, one.width)
            elif coupling:
                mean = 0.5 * (one.length + two.length)
                across, along = abs(one.offset - two.offset), abs(line.positions[i] - line.positions[j])
                key = tuple(round(v, 9) for v in (mean, across, along))
            else:
                continue
            if key not in known:
                function = slots.half_space_admittance if i == j else slots.half_space_mutual_admittance
                known[key] = function(frequency, *key)
            matrix[:, i, j] = matrix[:, j, i] = known[key]
    return matrix


def _slot_terms(line: SlottedLine, frequency: NDArray) -> tuple[NDArray, ...]:
    """(f, n) arrays: line coupling D, inner admittance, wall Y11 and -Y12."""
    known: dict[SlotShape, tuple[NDArray, ...]] = {}
    columns = []
    for shape in line.shapes:
        alike = SlotShape(abs(shape.offset), shape.length, shape.width, shape.wall)
        if alike not in known:
            conductance = slots.guide_conductance(line.a, line.b, alike, frequency)
            inside = slots.guide_admittance(line.a, line.b, alike, frequency) - conductance
            known[alike] = (np.sqrt(2 * conductance), inside, *slots.wall_section(alike, frequency))
        drive, *rest = known[alike]
        columns.append((math.copysign(1.0, shape.offset) * drive, *rest))
    return tuple(np.stack(parts, axis=-1) for parts in zip(*columns))


def line_state(line: SlottedLine, frequency: NDArray, source: float, coupling: bool = True) -> LineState:
    """Solve the slotted line with a shunt current source.

    Parameters
    ----------
    line : SlottedLine
        Walls of the slots thicker than zero.
    frequency : (f,) array
        Hz, between the cutoffs of TE10 and the next mode.
    source : float
        Place of the source, m. At a matched near end, 0, the source impedance is
        (1 + Gamma)/2, Gamma the reflection of the guide.
    coupling : bool
        Whether the slots see each other outside.

    Raises
    ------
    InputError
        A frequency is at or below cutoff.
    """
    frequency = np.asarray(frequency, dtype=float)
    gamma = line_constant(line, frequency)
    place = np.array(line.positions, dtype=float)
    own = line_green(line, gamma, np.array(source), np.array(source))
    if not place.size:
        empty = np.zeros((frequency.size, 0))
        return LineState(frequency, own, empty.astype(complex), empty.astype(complex), empty)
    drive, inside, y11, y12 = _slot_terms(line, frequency)
    outer = outside_matrix(line, frequency, coupling)
    unit = np.eye(place.size)
    to_outer = np.linalg.solve(outer + y11[:, :, None] * unit, y12[:, :, None] * unit)
    matrix = (inside + y11)[:, :, None] * unit - y12[:, :, None] * to_outer
    to_slot = np.linalg.solve(matrix, drive[:, :, None] * unit)
    shunt = drive[:, :, None] * to_slot
    green = line_green(line, gamma, place[:, None], place[None, :])
    from_source = line_green(line, gamma, place, np.array(source))
    voltage = np.linalg.solve(unit + green @ shunt, from_source[..., None])[..., 0]
    current = np.einsum("fij,fj->fi", shunt, voltage)
    impedance = own - np.einsum("fi,fi->f", from_source, current)
    outgoing = impedance.real
    if not line.near_short and source == 0.0:
        # The matched near end is the port itself: count what enters the guide.
        outgoing = outgoing - np.abs(impedance) ** 2
    power = (voltage * current.conj()).real / outgoing[:, None]
    slot_voltage = np.einsum("fij,fjk,fk->fi", to_outer, to_slot, voltage)
    return LineState(frequency, impedance, voltage, slot_voltage, power)
