"""What the build list says of a coax feed: what to buy, how to make and mount it, what of it the solver lacks, with what care."""

from __future__ import annotations

from simharness.advice.solder import BRASS_PLATE_MM
from simharness.constants import MM
from simharness.records import CoaxFeed
from simharness.sheets.build.facts import Build
from simharness.sheets.flat.bent_probe import BentPart
from simharness.sheets.flat.connector import screw_pattern
from simharness.sheets.flat.probe import mm

PLATE_SIDE = 12e-3
"""Least side of the brass plate that takes solder where a wall does not, m; a choice."""
COUNTERSUNK = 0.63
"""Height of a countersunk head over the clearance drill of its screw; 1.65 of 3.2 mm and 1.5 of 2.6 mm in ISO 7046 (memory)."""


def feed_to_buy(build: Build) -> tuple[str, ...]:
    """Connector or cable, wire, and what holds them."""
    feed, probe = build.coax, build.probe
    if feed is None or probe is None:
        return ()
    size = f"insulator {mm(probe.hole)}, at least {mm(probe.insulator_length)} long from the face that sits on the wall"
    pin = f"pin {mm(probe.pin)} thick and at least {mm(probe.pin_length)} long from there"
    if build.stripped:
        first = f"Coax cable, 50 ohm, with solid dielectric: inner conductor {mm(probe.pin)}, dielectric {mm(probe.hole)}."
    elif feed.connector == "panel":
        first = f"Coax panel connector, 50 ohm, square flange of {feed.flange_mm:g} mm: {size}; {pin}."
    else:
        flange = "" if feed.flange_mm is None else f" with a square flange of {feed.flange_mm:g} mm"
        first = f"Coax connector, 50 ohm, for a panel{flange}: {size}; {pin}."
    wire = (
        (f"Wire for the probe: {mm(probe.wire)} thick, {mm(probe.wire_length)} of it.",)
        if probe.wire_length
        else ()
    )
    return first, *wire, *_screws(build), *_plates(build)


def _screws(build: Build) -> tuple[str, ...]:
    if not build.screwed or build.coax is None or build.coax.flange_mm is None:
        return ()
    drill = screw_pattern(build.coax.flange_mm).diameter
    head = "countersunk" if sunk(build) else "low-headed"
    return (f"Four {head} screws for holes of {mm(drill)}, with nuts.",)


def _plates(build: Build) -> tuple[str, ...]:
    """Brass plates for what cannot be soldered to the walls."""
    found = []
    if build.stripped and not build.solders:
        found.append(f"one with a hole of {mm(build.probe.hole)} for the cable")  # type: ignore[union-attr]
    if isinstance(build.probe, BentPart) and build.probe.tip == "plate":
        found.append(f"one with a hole of {mm(build.probe.wire)} for the tip of the wire")
    return (
        (
            f"Brass plate, {BRASS_PLATE_MM:g} mm thick, at least {PLATE_SIDE * 1e3:.0f} mm square: {' and '.join(found)}.",
        )
        if found
        else ()
    )


def sunk(build: Build) -> bool:
    """Whether the wall is thick enough for countersunk heads."""
    feed = build.coax
    if feed is None or feed.flange_mm is None:
        return False
    wall = build.guide.thickness_mm("back" if build.bent else build.straight.wall) * MM  # type: ignore[union-attr]
    return wall >= COUNTERSUNK * screw_pattern(feed.flange_mm).diameter


def _insulator(build: Build, feed: CoaxFeed) -> str:
    """How far the dielectric goes."""
    name = build.probe.insulator  # type: ignore[union-attr]
    if not feed.dielectric_mm:
        return f"its {name} ends flush with the inner face"
    return f"its {name} stands {feed.dielectric_mm:g} mm over the inner face, cut square"


def feed_joints(build: Build) -> tuple[str, ...]:
    """How connector or cable is joined to the wall, and its tip where that is soldered to a plate."""
    feed = build.coax
    if feed is None:
        return ()
    found = [_cable(build, feed) if build.stripped else _connector(build, feed)]
    if build.round:
        radius = build.guide.width_mm / 2 + build.guide.thickness_mm("back")
        what = "file the seat of the connector hollow to"
        if build.stripped:
            what = (
                "file the square end of the outer conductor hollow to"
                if build.solders
                else "bend the brass plate to"
            )
        found.append(f"The tube is round: {what} a radius of {radius:g} mm, so that it sits all round.")
    if isinstance(build.probe, BentPart) and build.probe.tip == "plate":
        found.append(
            f"Tip: screw or rivet its brass plate over the hole in the {build.tip_wall} wall, bright metal on bright metal, and solder the tip "
            f"into it."
        )
    return tuple(found)


def _cable(build: Build, feed: CoaxFeed) -> str:
    end = "fan out the braid, or square off the tube of the outer conductor"
    soft = "Heat the metal, not the cable: soft dielectrics creep, so be quick and let it cool before you move it."
    if build.solders:
        return (
            f"Cable: {end}, tin it and the land on the outside, and solder it all round the hole in the {build.feed_wall}; "
            f"{_insulator(build, feed)}. {soft}"
        )
    return (
        f"Cable: {build.guide.material} takes no solder, so {end}, solder it all round into its brass plate, and screw that over the hole in the "
        f"{build.feed_wall}, bright metal on bright metal; {_insulator(build, feed)}, so take the outer conductor off over {BRASS_PLATE_MM:g} mm "
        f"more than under Probe, and leave as much more of the dielectric. {soft}"
    )


def _connector(build: Build, feed: CoaxFeed) -> str:
    if feed.connector == "panel" and feed.flange_mm is not None:
        if build.screwed:
            return _flange(build, feed)
        fix = (
            "tin flange and land, and solder it down all round"
            if build.solders
            else "rivet it to an angle, bright metal on bright metal"
        )
        return f"Connector: the screws of its flange find no metal here; {fix}; {_insulator(build, feed)}."
    fix = (
        "bare and tin the land on the outside, centre the pin in its hole, and solder the connector down all round"
        if build.solders
        else (
            "bare the land on the outside, centre the pin in its hole, and hold the connector down by its nut or its screws, bright metal on bright metal"
        )
    )
    return f"Connector: {fix}; {_insulator(build, feed)}."


def _flange(build: Build, feed: CoaxFeed) -> str:
    assert feed.flange_mm is not None
    pattern = screw_pattern(feed.flange_mm)
    kind = "a common kind of flange" if pattern.known else "a guess, since the flange is of no common kind"
    heads = "heads countersunk from inside, flush with the inner face"
    if not sunk(build):
        heads = "heads inside, as low as can be had, since the wall is too thin to sink them"
    return (
        f"Connector: four screw holes of {pattern.diameter * 1e3:g} mm, {pattern.spacing * 1e3:g} mm apart, by common practice "
        f"({kind}): measure your connector before you drill. Bright metal under the flange; {_insulator(build, feed)}; {heads}, nuts outside."
    )


def mounting_steps(build: Build) -> tuple[str, ...]:
    """How connector or cable are mounted and the wire is checked, before the box is closed."""
    probe = build.probe
    if build.coax is None or probe is None:
        return ()
    coax = "cable" if build.stripped else "connector"
    how = "solder" if build.solders and not build.screwed else "screw"
    thick = bool(probe.wire_length) and probe.wire > probe.hole
    wire = " and its wire" if probe.wire_length and not thick else ""
    what = f"the {coax}" if build.solders or not build.stripped else "its brass plate"
    found = [
        f"Prepare the {coax}{wire} as under Probe; {how} {what} to the {build.feed_wall} from outside, as under Joints."
    ]
    if thick:
        found.append(f"The wire is thicker than its hole: join it to the {probe.core} from inside.")
    return (*found, _check_words(build))


def _check_words(build: Build) -> str:
    """What of the wire is measured, and when."""
    probe = build.probe
    if isinstance(probe, BentPart):
        legs = f"run of {mm(probe.run)}{f', rise of {mm(probe.rise)}' if probe.tip == 'open' else ''} and right angle"
        return f"Bend the wire as under Probe; check {legs} with caliper and square."
    assert probe is not None
    if build.folded:
        return (
            f"Check with the depth rod of a caliper, while you can reach it: the tip stands {mm(probe.inside)} over the inner face of the "
            f"{probe.wall_name} wall."
        )
    return (
        f"Check through the open end: the tip stands {mm(probe.inside)} over the inner face. Where no caliper reaches, measure it before it goes "
        f"in: {mm(probe.inside + probe.wall)} from the face that sits on the tube."
    )


def feed_unmodelled(build: Build) -> tuple[str, ...]:
    """What of the feed the field solver's model lacks."""
    found = []
    if build.bent is not None:
        found.append("Not in its model: the radius of the probe's bend, which has a sharp corner there.")
    if build.screwed:
        found.append("Not in its model: the screws of the flange.")
    if _plates(build):
        found.append("Not in its model: brass plates, which lie on the outside.")
    return tuple(found)


def feed_cautions(build: Build) -> tuple[str, ...]:
    """Care that this feed asks for."""
    if not build.stripped:
        return ()
    return (
        "Hot dielectric gives off fumes, fluoropolymers above all: do not overheat the cable, and work with extraction.",
    )
