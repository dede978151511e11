"""Flat parts as drawings: outlines, openings, bends, marks to punch, numbers and captions."""

from __future__ import annotations

from shapely.geometry import LineString

from simharness.sheets.flat.part import FROM_OUTSIDE, Opening, Part, drill_table
from simharness.sheets.flat.paths import LETTERS, Drawing, Mark, Path, Text, straight

ASIDE = 1.2e-3
"""Distance between an opening and its number, m."""


def part_drawing(part: Part, material: str, cutter: float = 0.0) -> Drawing:
    """The drawing of a part, without dimensions.

    Parameters
    ----------
    material : of the sheet, for the caption.
    cutter : diameter that the part has been compensated for, m; the caption says so.
    """
    paths: list[Path] = [part.outline, *(o.path for o in part.openings)]
    paths += [straight(b.start, b.end, layer="score") for b in part.bends]
    paths += [*part.lands, *part.guides, *part.beneath]
    if part.centre_line:
        u0, _, u1, _ = part.outline.polygon().bounds
        paths.append(straight((u0, 0.0), (u1, 0.0), chained=True))
    marks = tuple(Mark(at, diameter) for _, at, diameter in drill_table(part))
    texts = (*(_number(o, part) for o in part.openings if o.kind == "slot"), *_end_names(part), *part.labels)
    lines = caption(part, material)
    if cutter and part.place != "template":
        lines += (
            f"Cuts are the path of the centre of a cutter of {cutter * 1e3:g} mm diameter, not the edges.",
        )
    return Drawing(
        part.name, part.title, lines, tuple(paths), marks, texts, _sheet_name(part, material), part.view
    )


def _sheet_name(part: Part, material: str) -> str:
    name = part.material or material
    said = name[0].upper() + name[1:]
    return said if part.place == "template" else f"{said}, {part.thickness * 1e3:g} mm thick"


def caption(part: Part, material: str) -> tuple[str, ...]:
    """Sentences over a part: its sheet, its flat size, the side that is seen, which way it folds."""
    length, width = (1e3 * size for size in part.size)
    lines = [f"{_sheet_name(part, material)}; {length:.2f} x {width:.2f} mm flat; seen {part.view}."]
    lines += part.notes
    if any(o.kind == "slot" and o.ends == "round" for o in part.openings):
        lines.append("Ends of slots are half circles over the whole width.")
    if part.bends:
        fold = part.bends[0].fold
        way = "away from you" if part.away else "towards you"
        how = (
            f"score {fold.groove_depth * 1e3:.2f} mm deep, 90° groove"
            if fold.scored
            else f"inside radius {fold.radius * 1e3:g} mm"
        )
        lines.append(f"Thin blue lines: middle of each bend, fold 90° {way}, {how}.")
    if part.place == "around":
        lines.append(
            "Wrap it around the tube, near end at the near end, and lay the front line along the line "
            "scribed on the metal. It is drawn for the bare outer surface: thick paper leaves the seam open "
            "by six times its thickness, which does no harm there."
        )
    if part.lands:
        side = "on this face" if part.view == FROM_OUTSIDE else "on the other face, the outside"
        screwed = any(o.kind == "screw" for o in part.openings)
        tinned = "" if material == "aluminium" else " and tinned"
        what = (
            "square: the flange of the connector, bright metal under it"
            if screwed
            else f"circle: land to be bared{tinned} for the coax"
        )
        lines.append(f"Broken {what}, {side}.")
    return tuple(lines)


def _number(slot: Opening, part: Part) -> Text:
    """The number of a slot: beyond it from the centre line where there is room, else between the two."""
    side = 1 if slot.centre[1] >= 0 else -1
    away = slot.width / 2 + ASIDE + LETTERS / 2
    *_, v1 = part.outline.polygon().bounds
    if abs(slot.centre[1]) + away + LETTERS / 2 + ASIDE > v1:
        side = -side
    return Text((slot.centre[0], slot.centre[1] + side * away), str(slot.number), LETTERS)


def _end_names(part: Part) -> tuple[Text, ...]:
    """'near end' and 'far end' just inside the ends of a wall; 'front up', to the slotted side, on a cap."""
    if not part.centre_line:
        _, v0, _, v1 = part.outline.polygon().bounds
        # Clear of a feed hole: on the other side of the middle.
        low = any(o.centre[1] > (v0 + v1) / 2 for o in part.openings if o.kind == "hole")
        share = 0.5 if not part.openings else 0.2 if low else 0.8
        height = part.outline.polygon().centroid.y if share == 0.5 else v0 + share * (v1 - v0)
        return (Text((0.0, height), "front up", LETTERS),)
    u0, v0, u1, v1 = part.outline.polygon().bounds
    edge = part.outline.line().intersection(LineString([(u0 + ASIDE, v0 - ASIDE), (u0 + ASIDE, v1 + ASIDE)]))
    height = edge.bounds[1] + ASIDE + LETTERS / 2
    return (
        Text((u0 + ASIDE, height), "near end", LETTERS, anchor="start"),
        Text((u1 - ASIDE, height), "far end", LETTERS, anchor="end"),
    )
