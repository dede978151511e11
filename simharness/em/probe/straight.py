"""Coax probe through a broad wall of a rectangular guide, by the method of moments.

The TEM field of the coax in its aperture (voltage V, E_rho = V / (rho ln(outer/inner)))
drives the wire as a frill of magnetic current; all modes of the guide, and the images in
shorts of all but TE10, act on the wire (`simharness.em.probe.kernel`). Its current, the same around the
wire, is I(y) = c_0 + sum c_p cos((p - 1/2) pi y / d), even about its wall; what reaches the tip
becomes charge on the flat end. With A and Phi by harmonics and charges -dI/dy / (j omega),
Galerkin testing gives

    Z_pq = (j k eta / b) sum e_n P_p P_q wire_n
         + (eta / j k b) sum 2 [S_p S_q wire_n - (S_p t_q + t_p S_q) s_n wire_tip_n + t_p t_q s_n^2 tip_n],

P = integral of the basis times cos(n pi y/b), S = that of its slope times sin(n pi y/b),
t its value at the tip, s_n = sin(n pi d/b); drive v_p = sum e_n P_p feed_n / (b ln). Then
Z c = v V + w (a_left + a_right), w the TE10 field tested on the wire, and the coax current is
I = v c + Y V + w_f (a_left + a_right), Y the aperture's own admittance and w_f the field of
TE10 on it. The TE10 waves leave with u = -(w c + w_f V)/2 both ways added to what passes.
Own derivation; signs and factors are checked by power balance and reciprocity, to rounding.

A sleeve of dielectric around the foot of the wire reduces the potential of the charge on it by (1 - 1/eps_r)
ln(outer/r) / (2 pi eps_0) per length, as if its field were radial within the sleeve. Charge that varies along
the wire over less than the thickness of the sleeve has no field beyond it: that charge is averaged over a
triangle of half-width outer (a choice).

Neglected: current that varies around the wire (a post across the guide gets (a/lambda_g)(pi
diameter/a)^2 of the wave impedance in series from it, Marcuvitz, Waveguide Handbook, sec. 5.11,
0.02 for 1.27 mm in WR-90; a probe its share by height, which moves a matched S11 by about
0.005), higher coax modes in the aperture, radial current on the end, and the evanescent modes
between probe and slots. The slowest of those, TE11 and TM11, decay as exp(-Gamma D) over the
distance D to the near end of a slot, Gamma^2 = (pi/a)^2 + (pi/b)^2 - k^2. A sum over modes with
a sinusoidal current gives the first slot 0.2 to 0.8 % of its TE10 drive from all of them where
D is 0.31 guide wavelengths (three arrays); (beta/Gamma) exp(-Gamma D) / 4 was above it in each.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from simharness.constants import C0, ETA0, TWO_PI
from simharness.em.guide.rectangular import phase_constant
from simharness.em.guide.round import probe_rectangle, te11_over_te10
from simharness.em.probe.kernel import RadialTerms
from simharness.em.probe.network import CoaxLine, ProbeNetwork, sleeve_elastance
from simharness.em.probe.wire import MAX_HARMONICS, radial_terms_in_guide, spectra, wire_matrix

Profile = Callable[[NDArray], NDArray]
"""Field along the wire over that of TE10 as a function of the distance from the wall, m."""


@dataclass(frozen=True)
class ProbeShape:
    """A straight round wire standing on a broad wall, SI units.

    Attributes
    ----------
    offset : float
        Axis from the centre line of the wall, m.
    height : float
        Tip above the wall, m; at most the height of the guide.
    diameter : float
        m.
    dielectric : float
        Length of the wire that is covered by the dielectric of the coax, m.
    """

    offset: float
    height: float
    diameter: float
    dielectric: float = 0.0

    def network_in(
        self,
        a: float,
        b: float,
        coax: CoaxLine,
        frequency: NDArray,
        back_short: float,
        diameter: float | None = None,
    ) -> ProbeNetwork:
        """Three-port of this probe in a guide.

        Parameters
        ----------
        a, b : float
            Inner width and height, m.
        coax : CoaxLine
        frequency : (f,) array
            Hz.
        back_short : float
            Distance from the short to the axis, m.
        diameter : float or None
            Inner diameter of the round guide that this one stands for, m.
        """
        size, profile = (a, b), None
        if diameter is not None:
            size, profile = probe_rectangle(diameter), partial(te11_over_te10, diameter)
        return probe_network(*size, self, coax, frequency, near_short=back_short, profile=profile)


def probe_network(
    a: float,
    b: float,
    wire: ProbeShape,
    coax: CoaxLine,
    frequency: NDArray,
    near_short: float = math.inf,
    far_short: float = math.inf,
    count: int = 10,
    profile: Profile | None = None,
) -> ProbeNetwork:
    """Three-port of a straight probe; shorts act on all modes except TE10.

    Parameters
    ----------
    a, b : float
        Inner width and height of the guide, m.
    wire : ProbeShape
        Its height may be that of the guide: a post soldered to the opposite wall.
    coax : CoaxLine
        The diameter of the wire is limited to nine tenths of that of the bore.
    frequency : (f,) array
        Hz, between the cutoffs of TE10 and the next mode.
    near_short, far_short : float
        Distances of shorts from the axis, m.
    count : int
        Number of basis functions of the current.
    profile : callable, optional
        For a guide of another cross-section that this rectangle stands for: field of its mode along the wire
        over that of TE10, as a function of the distance from the wall (m). The evanescent modes are those of
        the rectangle.

    Raises
    ------
    InputError
        A frequency is at or below cutoff.
    """
    frequency = np.asarray(frequency, dtype=float)
    k = TWO_PI * frequency / C0
    outer = 0.5 * coax.outer
    radius = min(0.5 * wire.diameter, 0.9 * outer)
    radii = radius, max(0.5 * coax.inner, radius), outer
    ky = np.arange(min(MAX_HARMONICS, math.ceil(12.0 * b / radius))) * math.pi / b
    terms = radial_terms_in_guide(a, b, wire.offset, k, ky, radii, (near_short, far_short))
    beta = phase_constant(a, frequency)
    field = np.sqrt(2.0 * k * ETA0 / (a * b * beta)) * math.cos(math.pi * wire.offset / a)
    coat = _coat(wire, coax, radius, count)
    return _network(
        frequency, b, wire.height, coax, ky, terms, math.log(outer / radii[1]), field, count, coat, profile
    )


def _coat(wire: ProbeShape, coax: CoaxLine, radius: float, count: int) -> NDArray:
    """Elastance (p, p) that a sleeve around the foot of the wire removes: integrals of slope times slope."""
    x, w = np.polynomial.legendre.leggauss(40)
    y = 0.5 * wire.dielectric * (x + 1.0)
    q = np.where(np.arange(count) > 0, (np.arange(count) - 0.5) * math.pi / wire.height, 0.0)[:, None]
    slopes = q * np.sin(q * y) * np.sinc(0.5 * q * 0.5 * coax.outer / math.pi) ** 2
    return sleeve_elastance(coax, radius) * (slopes * (0.5 * wire.dielectric * w)) @ slopes.T


def _network(
    frequency: NDArray,
    b: float,
    height: float,
    coax: CoaxLine,
    ky: NDArray,
    terms: RadialTerms,
    log: float,
    field: NDArray,
    count: int,
    coat: NDArray,
    profile: Profile | None,
) -> ProbeNetwork:
    """Solve for the current; `field` is TE10 of unit amplitude at the axis, V/m."""
    k = TWO_PI * frequency / C0
    e_n = np.where(ky > 0, 2.0, 1.0)
    p, slope, tip, sine = spectra(ky, height, count)
    matrix = wire_matrix(k, terms, p, slope, tip, sine, e_n, b) + (1j * ETA0 / k)[:, None, None] * coat
    drive = (terms.feed * e_n) @ p.T / (b * log)
    # beyond the last harmonic the aperture term is log / gamma^2, midpoint rule for the rest
    rings = (terms.aperture / terms.square) @ e_n / log + 2.0 * (b / math.pi) ** 2 / (ky.size - 0.5)
    aperture = 1j * k / ETA0 * TWO_PI / (log * b) * rings
    wave = (field * terms.wire_wave)[:, None] * p[:, 0]
    on_aperture = -1j * field * TWO_PI * terms.aperture_wave / (log * k * ETA0)
    if profile is not None:
        # TE10 acts back on wire and aperture as w w/2, w w_f/2 and w_f^2/2: the other mode replaces it
        other = (field * terms.wire_wave)[:, None] * _profile_overlap(profile, height, count)
        at_foot = on_aperture * profile(np.zeros(1))
        matrix = matrix + (other[:, :, None] * other[:, None, :] - wave[:, :, None] * wave[:, None, :]) / 2
        drive = drive - (other * at_foot[:, None] - wave * on_aperture[:, None]) / 2
        aperture = aperture - (at_foot**2 - on_aperture**2) / 2
        wave, on_aperture = other, at_foot
    solved = np.linalg.solve(matrix, np.stack([drive, wave + 0j], axis=-1))
    own = aperture + np.einsum("fp,fp->f", drive, solved[..., 0])
    link = on_aperture + np.einsum("fp,fp->f", wave, solved[..., 0])
    return ProbeNetwork(frequency, own, link, np.einsum("fp,fp->f", wave, solved[..., 1]), coax)


def _profile_overlap(profile: Profile, height: float, count: int) -> NDArray:
    """Integral of the basis (p,) times a profile along the wire, m."""
    node, weight = np.polynomial.legendre.leggauss(40)
    y = height * (node + 1) / 2
    order = np.arange(count)[:, None]
    basis = np.where(order > 0, np.cos((order - 0.5) * math.pi * y / height), 1.0)
    return basis @ (profile(y) * weight) * height / 2
