"""True-scale cut sheets and the build list, from the scene that the solver computes.

reportlab and ezdxf are imported when sheets are written, not before.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from simharness.records import Record
    from simharness.sheets.build.section import Section
    from simharness.sheets.flat.fabrication import Fabrication

__all__ = ["Written", "write_sheets"]

RECORD_DIGITS = 8
"""Of the hash of a record in the title block."""


@dataclass(frozen=True)
class Written:
    """The files that were written, and the build list that one of them holds."""

    files: tuple[Path, ...]
    sections: tuple[Section, ...]


def write_sheets(
    record: Record,
    folder: Path | str,
    fabrication: Fabrication,
    paper: str = "a4",
    cutter: float = 0.0,
    date: str = "",
) -> Written:
    """Write the sheets as PDF, each flat part as SVG and DXF, the build list as text, and an empty table of
    readings.

    Parameters
    ----------
    record : Record
        The design.
    folder : Path or str
        Made if it does not exist; files of the same name are replaced.
    fabrication : Fabrication
        How the box is made.
    paper : str
        'a4' or 'letter'.
    cutter : float
        Diameter of a cutter, m. SVG and DXF then hold the path of its centre; the PDF always shows the true
        edges.
    date : str
        Day of issue in the title blocks; left open without it, so that the same record gives the same file.

    Returns
    -------
    Written

    Raises
    ------
    InputError
        The record does not suit how the box is made, or an opening is no wider than the cutter.
    MachineError
        The folder cannot be written.
    """
    from simharness.fingerprint import request_key
    from simharness.sheets.build.build_list import build_list, build_of
    from simharness.sheets.build.facts import sheet_material
    from simharness.sheets.build.section import Section, as_text
    from simharness.sheets.drawing.dimensioning import with_dimensions
    from simharness.sheets.drawing.feeds import feed_drawing
    from simharness.sheets.drawing.layers import part_drawing
    from simharness.sheets.flat.part import compensated
    from simharness.sheets.pages.dxf import dxf_text
    from simharness.sheets.pages.pdf import FrontMatter, pdf_bytes
    from simharness.sheets.pages.svg import svg_text
    from simharness.sheets.pages.tiles import PAPERS
    from simharness.sheets.pages.title_block import Issue
    from simharness.workshop.form import FORM_SENTENCES, form_rows, form_text

    build = build_of(record, fabrication, cutter)
    flat, view = build.parts, feed_drawing(record)
    sections = build_list(build)
    title = record.title or record.name
    metal = sheet_material(record)
    drawings = tuple(with_dimensions(part_drawing(part, metal), part) for part in flat)
    everything = drawings if view is None else (*drawings, view)
    issue = Issue(title, request_key(record.model_dump(mode="json", exclude_none=True))[:RECORD_DIGITS], date)
    readings = Section("Readings of the finished antenna", FORM_SENTENCES, form_rows(record))
    subtitle = f"Cut sheets and build list of the record {record.name}, {build.how}."
    front = FrontMatter(subtitle, (*sections, readings) if record.slots else sections)
    content: dict[str, str | bytes] = {
        f"{record.name}-{paper}.pdf": pdf_bytes(issue, front, everything, PAPERS[paper])
    }
    for part in flat:
        drawing = part_drawing(compensated(part, cutter), metal, cutter)
        content |= {f"{part.name}.svg": svg_text(drawing), f"{part.name}.dxf": dxf_text(drawing)}
    content["build-list.txt"] = as_text(title, sections)
    if record.slots:
        content["readings.csv"] = form_text(record)
    return Written(_files(Path(folder), content), sections)


def _files(folder: Path, content: dict[str, str | bytes]) -> tuple[Path, ...]:
    """Every file in one step each, in a folder made where needed."""
    from simharness.files import atomic_write_bytes, machine_errors

    with machine_errors(f"make the folder {folder}"):
        folder.mkdir(parents=True, exist_ok=True)
    for name, data in content.items():
        atomic_write_bytes(folder / name, data if isinstance(data, bytes) else data.encode("utf-8"))
    return tuple(folder / name for name in content)
