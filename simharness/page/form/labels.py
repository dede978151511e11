"""What the fields of a record are called where there is no room for a sentence; how finely they are set."""

from __future__ import annotations

from simharness.constants import MARKED_MM

SECTIONS = {
    "band": "Band",
    "guide": "Guide",
    "guide.laminate": "Front of laminate",
    "slot_rule": "Slots, by a rule",
    "slot": "Slots, one by one",
    "tape": "Tape over the ends of slots",
    "screw": "Tuning screws",
    "feed": "Feed",
    "mounting": "Where it hangs",
    "cover": "Cover of the slots",
    "wings": "Wings beside the slots",
    "mast": "Pole or wall",
    "pair": "Second antenna",
    "": "Name",
}
"""By the table of the record, in the order of a form."""

ROWS = {
    "slot": ("slot", "Add a slot"),
    "tape": ("tape", "Add a piece of tape"),
    "screw": ("screw", "Add a screw"),
}
"""Of tables that stand in a row: what one is called, and the words of the button for one more."""

FLAGS = {
    "guide.laminate": (
        "front of laminate",
        "the front wall is a copper-clad board; its thickness is that of the slotted wall",
    ),
    "cover": (
        "cover of the slots",
        "a flat sheet of plastic on the slots, or held off from them, keeps the weather out",
    ),
    "wings": (
        "wings",
        "flat strips of metal beside the slotted face, along the whole guide, that shape the beam",
    ),
    "mast": ("pole or wall", "a metal pole or a metal wall behind or beside the antenna, parallel to it"),
    "pair": ("second antenna", "an equal one beside, above or behind, back to back"),
}
"""Of tables that a record may have once or not at all: label and help of the box to tick."""

NOT_FOR_ROUND = frozenset({"guide.laminate", "cover", "tape", "screw", "wings"})
"""Tables that a round tube does not have."""
NOT_FOR_PORT = frozenset({"pair"})
"""Tables that an antenna without a coax does not have."""

_SLOT = {
    "length_mm": "length",
    "width_mm": "width",
    "ends": "ends",
    "taper_mm": "tapered tip",
    "shape": "centre line",
    "aside_mm": "stands aside",
}
_GUIDE = {
    "shape": "shape",
    "length_mm": "inner length",
    "material": "metal",
    "conductivity_s_per_m": "conductivity",
    "near_end": "near end",
    "far_end": "far end",
    "load_mm": "length of the absorber",
}
COAX = {
    "kind": "kind",
    "wire_diameter_mm": "diameter of the wire",
    "coax_inner_mm": "centre conductor",
    "coax_outer_mm": "hole in the wall",
    "coax_permittivity": "permittivity of the coax",
    "dielectric_mm": "dielectric inside the guide",
    "connector": "connector",
    "flange_mm": "side of the flange",
    "flange_thickness_mm": "thickness of the flange",
}

"""What every feed by a coax has; it stands behind what places the probe."""

LABELS: dict[str, dict[str, str]] = {
    "Record": {"name": "name", "title": "title", "note": "note"},
    "Band": {
        "low_ghz": "lower edge",
        "centre_ghz": "centre",
        "high_ghz": "upper edge",
        "target_s11_db": "largest S11 wanted",
    },
    "Mounting": {"axis": "long axis hangs", "tilt_deg": "front looks down by"},
    "Mast": {
        "shape": "what stands there",
        "diameter_mm": "diameter of the pole",
        "distance_mm": "clear distance",
        "direction_deg": "direction from the front",
        "width_mm": "width of the wall",
    },
    "Wings": {"width_mm": "width of each", "angle_deg": "bent forward by", "join": "joined"},
    "Pair": {"place": "second one stands", "distance_mm": "distance", "fed": "fed"},
    "RectangularGuide": _GUIDE
    | {
        "near_plate_mm": "plate inside the near end",
        "far_plate_mm": "plate inside the far end",
        "a_mm": "inner width",
        "b_mm": "inner height",
        "front_wall_mm": "slotted wall",
        "other_walls_mm": "other walls",
        "make": "made as",
    },
    "RoundGuide": _GUIDE | {"diameter_mm": "inner diameter", "wall_mm": "wall"},
    "Laminate": {
        "permittivity": "permittivity",
        "loss_tangent": "loss tangent",
        "copper": "copper",
        "slots": "slots are",
        "copper_um": "thickness of the copper",
    },
    "Cover": {
        "material": "material",
        "permittivity": "permittivity",
        "loss_tangent": "loss tangent",
        "thickness_mm": "thickness",
        "gap_mm": "air before it",
        "overhang_mm": "stands out by",
        "face": "covers",
    },
    "SlotRule": _SLOT
    | {
        "count": "number of slots",
        "first_mm": "first slot, from the near end",
        "spacing_mm": "spacing",
        "offset_mm": "offset of the first",
        "alternate": "sides alternate",
        "faces": "walls with slots",
        "back_first_mm": "first slot of the back wall",
        "back_offset_mm": "its offset",
    },
    "Tape": {"slot": "number of the slot", "end": "which end of it", "covers_mm": "covers"},
    "Screw": {
        "position_mm": "from the near end",
        "offset_mm": "offset",
        "diameter_mm": "diameter",
        "depth_mm": "depth",
    },
    "Slot": _SLOT | {"position_mm": "from the near end", "offset_mm": "offset", "face": "wall"},
    "Probe": COAX
    | {
        "wall": "through the wall",
        "position_mm": "from the near end",
        "offset_mm": "offset",
        "height_mm": "height of the tip",
    },
    "BentProbe": COAX
    | {
        "offset_mm": "offset of the hole",
        "hole_height_mm": "height of the hole",
        "run_mm": "run along the guide",
        "rise_mm": "rise to the tip",
        "towards": "bends towards",
        "tip": "tip",
    },
    "GuidePort": {"kind": "kind"},
}
"""By the table and the field; the unit stands beside it."""

BOUGHT_MM = 0.01
"""Sheet, wire and coax come in finer sizes."""

BOUGHT = frozenset(
    {
        "front_wall_mm",
        "other_walls_mm",
        "wall_mm",
        "wire_diameter_mm",
        "coax_inner_mm",
        "coax_outer_mm",
        "flange_thickness_mm",
        "thickness_mm",
    }
)
"""Dimensions of what is bought, not marked."""

STEPS = {
    "_ghz": 0.001,
    "_db": 0.5,
    "_um": 1.0,
    "_s_per_m": 1e5,
    "permittivity": 0.01,
    "loss_tangent": 0.001,
    "count": 1.0,
}
"""By the end of a name."""

ONLY_WITH: dict[str, tuple[str, tuple[object, ...]]] = {
    "guide.load_mm": ("far_end", ("load",)),
    "guide.near_plate_mm": ("near_end", ("short",)),
    "guide.far_plate_mm": ("far_end", ("short",)),
    "slot.taper_mm": ("ends", ("tapered",)),
    "slot.aside_mm": ("shape", ("bent", "s")),
    "slot_rule.taper_mm": ("ends", ("tapered",)),
    "slot_rule.aside_mm": ("shape", ("bent", "s")),
    "slot_rule.back_first_mm": ("faces", ("both",)),
    "slot_rule.back_offset_mm": ("faces", ("both",)),
    "mast.diameter_mm": ("shape", ("pole",)),
    "mast.width_mm": ("shape", ("wall",)),
    "cover.permittivity": ("material", (None,)),
    "cover.loss_tangent": ("material", (None,)),
    "feed.rise_mm": ("tip", ("open",)),
    "feed.flange_mm": ("connector", ("panel", "bare")),
    "feed.flange_thickness_mm": ("connector", ("panel",)),
}
"""Fields that mean something with some values of another field of their table only."""


def step_of(name: str) -> float:
    """How far one press of an arrow key changes a field, in its unit.

    Examples
    --------
    >>> step_of("height_mm"), step_of("wire_diameter_mm"), step_of("centre_ghz")
    (0.1, 0.01, 0.001)
    """
    if name.endswith("_mm"):
        return BOUGHT_MM if name in BOUGHT else MARKED_MM
    return next((step for end, step in STEPS.items() if name.endswith(end)), 1.0)
