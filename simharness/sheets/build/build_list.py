"""What to buy, cut, drill, fold and join, in which order and with what care, for all that the record has."""

from __future__ import annotations

from dataclasses import replace

from simharness.advice.solder import contact_spacing
from simharness.errors import InputError
from simharness.geometry import antenna_scene
from simharness.records import Record, Wings
from simharness.sheets.build.buying import (
    absorber_unmodelled,
    cover_section,
    materials,
    mending,
    tuning_screws,
)
from simharness.sheets.build.cautions import cautions
from simharness.sheets.build.facts import Build
from simharness.sheets.build.laminate import (
    laminate_joints,
    laminate_unmodelled,
    require_foldable,
    with_laminate_notes,
)
from simharness.sheets.build.marking import bends, holes, slots
from simharness.sheets.build.order import order, wings_unmodelled
from simharness.sheets.build.section import Section, listed, numbered
from simharness.sheets.covering.cover import cover_parts
from simharness.sheets.covering.tape import tape_templates
from simharness.sheets.flat.fabrication import Fabrication
from simharness.sheets.flat.feeds import with_feed_holes
from simharness.sheets.flat.shapes import parts, seam_lengths


def build_of(record: Record, fabrication: Fabrication, cutter: float = 0.0) -> Build:
    """What is built of a record, with its parts.

    Parameters
    ----------
    record : Record
    fabrication : Fabrication
    cutter : float
        Diameter of the cutter whose path the files hold, m; 0: hand tools.

    Raises
    ------
    InputError
        The record does not suit how the box is made.
    """
    require_foldable(record, fabrication)
    if record.wings is not None:
        fabrication = _with_wings(record.wings, fabrication)
    scene = antenna_scene(record)
    flat = with_feed_holes(with_laminate_notes(parts(scene, fabrication), record), record)
    upon = (*cover_parts(record, scene), *tape_templates(record, scene))
    return Build(record, scene, fabrication, (*flat, *upon), cutter)


def _with_wings(wings: Wings, fabrication: Fabrication) -> Fabrication:
    """How the box is made with its wings; InputError where it cannot be."""
    if wings.join == "folded" and fabrication.make == "tube":
        raise InputError("make", "tube", "a stock tube has no sheet to fold wings from; they need 'folded'")
    if wings.join == "folded" and fabrication.lip > 0:
        raise InputError(
            "lip",
            f"{fabrication.lip * 1e3:g} mm",
            "the front wall goes on into its wings and can have no lips; must be 0",
        )
    return replace(fabrication, wings=wings.join)


def build_list(build: Build) -> tuple[Section, ...]:
    """Everything that the builder needs beside the drawings, in the order of use."""
    found = [
        materials(build),
        slots(build),
        holes(build),
        bends(build),
        Section("Probe", build.probe.instructions() if build.probe is not None else ()),
        Section("Tape and plates", mending(build)),
        Section("Tuning screws", tuning_screws(build)),
        Section("Joints", _joints(build)),
        cover_section(build),
        Section("Order of work", numbered(order(build))),
        Section("What the solver did not see", _unmodelled(build)),
        Section("Cautions", cautions(build)),
    ]
    return tuple(section for section in found if section.sentences or section.table)


def _joints(build: Build) -> tuple[str, ...]:
    if not build.joined:
        return ()
    lengths = (
        f"{name.capitalize()}: {length * 1e3:.0f} mm of joint."
        for name, length in seam_lengths(build.scene, build.fabrication).items()
    )
    return (
        *lengths,
        "Every joint must be closed all round: a gap radiates, and spoils match and pattern.",
        _metal_joint(build),
        *laminate_joints(build),
        *build.feed.joints(build),
    )


def _metal_joint(build: Build) -> str:
    """How metal is joined to metal."""
    if build.solders:
        acid = {
            "stainless steel": " Stainless steel needs the acid flux made for it.",
            "zinc-coated steel": " The zinc comes off first, as under Cautions.",
        }.get(build.guide.material, "")
        return (
            "Clean, flux, tack at a few points, measure, then run the joint. Keep solder out of the inside; "
            f"what gets in counts as metal.{acid}"
        )
    spacing = (
        f"contacts no farther apart than {contact_spacing(build.record) * 1e3:.1f} mm (a twentieth of a "
        "wavelength, common practice)"
    )
    if not build.folded:
        how = "screw the ends to angles outside on the tube"
    elif build.tabbed:
        how = "rivet the tabs of the ends to the box"
    else:
        how = "screw the ends to angles outside on the box ('--tab 8' gives them tabs to rivet)"
    if build.folded and build.laminate is None:
        how += (
            ", and the lips of the front wall to the sides"
            if build.lips
            else (
                "; the front wall lies on the edges of the sides, where a weld alone holds it ('--lip 8' "
                "gives it lips to rivet)"
            )
        )
    return (
        f"{build.guide.material.capitalize()} does not take soft solder with the usual fluxes: have it "
        f"welded, or {how}, bright metal on bright metal, {spacing}."
    )


def _unmodelled(build: Build) -> tuple[str, ...]:
    names = [
        "walls",
        *(["slots"] if build.record.slots else []),
        *(["feed hole"] if build.feed.mounted else []),
        *(["ends"] if build.ends else []),
    ]
    sentences = [
        f"{listed(names).capitalize()} are those that the field solver computes, from the same record."
    ]
    radius = max(
        (bend.fold.radius for part in build.parts if part.place == "back" for bend in part.bends),
        default=0.0,
    )
    if radius:
        sentences.append(
            f"Not in its model: the inside radius of {radius * 1e3:g} mm along the two back edges, where it "
            "has sharp corners."
        )
    extra = [name for name, there in (("tabs", build.tabbed), ("lips", build.lips)) if there]
    if extra:
        sentences.append(f"Not in its model: {' and '.join(extra)}, which lie on the outside of the box.")
    sentences += [*wings_unmodelled(build), *build.shape.unmodelled(build)]
    if build.sealed:
        sentences.append(
            "Not in its model: the hole of 1 mm that lets the air out, a small part of a wavelength across."
        )
    return (
        *sentences,
        *absorber_unmodelled(build),
        *laminate_unmodelled(build),
        *build.feed.unmodelled(build),
    )
