"""What the build list says of a coax feed: what to buy, how to join it, in which order, with what care."""

from __future__ import annotations

from simharness.records import BentProbe, CoaxFeed, Feed
from simharness.sheets.connector import screw_pattern


def connector_words(feed: Feed) -> str:
    """What to buy, the beginning of a sentence."""
    assert isinstance(feed, CoaxFeed)
    if feed.connector == "stripped":
        return "Coax cable, 50 ohm, with solid dielectric, stripped at its end"
    if feed.connector == "panel":
        return f"Coax panel connector, 50 ohm, square flange of {feed.flange_mm:g} mm"
    return "Coax connector, 50 ohm, for panels"


def _dielectric(feed: CoaxFeed) -> str:
    """How far the dielectric goes."""
    if not feed.dielectric_mm:
        return "cut the dielectric flush with the inner face"
    return f"let the dielectric stand {feed.dielectric_mm:g} mm over the inner face, cut square"


def connector_joints(feed: Feed, screwed: bool) -> tuple[str, ...]:
    """How connector or cable is joined to the wall."""
    assert isinstance(feed, CoaxFeed)
    if feed.connector == "stripped":
        return (
            "Cable: fan out the braid or square off the tube of the outer conductor, tin it and the land on the outside, and solder it to "
            f"the wall all round the hole; {_dielectric(feed)}. Heat the wall, not the cable: soft dielectrics creep, so be quick "
            "and let it cool before you move it.",
        )
    if feed.connector == "panel" and feed.flange_mm is not None:
        if not screwed:
            return (f"Connector: the screws of its flange find no metal here; tin flange and land, and solder it down all round; {_dielectric(feed)}.",)
        pattern = screw_pattern(feed.flange_mm)
        kind = "a common kind of flange" if pattern.known else "a guess, since the flange is of no common kind"
        return (
            f"Connector: four screw holes of {pattern.diameter * 1e3:g} mm, {pattern.spacing * 1e3:g} mm apart, by common practice "
            f"({kind}): measure your connector before you drill. Bright metal under the flange; {_dielectric(feed)}; screws that end flush with "
            "the inner face.",
        )
    return (
        "Connector: bare and tin the land on the outside, centre the pin in its hole, and solder or screw the flange down."
        + (f" {_dielectric(feed).capitalize()}." if feed.dielectric_mm else ""),
    )


def mounting_steps(feed: Feed) -> tuple[str, ...]:
    """When the feed is made and mounted."""
    if not isinstance(feed, BentProbe):
        return ("Cut and join the probe; mount the connector; check the height of the tip with a caliper while you can reach it.",)
    first = "Mount the connector or the cable on the near end; bend and trim the wire; check run, rise and right angle with a caliper."
    if feed.tip != "soldered":
        return (first,)
    return (first, f"Try the near end on with the wire through its hole in the {feed.towards} wall, before anything is soldered.")


def closing_words(feed: Feed) -> str:
    """How the ends are closed, a sentence without its full stop."""
    if isinstance(feed, BentProbe):
        tip = f", then the tip of the wire from outside the {feed.towards} wall" if feed.tip == "soldered" else ""
        return f"Close the near end with its probe{tip}, and the far end last"
    return "Close the ends last, the feed end after the probe has been checked"


def unseen_words(feed: Feed, screwed: bool) -> tuple[str, ...]:
    """What of the feed the field solver's model lacks."""
    found = []
    if isinstance(feed, BentProbe):
        found.append("Not in its model: the radius of the probe's bend, which has a sharp corner there.")
    if screwed:
        found.append("Not in its model: the screws of the flange.")
    return tuple(found)


def feed_cautions(feed: Feed) -> tuple[str, ...]:
    """Care that this feed asks for."""
    if isinstance(feed, CoaxFeed) and feed.connector == "stripped":
        return ("Hot dielectric gives off fumes, fluoropolymers above all: do not overheat the cable, and work with extraction.",)
    return ()
