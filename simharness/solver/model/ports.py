"""How the solver drives and records each kind of port."""

from __future__ import annotations

import math
from typing import Any, Protocol

from simharness.em.guide.round import TE11_ROOT
from simharness.geometry.scene import CoaxPort, GapPort, ModePort, Port, RoundModePort
from simharness.mesh.raster import coax_cells, coax_plane
from simharness.solver.model.properties import ELECTRIC_FIELD, MAGNETIC_FIELD, UNIT, VOLTAGE, Model


class PortModel(Protocol):
    """The questions."""

    absorbs: bool
    """Whether the port takes in a wave of the guide without an echo."""

    def add(self, model: Model, port: Any, number: int) -> None:
        """Add its source, if it has one, and its probes; `number` counts the ports from 1."""


class CoaxPortModel:
    """Source in the gap at the end of the pin, voltage from pin to bore, current around the pin."""

    absorbs = False

    def add(self, model: Model, port: CoaxPort, number: int) -> None:
        """Add source and probes."""
        grid, along = model.request.grid, port.axis
        pin_u, pin_v, bore_u, _ = coax_cells(port, grid)
        (u, _), (v, _) = port.across

        def corner(first: int, second: int, at: int) -> list[int]:
            index = [0, 0, 0]
            index[u], index[v], index[along] = first, second, at
            return index

        end = grid.index(along, port.reference - port.direction * port.length)
        low, high = sorted((end, end + port.direction))
        model.add_source_gap(
            f"port{number}",
            corner(pin_u[0], pin_v[0], low),
            corner(pin_u[1], pin_v[1], high),
            along,
            port.impedance,
            port.drive,
        )
        plane = coax_plane(port, grid)
        inner, outer = (model.corner(corner(first, pin_v[0], plane)) for first in (pin_u[1], bore_u[1]))
        model.add_probe(f"port{number}_voltage", VOLTAGE, inner, outer, weight=1)
        for side, layer in (("a", plane - 1), ("b", plane)):
            model.add_loop(f"port{number}_current_{side}", along, layer, {u: pin_u, v: pin_v}, port.direction)


class GapPortModel:
    """Source in a cut of a post, voltage along one edge of it, current around it."""

    absorbs = False

    def add(self, model: Model, port: GapPort, number: int) -> None:
        """Add source and probes."""
        grid, axis = model.request.grid, port.axis
        half, centre = port.side / 2, (port.x, port.y, port.z)
        spans = {
            i: (grid.index(i, centre[i] - half), grid.index(i, centre[i] + half))
            for i in range(3)
            if i != axis
        }
        ends = spans | {axis: (grid.index(axis, port.low), grid.index(axis, port.high))}
        low, high = ([ends[i][side] for i in range(3)] for side in (0, 1))
        model.add_source_gap(f"port{number}", low, high, axis, port.impedance)
        top = list(low)
        top[axis] = high[axis]
        model.add_probe(f"port{number}_voltage", VOLTAGE, model.corner(low), model.corner(top), weight=-1)
        model.add_loop(f"port{number}_current_a", axis, low[axis], spans, 1)


class ModePortModel:
    """Source of TE10, and the field of the mode at one crossing of mesh lines half-way up near the middle.

    One crossing, because the solver's own mode integral weights E and H differently on graded lines
    and takes averages with the inside of the metal along walls: 2 % between them was seen.
    """

    absorbs = True

    def add(self, model: Model, port: ModePort, number: int) -> None:
        """Add source and probes."""
        grid = model.request.grid
        low = model.near(port.x_centre - port.half_width, port.y_low, port.plane)
        high = model.near(port.x_centre + port.half_width, port.y_low + port.b, port.plane)
        point = model.near(port.x_centre, port.y_low + port.b / 2, port.plane)
        # E_y and H_x of cell i, j, k stand on line i, half a cell above line j; H_x half a cell above k too.
        at = model.corner(point)
        weight = 1 / port.field(at[0] * UNIT, model.middle(1, point[1]) * UNIT)
        model.add_probe(f"port{number}_voltage", ELECTRIC_FIELD, at, at, weight=weight)
        for side, layer in (("a", point[2] - 1), ("b", point[2])):
            # the solver wants cell centres
            beside = [model.middle(axis, index) for axis, index in enumerate((*point[:2], layer))]
            model.add_probe(
                f"port{number}_current_{side}",
                MAGNETIC_FIELD,
                beside,
                beside,
                weight=-port.direction * weight,
            )
        if port.source is None:
            return
        low[2] = high[2] = grid.index(2, port.source)
        source = model.add("source", f"port{number} source", exc_type=0, exc_val=[1, 1, 0])
        source.weights = [*self.source_weights(port), "0"]
        source.add_box(model.corner(low), model.corner(high), 5)

    def source_weights(self, port: ModePort) -> tuple[str, str]:
        """E_x and E_y of the source as functions of x and y in drawing units."""
        return "0", f"cos({math.pi / (port.a / UNIT):.15g}*{_offset('x', port.x_centre)})"


class RoundModePortModel(ModePortModel):
    """The same for TE11 of a round tube."""

    def source_weights(self, port: RoundModePort) -> tuple[str, str]:  # type: ignore[override]
        """The first terms of TE11 about the axis: the rest is evanescent modes, which die out before the
        plane."""
        x, y = _offset("x", port.x_centre), _offset("y", port.y_low + port.b / 2)
        square = (2 * TE11_ROOT / (port.b / UNIT)) ** 2 / 4
        wave = f"(1-{square:.15g}*({x}^2+{y}^2))"
        return f"{math.sin(port.turn):.15g}*{wave}", f"{math.cos(port.turn):.15g}*{wave}"


_MODELS: dict[type, PortModel] = {
    CoaxPort: CoaxPortModel(),
    GapPort: GapPortModel(),
    ModePort: ModePortModel(),
    RoundModePort: RoundModePortModel(),
}


def model_port(port: Port) -> PortModel:
    """What the solver does for a port."""
    return _MODELS[type(port)]


def _offset(name: str, centre: float) -> str:
    """Distance from a centre (m) as an expression in drawing units."""
    return f"({name}-({centre / UNIT:.15g}))"
