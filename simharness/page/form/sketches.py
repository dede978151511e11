"""The sketch beside a field: one of a few drawings with the one dimension that the field is about."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache

from simharness.page.form import views
from simharness.page.form.labels import LABELS
from simharness.page.form.lines import circle, dimension, path, sheet, thin, wall, wire

Drawing = Callable[[], str]


def sketch(sketch_id: str) -> str:
    """The sketch of a field as SVG, about 160 x 100, with a title; "" where there is none.

    Parameters
    ----------
    sketch_id : str
        Table and field, as in `simharness.page.form.fields.Field.sketch`.
    """
    return _drawn(sketch_id) if sketch_id in SKETCHES else ""


@cache
def _drawn(sketch_id: str) -> str:
    table, _, name = sketch_id.partition(".")
    return sheet(LABELS[table][name], SKETCHES[sketch_id]())


def _above(x1: float, x2: float, y: float, down_to: float) -> str:
    """A dimension along the guide with lines down to what it measures."""
    return dimension(x1, y, x2, y) + thin(x1, y, x1, down_to) + thin(x2, y, x2, down_to)


def _end(offset: float) -> str:
    """The end view with a probe aside, and how far."""
    return (
        views.end_view(probe=views.MIDDLE + offset)
        + thin(80, 12, 80, 98)
        + dimension(80, 95, 80 + offset, 95)
    )


def _aside_hole() -> str:
    return views.end_view(probe=56, hole=True) + thin(80, 12, 80, 98) + dimension(56, 44, 80, 44)


def _pole() -> str:
    """The antenna cut across, front up, and a pole behind it."""
    return wall(60, 14, 40, 20) + circle(80, 76, 18, ' fill="currentColor" fill-opacity="0.2"')


def _direction() -> str:
    """The ray to a pole aslant, and the angle from the front."""
    turn = path("M80 8 A16 16 0 0 1 92 35", ' stroke="var(--link, currentColor)" stroke-width="2.5"')
    body = wall(60, 14, 40, 20) + circle(126, 76, 14, ' fill="currentColor" fill-opacity="0.2"')
    return body + thin(80, 24, 80, 2) + thin(80, 24, 126, 76) + turn


def _two() -> str:
    """Two antennas cut across, side by side."""
    return wall(24, 40, 40, 20) + wall(96, 40, 40, 20) + thin(44, 30, 44, 86) + thin(116, 30, 116, 86)


def _tilted() -> str:
    """The antenna from the side, its front on the right looking down."""
    turn = path("M120 50 A60 60 0 0 1 117 67", ' stroke="var(--link, currentColor)" stroke-width="2.5"')
    return wire((72, 90), (48, 10)) + thin(60, 50, 150, 50) + thin(60, 50, 146, 76) + turn


def _winged(rise: float = 0.0) -> str:
    """The antenna cut across, front up, and the strips beside its slots, their far edges higher by `rise`."""
    near, far = 50.0, 50.0 - rise
    return wall(60, 50, 40, 20) + wire((24, far), (60, near)) + wire((100, near), (136, far))


def _bent_forward() -> str:
    turn = path("M124 50 A24 24 0 0 0 121 38", ' stroke="var(--link, currentColor)" stroke-width="2.5"')
    return _winged(20) + thin(100, 50, 140, 50) + turn


_GUIDE: dict[str, Drawing] = {
    "length_mm": lambda: views.side_view() + dimension(15, 92, 145, 92),
    "load_mm": lambda: views.side_view(absorber=True) + _above(118, 145, 92, 72),
}

_RULE_AND_SLOT: dict[str, Drawing] = {
    "length_mm": lambda: views.one_slot() + dimension(20, 78, 140, 78),
    "width_mm": lambda: views.one_slot() + dimension(150, 38, 150, 62),
    "taper_mm": lambda: views.one_slot("tapered") + dimension(20, 78, 50, 78),
    "aside_mm": lambda: views.one_slot(shape="bent") + dimension(80, 40, 80, 69),
    "offset_mm": lambda: views.front_view() + dimension(55, 50, 55, 39),
}

_COAX: dict[str, Drawing] = {
    "wire_diameter_mm": lambda: views.coax_view() + dimension(74, 22, 86, 22),
    "coax_inner_mm": lambda: views.coax_view() + dimension(74, 88, 86, 88),
    "coax_outer_mm": lambda: views.coax_view() + dimension(60, 57, 100, 57),
    "coax_permittivity": lambda: views.coax_view(filling=True),
    "dielectric_mm": lambda: views.coax_view(protruding=True) + dimension(112, 32, 112, 50),
    "flange_mm": lambda: views.coax_view(flange=True) + dimension(30, 84, 130, 84),
    "flange_thickness_mm": lambda: views.coax_view(flange=True) + dimension(140, 64, 140, 73),
}

_TABLES: dict[str, dict[str, Drawing]] = {
    "Band": {
        "low_ghz": lambda: views.match_view() + dimension(18, 94, 64, 94),
        "centre_ghz": lambda: views.match_view() + dimension(18, 94, 86, 94),
        "high_ghz": lambda: views.match_view() + dimension(18, 94, 108, 94),
        "target_s11_db": lambda: views.match_view() + dimension(132, 10, 132, 44),
    },
    "Mounting": {"tilt_deg": _tilted},
    "Mast": {
        "diameter_mm": lambda: _pole() + dimension(62, 97, 98, 97),
        "distance_mm": lambda: _pole() + dimension(80, 34, 80, 58),
        "direction_deg": _direction,
        "width_mm": lambda: wall(60, 14, 40, 20) + wall(20, 66, 120, 4) + dimension(20, 84, 140, 84),
    },
    "Wings": {
        "width_mm": lambda: _winged() + dimension(100, 36, 136, 36),
        "angle_deg": _bent_forward,
    },
    "Pair": {"distance_mm": lambda: _two() + dimension(44, 86, 116, 86)},
    "RectangularGuide": _GUIDE
    | {
        "near_plate_mm": lambda: views.side_view() + thin(30, 20, 30, 92) + dimension(15, 92, 30, 92),
        "far_plate_mm": lambda: views.side_view() + thin(130, 20, 130, 92) + dimension(130, 92, 145, 92),
        "a_mm": lambda: views.end_view() + dimension(30, 40, 130, 40),
        "b_mm": lambda: views.end_view() + dimension(46, 26, 46, 76),
        "front_wall_mm": lambda: views.end_view(front=True),
        "other_walls_mm": lambda: views.end_view(others=True),
        "conductivity_s_per_m": lambda: views.end_view(front=True, others=True),
    },
    "RoundGuide": _GUIDE
    | {
        "diameter_mm": lambda: views.round_view() + dimension(45, 50, 115, 50),
        "wall_mm": lambda: views.round_view() + dimension(115, 50, 120, 50),
        "conductivity_s_per_m": lambda: views.round_view(marked=True),
    },
    "Laminate": {
        "permittivity": lambda: views.board(filling=True),
        "loss_tangent": lambda: views.board(filling=True),
        "copper_um": lambda: views.board() + dimension(150, 60, 150, 68),
    },
    "Cover": {
        "permittivity": lambda: views.covered(filling=True),
        "loss_tangent": lambda: views.covered(filling=True),
        "thickness_mm": lambda: views.covered() + dimension(134, 24, 134, 38),
        "gap_mm": lambda: views.covered() + dimension(134, 38, 134, 60),
        "overhang_mm": lambda: views.covered() + dimension(10, 84, 25, 84),
    },
    "SlotRule": _RULE_AND_SLOT
    | {
        "count": lambda: views.front_view(marked=True),
        "first_mm": lambda: views.front_view() + _above(10, 55, 88, 39),
        "spacing_mm": lambda: views.front_view() + _above(55, 90, 88, 39),
        "back_first_mm": lambda: views.front_view(back=True) + _above(10, 67, 88, 61),
        "back_offset_mm": lambda: views.front_view(back=True) + dimension(67, 50, 67, 61),
    },
    "Tape": {
        "slot": lambda: views.front_view(marked=True),
        "covers_mm": lambda: views.one_slot() + thin(120, 30, 120, 70) + dimension(120, 78, 140, 78),
    },
    "Screw": {
        "position_mm": lambda: views.side_view() + _above(15, 36, 92, 78),
        "offset_mm": lambda: _end(-24),
        "diameter_mm": lambda: views.side_view() + dimension(32, 58, 40, 58),
        "depth_mm": lambda: views.side_view() + dimension(46, 46, 46, 72),
    },
    "Slot": _RULE_AND_SLOT | {"position_mm": lambda: views.front_view() + _above(10, 55, 88, 39)},
    "Probe": _COAX
    | {
        "position_mm": lambda: views.side_view() + _above(15, 36, 92, 78),
        "offset_mm": lambda: _end(-24),
        "height_mm": lambda: views.side_view() + dimension(46, 46, 46, 72),
    },
    "BentProbe": _COAX
    | {
        "offset_mm": _aside_hole,
        "hole_height_mm": lambda: views.side_view(bent=True) + dimension(24, 52, 24, 72),
        "run_mm": lambda: views.side_view(bent=True) + _above(15, 36, 92, 52),
        "rise_mm": lambda: views.side_view(bent=True) + dimension(46, 34, 46, 52),
    },
}

SKETCHES: dict[str, Drawing] = {
    f"{table}.{name}": drawing for table, drawings in _TABLES.items() for name, drawing in drawings.items()
}
"""A function that draws, by the id of the sketch."""
