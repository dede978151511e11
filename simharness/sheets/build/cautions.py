"""Dangers in building a record, and how to avoid them; local rules and licensed practice decide."""

from __future__ import annotations

from simharness.advice.warnings import CAUTIONS
from simharness.sheets.build.facts import Build

EDGES, HEAT, BEAM = CAUTIONS
_HEAT = {
    "zinc-coated steel": (
        "This record is for zinc-coated sheet: take the zinc off around every joint before heat comes near, "
        "or rivet and screw."
    ),
    "brass": (
        "Solder with fresh air, and do not overheat brass with a torch: the zinc in it gives off fumes that "
        "make you ill."
    ),
    "stainless steel": (
        "Stainless steel takes soft solder with acid flux only: goggles and gloves for it, and wash it off "
        "at once."
    ),
}
"""Cautions about the heat of joining, by metal; other metals have that of all (`HEAT`) or none."""


def cautions(build: Build) -> tuple[str, ...]:
    """The cautions of this record, the most common first."""
    return (
        EDGES,
        "Eye protection whenever you drill, saw, mill or file; clamp thin sheet between wood; no gloves "
        "near rotating tools.",
        "Dust of metal: sweep and wipe it up, never blow it off.",
        *_laminate(build),
        *_cover(build),
        *_joining(build),
        *build.feed.cautions(),
        *_absorber(build),
        BEAM,
        "Local rules and licensed practice decide; this list does not replace them.",
    )


def _joining(build: Build) -> list[str]:
    found, material = list[str](), build.guide.material
    if not build.joined:
        return found
    if build.flux:
        found.append(
            "Flux fumes harm the lungs: work with extraction or in the open. Lead belongs neither on hands "
            "nor on food."
        )
    if not build.solders:
        found.append(
            "Leave welding to somebody who has learnt it: it blinds and burns, and aluminium gives no "
            "warning before it melts."
        )
    elif material in _HEAT:
        found.append(_HEAT[material])
    elif material in ("tin plate", "perfect"):
        found.append(HEAT)
    else:
        found.append(
            "Solder and torch with fresh air, on a base that does not burn; metal stays hot for long."
        )
    if material == "zinc-coated steel":
        found.append(HEAT)
    if build.sealed:
        found.append("This box is closed all round: never heat it without the hole that lets the air out.")
    return found


def _cover(build: Build) -> list[str]:
    """About cutting a cover: dust of glass fibre, and what plastics give off when they are too hot."""
    cover = build.record.cover
    if cover is None or "tape" in cover.name:
        return []
    if cover.name.startswith("glass-fibre") and build.laminate is None:
        return [
            "Dust of a glass-fibre cover harms lungs, eyes and skin: cut it wet or with extraction, wear a "
            "mask for fine dust, never blow it off."
        ]
    if cover.name in ("PVC", "PTFE"):
        return [
            f"Saw or score the {cover.name}, never cut it with a laser or a hot wire and keep the torch "
            "away: too hot, it gives off gas that burns the lungs."
        ]
    if cover.name.startswith("glass-fibre") or "foil" in cover.name:
        return []
    return [
        "Plastic splinters under saw and drill: clamp it on wood, go slowly, and wipe chips and dust up; "
        "do not breathe what it gives off when it gets hot."
    ]


def _laminate(build: Build) -> list[str]:
    if build.laminate is None:
        return []
    care = [
        "Dust of glass-fibre laminate harms lungs, eyes and skin: cut it wet or with extraction, wear a "
        "mask for fine dust, never blow it off."
    ]
    if build.etched:
        care.append(
            "Etchants burn skin and eyes and eat metal: gloves, goggles, fresh air, plastic vessels; add "
            "acid to water, never the reverse; spent etchant is hazardous waste and never goes down the "
            "drain."
        )
    return care


def _absorber(build: Build) -> list[str]:
    if not build.absorber:
        return []
    return [
        "The absorber turns the power that the slots leave into heat: foam chars and can burn, so find out "
        "how many watts yours withstands, and do not breathe its dust."
    ]
