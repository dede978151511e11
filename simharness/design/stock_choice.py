"""Which stock suits a frequency or a band, and which carries it as one wave at all."""

from __future__ import annotations

from simharness.constants import C0
from simharness.design.stock import BOX_RATIO, TUBES_MM, StockGuide, standard_guide, tube_from_text
from simharness.em.guide.rectangular import cutoff_frequency, standard_guides
from simharness.errors import InputError

_BEST_RATIO = 1.5
"""Frequency over cutoff in the middle of the standard bands."""
_GOOD_RATIO, _GOOD_NEXT_RATIO = 1.25, 0.95
"""Frequency over cutoff, and over that of the next mode, where the standard bands begin and end."""
_GOOD_ROUND_RATIO = 1.12
"""Of a round tube, whose next wave begins at 1.306 times the cutoff: a judgement."""
_MIN_RATIO, _MAX_RATIO = 1.05, 0.99
"""The same where nothing good can be made any more."""
_MIN_EDGE = 1.021
"""The same of the lower edge of a band; a record asks for 1.02."""
_FLAT = 0.25
"""Height over width of a guide in which a probe is short, its match narrow and the loss high."""


def preferred_guide(frequency: float, low: float | None = None, high: float | None = None) -> StockGuide:
    """The standard guide in whose band a frequency (Hz) lies most nearly in the middle; one that holds both
    edges (Hz), if any does.

    Raises
    ------
    InputError
        No standard guide of the table carries it.

    Examples
    --------
    >>> [preferred_guide(f).name for f in (2.45e9, 5.8e9, 10.37e9)]
    ['WR-340', 'WR-159', 'WR-90']
    """
    fitting = [g for g in standard_guides() if g.low <= frequency <= g.high]
    if not fitting:
        low, high = standard_guides()[0].low / 1e9, standard_guides()[-1].high / 1e9
        raise InputError(
            "frequency",
            f"{frequency / 1e9:g} GHz",
            f"the standard guides known here carry {low:g} to {high:g} GHz; name a size of your own",
        )
    whole = [g for g in fitting if g.low <= (low or frequency) and (high or frequency) <= g.high]
    return standard_guide(
        min(whole or fitting, key=lambda g: abs(frequency / cutoff_frequency(g.a) - _BEST_RATIO)).name
    )


def suitable_stock(frequency: float) -> list[str]:
    """Names of standard guides and common tubes that suit a frequency (Hz), the best first."""
    shelf = [standard_guide(g.name) for g in standard_guides()]
    shelf += [tube_from_text("x".join(f"{v:g}" for v in size)) for size in TUBES_MM]
    fitting = [g for g in shelf if suits(g, frequency)]
    return [
        g.name for g in sorted(fitting, key=lambda g: abs(frequency / cutoff_frequency(g.a) - _BEST_RATIO))
    ]


def require_single_wave(guide: StockGuide, frequency: float) -> None:
    """Refuse a guide in which a frequency (Hz) does not travel well as TE10, or not as TE10 alone.

    Raises
    ------
    InputError
    """
    cutoff, (mode, following) = cutoff_frequency(guide.a), guide.next_wave
    shown = f"{frequency / 1e9:g} GHz"
    if frequency < _MIN_RATIO * cutoff:
        ratio = _GOOD_RATIO if guide.diameter is None else _GOOD_ROUND_RATIO
        what, size = ("width", guide.a) if guide.diameter is None else ("diameter", guide.diameter)
        raise InputError(
            "guide",
            guide.name,
            f"{shown} hardly travels in it, the cutoff is {cutoff / 1e9:.3f} GHz; "
            f"its inner {what} must be about {size * ratio * cutoff / frequency * 1e3:.0f} mm or more",
        )
    if frequency > _MAX_RATIO * following:
        if guide.diameter is not None:
            most = _GOOD_NEXT_RATIO * following / frequency * guide.diameter * 1e3
            raise InputError(
                "guide",
                guide.name,
                f"at {shown} a second wave ({mode}, from {following / 1e9:.3f} GHz) travels "
                f"in it; its inner diameter must be about {most:.0f} mm or less",
            )
        width = BOX_RATIO * C0 / (2 * frequency) * 1e3
        raise InputError(
            "guide",
            guide.name,
            f"at {shown} a second wave ({mode}, from {following / 1e9:.3f} GHz) travels "
            f"in it; take one about {width:.0f} mm wide inside and half as high",
        )


def require_band(guide: StockGuide, low: float, high: float) -> None:
    """Refuse a guide in which a band (Hz) reaches down to the cutoff or up to a second wave.

    Raises
    ------
    InputError
    """
    cutoff, (mode, following) = cutoff_frequency(guide.a), guide.next_wave
    shown = f"{low / 1e9:g} to {high / 1e9:g} GHz"
    if low < _MIN_EDGE * cutoff:
        raise InputError(
            "band",
            shown,
            f"its lower edge must be {_MIN_EDGE * cutoff / 1e9:.3f} GHz or more in {guide.name}, whose "
            f"cutoff is {cutoff / 1e9:.3f} GHz",
        )
    if high > following:
        raise InputError(
            "band",
            shown,
            (
                f"its upper edge must be less than {following / 1e9:.3f} GHz in {guide.name}, where a "
                f"second wave ({mode}) begins"
            ),
        )


def suits(guide: StockGuide, frequency: float) -> bool:
    """Whether a guide is a good choice for a frequency (Hz).

    Examples
    --------
    >>> [suits(standard_guide(name), 5.8e9) for name in ("WR-229", "WR-159", "WR-137")]
    [False, True, True]
    """
    ratio, following = frequency / cutoff_frequency(guide.a), guide.next_wave[1]
    if guide.diameter is not None:
        return ratio >= _GOOD_ROUND_RATIO and frequency <= _GOOD_NEXT_RATIO * following
    return ratio >= _GOOD_RATIO and frequency <= _GOOD_NEXT_RATIO * following and guide.b >= _FLAT * guide.a
