"""What is known of a record before any full-wave run: the check, and the estimate by the method of
moments.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from simharness.library.values import ShortRepr, plain

if TYPE_CHECKING:
    import skrf
    from numpy.typing import NDArray

    from simharness.estimate.antenna import Cut, Estimate
    from simharness.figures import Figure
    from simharness.records import Record


@dataclass(frozen=True, repr=False)
class Check(ShortRepr):
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
    168.1 mm
    >>> found.warnings
    ()
    """
    from simharness.advice.derived import derived
    from simharness.advice.warnings import CAUTIONS, warnings

    return Check(record, derived(record), tuple(warnings(record)), tuple(CAUTIONS))


@dataclass(frozen=True, repr=False)
class EstimateResult(ShortRepr):
    """Match, pattern and gain of a record by the method of moments.

    Attributes
    ----------
    record : Record
    model : simharness.estimate.antenna.Estimate
        All arrays of the estimate: slot voltages, power of each slot, cuts of the pattern.
    """

    record: Record
    model: Estimate

    @property
    def figures(self) -> dict[str, Figure]:
        """Figures by name, in SI units, dB, dBi or degrees as each says."""
        return self.model.figures

    @property
    def frequency(self) -> NDArray:
        """Frequencies (f,), Hz."""
        return self.model.frequency

    @cached_property
    def s11(self) -> skrf.Network:
        """Reflection (f, 1, 1) at the outer face of the wall against 50 ohm (a guide port: of TE10 at the
        near end).
        """
        from simharness.results.match import one_port

        return one_port(self.model.frequency, self.model.s11, f"{self.record.name} estimate")

    @property
    def along(self) -> Cut | None:
        """Cut of the pattern along the guide: `angle` (n,) in rad off broadside, `power` (n,); None without
        slots.
        """
        return self.model.along

    @property
    def across(self) -> Cut | None:
        """Cut of the pattern across the guide, as `along`."""
        return self.model.across

    @cached_property
    def sentences(self) -> tuple[str, ...]:
        """Polarization, where the beam points, and how far to trust the figures."""
        from simharness.estimate import beam, cross_polar
        from simharness.estimate.around import around_sentences
        from simharness.estimate.site.figures import site_sentences
        from simharness.verdict.error_bars import estimate_error
        from simharness.verdict.site_bars import site_trust

        trusted = estimate_error(self.record)
        said = [f"Polarization: {self.figures['polarization'].value}."]
        if self.model.along is not None:
            leaning = beam.lean(self.model.along.angle, self.model.along.power)
            said.append(beam.beam_sentence(self.figures.get(beam.NAME), leaning, trusted["gain"]))
        said += around_sentences(self.record, self.figures)
        said.append(cross_polar.sentence(self.record, self.figures))
        across = None if self.across is None else (self.across.angle, self.across.power)
        said += site_sentences(self.record, self.figures, across)
        said += site_trust(self.record, trusted)
        said.append(
            f"The best match is trusted to about {100 * trusted['resonance']:g} %, gain to "
            f"{trusted['gain']:g} dB. 'simharness solve' checks it."
        )
        return tuple(sentence for sentence in said if sentence)

    def as_dict(self) -> dict[str, Any]:
        """Figures and S11 in types that JSON knows."""
        return plain(
            {
                "record": self.record.name,
                "figures": self.figures,
                "frequency_hz": self.model.frequency.tolist(),
                "s11": [[value.real, value.imag] for value in self.model.s11.tolist()],
            }
        )


def estimate(record: Record, points: int = 201) -> EstimateResult:
    """Estimate match, pattern and gain of a record, in about a second and without the solver.

    Parameters
    ----------
    record : Record
    points : int
        Frequencies over the band and some way beyond it.

    Returns
    -------
    EstimateResult

    Examples
    --------
    >>> import simharness
    >>> guess = simharness.estimate(simharness.read_record("models/five-slot-2g45.toml"), points=21)
    >>> guess.s11.s.shape
    (21, 1, 1)
    >>> print(f"{guess.figures['directivity'].value:.1f} dBi")
    13.7 dBi
    """
    from simharness.estimate.antenna import estimate as estimated

    return EstimateResult(record, estimated(record, points))
