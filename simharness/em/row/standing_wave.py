"""Standing-wave rows of longitudinal slots with wanted voltages, all coupling included.

The slots lie half a guide wavelength apart on alternate sides, the last one an odd
quarter of a guide wavelength before the far short. Then the line voltage v of TE10 is
the same at every slot but for its sign, and the row loads the guide with the sum of
the active admittances y_n. Alone in a matched guide, a slot of offset x and length L
answers to v with the aperture voltage T(x, L) v and loads the guide with y = R(x, L) T
(`simharness.em.row.slot_table`). In the row the other slots drive it too, inside and outside:

    V_n = T(x_n, L_n) v (1 - C_n / sin(pi x_n / a)),   sum_n y_n = sum_n R(x_n, L_n) V_n / v.

C_n follows from one solution of the whole row by `SlotMoment` and changes slowly with
the design, so it is held while offsets and lengths are solved for; that is repeated
until the whole row has the wanted voltages. Walls of equal thickness and offsets that are equal, or opposite, give
both slots of a pair in front and back the same voltage, but for its sign: one unknown slot stands for both. This is the idea of Elliott's two design
equations (R. S. Elliott, IEEE Trans. AP-31 (1983) 264-271, from memory) with the moment
method in place of the one-mode slot, so that it ends at the exact solution of the
model, whatever the quality of T and R in between.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simharness.em.guide.rectangular import guide_wavelength
from simharness.em.row.slot_table import SlotTable
from simharness.em.signals.impedance import normalized_admittance
from simharness.em.slot.basis import MomentBasis, SlotAperture, SlottedGuide
from simharness.em.slot.faces import with_opposite_slots
from simharness.em.slot.moment import SlotMoment, SlotResponse
from simharness.em.slot.superstrate import Superstrate
from simharness.errors import InputError, NotConvergedError

_PATIENCE = 8
"""Rounds in a row with a slot at the edge of what can be made, before the row is given up."""
_QUICK = MomentBasis(orders=(1, 2, 3, 5, 7), modes=(30, 20))
"""A third of the work, resonant lengths within 0.35 %: good enough for the coupling to begin with."""


@dataclass(frozen=True)
class RowDemand:
    """What a row of slots is to do; lengths in m.

    Attributes
    ----------
    a, b, wall, width : float
        Inner size of the guide, thickness of the slotted wall, width of the slots.
    frequency : float
        Hz.
    weights : tuple of float
        Wanted slot voltages from the feed to the far short, positive, in any unit.
    conductance : float
        Wanted load of the whole row on the guide, normalised to TE10.
    far_quarters : int
        Distance of the last slot from the far short in quarters of a guide wavelength, odd.
    opposite : int
        Offset of a like slot in the back wall over that of each slot in the front: 1 or -1; 0 for no such slots.
    superstrate : Superstrate or None
        Dielectric on the outside of the slotted wall.
    diameter : float or None
        Of the round guide that this one stands for; no opposite slots then.
    """

    a: float
    b: float
    wall: float
    width: float
    frequency: float
    weights: tuple[float, ...]
    conductance: float = 1.0
    far_quarters: int = 1
    opposite: int = 0
    superstrate: Superstrate | None = None
    diameter: float | None = None

    def __post_init__(self):
        if not self.weights or min(self.weights) <= 0:
            raise InputError("weights", self.weights, "every slot needs a positive voltage")
        if self.conductance <= 0:
            raise InputError("load", self.conductance, "must be positive")
        if self.far_quarters < 1 or self.far_quarters % 2 == 0:
            raise InputError("far_quarters", self.far_quarters, "must be odd")


@dataclass(frozen=True)
class RowState:
    """A row of slots and how it answers at the design frequency.

    Attributes
    ----------
    guide : SlottedGuide
        The first slot at z = 0, matched below it, shorted beyond the last slot.
    voltages : (n,) complex array
        Voltages of the slots in the front over the line voltage at the first slot, V for 1 V of a wave of 1/2 W.
    admittance : complex
        Load of the row on the guide at the first slot, normalised.
    rounds : int
        Solutions of the whole row behind it.
    """

    guide: SlottedGuide
    voltages: NDArray
    admittance: complex
    rounds: int = 1

    def misfit(self, weights: NDArray) -> float:
        """Largest departure of the voltages from the wanted ones, over the largest wanted one."""
        wanted = np.asarray(weights, dtype=float) / np.max(weights)
        scale = np.vdot(wanted, self.voltages) / np.vdot(wanted, wanted)
        return float(np.max(np.abs(self.voltages / scale - wanted)))


def row_guide(
    demand: RowDemand,
    offsets: NDArray,
    lengths: NDArray,
    spacing: float | None = None,
    far_gap: float | None = None,
) -> SlottedGuide:
    """The guide with its slots, the first at z = 0.

    Parameters
    ----------
    offsets, lengths : (n,) arrays
        m; the offsets carry their sign.
    spacing, far_gap : float, optional
        Between slot centres and from the last one to the short, m; by default those of the demand.
    """
    wave = float(guide_wavelength(demand.a, demand.frequency))
    spacing = wave / 2 if spacing is None else spacing
    far_gap = demand.far_quarters * wave / 4 if far_gap is None else far_gap
    front = [
        SlotAperture(float(length), demand.width, float(x), i * spacing)
        for i, (x, length) in enumerate(zip(offsets, lengths))
    ]
    slots = with_opposite_slots(front, demand.opposite)
    return SlottedGuide(
        demand.a,
        demand.b,
        demand.wall,
        slots,
        far_short=slots[-1].position + far_gap,
        superstrate=demand.superstrate,
        diameter=demand.diameter,
    )


def front_voltages(guide: SlottedGuide, response: SlotResponse) -> NDArray:
    """Voltages of the slots in the front for a wave into the first port, shape (F, n), V."""
    return response.slot_voltages()[:, 0, [slot.face == "front" for slot in guide.slots]]


def row_state(
    guide: SlottedGuide, frequency: float, basis: MomentBasis = MomentBasis(), rounds: int = 1
) -> RowState:
    """One exact solution of the whole row at one frequency, Hz."""
    found = SlotMoment(guide, basis).solve(np.array([frequency]))
    s11 = complex(found.s[0, 0, 0])
    return RowState(guide, front_voltages(guide, found)[0] / (1 + s11), normalized_admittance(s11), rounds)


def designed_row(
    demand: RowDemand, basis: MomentBasis = MomentBasis(), tolerance: float = 2e-4, most: int = 50
) -> RowState:
    """Offsets and lengths that give a row the wanted voltages, in phase, and the wanted load.

    Parameters
    ----------
    demand : RowDemand
    basis : MomentBasis
        Of the solution that has the last word; cheaper ones come before.
    tolerance : float
        Of the voltages, over the largest, and of the load, over the wanted one.
    most : int
        Solutions of the whole row before it gives up.

    Returns
    -------
    RowState
        Offsets of the front positive for the first slot, then alternating.

    Raises
    ------
    InputError
        A slot would have to lie beyond the side wall or next to the centre line, or no length will do.
    NotConvergedError
        ``most`` solutions were not enough.
    """
    # C of every slot, and last the load of the row over the sum of those of its slots
    unknown = np.append(np.zeros(len(demand.weights)), 1.0).astype(complex)
    rounds = 0
    if len(demand.weights) > 1:
        unknown, state = _settled(demand, _QUICK, unknown, 10 * tolerance, 0, most)
        rounds = state.rounds
    return _settled(demand, basis, unknown, tolerance, rounds, most)[1]


def _settled(
    demand: RowDemand,
    basis: MomentBasis,
    unknown: NDArray,
    limit: float,
    rounds: int,
    most: int,
) -> tuple[NDArray, RowState]:
    """Coupling and state of the row once its voltages and load are within the limit."""
    table = SlotTable(
        demand.a,
        demand.b,
        demand.wall,
        demand.width,
        demand.frequency,
        basis,
        opposite=demand.opposite,
        superstrate=demand.superstrate,
        diameter=demand.diameter,
    )
    memory = Mixing()
    weights = np.array(demand.weights)
    side, beyond = (-1.0) ** np.arange(weights.size), 0
    while True:
        sines, lengths = table.slots(weights, demand.conductance, unknown[:-1], unknown[-1])
        problem = _problem(demand, table, sines, lengths)
        beyond = beyond + 1 if problem else 0
        if problem and beyond == _PATIENCE:
            raise problem
        rounds += 1
        state = row_state(
            row_guide(demand, side * table.distance(sines), lengths), demand.frequency, basis, rounds
        )
        error = max(state.misfit(weights), abs(state.admittance / demand.conductance - 1))
        if error < limit:
            return unknown, state
        if rounds >= most:
            raise NotConvergedError(
                "the slots of the row did not settle; fewer slots or a smaller load may", error, limit
            )
        answer, load = table.response(sines, lengths)
        found = np.append(
            sines * (1 - state.voltages / answer), state.admittance / np.sum(load * state.voltages)
        )
        unknown = memory.mixed(unknown, found)


def _problem(demand: RowDemand, table: SlotTable, sines: NDArray, lengths: NDArray) -> InputError | None:
    """What stands at the edge of what can be made, and so is not what was asked for."""
    near, load = 1e-6, f"{demand.conductance:g}"
    least, edge = (float(table.distance(np.array(s))) * 1e3 for s in table.sines)
    if sines.max() > table.sines[1] - near:
        limit = (
            f"the side wall, {edge:.1f} mm from the centre line"
            if demand.diameter is None
            else "the front of the tube"
        )
        return InputError(
            "load", load, f"a slot would have to lie beyond {limit}; lower it, or take more slots"
        )
    if sines.min() < table.sines[0] + near:
        return InputError(
            "load",
            load,
            f"a slot would lie within {least:.2f} mm of the centre line; raise it, or take fewer slots",
        )
    if lengths.min() < table.lengths[0] * (1 + near) or lengths.max() > table.lengths[1] * (1 - near):
        return InputError(
            "slot width",
            f"{demand.width * 1e3:g} mm",
            "no slot this wide resonates near half a wavelength here",
        )
    return None


class Mixing:
    """Fixed-point iteration with memory, for rows whose slots act strongly on each other.

    The next point is that combination of the last ones whose residuals cancel best (D. G. Anderson,
    J. ACM 12 (1965) 547-560, from memory).
    """

    def __init__(self, depth: int = 8):
        self.depth, self.points, self.residuals = depth, [], []

    def mixed(self, point: NDArray, image: NDArray) -> NDArray:
        """The point after this one, whose image under the fixed-point map is given."""
        self.points = [*self.points[-self.depth :], point]
        self.residuals = [*self.residuals[-self.depth :], image - point]
        if len(self.points) == 1:
            return image
        steps, changes = np.diff(self.points, axis=0).T, np.diff(self.residuals, axis=0).T
        last = self.residuals[-1]
        real = np.concatenate([changes.real, changes.imag])
        # the residuals of nearly settled rounds differ by rounding only: leave out what that makes
        part = np.linalg.lstsq(real, np.concatenate([last.real, last.imag]), rcond=1e-6)[0]
        return image - (steps + changes) @ part
