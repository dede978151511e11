"""The tolerances of an antenna in sentences."""

from __future__ import annotations

import math

import numpy as np

from simharness.records import Record
from simharness.records.record import MOST_SCREWS
from simharness.tolerance.study import Defect, Effect, ToleranceStudy, Yield
from simharness.tolerance.tool_errors import TOOL_NAMES
from simharness.verdict.error_bars import ESTIMATE_ERROR

_DIMENSIONS = {
    "probe height": "the height of the probe",
    "probe position": "the place of the probe",
    "probe rise": "the rise of the probe",
    "probe run": "the run of the probe",
    "hole height": "the height of the hole in the near end",
    "near end": "the place of the near end",
    "slot length": "slot lengths",
    "slot width": "slot widths",
    "slot offset": "slot offsets",
    "slot position": "the place of the row along the guide",
    "front wall": "the front wall",
    "guide width": "the width of the guide",
    "guide height": "the height of the guide",
    "far end": "the place of the far end",
    "scale": "the scale of the template",
    "permittivity": "the permittivity of the laminate",
    "cover permittivity": "the permittivity of the cover",
    "cover gap": "the gap under the cover",
    **{f"screw {number} depth": f"the depth of screw {number}" for number in range(1, MOST_SCREWS + 1)},
    **{f"screw {number} place": f"the place of screw {number}" for number in range(1, MOST_SCREWS + 1)},
}

_TIGHT = 3.0
"""A dimension is critical when less than this many tolerances of the tools are allowed: errors add up."""

_ROUGH = 0.05
"""Error of the surrogate's S11 beyond which shares are approximate."""


def tolerance_sentences(record: Record, study: ToleranceStudy) -> tuple[str, ...]:
    """The results first, then the basis on which they rest.

    Parameters
    ----------
    record : Record
    study : ToleranceStudy
    """
    strongest = ", ".join(effect.name for effect in study.effects[:3])
    return (
        *_limits(record, study),
        *_share(record, study),
        f"With these tools S11 is moved most by: {strongest}.",
        *(_defect(defect, study) for defect in study.defects),
        _basis(study),
    )


def allowance_text(value: float, unit: str) -> str:
    """An allowed deviation in mm or %, rounded down to two significant digits or so.

    Examples
    --------
    >>> allowance_text(0.3879, "mm"), allowance_text(2.68, "mm"), allowance_text(0.51, "%")
    ('0.38 mm', '2.6 mm', '0.51 %')
    """
    digits = 1 if value >= 1 else 2
    return f"{math.floor(value * 10**digits + 1e-9) / 10**digits:.{digits}f} {unit}"


def tolerance_text(effect: Effect) -> str:
    """Tolerance of the tools: common to all slots, and of each slot individually where there is one."""
    own, each = (f" + {effect.own_tolerance:g}", " each") if effect.own_tolerance else ("", "")
    return f"{effect.tolerance:g}{own} {effect.unit}{each}"


def _limits(record: Record, study: ToleranceStudy) -> list[str]:
    """Largest deviation of each dimension alone, the critical ones first."""
    worst, target = float(study.drawn.worst_s11[0]), record.band.target_s11_db
    if not study.allowed:
        return [
            f"As drawn, S11 in the band is {worst:.1f} dB at worst where {target:g} dB is wanted: "
            "no dimension has anything to spare."
        ]
    critical = sorted(
        (e for e in study.effects if not _is_free(e, study)),
        key=lambda effect: _tolerances_allowed(effect, study),
    )
    tight = [effect for effect in critical if _tolerances_allowed(effect, study) < _TIGHT]
    easy = critical[len(tight) :]
    parts = [*_listed(tight, study, "must be within", "within"), *_listed(easy, study, "may be off by", "by")]
    found = []
    if parts:
        text = "; ".join(parts)
        found.append(
            f"{text[0].upper()}{text[1:]}: each alone, all others as drawn, "
            f"before S11 in the band exceeds {target:g} dB."
        )
    free = [_DIMENSIONS[effect.name] for effect in study.effects if _is_free(effect, study)]
    if free:
        found.append(f"Not critical within the range examined: {', '.join(free)}.")
    return found


def _listed(effects: list[Effect], study: ToleranceStudy, first: str, then: str) -> list[str]:
    """One clause about some dimensions; an empty list for none."""
    clauses = []
    for n, effect in enumerate(effects):
        allowance = allowance_text(study.allowed[effect.name].either, effect.unit)
        clauses.append(f"{_DIMENSIONS[effect.name]} {then if n else first} {allowance}")
    return [", ".join(clauses)] if clauses else []


def _tolerances_allowed(effect: Effect, study: ToleranceStudy) -> float:
    """Allowed deviation in tolerances of the tools."""
    return study.allowed[effect.name].either / math.hypot(effect.tolerance, effect.own_tolerance)


def _is_free(effect: Effect, study: ToleranceStudy) -> bool:
    allowed = study.allowed[effect.name]
    return allowed.less_open and allowed.more_open


def _share(record: Record, study: ToleranceStudy) -> list[str]:
    sample, band = study.sample, record.band
    worst = sample.figures.worst_s11
    found = [
        f"Made with {TOOL_NAMES[study.tools]}, all errors together, {yield_text(sample)} keep S11 at "
        f"{band.target_s11_db:g} dB or better from {band.low_ghz:g} to {band.high_ghz:g} GHz. Half of them "
        f"reach {np.median(worst):.1f} dB, 95 in 100 reach {np.quantile(worst, 0.95):.1f} dB; as drawn it is "
        f"{study.drawn.worst_s11[0]:.1f} dB."
    ]
    spread = [
        float(np.nanstd(values)) if np.isfinite(values).any() else math.nan
        for values in (sample.figures.resonance, sample.figures.gain)
    ]
    if math.isfinite(spread[0]):
        found.append(
            f"The {study.resonance_is} scatters by ± {2e-6 * spread[0]:.0f} MHz and realized gain by "
            f"± {2 * spread[1]:.2f} dB (95 in 100)."
        )
    if sample.spot_error > _ROUGH:
        found.append(
            f"These errors are large: S11 of the surrogate is up to {sample.spot_error:.2f} off, "
            "so the share is only approximate."
        )
    return found


def yield_text(sample: Yield) -> str:
    """How many of a sample meet the target, and the share of all such antennas, rounded outwards.

    Examples
    --------
    >>> def made(good, count):
    ...     return yield_text(Yield(None, np.arange(count) < good, 0.0))
    >>> made(1999, 2000)
    '1,999 of 2,000 antennas (at least 99.7 % of all)'
    >>> made(2000, 2000), made(0, 500)
    ('all of 2,000 antennas (at least 99.8 % of all)', 'none of 500 antennas (at most 0.8 % of all)')
    >>> made(1200, 2000)
    '1,200 of 2,000 antennas (57 to 63 % of all)'
    """
    (low, high), count = sample.interval, sample.meets.size
    digits = 0 if low >= 0.01 and high <= 0.99 else 1
    least = f"{math.floor(low * 10 ** (digits + 2)) / 10**digits:.{digits}f}"
    most = f"{math.ceil(high * 10 ** (digits + 2)) / 10**digits:.{digits}f}"
    number = {count: "all", 0: "none"}.get(sample.good, f"{sample.good:,}")
    # a bound that rounds to none or all of the antennas is left out
    ends = (
        f"at least {least}"
        if float(most) == 100
        else f"at most {most}"
        if float(least) == 0
        else f"{least} to {most}"
    )
    return f"{number} of {count:,} antennas ({ends} % of all)"


def _defect(defect: Defect, study: ToleranceStudy) -> str:
    return (
        f"If {defect.description}, S11 in the band is {defect.figures.worst_s11[0]:.1f} dB at worst and "
        f"gain {defect.figures.gain[0]:.1f} dBi "
        f"(as drawn {study.drawn.worst_s11[0]:.1f} dB and {study.drawn.gain[0]:.1f} dBi)."
    )


def _basis(study: ToleranceStudy) -> str:
    model = (
        f"the moment-method model, its S11 corrected for the antenna as drawn by run {study.run}, "
        "whose own error remains"
        if study.run
        else f"the moment-method model alone, whose own error of up to {ESTIMATE_ERROR['s11']:g} in S11 "
        "is not in the share; --run removes it"
    )
    return (
        f"From {model}. The errors of {TOOL_NAMES[study.tools]} are common practice, without a source. "
        "A seam left open along an edge is not included."
    )
