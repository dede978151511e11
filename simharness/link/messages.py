"""A link in sentences: the gain in the direction of the other end, and the power that is allowed."""

from __future__ import annotations

import math
from typing import Any

from simharness.figures import Figure, number
from simharness.link.budget import End

MANY_DB = 10.0
"""Polarization mismatch beyond which the two ends count as crossed."""


def level_text(value: float, unit: str, error: float | None) -> str:
    """A gain or a level with the error bar of the antenna's gain.

    Examples
    --------
    >>> level_text(12.34, "dBi", 0.15), level_text(-71.26, "dBm", None)
    ('12.3 ± 0.2 dBi', '-71.3 dBm')
    """
    return number(Figure(value, unit, "", error))


def direction_sentences(own: End) -> list[str]:
    """The loss towards the other end against the peak, and how to aim a beam that is off broadside."""
    loss = own.largest_dbi - own.gain_dbi
    if loss <= 0.05:
        return []
    said = [
        f"The direction of the other end lies {loss:.1f} dB below the peak of "
        f"{level_text(own.largest_dbi, 'dBi', own.largest_error)}; "
        "radiated power and exposure are those of the peak."
    ]
    if own.beam is not None:
        lean = own.beam.value
        towards = number(Figure(abs(lean), own.beam.unit, own.beam.basis, own.beam.error))
        if own.tilt_deg:
            said.append(
                f"The beam of this antenna leans {towards} from broadside towards the "
                f"{'far' if lean > 0 else 'near'} end of the guide, and its front looks "
                f"{abs(own.tilt_deg):g} deg {'below' if own.tilt_deg > 0 else 'above'} the horizon: write "
                f"tilt_deg = {lean:.1f} and mount it so, and the beam meets what lies at its own height."
            )
            return said
        said.append(
            f"The beam of this antenna leans {towards} from broadside towards the "
            f"{'far' if lean > 0 else 'near'} end of the guide. If you tilt the antenna so that the beam "
            f"meets the other end, add --along-deg {lean:.1f}."
        )
    return said


def limit_sentence(found: dict[str, Any]) -> str:
    """Radiated power compared with a limit, and the transmitter power that meets it.

    Parameters
    ----------
    found : dict
        'eirp_dbm', 'eirp_w', 'power_dbm', 'gain_error_db', and with a region also 'region' and 'eirp_limit'
        (None, or a dict of 'dbm', 'transmitter_dbm', 'source', 'edition', 'label', 'remark').
    """
    level = level_text(found["eirp_dbm"], "dBm", found["gain_error_db"])
    said = f"Radiated power (EIRP): {level} = {watts_text(found['eirp_w'])}."
    if "region" not in found:
        return f"{said} It is limited in many bands: --region looks up some limits."
    limit = found["eirp_limit"]
    if limit is None:
        return f"{said} This tool has no limit for region {found['region']} at this frequency."
    allowed = math.floor(10 * limit["transmitter_dbm"] + 1e-6) / 10
    over = found["power_dbm"] - limit["transmitter_dbm"]
    power = f"{allowed:.1f} dBm ({watts_text(10 ** (allowed / 10 - 3))})"
    remark = f"; {limit['remark']}" if limit["remark"] else ""
    about = (
        f"the limit of {limit['dbm']:.1f} dBm for region {found['region']} with this gain "
        f"({limit['source']}, {limit['edition']}, {limit['label']}{remark})"
    )
    if over > 0.05:
        return (
            f"{said} That is {over:.1f} dB above {about}: set the transmitter to {power} or less, "
            "or as your local rules say."
        )
    if over < -0.05:
        return (
            f"{said} That is {-over:.1f} dB below {about}; by it the transmitter may give {power}, "
            "if your local rules say so too."
        )
    return f"{said} That is at {about}."


def watts_text(power: float) -> str:
    """A power in W with the digits it deserves.

    Examples
    --------
    >>> watts_text(0.0085114), watts_text(3.98)
    ('8.51 mW', '4 W')
    """
    return f"{power:.2g} W" if power >= 1 else f"{1e3 * power:.3g} mW"


def exposure_sentences(found: dict[str, Any]) -> list[str]:
    """Distances in front at which reference levels of exposure are reached.

    Parameters
    ----------
    found : dict
        'exposure', a list of dicts with 'limit', 'w_per_m2', 'minutes', 'label' and 'distance_m', and
        'far_field_distance_m', None where it is unknown.
    """
    if not found["exposure"]:
        return ["Exposure reference levels are at hand for 2 to 100 GHz only."]
    parts = []
    for row in found["exposure"]:
        mean = f" over {row['minutes']} min" if row["minutes"] else ""
        parts.append(
            f"{distance_text(row['distance_m'])} for {row['w_per_m2']:.3g} W/m2 "
            f"({row['limit']}{mean}; {row['label']})"
        )
    said = [
        "In front, at full power without pause, the far-field formula P G / (4 pi r^2) gives the reference "
        f"level of the general public at {'; '.join(parts)}. Metal nearby can raise the field: keep a "
        "multiple of it."
    ]
    begin = found["far_field_distance_m"]
    if begin and any(row["distance_m"] < begin for row in found["exposure"]):
        said.append(
            f"That is nearer than the far field, which begins at about {distance_text(begin)} "
            "(2 D^2 / wavelength): there the formula tends to exaggerate the mean in the beam, but says "
            "nothing of the field close to a slot. Do not touch or look into slots of an antenna "
            "that transmits."
        )
    return said


def distance_text(metres: float) -> str:
    """A distance with two digits, in the unit that fits.

    Examples
    --------
    >>> distance_text(0.0347), distance_text(12.4), distance_text(15300.0)
    ('3.5 cm', '12 m', '15 km')
    """
    scale, unit = (1e3, "km") if metres >= 1e3 else (1.0, "m") if metres >= 1 else (1e-2, "cm")
    return f"{float(f'{metres / scale:.2g}'):g} {unit}"
