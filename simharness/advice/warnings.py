"""What `check` warns of before anything is run.

The rules of thumb give their reason in the sentence; limits without a source are common practice, and the
constants of the modules of this room say so.
"""

from __future__ import annotations

from functools import lru_cache

from simharness.advice.fabrication import bridge_warnings, fabrication_warnings
from simharness.advice.feeds import feed_advice
from simharness.advice.guide import cover_warnings, guide_warnings, laminate_warnings, screw_warnings
from simharness.advice.joining import joining_warnings
from simharness.advice.quantities import rows
from simharness.advice.row import row_warnings
from simharness.advice.slots import slot_warnings
from simharness.advice.spacing import spacing_warnings
from simharness.estimate.model_inputs import radiating_slots
from simharness.estimate.site.mast import mast_effect, mast_sentences
from simharness.estimate.site.wings import wing_effect, wing_sentences
from simharness.records import Record

CAUTIONS = (
    "Cut sheet and slots have edges like blades: wear gloves and eye protection, and take the burr off.",
    "Solder and use a torch in fresh air; never heat zinc-coated sheet with a torch, its fumes make you ill.",
    "Stay out of the beam while it transmits; limits of power, gain and exposure are set by your local "
    "rules: ask a licensed operator where in doubt.",
)
"""What is shown wherever a record is checked; local rules and licensed practice decide."""


def warnings(record: Record) -> list[str]:
    """Sentences about what is likely to go wrong, most basic first."""
    feed = feed_advice(record)
    found = [*guide_warnings(record), *laminate_warnings(record)]
    if record.slots:
        for row in rows(record):
            found += [text for text in spacing_warnings(record, row) if text not in found]
        found += [
            *cover_warnings(record),
            *row_warnings(record),
            *slot_warnings(record),
            *bridge_warnings(record),
        ]
    found += [*fabrication_warnings(record), *feed.warnings(), *joining_warnings(record)]
    found += screw_warnings(record)
    if record.mast is not None and record.slots:
        found += _mast_words(record)
    if record.wings is not None:
        found += _wing_words(record)
    return found


@lru_cache(maxsize=16)
def _wing_words(record: Record) -> tuple[str, ...]:
    """What the wings do; a second or so of the estimate's kernel."""
    return tuple(wing_sentences(record, wing_effect(record, *radiating_slots(record))))


@lru_cache(maxsize=16)
def _mast_words(record: Record) -> tuple[str, ...]:
    """What the pole or wall does; a second or two of the estimate's kernel."""
    return tuple(mast_sentences(record, mast_effect(record, *radiating_slots(record))))
