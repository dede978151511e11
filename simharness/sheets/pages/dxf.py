"""A drawing as DXF: millimetres, one layer for each purpose, true arcs."""

from __future__ import annotations

import io

import ezdxf
from ezdxf import units
from ezdxf.enums import TextEntityAlignment
from ezdxf.layouts import Modelspace

from simharness.sheets.flat.paths import Drawing, Pair, Path, Text

LAYERS = {"cut": 7, "etch": 3, "score": 5, "drill": 1, "note": 8}
"""Layers (upper case in the file) and their DXF colour number: white or black, green, blue, red, grey."""


def dxf_text(drawing: Drawing) -> str:
    """The drawing as a DXF document (R2010), units of mm, the coordinates of the part.

    Closed contours are polylines or circles on CUT, those of openings in copper alone on ETCH; bends are on
    SCORE, points to punch on DRILL, all else on NOTE.
    """
    document = ezdxf.new("R2010", setup=["linetypes"])
    document.units = units.MM
    for name, colour in LAYERS.items():
        document.layers.add(name.upper(), color=colour)
    space = document.modelspace()
    for path in drawing.paths:
        _add_path(space, path)
    for mark in drawing.marks:
        space.add_point(_mm(mark.at), dxfattribs={"layer": "DRILL"})
    for text in drawing.texts:
        _add_text(space, text)
    u0, _, _, v1 = drawing.bounds()
    for i, line in enumerate((drawing.title, *drawing.caption)):
        above = v1 + 6e-3 * (len(drawing.caption) + 1 - i)
        _add_text(space, Text((u0, above), line, anchor="start"))
    stream = io.StringIO()
    document.write(stream)
    return stream.getvalue()


def _mm(point: Pair) -> tuple[float, float]:
    return point[0] * 1e3, point[1] * 1e3


def _add_path(space: Modelspace, path: Path) -> None:
    attributes = {"layer": path.layer.upper()}
    if path.dashed or path.chained:
        attributes["linetype"] = "DASHED" if path.dashed else "CENTER"
    whole = path.circle()
    if whole is not None:
        space.add_circle(_mm(whole.centre), whole.radius * 1e3, dxfattribs=attributes)
    elif not path.closed and not path.bulges and len(path.points) == 2:
        start, end = map(_mm, path.points)
        space.add_line(start, end, dxfattribs=attributes)
    else:
        bulges = path.bulges or (0.0,) * len(path.points)
        vertices = [(*_mm(point), bulge) for point, bulge in zip(path.points, bulges)]
        space.add_lwpolyline(vertices, format="xyb", close=path.closed, dxfattribs=attributes)


def _add_text(space: Modelspace, text: Text) -> None:
    align = {
        "start": TextEntityAlignment.MIDDLE_LEFT,
        "middle": TextEntityAlignment.MIDDLE_CENTER,
        "end": TextEntityAlignment.MIDDLE_RIGHT,
    }
    entity = space.add_text(
        text.words, height=text.height * 1e3, rotation=90 if text.upward else 0, dxfattribs={"layer": "NOTE"}
    )
    entity.set_placement(_mm(text.at), align=align[text.anchor])
