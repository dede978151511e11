"""What to buy, with amounts."""

from __future__ import annotations

from simharness.geometry.scene import Scene
from simharness.records import Record
from simharness.sheets.build.facts import Build
from simharness.sheets.build.feed_messages import feed_to_buy
from simharness.sheets.build.laminate import board_name, foil_words
from simharness.sheets.build.section import Section
from simharness.sheets.flat.interior import absorber_words, inside
from simharness.sheets.flat.round_parts import tube_wall

SPARE = 5e-3
"""Added on each side of a blank for clamping and sawing, m; a choice."""


def sheet_material(record: Record) -> str:
    """Name of the metal to buy."""
    return "sheet" if record.guide.material == "perfect" else record.guide.material


def materials(build: Build) -> Section:
    """The first section: sheets, tube, absorber, feed."""
    rows = [("part", "sheet, mm", "blank, mm", "area, cm2", "buy at least, mm")]
    for part in build.parts:
        if part.outline.layer == "cut":
            length, width = part.size
            rows.append(
                (
                    part.title,
                    f"{part.thickness * 1e3:g}",
                    f"{_mm(length)} x {_mm(width)}",
                    f"{length * width * 1e4:.1f}",
                    f"{_mm(length + 2 * SPARE, 0)} x {_mm(width + 2 * SPARE, 0)}",
                )
            )
    spare = (
        f" 'Buy at least' adds {_mm(SPARE, 0)} mm on each side for clamping and sawing."
        if len(rows) > 1
        else ""
    )
    sentences = [f"{_metal(build)}{spare}"]
    if build.board is not None:
        sentences.append(f"Front wall: {board_name(build.guide)}.")
    if build.round:
        sentences.append(_round_stock(build.scene, sheet_material(build.record)))
    elif not build.folded:
        sentences.append(_tube_stock(build))
    sentences += [
        *foil_words(build),
        *(absorber_words(build.scene, build.end("far")) if build.absorber else ()),
        *feed_to_buy(build),
    ]
    return Section("Materials", tuple(sentences), tuple(rows) if len(rows) > 1 else ())


def _metal(build: Build) -> str:
    if build.guide.material == "perfect":
        return "Metal: the record names none; copper, brass and tin plate take solder."
    return f"Metal: {build.guide.material}."


def _tube_stock(build: Build) -> str:
    x0, x1, y0, y1, z0, z1 = inside(build.scene)
    t = build.parts[0].thickness
    return (
        f"Stock tube, {sheet_material(build.record)}: inside {_mm(x1 - x0)} x {_mm(y1 - y0)} mm, outside {_mm(x1 - x0 + 2 * t)} x "
        f"{_mm(y1 - y0 + 2 * t)} mm, wall {t * 1e3:g} mm, sawn square to {_mm(z1 - z0)} mm. Measure its inside at both ends before you cut: "
        f"where it differs from the record, put the measured size into the record and start again."
    )


def _round_stock(scene: Scene, metal: str) -> str:
    *_, z0, z1 = inside(scene)
    wall = tube_wall(scene)
    return (
        f"Round tube, {metal}: inside {_mm(2 * wall.inner)} mm, outside {_mm(2 * wall.outer)} mm, wall {(wall.outer - wall.inner) * 1e3:g} mm, "
        f"sawn square to {_mm(z1 - z0)} mm. Measure its inside across two ways at both ends before you cut: where the mean differs from the "
        f"record, put it into the record and start again; where the two ways differ, the tube turns the wave in it ('simharness check' says "
        f"how much is too much)."
    )


def _mm(length: float, digits: int = 2) -> str:
    return f"{length * 1e3:.{digits}f}"
