"""The build list and the table of dimensions speak of everything that a record has, and of nothing that it
has not.

Each line of the tables is a thing, the words that tell it, and which records have it, asked of the record
itself; the rules are those of the workshop (what is not there can be neither bought nor cut; nobody solders
where no copper is), not of the program.
"""

from __future__ import annotations

import re
from collections.abc import Callable

import pytest
from workshop_cases import COAX, FEEDS, FRONTS, built, details, kinds

from simharness.advice.joining import joining_warnings
from simharness.advice.warnings import warnings
from simharness.errors import InputError
from simharness.records import RoundGuide
from simharness.report.dimensions import dimension_sections
from simharness.sheets.build.build_list import build_list, build_of
from simharness.sheets.build.facts import Build
from simharness.sheets.build.section import WIDTH, Section, as_text
from simharness.sheets.flat.fabrication import Fabrication

Has = Callable[[Build], bool]
Table = tuple[tuple[str, str, Has], ...]


def feed(b: Build):
    return b.record.feed


def is_round(b: Build) -> bool:
    return isinstance(b.record.guide, RoundGuide)


def coax(b: Build) -> bool:
    return feed(b).kind != "guide-port"


def bent(b: Build) -> bool:
    return feed(b).kind == "bent-probe"


def stripped(b: Build) -> bool:
    return coax(b) and feed(b).connector == "stripped"


def flange(b: Build) -> bool:
    return coax(b) and feed(b).flange_mm is not None


def screws(b: Build) -> bool:
    return any(o.kind == "screw" for part in b.parts for o in part.openings)


def board(b: Build):
    return b.record.guide.laminate


def etched(b: Build) -> bool:
    return board(b) is not None and board(b).slots == "etched"


def folded(b: Build) -> bool:
    return not is_round(b) and b.fabrication.make == "folded"


def soldered(b: Build, wall: str = "") -> bool:
    return bent(b) and feed(b).tip == "soldered" and wall in ("", feed(b).towards)


def aluminium(b: Build) -> bool:
    return b.record.guide.material == "aluminium"


def ends(b: Build) -> int:
    return sum(end != "port" for end in (b.record.guide.near_end, b.record.guide.far_end))


def load(b: Build) -> bool:
    return b.record.guide.far_end == "load"


def tabs(b: Build) -> bool:
    return folded(b) and b.fabrication.tab > 0 and ends(b) > 0


def closed(b: Build) -> bool:
    """Without any opening: slots in the copper alone, none in the back, and both ends shut."""
    return etched(b) and ends(b) == 2 and all(slot.face == "front" for slot in b.record.slots)


def cut(b: Build, shape: str = "", ends: str = "") -> bool:
    """Whether a slot of this kind is cut by hand: not into the copper alone, and not into a board, which is
    routed.
    """
    return not b.cutter and any(
        (shape == "" or (slot.shape != "straight") == (shape == "curved")) and ends in ("", slot.ends)
        for slot in b.record.slots
        if not (board(b) is not None and slot.face == "front")
    )


def drilled(b: Build) -> bool:
    """Whether a slot has round ends that a drill can make."""
    return any(
        s.shape == "straight" and s.ends == "round" and not (etched(b) and s.face == "front")
        for s in b.record.slots
    )


def joined(b: Build) -> bool:
    """Whether walls are joined to anything: a tube between two guides has neither seams nor plates nor a
    connector.
    """
    return folded(b) or ends(b) > 0 or coax(b)


def joint(b: Build) -> bool:
    """Whether pin and wire are two pieces: the wire is thicker, or so thin that filing the pin down would be
    silly.
    """
    return coax(b) and (
        feed(b).wire_diameter_mm > feed(b).coax_inner_mm + 1e-6
        or feed(b).coax_inner_mm - feed(b).wire_diameter_mm >= 0.4
    )


def brass_plate(b: Build) -> bool:
    return aluminium(b) and (stripped(b) or soldered(b, "back") or (soldered(b) and board(b) is None))


def shaped(b: Build, shape: str) -> bool:
    return any(slot.shape == shape for slot in b.record.slots)


LIST: Table = (
    ("a connector", r"[Cc]onnector", lambda b: coax(b) and not stripped(b)),
    ("a cable", r"[Cc]able", stripped),
    ("inner conductor", r"inner conductor", stripped),
    ("dielectric of a cable", r"dielectric", stripped),
    ("insulator of a connector", r"insulator", lambda b: coax(b) and not stripped(b)),
    ("dielectric inside", r"(dielectric|insulator) stands", lambda b: coax(b) and feed(b).dielectric_mm > 0),
    ("a flange", r"flange", flange),
    ("screw holes", r"screw hole", screws),
    ("feed hole", r"feed hole", coax),
    ("the probe", r"[Pp]robe", coax),
    ("wire of its own", r"Wire for the probe", joint),
    (
        "wire too thick for its hole",
        r"thicker than its hole",
        lambda b: coax(b) and feed(b).wire_diameter_mm > feed(b).coax_outer_mm,
    ),
    ("a bend in the wire", r"riser|Bend the wire|bend over a rod", bent),
    ("an open tip", r"tip stands free", lambda b: bent(b) and not soldered(b)),
    ("height of a straight tip", r"tip stands \d", lambda b: feed(b).kind == "probe"),
    ("hole for the tip", r"hole for the tip", soldered),
    (
        "tip on metal outside",
        r"solder the tip all round from outside",
        lambda b: soldered(b) and not aluminium(b) and not (board(b) and soldered(b, "front")),
    ),
    (
        "tip on the copper inside",
        r"solder the tip to the copper inside",
        lambda b: bool(board(b)) and soldered(b, "front"),
    ),
    (
        "tip on the copper outside",
        r"[Ss]older the tip to the copper outside",
        lambda b: bool(board(b)) and board(b).copper == "both" and soldered(b, "front"),
    ),
    (
        "tip through bare board",
        r"flush outside with the bare board",
        lambda b: bool(board(b)) and board(b).copper == "inside" and soldered(b, "front"),
    ),
    ("brass plates", r"[Bb]rass plate", brass_plate),
    ("a board", r"\bboard\b|laminate|substrate", lambda b: board(b) is not None),
    ("glass dust", r"glass", lambda b: board(b) is not None),
    ("etching", r"[Ee]tch", etched),
    ("care with etchant", r"Etchants burn", etched),
    ("routing", r"\b[Rr]out", lambda b: board(b) is not None and not etched(b)),
    ("lined slots", r"Line the edges", lambda b: board(b) is not None and board(b).copper == "both"),
    (
        "copper on one face",
        r"copper on one face",
        lambda b: board(b) is not None and board(b).copper == "inside",
    ),
    (
        "copper on both faces",
        r"copper on both faces",
        lambda b: board(b) is not None and board(b).copper == "both",
    ),
    (
        "copper outside",
        r"copper outside",
        lambda b: (
            board(b) is not None and board(b).copper == "both" and (not aluminium(b) or soldered(b, "front"))
        ),
    ),
    ("foil", r"\bfoil\b", lambda b: board(b) is not None and (not aluminium(b) or board(b).copper == "both")),
    ("folding", r"\b[Ff]old(s|ed)?\b|\b[Bb]ends\b", folded),
    ("tabs", r"\btabs?\b(?! 8)", lambda b: tabs(b) or (folded(b) and aluminium(b) and ends(b) > 0)),
    (
        "lips",
        r"\blips?\b",
        lambda b: folded(b) and board(b) is None and (b.fabrication.lip > 0 or aluminium(b)),
    ),
    ("end caps", r"\bend cap\b", tabs),
    ("end plates", r"\bend plate\b", lambda b: ends(b) > 0 and not tabs(b)),
    ("near end that is closed", r"near end (cap|plate)", lambda b: b.record.guide.near_end == "short"),
    ("far end that is closed", r"far end (cap|plate)", lambda b: b.record.guide.far_end != "port"),
    ("a port", r"\bport\b", lambda b: ends(b) < 2),
    ("an absorber", r"[Aa]bsorber", load),
    ("a way out for the air", r"hole of 1 mm", closed),
    ("a closed box", r"[Cc]losed all round: never", closed),
    ("stock tube", r"[Ss]tock tube", lambda b: not is_round(b) and not folded(b)),
    ("round tube", r"[Rr]ound tube|[Ff]ront line|[Tt]emplate", is_round),
    ("drilled slot ends", r"\ba and b\b", drilled),
    ("straight slots with round ends", r"[Dd]rill both ends", lambda b: cut(b, "straight", "round")),
    ("square slots", r"square slots", lambda b: cut(b, "straight", "square")),
    ("tapered slots", r"the tapered slots", lambda b: cut(b, "straight", "tapered")),
    ("tapered tips", r"[Tt]apered", lambda b: any(slot.ends == "tapered" for slot in b.record.slots)),
    ("curved slots", r"[Cc]urved slots", lambda b: shaped(b, "bent") or shaped(b, "s")),
    ("dividers for curved slots", r"dividers", lambda b: cut(b, "curved")),
    ("an S", r"an S two of them", lambda b: shaped(b, "s")),
    ("slots on two parts", r"  part\n", lambda b: len({slot.face for slot in b.record.slots}) == 2),
    (
        "a cutter",
        r"2 mm cutter",
        lambda b: bool(b.cutter) and not (etched(b) and all(s.face == "front" for s in b.record.slots)),
    ),
    ("soldered walls", r"Clean, flux, tack", lambda b: joined(b) and not aluminium(b)),
    (
        "flux",
        r"Flux fumes",
        lambda b: (
            (joined(b) and not aluminium(b))
            or stripped(b)
            or soldered(b)
            or joint(b)
            or bool(board(b) and board(b).copper == "both")
        ),
    ),
    ("metal without solder", r"does not take soft solder|[Ww]eld", lambda b: joined(b) and aluminium(b)),
    (
        "zinc",
        r"never heat zinc-coated",
        lambda b: joined(b) and b.record.guide.material in ("tin plate", "zinc-coated steel", "perfect"),
    ),
    ("care with brass", r"overheat brass", lambda b: joined(b) and b.record.guide.material == "brass"),
    ("acid flux", r"acid flux", lambda b: joined(b) and b.record.guide.material == "stainless steel"),
    ("fumes of hot dielectric", r"fluoropolymers", stripped),
    ("edges like blades", r"edges like blades", lambda b: True),
    ("the beam", r"Stay out of the beam", lambda b: True),
    ("local rules", r"Local rules and licensed practice decide", lambda b: True),
)
DIMENSIONS: Table = (
    ("connector", r"connector", lambda b: coax(b) and not stripped(b)),
    ("cable", r"cable", stripped),
    ("flange", r"thickness of the flange|side of the flange", flange),
    ("flange of a panel connector", r"panel connector", lambda b: coax(b) and feed(b).connector == "panel"),
    ("dielectric inside", r"stands into the guide", lambda b: coax(b) and feed(b).dielectric_mm > 0),
    ("riser", r"riser", bent),
    ("tip", r"\btip\b.*(open|soldered)", bent),
    ("board", r"thickness of the board", lambda b: board(b) is not None),
    ("thickness of copper", r"thickness of the copper", lambda b: board(b) is not None),
    ("absorber", r"absorber", load),
    ("port", r"port", lambda b: ends(b) < 2),
    ("plates", r"closed by a plate", lambda b: ends(b) > 0),
    ("round tube", r"round tube", is_round),
    ("stock tube", r"stock tube", lambda b: not is_round(b) and not folded(b)),
    ("folded", r"folded", folded),
    ("no bare value of a field", r" none| bare$|: short", lambda b: False),
)
ORDER = (
    (
        "the box is folded after its slots are cut",
        r"Etch|Rout|[Dd]rill both ends|Scribe the curved|[Ss]aw the",
        r"Fold back and sides",
    ),
    (
        "a wire is joined and measured before an end is put on",
        r"Prepare the (connector|cable)",
        r"(Put|Stand) the near end",
    ),
    (
        "the height of a tip is measured before the box is closed",
        r"Check with the depth rod",
        r"Lay the (front wall|board)",
    ),
    (
        "what is soldered inside comes before the board",
        r"solder the tip to the copper inside",
        r"Lay the board",
    ),
    (
        "the tip is filed after it is soldered",
        r"solder the tip to the copper inside",
        r"File the tip flush outside",
    ),
    (
        "foil is soldered to the copper before the board closes it in",
        r"Solder strips of foil",
        r"Lay the board",
    ),
    ("the inside is washed before the absorber is in", r"Wash the flux off inside", r"Fix the absorber"),
    ("angles are soldered before the absorber is in", r"Solder angles", r"Fix the absorber"),
    ("the inside is washed before the board closes it", r"nothing can be washed out later", r"Lay the board"),
    (
        "the air's way out is drilled before anything is heated",
        r"hole of 1 mm",
        r"[Ss]older the (connector|cable)",
    ),
    (
        "a wire is in its hole before its tip is soldered",
        r"through its hole|under its hole",
        r"solder the tip",
    ),
    (
        "no heat after the absorber is in",
        r"solder all round|run both seams|fold the foil down|[Ss]older the tip",
        r"Fix the absorber",
    ),
    ("measured last", r"Print at 100 %", r"measure the match"),
)


SLIPS = re.compile(r"\bNone\b|\bnan\b|\.\.|;\.|,\.| ,|  |\{|-0\.00|[^.]$|\. [a-z]")
"""What no sentence has: leavings of a program, doubled stops and blanks, no stop at its end, a small letter
after one.
"""


def spoken(sections: tuple[Section, ...]) -> str:
    """Sentences of the list without its line breaks, and its tables."""
    return "\n".join(
        text
        for section in sections
        for text in (*section.sentences, *("  ".join(row) + "\n" for row in section.table))
    )


def dimensions(b: Build) -> str:
    sections = dimension_sections(b.record, b.fabrication.make)
    return "\n".join(text for s in sections for text in (*s.sentences, *(": ".join(row) for row in s.table)))


def wrong(table: Table, b: Build, text: str) -> list[str]:
    """Things that are told and not there, or there and not told."""
    found = []
    for thing, pattern, has in table:
        told = re.search(pattern, text)
        if bool(told) != has(b):
            found.append(
                f"{thing}: {'told as ' + told[0] + ' but not there' if told else 'there but not told'}"
            )
    return found


def misplaced(text: str) -> list[str]:
    """Steps in the wrong order: of both, the last of the earlier step must not come after the first of the
    later.
    """
    steps = re.findall(r"^(\d+)\. (.*)$", text, re.MULTILINE)
    assert [int(number) for number, _ in steps] == list(range(1, len(steps) + 1))
    found = []
    for rule, early, late in ORDER:
        before = [i for i, (_, words) in enumerate(steps) if re.search(early, words)]
        after = [i for i, (_, words) in enumerate(steps) if re.search(late, words)]
        if before and after and (before[-1] if rule.startswith("no heat") else before[0]) > after[0]:
            found.append(rule)
    return found


@pytest.mark.parametrize("cases", [kinds, details], ids=lambda f: f.__name__)
def test_list_and_dimensions_are_those_of_the_record(cases):
    """Over fronts, makes, feeds, tips, ends, faces and shapes of slots; then over connectors, wires, metals
    and ways of making.
    """
    seen, failures = set(), {}
    for name, b in cases():
        sections = build_list(b)
        text = spoken(sections)
        seen |= {(thing, bool(has(b))) for thing, _, has in LIST}
        bad = [*wrong(LIST, b, text), *wrong(DIMENSIONS, b, dimensions(b)), *misplaced(text)]
        bad += [
            f"slip of the pen: {defect[0]}"
            for section in sections
            for sentence in section.sentences
            for defect in SLIPS.finditer(sentence)
        ]
        if bad:
            failures[name] = bad
    assert not failures, "\n".join(f"{name}: {bad}" for name, bad in list(failures.items())[:20])
    if cases is kinds:
        never = {thing for thing, _, _ in LIST if (thing, True) not in seen}
        assert never <= {
            "a cable",
            "inner conductor",
            "dielectric of a cable",
            "dielectric inside",
            "a flange",
            "screw holes",
            "brass plates",
            "lips",
            "a cutter",
            "zinc",
            "acid flux",
            "fumes of hot dielectric",
            "metal without solder",
            "wire too thick for its hole",
        }


def test_the_cases_cover_what_a_record_may_be():
    """So that a refusal does not empty the tables above unseen."""
    for front in FRONTS:
        built(front)
    for name in FEEDS:
        assert built(feed=name).record.feed.kind == FEEDS[name]["kind"]
    for coax in COAX.values():
        assert built(feed="bent, soldered", coax=coax).record.feed.connector == coax["connector"]
    assert built(make="tube").parts[0].name == "tube-front" and built(make="round").parts[0].name == "wrap"


WARNED = (
    (
        "tip on the copper inside",
        {"front": "etched", "feed": "bent, soldered"},
        "before the board closes the box",
    ),
    ("tip on metal", {"feed": "bent, soldered"}, ""),
    ("tip on the back of a board's box", {"front": "etched", "feed": "bent, soldered, back"}, ""),
    ("board lined with copper, soldered outside too", {"front": "both faces", "feed": "bent, soldered"}, ""),
    (
        "cable in aluminium",
        {"coax": {"connector": "stripped"}, "guide": {"material": "aluminium"}},
        "a stripped coax cannot be soldered to aluminium",
    ),
    (
        "tip in aluminium",
        {"feed": "bent, soldered", "guide": {"material": "aluminium"}},
        "the tip of the probe cannot be soldered to aluminium",
    ),
    (
        "board on aluminium",
        {"front": "etched", "guide": {"material": "aluminium"}},
        "the copper of the board cannot be soldered to aluminium",
    ),
    (
        "run with room in a tube",
        {"make": "tube", "feed": "bent, soldered", "coax": {"hole_height_mm": 3.0}},
        "",
    ),
    # The wire of 1.27 mm, 2.1 mm over the back, has 1.465 mm below it; a wall of 2 mm asks for 2 mm.
    (
        "run without",
        {
            "make": "tube",
            "feed": "bent, soldered",
            "coax": {"hole_height_mm": 2.1},
            "guide": {"front_wall_mm": 2.0, "other_walls_mm": 2.0},
        },
        "move the run (hole_height_mm) 0.5 mm above",
    ),
)


def test_check_warns_of_what_cannot_be_made():
    for name, choice, words in WARNED:
        record = built(**choice).record
        found = list(joining_warnings(record))
        assert (len(found) == 1 and words in found[0]) if words else not found, (name, found)
        assert set(found) <= set(warnings(record)), name


def test_a_make_that_cannot_be_is_told_by_check_before_the_sheets_refuse_it():
    board = built("etched").record
    tube = board.model_copy(update={"guide": board.guide.model_copy(update={"make": "tube"})})
    uneven = built(make="tube").record
    uneven = uneven.model_copy(update={"guide": uneven.guide.model_copy(update={"front_wall_mm": 1.0})})
    for record, words in (
        (tube, "needs make = 'folded'"),
        (uneven, "walls of one thickness, not 1 and 0.5 mm"),
    ):
        assert any(words in sentence for sentence in joining_warnings(record))
        with pytest.raises(InputError, match="stock tube"):
            build_of(record, Fabrication("tube"))


def test_hole_for_the_tip_lies_where_the_wire_does():
    """On an etched board, which is drawn from its copper side, on paper it is on the other side; in the table
    it is where the record has it.
    """
    for front, sign in (("sheet", 1), ("etched", -1)):
        b = built(front, feed="bent, soldered", coax={"offset_mm": 5.0})
        hole = next(
            o for part in b.parts if part.name == "front-wall" for o in part.openings if o.kind == "tip"
        )
        assert hole.centre == pytest.approx((29.4e-3, sign * 5e-3))
        table = next(section.table for section in build_list(b) if section.title == "Holes")
        assert ("Front wall", "hole for the tip", "29.40", "+5.00", "1.27") in table


def test_tabs_leave_the_hole_for_the_tip_free():
    """A tab of 8 mm would lie over a tip 7 mm from the near end."""
    for feed in ("bent, soldered", "bent, soldered, back"):
        b = built(feed=feed, coax={"run_mm": 7.0})
        near = next(part for part in b.parts if part.name == "near-end")
        far = next(part for part in b.parts if part.name == "far-end")
        assert near.size[1] < far.size[1] - 2e-3


def test_plain_text_fits_a_screen():
    text = as_text("A box", build_list(built("etched", feed="bent, soldered")))
    sentences = [line for line in text.splitlines() if re.match(r"(- |\d+\. |  +[a-z])", line)]
    assert sentences and max(map(len, sentences)) <= WIDTH
