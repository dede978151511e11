"""Physical constants in SI units (CODATA 2018; c0 is exact by definition of the metre), and what a hand can
mark."""

import math

C0 = 299_792_458.0
"""Speed of light in vacuum, m/s (exact)."""

MU0 = 1.256_637_062_12e-6
"""Vacuum magnetic permeability, H/m (CODATA 2018)."""

EPS0 = 1.0 / (MU0 * C0**2)
"""Vacuum electric permittivity, F/m (from MU0 and C0)."""

ETA0 = MU0 * C0
"""Impedance of free space, ohm (376.730 313 67)."""

TWO_PI = 2.0 * math.pi

MM = 1e-3
"""One millimetre, m: records are written in millimetres."""

MARKED_MM = 0.1
"""What can be marked with a scriber and a rule, mm (common practice): amounts and steps are multiples."""
