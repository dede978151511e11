"""Limits on radiated power and on exposure, as far as their text was available.

These values show which question to ask the local authority; they are not legal advice and
may have changed since. Each states its origin: `SEEN` in a copy of the source or of a text that
reproduces it, or `RECALLED`.
"""

from __future__ import annotations

from dataclasses import dataclass

from simharness.errors import InputError
from simharness.numerics.decibels import decibels

SEEN = "seen in a copy of the text"
RECALLED = "from memory, look it up"

REMINDER = (
    "Limits change and depend on place, band, service and licence: your local rules decide, "
    "and their authority or a licensed operator can tell you."
)


@dataclass(frozen=True)
class RadiatedLimit:
    """Largest equivalent isotropically radiated power (EIRP) in one band.

    The transmitter may deliver `conducted_dbm` to an antenna of at most `free_gain_dbi`; for every
    decibel of gain beyond that, it must deliver `backoff` decibels less. A plain limit on the EIRP
    has `free_gain_dbi` 0 and `backoff` 1.

    Attributes
    ----------
    low, high : float
        The band, Hz.
    conducted_dbm, free_gain_dbi, backoff : float
    source, edition, label, remark : str
        `label` is `SEEN` or `RECALLED` and refers to the power; `remark` names other conditions.
    """

    low: float
    high: float
    conducted_dbm: float
    free_gain_dbi: float
    backoff: float
    source: str
    edition: str
    label: str
    remark: str = ""

    def radiated_dbm(self, gain_dbi: float) -> float:
        """Largest EIRP in dBm with an antenna of this gain."""
        if self.plain:
            return self.conducted_dbm
        excess = max(gain_dbi - self.free_gain_dbi, 0.0)
        return self.conducted_dbm + min(gain_dbi, self.free_gain_dbi) + excess * (1 - self.backoff)

    def transmitter_dbm(self, gain_dbi: float, cable_db: float = 0.0) -> float:
        """Largest allowed power of a transmitter behind a cable, dBm: by the EIRP and by the conducted power.

        Parameters
        ----------
        gain_dbi : float
            Of the antenna.
        cable_db : float
            Loss of the cable, dB.

        Examples
        --------
        >>> print(radiated_limit("europe", 2.44e9).transmitter_dbm(10.7))
        9.3
        >>> print(radiated_limit("us", 2.44e9).transmitter_dbm(3.0, cable_db=5.0))
        30.0
        """
        by_radiation = self.radiated_dbm(gain_dbi) - gain_dbi + cable_db
        return by_radiation if self.plain else min(by_radiation, self.conducted_dbm)

    @property
    def plain(self) -> bool:
        """Whether the EIRP itself is limited, independently of the gain."""
        return self.free_gain_dbi == 0 and self.backoff == 1


_DATABASE = "public wireless regulatory database"
_EDGES = "edges of the band, and that it holds for frequency hopping or digital modulation: from memory"
REGIONS: dict[str, tuple[RadiatedLimit, ...]] = {
    "europe": (
        RadiatedLimit(
            2.4e9,
            2.4835e9,
            20.0,
            0.0,
            1.0,
            f"EN 300 328, by the {_DATABASE}",
            "edition not stated there",
            SEEN,
        ),
        RadiatedLimit(
            5.725e9,
            5.875e9,
            decibels(25.0),
            0.0,
            1.0,
            f"EN 300 440, by the {_DATABASE}",
            "edition not stated there",
            SEEN,
        ),
    ),
    "us": (
        RadiatedLimit(2.4e9, 2.4835e9, 30.0, 6.0, 1.0, "47 CFR 15.247", "2000 edition", SEEN, _EDGES),
        RadiatedLimit(5.725e9, 5.85e9, 30.0, 6.0, 1.0, "47 CFR 15.247", "2000 edition", SEEN, _EDGES),
    ),
    "us-point-to-point": (
        RadiatedLimit(
            2.4e9,
            2.4835e9,
            30.0,
            6.0,
            1 / 3,
            "47 CFR 15.247, fixed point-to-point",
            "2000 edition",
            SEEN,
            _EDGES,
        ),
    ),
}
"""Limits by region; none of them is for licensed services."""


def radiated_limit(region: str, frequency: float) -> RadiatedLimit | None:
    """The limit of a region at a frequency in Hz; None where the table has none.

    Raises
    ------
    InputError
        Unknown region.

    Examples
    --------
    >>> radiated_limit("us", 2.44e9).radiated_dbm(9.0)
    36.0
    """
    if region not in REGIONS:
        raise InputError("region", region, f"must be one of {', '.join(REGIONS)}")
    return next((limit for limit in REGIONS[region] if limit.low <= frequency <= limit.high), None)


@dataclass(frozen=True)
class ExposureLimit:
    """Reference level of the power density for the general public.

    Attributes
    ----------
    name : str
    density : float
        W/m2.
    minutes : int or None
        Averaging time; None where it was not available.
    source, label : str
        `label` is `SEEN` or `RECALLED`.
    """

    name: str
    density: float
    minutes: int | None
    source: str
    label: str


def exposure_limits(frequency: float) -> tuple[ExposureLimit, ...]:
    """Reference levels for the general public at a frequency between 2 and 100 GHz.

    Parameters
    ----------
    frequency : float
        Hz.

    Returns
    -------
    tuple of ExposureLimit
        ICNIRP 2020 local (40 W/m2 above 2 to 6 GHz, 55 f_GHz^-0.177 above) and whole body;
        47 CFR 1.1310, 1.5 to 100 GHz.

    Raises
    ------
    InputError
        Outside 2 to 100 GHz, where other levels apply.

    Examples
    --------
    >>> [round(limit.density, 1) for limit in exposure_limits(10e9)]
    [36.6, 10.0, 10.0]
    """
    ghz = frequency / 1e9
    if not 2 < ghz <= 100:
        raise InputError("frequency", f"{ghz:g} GHz", "reference levels are available for 2 to 100 GHz only")
    local = 40.0 if ghz <= 6 else 55 * ghz**-0.177
    return (
        ExposureLimit("ICNIRP 2020, local", local, 6, "ICNIRP guidelines 2020, general public", SEEN),
        ExposureLimit(
            "ICNIRP 2020, whole body", 10.0, 30, "ICNIRP guidelines 2020, general public", RECALLED
        ),
        ExposureLimit("US, general population", 10.0, None, "47 CFR 1.1310", RECALLED),
    )
