"""A radio link with the antenna of a stored run, or an antenna of known gain, at one end.

Gain and polarization are those of the run in the direction of the other end. The path is free space,
ITU-R P.525; obstacles, reflections and weather are not included.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from simharness.constants import ETA0, TWO_PI
from simharness.em.pattern import direction
from simharness.em.pattern.cuts import cut_along, polarization
from simharness.em.pattern.far_field import FarField
from simharness.em.pattern.gain import realized_gain_dbi
from simharness.em.pattern.levels import largest
from simharness.errors import InputError
from simharness.estimate.beam import beam_figure, lean
from simharness.figures import Figure
from simharness.link.propagation import (
    free_space_loss,
    free_space_range,
    polarization_match,
    signed_axial_ratio,
)
from simharness.numerics.decibels import decibels
from simharness.records import Record
from simharness.results.far_field import antenna_middle, far_index, run_far_field
from simharness.results.powers import run_efficiency
from simharness.verdict.error_bars import mesh_quality, provenance, solver_error

PRACTICAL_CROSS_DB = 20.0
"""Largest polarization mismatch that is counted, dB: real antennas are never exactly linear and the
surroundings depolarize a part of the wave, so that links rarely lose more than 20 to 30 dB (common
practice, no source)."""

_TYPICAL_LOBE_DB = -13.0
"""Side-lobe level on which the error bars of side lobes are based, dB: that of a row of equal slots."""
_MIN_LEVEL_DB = -60.0


@dataclass(frozen=True)
class Polarization:
    """A polarization ellipse in the frame of the ground.

    Attributes
    ----------
    ratio : float
        Minor over major axis, signed as in `signed_axial_ratio`.
    tilt : float
        Major axis from the horizontal, rad; positive rises to the right as seen from this antenna
        towards the other.
    description : str
    either_sense : bool
        Circular of unknown sense: the worse one counts.
    """

    ratio: float
    tilt: float
    description: str
    either_sense: bool = False


def named_polarization(text: str) -> Polarization:
    """Polarization of an antenna by name, or linear at an angle in degrees from the horizontal.

    Raises
    ------
    InputError

    Examples
    --------
    >>> round(named_polarization("45").tilt / math.pi, 3)
    0.25
    """
    names = {
        "horizontal": Polarization(0.0, 0.0, "horizontal"),
        "vertical": Polarization(0.0, math.pi / 2, "vertical"),
        "right-circular": Polarization(1.0, 0.0, "right-hand circular"),
        "left-circular": Polarization(-1.0, 0.0, "left-hand circular"),
        "circular": Polarization(1.0, 0.0, "circular of unknown sense", either_sense=True),
    }
    if text in names:
        return names[text]
    try:
        angle = float(text)
        if not math.isfinite(angle):
            raise ValueError
    except ValueError:
        raise InputError(
            "polarization", text, f"must be {', '.join(names)} or an angle from the horizontal in degrees"
        ) from None
    return Polarization(0.0, math.radians(angle), f"linear, {angle:g} deg from the horizontal")


@dataclass(frozen=True)
class End:
    """One antenna of a link.

    Attributes
    ----------
    gain_dbi : float
        Realized gain towards the other end.
    polarization : Polarization
    largest_dbi : float
        Largest realized gain in any direction: what limits on radiated power ask for.
    extent : float or None
        Largest dimension, m, where known.
    gain_error, largest_error : float or None
        Half error bars of both gains, dB; None for a gain that was given.
    beam : Figure or None
        Direction of the beam along the guide, deg off broadside; None where broadside has the same gain
        within the error bar.
    tilt_deg : float
        How far the front looks below the horizon along the guide, deg.
    """

    gain_dbi: float
    polarization: Polarization
    largest_dbi: float
    extent: float | None = None
    gain_error: float | None = None
    largest_error: float | None = None
    beam: Figure | None = None
    tilt_deg: float = 0.0


def end_of_run(
    results: Mapping[str, np.ndarray], record: Record, frequency: float, along: float, across: float
) -> End:
    """The antenna of a run as one end of a link.

    Parameters
    ----------
    results : mapping
        Arrays of a run with far field.
    record : Record
    frequency : float
        Hz; the nearest stored far field is taken.
    along, across : float
        Direction of the other end off broadside, of an antenna that is tilted: off where broadside would
        look without the tilt; rad; see `direction.spherical_angles`.

    Raises
    ------
    InputError
        No far field, or none near this frequency.
    """
    far = run_far_field(results)
    index = far_index(far.frequency, frequency)
    up, tilt = direction.UP[record.mounting.axis], record.mounting.tilt
    theta, phi = direction.angles_in_tilted(*direction.spherical_angles(along, across), up, tilt)
    field = direction.field_towards(far, index, theta, phi, antenna_middle(record))
    one, two = (complex(part) for part in field)
    raised = direction.up_in_tilted(up, tilt) if tilt else up
    level, upright = direction.horizontal_vertical(one, two, float(theta), float(phi), raised)
    efficiency, accepted = run_efficiency(results, index), float(results["accepted_power"][index])
    radiated = float(results["radiated_power"][index])
    here, most = _directivity(far, index, field, radiated), largest(results["directivity"][index])
    error = solver_error(record, mesh_quality(results), provenance(results))
    tilt = float(polarization(level, upright)[1])
    ratio = signed_axial_ratio(upright, level)  # up x right is the direction of travel
    guide = record.guide
    return End(
        gain_dbi=realized_gain_dbi(decibels(here), efficiency, accepted),
        polarization=Polarization(ratio, tilt, _ellipse_text(ratio, tilt)),
        largest_dbi=realized_gain_dbi(decibels(most), efficiency, accepted),
        extent=1e-3 * math.hypot(guide.length_mm, guide.width_mm, guide.height_mm),
        gain_error=_level_error(error, decibels(min(here / most, 1.0))),
        largest_error=error["gain"],
        beam=_leaning(far, index, error),
        tilt_deg=record.mounting.tilt_deg if record.mounting.axis == "vertical" else 0.0,
    )


def _level_error(error: Mapping[str, float], level_db: float) -> float:
    """Half error bar in dB of a gain at a level below the peak.

    The error bar of a side lobe is one of the field relative to the peak; the same field error weighs more
    where the field is lower.
    """
    field = (10 ** (error["side_lobe"] / 20) - 1) * 10 ** (_TYPICAL_LOBE_DB / 20)
    return max(error["gain"], 2 * decibels(1 + field / 10 ** (max(level_db, _MIN_LEVEL_DB) / 20)))


def _leaning(far: FarField, index: int, error: Mapping[str, float]) -> Figure | None:
    """Direction of a beam off broadside; None where broadside has the same gain within the error bar."""
    cut = cut_along(far, index)
    if lean(cut.angle, cut.total).loss_db <= error["gain"]:
        return None
    return beam_figure(cut.angle, cut.total, "full wave", error["beam"])


def _directivity(far: FarField, index: int, field: tuple[np.ndarray, np.ndarray], radiated: float) -> float:
    intensity = (abs(field[0]) ** 2 + abs(field[1]) ** 2) / (2 * ETA0)
    return float(2 * TWO_PI * intensity / radiated)


def _ellipse_text(ratio: float, tilt: float) -> str:
    angle = abs(math.degrees(tilt))
    name = (
        "horizontal"
        if angle < 10
        else "vertical"
        if angle > 80
        else f"{math.degrees(tilt):.0f} deg from the horizontal"
    )
    return name if abs(ratio) < 0.1 else f"{name}, elliptical (axial ratio {-decibels(ratio**2):.0f} dB)"


def plain_end(gain_dbi: float, polarization_name: str) -> End:
    """An antenna of which only gain (dBi) and polarization are known."""
    return End(gain_dbi, named_polarization(polarization_name), gain_dbi)


@dataclass(frozen=True)
class Link:
    """Transmitter, two antennas and the path between them.

    Attributes
    ----------
    frequency : float
        Hz.
    power_dbm : float
        At the output of the transmitter.
    cable_db, other_cable_db : float
        Loss of the cable at this and at the other end.
    own, other : End
    """

    frequency: float
    power_dbm: float
    cable_db: float
    own: End
    other: End
    other_cable_db: float = 0.0

    @property
    def ideal_mismatch_db(self) -> float:
        """Theoretical polarization mismatch, dB; at most 120, which stands for infinite."""
        one, two = self.own.polarization, self.other.polarization
        shares = [
            polarization_match(a, one.tilt, b, two.tilt)
            for a in _signed_ratios(one)
            for b in _signed_ratios(two)
        ]
        return -decibels(min(shares))

    @property
    def mismatch_db(self) -> float:
        """Polarization mismatch that is counted, dB: not beyond `PRACTICAL_CROSS_DB`."""
        return min(self.ideal_mismatch_db, PRACTICAL_CROSS_DB)

    @property
    def radiated_dbm(self) -> float:
        """Largest equivalent isotropically radiated power in any direction, dBm."""
        return self.power_dbm - self.cable_db + self.own.largest_dbi

    @property
    def without_path_dbm(self) -> float:
        """Level at the other receiver without the free-space loss, dBm."""
        gains = self.own.gain_dbi + self.other.gain_dbi
        return self.power_dbm - self.cable_db + gains - self.mismatch_db - self.other_cable_db

    def level_dbm(self, distance: float) -> float:
        """Level at the other receiver at a distance in m, dBm; by reciprocity also in the other direction."""
        return self.without_path_dbm - float(free_space_loss(self.frequency, distance))

    def range_m(self, sensitivity_dbm: float, margin_db: float) -> float:
        """Distance in m at which the level equals the sensitivity plus a margin."""
        return free_space_range(self.frequency, self.without_path_dbm - sensitivity_dbm - margin_db)


def _signed_ratios(polarization: Polarization) -> tuple[float, ...]:
    return (polarization.ratio, -polarization.ratio) if polarization.either_sense else (polarization.ratio,)
