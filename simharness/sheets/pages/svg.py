"""A drawing as SVG: millimetres, one group for each layer."""

from __future__ import annotations

from collections.abc import Callable
from xml.sax.saxutils import escape, quoteattr

from simharness.sheets.flat.paths import Drawing, Pair, Path, Text, arc

MARGIN = 5.0
"""Margin around the drawing, mm."""
STYLES = {
    "cut": 'stroke="#000000" stroke-width="0.2"',
    "etch": 'stroke="#00735a" stroke-width="0.2"',
    "score": 'stroke="#0047b3" stroke-width="0.2"',
    "drill": 'stroke="#c00000" stroke-width="0.15"',
    "note": 'stroke="#707070" stroke-width="0.15"',
}
CROSS = 1.0
"""Half the length of the cross at a point to be drilled, mm."""


def svg_text(drawing: Drawing) -> str:
    """The drawing as an SVG document; its user unit is the millimetre, v runs upwards on the screen."""
    u0, v0, u1, v1 = (1e3 * x for x in drawing.bounds())
    width, height = u1 - u0 + 2 * MARGIN, v1 - v0 + 2 * MARGIN

    def place(point: Pair) -> Pair:
        """Where a point of the drawing is on the page, mm."""
        return point[0] * 1e3 - u0 + MARGIN, v1 - point[1] * 1e3 + MARGIN

    layers: dict[str, list[str]] = {name: [] for name in STYLES}
    for path in drawing.paths:
        dash = ""
        if path.dashed or path.chained:
            dash = f' stroke-dasharray="{"3 1.5" if path.dashed else "6 1 0.6 1"}"'
        layers[path.layer].append(f'<path d="{_path_data(path, place)}"{dash}/>')
    for mark in drawing.marks:
        x, y = place(mark.at)
        layers["drill"].append(
            f'<path d="M {x - CROSS:.4f} {y:.4f} h {2 * CROSS} M {x:.4f} {y - CROSS:.4f} v {2 * CROSS}"/>'
        )
    layers["note"] += [_text_element(text, place) for text in drawing.texts]
    groups = "\n".join(
        f'<g id="{name}" fill="none" {STYLES[name]}>\n' + "\n".join(items) + "\n</g>"
        for name, items in layers.items()
        if items
    )
    return (
        '<?xml version="1.0" encoding="UTF-8"?>\n'
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.4f}mm" height="{height:.4f}mm" '
        f'viewBox="0 0 {width:.4f} {height:.4f}" role="img" aria-label={quoteattr(drawing.title)}>\n'
        f"<title>{escape(drawing.title)}</title>\n<desc>{escape(' '.join(drawing.caption))}</desc>\n"
        f"{groups}\n</svg>\n"
    )


def _path_data(path: Path, place: Callable[[Pair], Pair]) -> str:
    commands = [f"M {_pair(place(path.points[0]))}"]
    for begin, end, bulge in path.pieces():
        if bulge:
            bow = arc(begin, end, bulge)
            # Upwards on the drawing is downwards in the file: a turn to the left becomes sweep 0.
            large, sweep = int(abs(bulge) > 1), int(bulge < 0)
            commands.append(
                f"A {bow.radius * 1e3:.4f} {bow.radius * 1e3:.4f} 0 {large} {sweep} {_pair(place(end))}"
            )
        else:
            commands.append(f"L {_pair(place(end))}")
    return " ".join(commands) + (" Z" if path.closed else "")


def _pair(point: Pair) -> str:
    return f"{point[0]:.4f} {point[1]:.4f}"


def _text_element(text: Text, place: Callable[[Pair], Pair]) -> str:
    x, y = place(text.at)
    turn = f' transform="rotate(-90 {x:.4f} {y:.4f})"' if text.upward else ""
    return (
        f'<text x="{x:.4f}" y="{y:.4f}" font-family="sans-serif" font-size="{text.height * 1e3:g}" '
        f'text-anchor="{text.anchor}" dominant-baseline="central" fill="#505050" '
        f'stroke="none"{turn}>{escape(text.words)}</text>'
    )
