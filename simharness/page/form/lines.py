"""Lines of the small sketches beside the fields: walls, wires, dimensions, on a sheet of 160 x 100."""

from __future__ import annotations

from html import escape

WIDTH, HEIGHT = 160, 100

_ACCENT = "var(--link, currentColor)"
_TICK = 4.0


def sheet(title: str, *parts: str) -> str:
    """A whole sketch as SVG, in the colour of the text around it.

    Examples
    --------
    >>> sheet("inner width", wall(0, 0, 10, 5))[:60]
    '<svg viewBox="0 0 160 100" role="img" fill="none" stroke="cu'
    """
    return (
        f'<svg viewBox="0 0 {WIDTH} {HEIGHT}" role="img" fill="none" stroke="currentColor" stroke-width="1" '
        f'xmlns="http://www.w3.org/2000/svg"><title>{escape(title)}</title>{"".join(parts)}</svg>'
    )


def wall(x: float, y: float, width: float, height: float, marked: bool = False) -> str:
    """A piece of metal, cut through; marked where it is what the field is about."""
    return rectangle(x, y, width, height, _mark(marked, 0.2))


def dielectric(x: float, y: float, width: float, height: float, marked: bool = False) -> str:
    """A piece of dielectric, cut through."""
    return rectangle(x, y, width, height, _mark(marked, 0.07))


def rectangle(x: float, y: float, width: float, height: float, style: str = "", radius: float = 0) -> str:
    """A rectangle from its upper left corner."""
    rounded = f' rx="{radius:g}"' if radius else ""
    return f'<rect x="{x:g}" y="{y:g}" width="{width:g}" height="{height:g}"{rounded}{style}/>'


def circle(x: float, y: float, radius: float, style: str = "") -> str:
    """A circle about its centre."""
    return f'<circle cx="{x:g}" cy="{y:g}" r="{radius:g}"{style}/>'


def path(data: str, style: str = "") -> str:
    """A path by its SVG data."""
    return f'<path d="{data}"{style}/>'


def slot(x: float, y: float, length: float, width: float, marked: bool = False, dashed: bool = False) -> str:
    """A slot with round ends about its centre; dashed where it lies behind."""
    style = _mark(True, 0.2) if marked else ""
    if dashed:
        style += ' stroke-dasharray="3 2"'
    return rectangle(x - length / 2, y - width / 2, length, width, style, width / 2)


def wire(*points: tuple[float, float]) -> str:
    """A wire through its points."""
    joined = " L".join(f"{x:g} {y:g}" for x, y in points)
    return path(f"M{joined}", ' stroke-width="3"')


def thin(x1: float, y1: float, x2: float, y2: float) -> str:
    """A centre line or a line that leads to a dimension."""
    return path(f"M{x1:g} {y1:g} L{x2:g} {y2:g}", ' stroke-width="0.7" stroke-dasharray="6 2 1 2"')


def dimension(x1: float, y1: float, x2: float, y2: float) -> str:
    """The one dimension that the field is about, along x or along y."""
    across = (0.0, _TICK) if y1 == y2 else (_TICK, 0.0)
    ends = "".join(
        f" M{x - across[0]:g} {y - across[1]:g} L{x + across[0]:g} {y + across[1]:g}"
        for x, y in ((x1, y1), (x2, y2))
    )
    return path(f"M{x1:g} {y1:g} L{x2:g} {y2:g}{ends}", f' stroke="{_ACCENT}" stroke-width="2.5"')


def _mark(marked: bool, strength: float) -> str:
    if marked:
        return f' fill="{_ACCENT}" fill-opacity="0.55" stroke="{_ACCENT}"'
    return f' fill="currentColor" fill-opacity="{strength:g}"'
