"""A slotted guide with its feed: reflection over the band, voltages and powers of the slots at one frequency.

The slots are the moment-method model of `simharness.em.slot.moment`: all modes inside, all slots seeing
each other outside. A probe is a source in shunt for TE10 (`simharness.em.probe.straight`), so that
the slotted guide enters through one impedance at its axis, wherever it stands.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from simharness.em.guide.coax import coax_impedance
from simharness.em.guide.rectangular import attenuation, phase_constant
from simharness.em.probe.network import ProbeNetwork
from simharness.em.signals.impedance import normalized_admittance
from simharness.em.slot.basis import SlottedGuide
from simharness.em.slot.moment import SlotMoment, SlotResponse
from simharness.errors import InputError
from simharness.numerics.rational import adaptive_sweep


@dataclass(frozen=True)
class SlotState:
    """Voltages and powers of the slots at one frequency, fed by a wave through the first port.

    Attributes
    ----------
    voltages : (n,) complex array
        Across each slot at its outer face, largest magnitude 1; all 0 where no slot
        couples.
    power : (n,) array
        Power radiated by each slot over the power accepted by the port.
    """

    voltages: NDArray
    power: NDArray

    @property
    def efficiency(self) -> float:
        """Radiated over accepted power; the rest heats walls or a matched end."""
        return float(self.power.sum())


def swept_reflection(model: SlotMoment, frequency: NDArray, tolerance: float = 1e-5) -> tuple[NDArray, float]:
    """Reflection of TE10 at the first port (f,), and the largest error found in it.

    Few exact solutions and a rational fit (`simharness.numerics.rational`).

    Parameters
    ----------
    frequency : (f,) array
        Hz, increasing, between the cutoffs of TE10 and the next mode.
    tolerance : float
        Largest error accepted.

    Raises
    ------
    InputError
        Another mode than TE10 may travel.
    """
    values, exact, error = adaptive_sweep(
        lambda some: model.solve(some).s[:, :1, 0], frequency, tolerance, max_samples=frequency.size
    )
    return values[:, 0], error if exact.size < frequency.size else 0.0


def swept_network(
    network: Callable[[NDArray], ProbeNetwork], frequency: NDArray, tolerance: float = 1e-5
) -> tuple[ProbeNetwork, float]:
    """A probe over the band, and the largest error found in it against the admittance of its coax.

    Parameters
    ----------
    network : callable
        The probe at given frequencies, Hz.
    frequency : (f,) array
        Hz, increasing.
    tolerance : float
        Largest error accepted.
    """
    coax = network(frequency[:1]).coax
    ohm = coax_impedance(coax.inner, coax.outer, coax.eps_r)

    def columns(some: NDArray) -> NDArray:
        found = network(some)
        return np.stack([ohm * found.own, math.sqrt(ohm) * found.link, found.scatter], axis=1)

    values, exact, error = adaptive_sweep(columns, frequency, tolerance, max_samples=frequency.size)
    own, link, scatter = values.T
    swept = ProbeNetwork(frequency, own / ohm, link / math.sqrt(ohm), scatter, coax)
    return swept, error if exact.size < frequency.size else 0.0


def empty_reflection(
    a: float, b: float, length: float, conductivity: float, frequency: NDArray, short: bool
) -> NDArray:
    """Reflection of TE10 (f,) at one end of a guide without slots, shorted or matched at the other."""
    beta = phase_constant(a, frequency)
    gamma = attenuation(a, b, frequency, conductivity) + 1j * beta
    return (-1.0 if short else 0.0) * np.exp(-2.0 * gamma * length)


def resonant_stretch(guide: SlottedGuide, frequency: float) -> float | None:
    """Factor on the lengths of all slots that makes their row a real load, coupling included.

    The load is that at the first slot of a guide which is matched before it and shorted behind the last
    slot; None if no factor from 0.75 to 1.33 makes it real.

    Parameters
    ----------
    guide : SlottedGuide
        Shorted at its far end.
    frequency : float
        Hz.
    """
    if guide.far_short is None:
        raise InputError("far_short", None, "must be given: the row ends in a short")
    first = min(slot.position for slot in guide.slots)
    far = guide.far_short - first

    def susceptance(factor: float) -> float:
        slots = tuple(
            replace(slot, length=factor * slot.length, position=slot.position - first) for slot in guide.slots
        )
        end = max(far, *(slot.position + 0.5 * slot.length for slot in slots))
        row = replace(guide, slots=slots, near_short=None, feed=None, far_short=end, far_plane=end, screws=())
        try:
            s11 = SlotMoment(row).solve(np.array([frequency])).s[0, 0, 0]
        except InputError:  # slots that run into each other
            return math.nan
        return float(normalized_admittance(s11).imag)

    here, value = 1.0, susceptance(1.0)
    step = 1.03 if value > 0 else 1 / 1.03  # short slots are capacitive
    while 0.75 < here < 1.33:
        there = here * step
        following = susceptance(there)
        if value * following <= 0:
            return float(brentq(susceptance, here, there, xtol=1e-3))
        here, value = there, following
    return None


def slot_state(model: SlotMoment, frequency: float) -> SlotState:
    """Voltages and powers of the slots at one frequency, Hz.

    Raises
    ------
    InputError
        Another mode than TE10 may travel.
    """
    return state_of(model, model.solve(np.array([frequency])))


def state_of(model: SlotMoment, response: SlotResponse) -> SlotState:
    """What a response at one frequency, of a model, says of its slots."""
    voltages = response.slot_voltages()[0, 0]
    largest = np.abs(voltages).max()
    accepted = 1.0 - abs(response.s[0, 0, 0]) ** 2
    power = model.radiated_by_slot(response)[0, 0]
    # slots on the centre line of a lossless guide: nothing is accepted, nothing radiated
    share = power / accepted if accepted > 1e-12 else np.zeros_like(power)
    return SlotState(voltages / largest if largest > 1e-9 else 0 * voltages, share)
