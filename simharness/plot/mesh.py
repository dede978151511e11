"""Mesh lines over the front wall and over cross-sections."""

from __future__ import annotations

import numpy as np
from matplotlib.axes import Axes
from matplotlib.collections import LineCollection, PatchCollection
from matplotlib.figure import Figure
from matplotlib.patches import PathPatch, Rectangle
from matplotlib.path import Path
from numpy.typing import NDArray
from shapely.geometry import LineString, Polygon

from simharness.geometry.scene import CoaxPort, Port, Scene
from simharness.geometry.solids import Prism, TubePart
from simharness.mesh.grid import Grid
from simharness.plot import style, titles

MM = 1e3


def section_rectangles(prism: Prism, z: float) -> list[tuple[float, float, float, float]]:
    """What a plane of constant z meets of a prism: x low, x high, y low, y high, m.

    Exact for prisms along y, and for boxes along x and z; other prisms along z are drawn as they are (`_ring`).
    """
    x0, x1, y0, y1, z0, z1 = prism.bounds()
    if not z0 <= z <= z1:
        return []
    if prism.axis != 1:
        return [(x0, x1, y0, y1)]
    met = prism.outline.polygon().intersection(LineString([(x0 - 1, z), (x1 + 1, z)]))
    parts = [part for part in getattr(met, "geoms", [met]) if part.length > 0]
    return [(part.bounds[0], part.bounds[2], prism.low, prism.high) for part in parts]


def _lines(axes: Axes, along: NDArray, up: NDArray) -> None:
    """Mesh lines in mm."""
    u, v = along * MM, up * MM
    segments = [[(x, v[0]), (x, v[-1])] for x in u] + [[(u[0], y), (u[-1], y)] for y in v]
    axes.add_collection(LineCollection(segments, colors=style.SOLVER, linewidths=0.45, alpha=0.75, zorder=3))


def _wall(polygon: Polygon) -> PathPatch:
    """Patch of a wall with openings, z to the right and x up, mm."""
    rings = [polygon.exterior, *polygon.interiors]
    paths = [Path(np.array(ring.coords)[:, ::-1] * MM, closed=True) for ring in rings]
    return PathPatch(
        Path.make_compound_path(*paths), facecolor=style.METAL, edgecolor=style.INK, linewidth=1.0, zorder=2
    )


def _ring(polygon: Polygon) -> PathPatch:
    """Patch of a round part in a section, x to the right and y up, mm."""
    paths = [Path(np.array(ring.coords) * MM, closed=True) for ring in (polygon.exterior, *polygon.interiors)]
    return PathPatch(
        Path.make_compound_path(*paths), facecolor=style.METAL, edgecolor=style.INK, linewidth=0.8, zorder=2
    )


def _tube_from_the_front(axes: Axes, scene: Scene) -> None:
    """Outline of a round tube with its slots as they are seen from the front, mm."""
    x0, x1, _, _, z0, z1 = scene.bounds()
    axes.add_patch(
        Rectangle(
            (z0 * MM, x0 * MM),
            (z1 - z0) * MM,
            (x1 - x0) * MM,
            facecolor=style.METAL,
            edgecolor=style.INK,
            zorder=2,
        )
    )
    for s in scene.slots:
        axes.add_patch(
            Rectangle(
                ((s.z - s.length / 2) * MM, (s.x - s.width / 2) * MM),
                s.length * MM,
                s.width * MM,
                facecolor="white",
                edgecolor=style.INK,
                zorder=2,
            )
        )


def _draw_front(axes: Axes, scene: Scene, grid: Grid) -> None:
    if scene.bore:
        _tube_from_the_front(axes, scene)
    back = [slot for slot in scene.slots if slot.face == "back"]
    for prism in scene.prisms:
        if prism.part == "front wall":
            axes.add_patch(_wall(prism.outline.polygon()))
    for slot in back:
        corner = ((slot.z - slot.length / 2) * MM, (slot.x - slot.width / 2) * MM)
        axes.add_patch(
            Rectangle(
                corner,
                slot.length * MM,
                slot.width * MM,
                fill=False,
                edgecolor=style.INK,
                linestyle="--",
                zorder=2,
            )
        )
    _lines(axes, grid.z, grid.x)
    x0, x1, _, _, z0, z1 = scene.bounds()
    pad = 0.25 * (x1 - x0)
    axes.set(
        xlim=((z0 - pad) * MM, (z1 + pad) * MM),
        ylim=((x0 - pad) * MM, (x1 + pad) * MM),
        aspect="equal",
        xlabel="z in mm",
        ylabel="x in mm",
    )
    title = "Front of the tube" if scene.bore else "Front wall"
    axes.set_title(
        title + ("; broken lines: slots in the back wall" if back else ""), loc="left", weight="bold"
    )
    axes.grid(False)


def _draw_section(axes: Axes, scene: Scene, grid: Grid, z: float, title: str) -> None:
    for prism in scene.prisms:
        colour = style.METAL if prism.material.metal else "#F3E2C7"
        if isinstance(prism, TubePart):
            if prism.low <= z <= prism.high:
                axes.add_patch(_ring(prism.outline.polygon()))
            continue
        boxes = [
            Rectangle((x0 * MM, y0 * MM), (x1 - x0) * MM, (y1 - y0) * MM)
            for x0, x1, y0, y1 in section_rectangles(prism, z)
        ]
        axes.add_collection(
            PatchCollection(boxes, facecolors=colour, edgecolors=style.INK, linewidths=0.8, zorder=2)
        )
    _lines(axes, grid.x, grid.y)
    x0, x1, y0, y1, _, _ = scene.bounds()
    pad = 0.12 * (x1 - x0)
    axes.set(
        xlim=((x0 - pad) * MM, (x1 + pad) * MM),
        ylim=((y0 - pad) * MM, (y1 + pad) * MM),
        aspect="equal",
        xlabel="x in mm",
        ylabel="y in mm",
    )
    axes.set_title(f"{title}, z = {z * MM:.1f} mm", loc="left", weight="bold")
    axes.grid(False)


def _sections(scene: Scene) -> list[tuple[float, str]]:
    """Where to cut: through the feed and the first slot, or in the middle."""
    places = [(_feed_place(port), "Section at the feed") for port in scene.ports[:1]]
    places += [(slot.z, "Section at slot 1") for slot in scene.slots[:1]]
    z0, z1 = scene.bounds()[4:]
    return [(z, title) for z, title in places if z is not None] or [((z0 + z1) / 2, "Section")]


def _feed_place(port: Port) -> float | None:
    """Where to look across the feed, m: a coax along the guide is cut in its line."""
    if isinstance(port, CoaxPort) and port.axis == 2:
        return port.reference
    return getattr(port, "z", None)


def mesh_figure(scene: Scene, grid: Grid) -> Figure:
    """Front wall, and sections through the port and through the first slot."""
    x0, x1, y0, y1, z0, z1 = scene.bounds()
    wall = 9.3 * min(max(1.5 * (x1 - x0) / (z1 - z0 + 0.5 * (x1 - x0)), 0.12), 0.6)
    section = 4.3 * min((y1 - y0 + 0.24 * (x1 - x0)) / (1.24 * (x1 - x0)), 1.3)
    high = wall + section + 3.75
    figure = titles.titled_sheet(
        10.6,
        high,
        scene.name,
        f"Mesh: {len(grid.x) - 1} × {len(grid.y) - 1} × {len(grid.z) - 1} = {grid.cells:,} cells, "
        f"time step {grid.time_step * 1e12:.3f} ps, neighbouring cells at most 1 : {grid.largest_ratio:.2f}",
        note=f"largest move of an edge onto a line: {grid.moved * MM:.3f} mm"
        + (f" ({grid.moved_kind})" if grid.moved > 0 else "")
        + "; air and absorber go on outside the views",
    )
    _draw_front(figure.add_axes(style.inches(figure, 0.95, section + 2.45, 9.3, wall)), scene, grid)
    for number, (z, title) in enumerate(_sections(scene)):
        axes = figure.add_axes(style.inches(figure, 0.95 + 5.0 * number, 1.0, 4.3, section))
        _draw_section(axes, scene, grid, z, title)
        if number:
            axes.set_ylabel("")
    return figure
