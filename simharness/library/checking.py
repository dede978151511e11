"""What follows from a record, and what is likely to go wrong."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from simharness.library.values import plain

if TYPE_CHECKING:
    from simharness.figures import Figure
    from simharness.records import Record


@dataclass(frozen=True)
class Check:
    """What follows from a record without any simulation.

    Attributes
    ----------
    record : Record
    figures : dict of str to Figure
        Cutoff, guide wavelength, spacing and resonances of the slots and so on, in SI units.
    warnings : tuple of str
        What is likely to go wrong, in sentences.
    cautions : tuple of str
        What to mind with any such antenna, when it is cut, soldered and put on the air.
    """

    record: Record
    figures: dict[str, Figure]
    warnings: tuple[str, ...]
    cautions: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """All of it in types that JSON knows."""
        return plain(
            {
                "record": self.record.name,
                "figures": self.figures,
                "warnings": self.warnings,
                "cautions": self.cautions,
            }
        )


def check(record: Record) -> Check:
    """Check a record against the physics and the workshop: milliseconds, and no solver.

    A record that contradicts itself is refused when it is read; see `simharness.read_record`.

    Parameters
    ----------
    record : Record

    Returns
    -------
    Check

    Examples
    --------
    >>> import simharness
    >>> found = simharness.check(simharness.read_record("models/five-slot-2g45.toml"))
    >>> print(f"{found.figures['guide_wavelength_centre'].value * 1e3:.1f} mm")
    173.5 mm
    >>> found.warnings
    ()
    """
    from simharness.advice.warnings import CAUTIONS, derived, warnings

    return Check(record, derived(record), tuple(warnings(record)), tuple(CAUTIONS))
