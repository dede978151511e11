"""What feed the builder wants, and with which connector or cable."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

from simharness.errors import InputError


@dataclass(frozen=True)
class FeedRequirements:
    """A coax feed before its lengths are found; SI units.

    Attributes
    ----------
    kind : str
        "probe" or "bent-probe": straight through the back wall, or bent, through the near end.
    tip : str
        "soldered" to a broad wall, the front unless that is a laminate, or "open": of a bent probe.
    connector : str
        "bare", "panel" or "stripped", as in a record.
    wire_diameter, coax_inner, coax_outer : float
        m.
    coax_permittivity : float
    flange : float or None
        Side of the square flange of a panel connector, m.
    flange_thickness : float
        m.
    dielectric : float
        How far the dielectric of the coax protrudes into the guide, m.
    """

    kind: str = "probe"
    tip: str = "soldered"
    connector: str = "bare"
    wire_diameter: float = 1.27e-3
    coax_inner: float = 1.27e-3
    coax_outer: float = 4.1e-3
    coax_permittivity: float = 2.03
    flange: float | None = None
    flange_thickness: float = 1.6e-3
    dielectric: float = 0.0


CONNECTORS = {
    "bare": FeedRequirements(),
    "panel": FeedRequirements(connector="panel", flange=12.7e-3),
    "stripped": FeedRequirements(
        connector="stripped", wire_diameter=0.92e-3, coax_inner=0.92e-3, coax_outer=2.98e-3
    ),
}
"""What is taken where nothing else is said. The small threaded connector of 50 ohm with a pin of 1.27 mm in
PTFE, with or without the small square flange (common practice, from memory); semi-rigid cable of 3.58 mm,
conductor 0.92 mm in PTFE of 2.98 mm (MIL-DTL-17, M17/130, from memory)."""


def feed_requirements(connector: str = "bare", **given: Any) -> FeedRequirements:
    """The feed with this connector; what is not given is that of `CONNECTORS`, and the wire is the centre
    conductor.

    Raises
    ------
    InputError
        No such connector.

    Examples
    --------
    >>> feed_requirements("stripped").wire_diameter
    0.00092
    >>> feed_requirements("bare", coax_inner=3e-3, coax_outer=10e-3).wire_diameter
    0.003
    """
    if connector not in CONNECTORS:
        raise InputError("connector", connector, f"must be one of {', '.join(CONNECTORS)}")
    if "coax_inner" in given:
        given.setdefault("wire_diameter", given["coax_inner"])
    return replace(CONNECTORS[connector], **given)
