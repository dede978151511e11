"""Standing-wave rows of longitudinal slots with required voltages, all coupling included.

The slots lie half a guide wavelength apart on alternate sides, the last one an odd
quarter of a guide wavelength before the far short. Then the line voltage v of TE10 is
the same at every slot but for its sign, and the row loads the guide with the sum of
the active admittances y_n. Alone in a matched guide, a slot of offset x and length L
answers to v with the aperture voltage T(x, L) v and loads the guide with y = R(x, L) T
(`simharness.em.row.slot_table`). In the row the other slots drive it too, inside and outside:

    V_n = T(x_n, L_n) v (1 - C_n / sin(pi x_n / a)),   sum_n y_n = sum_n R(x_n, L_n) V_n / v.

C_n follows from one solution of the whole row by `SlotMoment` and changes slowly with the design, so that
it is held while offsets and lengths are solved for; this is repeated until the whole row has the required
voltages. With walls of equal thickness and offsets that are equal, or opposite, both slots of a pair in
front and back wall have the same voltage except for its sign: one unknown slot stands for both. This is the
idea of Elliott's two design equations (R. S. Elliott, IEEE Trans. AP-31 (1983) 264-271, from memory) with
the moment method in place of the one-mode slot, so that it ends at the exact solution of the model,
whatever the quality of T and R on the way.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simharness.em.guide.rectangular import guide_wavelength
from simharness.em.row.demand import RowDemand
from simharness.em.row.slot_table import SlotTable
from simharness.em.signals.impedance import normalized_admittance
from simharness.em.slot.basis import MomentBasis, SlotAperture, SlottedGuide
from simharness.em.slot.faces import with_opposite_slots
from simharness.em.slot.moment import SlotMoment, SlotResponse
from simharness.em.slot.superstrate import Superstrate
from simharness.errors import InputError, NotConvergedError
from simharness.numerics.fixed_point import AndersonMixing

_PATIENCE = 8
"""Consecutive rounds with a slot at the limit of the table, after which the search ends."""
_QUICK = MomentBasis(orders=(1, 2, 3, 5, 7), modes=(30, 20))
"""A third of the work, resonant lengths within 0.35 %: sufficient for the first rounds."""


@dataclass(frozen=True)
class StandingDemand(RowDemand):
    """Required performance of a standing-wave row, from the feed to the far short; see `RowDemand`.

    Attributes
    ----------
    conductance : float
        Required load of the whole row on the guide, normalised to TE10.
    far_quarters : int
        Distance of the last slot from the far short in quarters of a guide wavelength, odd.
    opposite : int
        Offset of the opposite slot in the back wall over that of the slot in front: 1 or -1; 0 for none.
    superstrate : Superstrate or None
        Dielectric on the outside of the slotted wall.
    diameter : float or None
        Inner diameter of the round guide that this one stands for, m; it has no opposite slots.
    """

    conductance: float = 1.0
    far_quarters: int = 1
    opposite: int = 0
    superstrate: Superstrate | None = None
    diameter: float | None = None

    def __post_init__(self) -> None:
        super().__post_init__()
        if self.conductance <= 0:
            raise InputError("load", self.conductance, "must be positive")
        if self.far_quarters < 1 or self.far_quarters % 2 == 0:
            raise InputError("far_quarters", self.far_quarters, "must be odd")


@dataclass(frozen=True)
class RowState:
    """A row of slots and its response at the design frequency.

    Attributes
    ----------
    guide : SlottedGuide
        The first slot at z = 0, matched below it, shorted beyond the last slot.
    voltages : (n,) complex array
        Voltages of the slots in the front over the line voltage at the first slot; 1 V of line voltage is
        that of a wave of 1/2 W.
    admittance : complex
        Load of the row on the guide at the first slot, normalised.
    rounds : int
        Number of solutions of the whole row that led to it.
    """

    guide: SlottedGuide
    voltages: NDArray
    admittance: complex
    rounds: int = 1

    def misfit(self, weights: NDArray) -> float:
        """Largest deviation of the voltages from the required ones, over the largest required one."""
        wanted = np.asarray(weights, dtype=float) / np.max(weights)
        scale = np.vdot(wanted, self.voltages) / np.vdot(wanted, wanted)
        return float(np.max(np.abs(self.voltages / scale - wanted)))


def row_guide(
    demand: StandingDemand,
    offsets: NDArray,
    lengths: NDArray,
    spacing: float | None = None,
    far_gap: float | None = None,
) -> SlottedGuide:
    """Guide with the slots of a row, the first at z = 0.

    Parameters
    ----------
    demand : StandingDemand
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
    demand: StandingDemand,
    basis: MomentBasis = MomentBasis(),
    tolerance: float = 2e-4,
    max_solutions: int = 50,
) -> RowState:
    """Row whose offsets and lengths give the required voltages, in phase, and the required load.

    Parameters
    ----------
    demand : StandingDemand
    basis : MomentBasis
        Basis of the final solution; cheaper ones are used before.
    tolerance : float
        Of the voltages, over the largest, and of the load, over the required one.
    max_solutions : int
        Largest number of solutions of the whole row.

    Returns
    -------
    RowState
        Offsets of the front positive for the first slot, then alternating.

    Raises
    ------
    InputError
        A slot would have to lie beyond the side wall or next to the centre line, or no length will do.
    NotConvergedError
        ``max_solutions`` solutions were not enough.
    """
    # C of every slot, and last the load of the row over the sum of the loads of its slots
    unknown = np.append(np.zeros(len(demand.weights)), 1.0).astype(complex)
    rounds = 0
    if len(demand.weights) > 1:
        unknown, state = _settled(demand, _QUICK, unknown, 10 * tolerance, 0, max_solutions)
        rounds = state.rounds
    return _settled(demand, basis, unknown, tolerance, rounds, max_solutions)[1]


def _settled(
    demand: StandingDemand,
    basis: MomentBasis,
    unknown: NDArray,
    limit: float,
    rounds: int,
    max_solutions: int,
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
    memory = AndersonMixing()
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
        if rounds >= max_solutions:
            raise NotConvergedError(
                "the slots of the row did not settle; fewer slots or a smaller load may", error, limit
            )
        answer, load = table.response(sines, lengths)
        found = np.append(
            sines * (1 - state.voltages / answer), state.admittance / np.sum(load * state.voltages)
        )
        unknown = memory.mixed(unknown, found)


def _problem(demand: StandingDemand, table: SlotTable, sines: NDArray, lengths: NDArray) -> InputError | None:
    """The requirement that cannot be met because a slot is at the limit of the table; None if none is."""
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
