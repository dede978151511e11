"""Height of a coax probe and place of its back short for the best match of a given load.

The probe is a source in shunt for TE10 (`simharness.em.probe_moment`). The short behind it
lends it a susceptance, its height sets resistance and reactance: two unknowns for the two
parts of the impedance, so that any load that is not extreme can be matched at one
frequency. Over a band the sum of |S11|^2 is made least.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import least_squares

from simharness.constants import C0
from simharness.em.guide import guide_wavelength, phase_constant
from simharness.em.probe import ProbeShape
from simharness.em.probe_moment import CoaxLine, probe_network
from simharness.em.round_guide import probe_rectangle, te11_over_te10
from simharness.errors import InputError

_BACK = (0.06, 0.30)
"""Back short in guide wavelengths: beyond a quarter the probe passes the peak of the field."""
_STARTS = ((0.20, 0.19), (0.15, 0.22), (0.25, 0.17))
"""Back short in guide wavelengths, height in free-space ones (common practice: 3/16)."""
_MOST_HEIGHT = 0.85
"""Of the guide: a probe that ends nearer to the opposite wall is detuned by the least dent."""


@dataclass(frozen=True)
class FeedPlace:
    """A guide with its load, waiting for a probe; SI units.

    Attributes
    ----------
    a, b : float
        Inner size, m.
    wire_diameter : float
        m.
    coax : CoaxLine
        Length: the wall that it passes.
    frequency : (f,) array
        Hz.
    load : (f,) complex array
        Reflection of TE10 at the first slot.
    gap : float
        From the probe to the first slot, m.
    reference : float
        Ohm.
    diameter : float or None
        Of the round guide that this one stands for, m.
    """

    a: float
    b: float
    wire_diameter: float
    coax: CoaxLine
    frequency: NDArray
    load: NDArray
    gap: float
    reference: float
    diameter: float | None = None

    @property
    def height(self) -> float:
        """Of the guide where the probe stands, m."""
        return self.b if self.diameter is None else self.diameter

    def reflection(self, height: float, back_short: float) -> NDArray:
        """S11 (f,) at the outer face of the wall for a probe of this height and distance from the short, m."""
        beta = phase_constant(self.a, self.frequency)
        turned = self.load * np.exp(-2j * beta * self.gap)
        admittance = (1 - turned) / (1 + turned) - 1j / np.tan(beta * back_short)
        wire, size, profile = ProbeShape(0.0, height, self.wire_diameter), (self.a, self.b), None
        if self.diameter is not None:
            size, profile = probe_rectangle(self.diameter), partial(te11_over_te10, self.diameter)
        network = probe_network(*size, wire, self.coax, self.frequency, near_short=back_short, profile=profile)
        return network.reflection(1 / admittance, self.reference)


def best_feed(place: FeedPlace) -> tuple[float, float]:
    """Height of the probe and its distance from the back short, m, for the least mean |S11|^2.

    Raises
    ------
    InputError
        The guide leaves no room for a probe.
    """
    centre = float(np.mean(place.frequency))
    wave, free = float(guide_wavelength(place.a, centre)), C0 / centre
    hole = 0.5 * max(place.coax.outer, place.wire_diameter)
    low = np.array([0.5 * place.wire_diameter, max(_BACK[0] * wave, 1.2 * hole)])
    high = np.array([_MOST_HEIGHT * place.height, _BACK[1] * wave])
    if np.any(low >= high):
        raise InputError("coax", f"{place.coax.outer * 1e3:g} mm", "the feed hole is too large for this guide")
    scale = np.array([free, wave])

    def misfit(x: NDArray) -> NDArray:
        s11 = place.reflection(*(x * scale))
        return np.concatenate([s11.real, s11.imag])

    best = None
    for back, height in _STARTS:
        start = np.clip(np.array([height, back]) * scale, 1.001 * low, 0.999 * high) / scale
        # a thousandth of a wavelength is less than a hand can set
        found = least_squares(misfit, start, bounds=(low / scale, high / scale), xtol=1e-5, ftol=1e-4, diff_step=1e-3)
        if best is None or found.cost < best.cost:
            best = found
        if best.cost < 0.5 * place.frequency.size * 10**-2:
            break
    height, back = best.x * scale
    return float(height), float(back)
