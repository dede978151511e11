"""The coaxial line: impedance of its TEM wave."""

from __future__ import annotations

import math

from simharness.constants import ETA0, TWO_PI
from simharness.errors import InputError


def coax_impedance(inner_diameter: float, outer_diameter: float, eps_r: float = 1.0) -> float:
    """Characteristic impedance of a lossless coax, ohm.

    Parameters
    ----------
    inner_diameter : float
        Diameter of the centre conductor, m.
    outer_diameter : float
        Inner diameter of the outer conductor, m; greater than `inner_diameter`.
    eps_r : float
        Relative permittivity of the dielectric.

    Raises
    ------
    InputError
        The outer diameter does not exceed the inner one.

    Examples
    --------
    >>> round(coax_impedance(1.27e-3, 4.1e-3, 2.03), 1)
    49.3
    """
    check_diameters(inner_diameter, outer_diameter)
    return ETA0 / (TWO_PI * math.sqrt(eps_r)) * math.log(outer_diameter / inner_diameter)


def check_diameters(inner_diameter: float, outer_diameter: float) -> None:
    """InputError unless the outer diameter exceeds the inner one."""
    if not 0 < inner_diameter < outer_diameter:
        raise InputError(
            "outer_diameter", outer_diameter, f"must be greater than inner_diameter {inner_diameter:g}"
        )
