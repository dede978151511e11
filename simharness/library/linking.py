"""A radio link with the antenna of a stored run, or with a plain gain."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from typing import TYPE_CHECKING, Any

from simharness.errors import InputError
from simharness.library.values import plain

if TYPE_CHECKING:
    from simharness.library.solved_run import SolvedRun
    from simharness.link.budget import Link

REGIONS = ("europe", "us", "us-point-to-point")
"""Whose limits on radiated power the table holds."""

EXPOSURE_SPAN = 2e9, 100e9
"""Frequencies for which reference levels of exposure are at hand, Hz."""


@dataclass(frozen=True)
class LinkResult:
    """Levels, range and limits of a radio link in free space.

    Attributes
    ----------
    budget : simharness.link.budget.Link
    run : SolvedRun or None
        Whose antenna is at this end; None for a plain gain.
    distance_m, sensitivity_dbm, margin_db : float or None
        As asked for.
    region : str or None
        As asked for.
    """

    budget: Link
    run: SolvedRun | None = None
    distance_m: float | None = None
    sensitivity_dbm: float | None = None
    margin_db: float = 10.0
    region: str | None = None

    @property
    def level_dbm(self) -> float | None:
        """Received level at the distance, dBm; None where none was asked for."""
        return self.budget.level_dbm(self.distance_m) if self.distance_m else None

    @property
    def range_m(self) -> float | None:
        """Distance in m at which the level is the sensitivity and the margin; None where none was asked
        for.
        """
        if self.sensitivity_dbm is None:
            return None
        return self.budget.range_m(self.sensitivity_dbm, self.margin_db)

    @property
    def crossed(self) -> bool:
        """Whether the two ends are crossed: by the book nearly nothing comes through, and a practical loss is
        counted.
        """
        return self.budget.ideal_mismatch_db > self.budget.mismatch_db

    @cached_property
    def values(self) -> dict[str, Any]:
        """All numbers under the names of `as_dict`."""
        from simharness.link.propagation import far_field_distance, free_space_loss
        from simharness.link.rules import REMINDER

        link = self.budget
        watts = 10 ** ((link.radiated_dbm - 30) / 10)
        found: dict[str, Any] = {
            "frequency_hz": link.frequency,
            "power_dbm": link.power_dbm,
            "gain_dbi": link.own.gain_dbi,
            "largest_gain_dbi": link.own.largest_dbi,
            "gain_error_db": link.own.largest_error,
            "gain_error_there_db": link.own.gain_error,
            "beam_direction": link.own.beam,
            "polarization": link.own.polarization.description,
            "other_polarization": link.other.polarization.description,
            "ideal_mismatch_db": link.ideal_mismatch_db,
            "mismatch_db": link.mismatch_db,
            "eirp_dbm": link.radiated_dbm,
            "eirp_w": watts,
            "reminder": REMINDER,
            "exposure": _exposure(link.frequency, watts),
            "far_field_distance_m": far_field_distance(link.own.extent, link.frequency)
            if link.own.extent
            else None,
        }
        if self.distance_m:
            found["free_space_loss_db"] = float(free_space_loss(link.frequency, self.distance_m))
            found["level_dbm"] = self.level_dbm
        if self.sensitivity_dbm is not None:
            found["range_m"] = self.range_m
        if self.region:
            found |= {"region": self.region, "eirp_limit": _limit(self.region, link)}
        return found

    @cached_property
    def sentences(self) -> tuple[str, ...]:
        """What to mind: crossed polarizations, aiming, limits on radiated power, exposure."""
        from simharness.link.messages import MANY_DB, direction_sentences, exposure_sentences, limit_sentence

        link, found, said = self.budget, self.values, []
        if self.crossed:
            said.append(
                f"The two ends are crossed ({link.own.polarization.description} and "
                f"{link.other.polarization.description}). "
                "By the book nearly nothing comes through; in practice the loss is "
                f"{found['mismatch_db']:g} dB or more, depending on reflections. {found['mismatch_db']:g} "
                "dB are "
                "counted, so these figures are the best to hope for: turn one of the antennas by 90 degrees."
            )
        axis = None if self.run is None else self.run.record.mounting.axis
        if axis == "vertical" and link.mismatch_db > MANY_DB:
            said.append(
                "With its axis vertical, an antenna of longitudinal slots radiates horizontal polarization. "
                "A "
                "vertical whip is crossed to it: ideally it receives nothing, in practice 20 dB or more "
                "less than "
                "when laid flat."
            )
        said += [
            *direction_sentences(link.own),
            limit_sentence(found),
            *exposure_sentences(found),
            found["reminder"],
        ]
        return tuple(said)

    def as_dict(self) -> dict[str, Any]:
        """All numbers in types that JSON knows."""
        run = self.run
        return plain({"run": run and run.name, "record": run and run.record.name} | self.values)


def _exposure(frequency: float, watts: float) -> list[dict[str, Any]]:
    """Reference levels of exposure, and the distances in front at which the radiated power (W) gives them."""
    from simharness.link.propagation import exposure_distance
    from simharness.link.rules import exposure_limits

    if not EXPOSURE_SPAN[0] < frequency <= EXPOSURE_SPAN[1]:
        return []
    return [
        {
            "limit": limit.name,
            "w_per_m2": limit.density,
            "minutes": limit.minutes,
            "source": limit.source,
            "label": limit.label,
            "distance_m": exposure_distance(watts, limit.density),
        }
        for limit in exposure_limits(frequency)
    ]


def _limit(region: str, link: Link) -> dict[str, Any] | None:
    """The limit on radiated power of a region; None where the table holds none for the frequency."""
    from simharness.link.rules import radiated_limit

    limit = radiated_limit(region, link.frequency)
    if limit is None:
        return None
    return {
        "dbm": limit.radiated_dbm(link.own.largest_dbi),
        "transmitter_dbm": limit.transmitter_dbm(link.own.largest_dbi, link.cable_db),
        "source": limit.source,
        "edition": limit.edition,
        "label": limit.label,
        "remark": limit.remark,
    }


def require_one_antenna(run: str | None, gain_dbi: float | None) -> None:
    """InputError unless either a run, by its name, or a gain is given for this end."""
    if (run is None) == (gain_dbi is None):
        raise InputError("RUN", run or "(none)", "give either a stored run or --gain-dbi, not both")


def link(
    run: SolvedRun | None = None,
    *,
    power_dbm: float,
    gain_dbi: float | None = None,
    polarization: str = "horizontal",
    frequency_ghz: float | None = None,
    along_deg: float = 0.0,
    across_deg: float = 0.0,
    cable_db: float = 0.0,
    other_gain_dbi: float = 2.15,
    other_polarization: str = "vertical",
    other_cable_db: float = 0.0,
    distance_m: float | None = None,
    sensitivity_dbm: float | None = None,
    margin_db: float = 10.0,
    region: str | None = None,
) -> LinkResult:
    """Received level and range of a radio link, radiated power against a limit, and exposure distance.

    Free space only: trees, walls, ground and weather take more. Your local rules decide.

    Parameters
    ----------
    run : SolvedRun, optional
        Whose antenna is at this end, looked at in the direction of the other end.
    power_dbm : float
        Transmitter at its socket, dBm.
    gain_dbi : float, optional
        In the place of a run: realized gain of this antenna, dBi.
    polarization, other_polarization : str
        "horizontal", "vertical", "circular", "right-circular", "left-circular", or degrees from the
        horizontal; the first with `gain_dbi`.
    frequency_ghz : float, optional
        The design frequency of the run without it.
    along_deg, across_deg : float
        Where the other end lies off broadside: towards the far end of the guide, and across the guide.
    cable_db, other_cable_db : float
        Loss of the cable at this and at the other end, dB.
    other_gain_dbi : float
        Gain of the antenna at the other end, dBi.
    distance_m : float, optional
        Of the other end: the received level is asked for.
    sensitivity_dbm : float, optional
        Of the receiver: the range is asked for.
    margin_db : float
        Kept above the sensitivity, dB.
    region : str, optional
        Whose limit on radiated power to look up: "europe", "us", "us-point-to-point".

    Returns
    -------
    LinkResult

    Raises
    ------
    InputError
        Both a run and a gain, or neither; no frequency; a run without a far field near this frequency.

    Examples
    --------
    >>> import simharness
    >>> run = simharness.open_run("four-slot-9g6", runs="docs/runs")
    >>> found = simharness.link(run, power_dbm=10, distance_m=100, other_polarization="horizontal")
    >>> print(f"{found.level_dbm:.0f} dBm")
    -67 dBm
    """
    from simharness.link.budget import Link, end_of_run, plain_end

    if region is not None and region not in REGIONS:
        raise InputError("region", region, f"must be one of {', '.join(REGIONS)}")
    require_one_antenna(None if run is None else run.name, gain_dbi)
    if run is None and frequency_ghz is None:
        raise InputError("--frequency-ghz", "(none)", "must be given with --gain-dbi")
    if run is not None:
        frequency = frequency_ghz * 1e9 if frequency_ghz else run.record.band.centre
        directions = math.radians(along_deg), math.radians(across_deg)
        own = end_of_run(run.results, run.record, frequency, *directions)
    else:
        frequency = (frequency_ghz or 0.0) * 1e9
        own = plain_end(gain_dbi or 0.0, polarization)
    other = plain_end(other_gain_dbi, other_polarization)
    budget = Link(frequency, power_dbm, cable_db, own, other, other_cable_db)
    return LinkResult(budget, run, distance_m, sensitivity_dbm, margin_db, region)
