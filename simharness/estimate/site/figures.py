"""Figures and sentences of an antenna where it stands: tilt, pole or wall, second antenna."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from simharness.em.pattern.side_lobes import side_lobe
from simharness.estimate.site.tilt import Curve, tilt_figures, tilt_sentences
from simharness.figures import Figure, number
from simharness.numerics.decibels import amplitude_decibels
from simharness.records import Record

COUPLING, LOBE = "coupling", "side_lobe_across"
NEAR_DB = -15.0
"""Level down to which `ACROSS_ERROR` was looked at, dB under the strongest."""
ACROSS_ERROR = 2.5
"""What a level across the guide is trusted to in the estimate beside other bodies, dB; see
`simharness.verdict.site_bars`."""


def site_figures(
    record: Record,
    along: Curve,
    across: Curve,
    gain: Figure,
    basis: str,
    coupled: complex | None,
    errors: Mapping[str, float | None] | None = None,
) -> dict[str, Figure]:
    """Figures that only an antenna has that is tilted or one of two.

    Parameters
    ----------
    record : Record
    along, across, gain, basis
        As of `tilt_figures`.
    coupled : complex or None
        Wave at the second feed over that into the first; None where it is not known.
    errors : mapping or None
        Error bars by kind of figure, dB and shares; of "beam" in deg.
    """
    errors = errors or {}
    found = tilt_figures(record, along, across, gain, basis, errors.get("beam"))
    pair = record.pair
    if pair is None:
        return found
    if coupled is not None:
        found[COUPLING] = Figure(
            amplitude_decibels(abs(coupled)),
            "dB",
            f"|S21| at the design frequency; {basis}",
            errors.get("coupling"),
        )
    if pair.place == "beside" and pair.fed == "in phase":
        lobe = side_lobe(*across, np.pi / 2)
        found[LOBE] = Figure(
            None if lobe is None else lobe.level,
            "dB",
            f"in front, plane across the guide; {basis}",
            errors.get("side_lobe"),
        )
    return found


def site_sentences(record: Record, figures: Mapping[str, Figure], across: Curve | None) -> list[str]:
    """What tilt and a second antenna do, and what of it the figures hold; `across`: the cut."""
    said = tilt_sentences(record, figures)
    if across is None:
        return said
    if record.mast is not None:
        said.append(
            f"Pattern and gain are those with the {record.mast.noun}; 'simharness check' tells what it "
            "changes."
        )
    if record.pair is not None:
        said += _pair_sentences(record, figures, across)
    return said


def _pair_sentences(record: Record, figures: Mapping[str, Figure], across: Curve) -> list[str]:
    pair = record.pair
    assert pair is not None
    if pair.fed == "in phase":
        said = [
            f"The gain is that of both antennas, the second one {pair.noun}, each fed with half the power "
            "and in phase; a splitter and its loss are yours to add."
        ]
    else:
        said = [
            f"The second antenna, {pair.noun}, ends in a matched load; the gain is that of the first alone."
        ]
    level, lobe = figures.get(LOBE), side_lobe(*across, np.pi / 2)
    if level is not None and level.value is not None and lobe is not None:
        said.append(
            f"Across the guide the next lobe in front is {number(level)} ({abs(np.degrees(lobe.angle)):.0f} "
            "deg from the front): the farther apart the two, the nearer and the more of them."
        )
    coupled = figures.get(COUPLING)
    if coupled is not None:
        said.append(
            f"Of what goes into one feed, {number(coupled)} come out at the other, if both are matched."
        )
    else:
        said.append(
            "How much of one comes out at the feed of the other the estimate does not tell for this place: "
            "it goes round the ends, which it takes as endless; solve the record with fed = 'alone'."
        )
    return said
