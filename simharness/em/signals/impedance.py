"""Impedance and admittance of a one-port from its reflection coefficient."""

from __future__ import annotations

from typing import overload

from numpy.typing import NDArray


@overload
def input_impedance(reflection: complex, reference: float) -> complex: ...
@overload
def input_impedance(reflection: NDArray, reference: float) -> NDArray: ...
def input_impedance(reflection: complex | NDArray, reference: float) -> complex | NDArray:
    """Input impedance of a one-port.

    Parameters
    ----------
    reflection : complex or array
        Reflection coefficient at the reference plane.
    reference : float
        Reference impedance, ohm; 1 gives the normalized impedance.

    Returns
    -------
    complex or array
        reference (1 + reflection) / (1 - reflection), ohm.

    Examples
    --------
    >>> input_impedance(0.5, 50.0)
    150.0
    """
    return reference * (1 + reflection) / (1 - reflection)


@overload
def normalized_admittance(reflection: complex) -> complex: ...
@overload
def normalized_admittance(reflection: NDArray) -> NDArray: ...
def normalized_admittance(reflection: complex | NDArray) -> complex | NDArray:
    """Input admittance of a one-port over that of its line, (1 - reflection) / (1 + reflection).

    Examples
    --------
    >>> normalized_admittance(-0.5)
    3.0
    """
    return (1 - reflection) / (1 + reflection)
