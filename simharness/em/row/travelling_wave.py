"""Travelling-wave rows of longitudinal slots: each radiates a share of a wave that ends in a matched load.

The slots lie a little more than half a guide wavelength apart on alternate sides, so that their reflections
cancel over the row: those of N equal slots add up to zero where 2 beta d is 2 pi (1 + 1/N). The voltages
then lag by beta d - pi from slot to slot, and the beam is tilted from broadside towards the matched end by
the angle whose sine is (beta d - pi) / (k d).

A resonant shunt slot does not change the phase of the passing wave, so that the required phases are those
of the empty guide. Offsets set the amplitudes, lengths the phases; both are corrected until one solution of
the whole row by `SlotMoment`, all coupling included, has the required voltages.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from simharness.constants import C0, TWO_PI
from simharness.em.guide.rectangular import guide_wavelength, phase_constant
from simharness.em.row.demand import RowDemand
from simharness.em.row.slot_table import SlotTable
from simharness.em.slot.basis import MomentBasis, SlotAperture, SlottedGuide
from simharness.em.slot.moment import SlotMoment
from simharness.errors import InputError, NotConvergedError
from simharness.numerics.fixed_point import AndersonMixing

_QUICK = MomentBasis(orders=(1, 2, 3, 5, 7), modes=(30, 20))
_ROUNDS = 60
_LENGTH_STEP = 0.01
"""Largest change of a length in one round, over the wavelength."""


@dataclass(frozen=True)
class TravellingDemand(RowDemand):
    """Required performance of a travelling-wave row, from the feed to the matched end; see `RowDemand`.

    Attributes
    ----------
    residual_power : float
        Share of the power that the matched end is to absorb.
    """

    residual_power: float = 0.1

    def __post_init__(self) -> None:
        if len(self.weights) < 2 or min(self.weights) <= 0:
            raise InputError(
                "weights",
                self.weights,
                "a travelling wave needs two slots or more, all with a positive voltage",
            )
        if not 0 < self.residual_power < 1:
            raise InputError("left over", self.residual_power, "must lie between 0 and 1")

    @property
    def spacing(self) -> float:
        """Between slot centres, m."""
        return float(guide_wavelength(self.a, self.frequency)) / 2 * (1 + 1 / len(self.weights))

    @property
    def lag(self) -> float:
        """Of the voltages, from slot to slot, rad."""
        return float(phase_constant(self.a, self.frequency)) * self.spacing - np.pi

    @property
    def lean(self) -> float:
        """Angle of the beam from broadside towards the matched end, rad."""
        return float(np.arcsin(self.lag / (TWO_PI * self.frequency / C0 * self.spacing)))


@dataclass(frozen=True)
class TravellingRow:
    """A travelling-wave row and its response at the design frequency.

    Attributes
    ----------
    guide : SlottedGuide
        The first slot at z = 0, matched at both ends.
    voltages : (n,) complex array
        Slot voltages for a wave of 1/2 W, V.
    reflection : complex
        Of TE10 at the first slot.
    residual_power : float
        Power absorbed by the matched end over that absorbed by slots and end.
    """

    guide: SlottedGuide
    voltages: NDArray
    reflection: complex
    residual_power: float

    def misfit(self, demand: TravellingDemand) -> float:
        """Largest deviation of the voltages, over the largest one, or of the residual power."""
        wanted = _wanted(demand)
        scale = np.vdot(wanted, self.voltages) / np.vdot(wanted, wanted)
        off = np.max(np.abs(self.voltages / scale - wanted)) / max(demand.weights)
        return max(float(off), abs(self.residual_power - demand.residual_power))


def travelling_state(
    guide: SlottedGuide, frequency: float, basis: MomentBasis = MomentBasis()
) -> TravellingRow:
    """One exact solution of the whole row at one frequency, Hz."""
    found = SlotMoment(guide, basis).solve(np.array([frequency]))
    s11 = complex(found.s[0, 0, 0])
    return TravellingRow(
        guide, found.slot_voltages()[0, 0], s11, float(abs(found.s[0, 1, 0]) ** 2 / (1 - abs(s11) ** 2))
    )


def designed_travelling_row(
    demand: TravellingDemand,
    basis: MomentBasis = MomentBasis(),
    tolerance: float = 5e-3,
    max_solutions: int = 40,
) -> TravellingRow:
    """Row whose offsets and lengths give the required voltages, phases and residual power.

    Parameters
    ----------
    demand : TravellingDemand
    basis : MomentBasis
        Basis of the final solution; cheaper ones are used before.
    tolerance : float
        Of the voltages over the largest, and of the residual power.
    max_solutions : int
        Largest number of solutions of the whole row.

    Raises
    ------
    InputError
        A slot would have to lie beyond the side wall.
    NotConvergedError
        ``max_solutions`` solutions were not enough.
    """
    weights = np.array(demand.weights)
    # the wave of the empty guide, reduced by the power that the slots take
    taken = np.cumsum(weights**2) / np.sum(weights**2) * (1 - demand.residual_power)
    wave = np.sqrt(1 - np.append(0.0, taken[:-1])) * np.exp(-1j * demand.lag * np.arange(weights.size))
    # last, the radiated share of the power over that of the same slots without coupling
    drive = np.append(wave, 1.0)
    for stage, limit in ((_QUICK, 4 * tolerance), (basis, tolerance)):
        table, memory = (
            SlotTable(demand.a, demand.b, demand.wall, demand.width, demand.frequency, stage),
            AndersonMixing(),
        )
        for _ in range(max_solutions):
            sines, lengths = _answering(demand, table, drive[:-1], drive[-1].real)
            row = travelling_state(_guide(demand, table.distance(sines), lengths), demand.frequency, stage)
            error = row.misfit(demand)
            if error < limit:
                break
            drive = memory.mixed(drive, _found_drive(table, sines, lengths, row))
        else:
            _require_room(demand, table, sines)
            raise NotConvergedError(
                "the slots of the row did not settle; fewer slots or more power left over may", error, limit
            )
    _require_room(demand, table, sines)
    return row


def _wanted(demand: TravellingDemand) -> NDArray:
    """Required voltages, complex, in the unit of the weights."""
    return np.asarray(demand.weights) * np.exp(-1j * demand.lag * np.arange(len(demand.weights)))


def _guide(demand: TravellingDemand, distance: NDArray, lengths: NDArray) -> SlottedGuide:
    side, places = (-1.0) ** np.arange(lengths.size), demand.spacing * np.arange(lengths.size)
    slots = tuple(
        SlotAperture(float(n), demand.width, float(x), float(z))
        for n, x, z in zip(lengths, side * distance, places)
    )
    return SlottedGuide(demand.a, demand.b, demand.wall, slots, far_plane=float(places[-1]))


def _found_drive(table: SlotTable, sines: NDArray, lengths: NDArray, row: TravellingRow) -> NDArray:
    """Drive of every slot of a solved row, and last its radiated share over that without coupling."""
    answer, load = table.response(sines, lengths)
    drive = row.voltages / answer
    return np.append(drive, (1 - row.residual_power) / np.sum((answer * load).real * np.abs(drive) ** 2))


def _answering(
    demand: TravellingDemand, table: SlotTable, drive: NDArray, share: float
) -> tuple[NDArray, NDArray]:
    """Sines of the offsets, and lengths, of slots that have the required voltages for a given drive.

    The drive is the line voltage at which the slot alone would have its voltage in the row: T drive = V.
    The common factor of the required voltages follows: its magnitude from the radiated power, sum Re(R T)
    |drive|^2, its phase from the sum of the susceptances, which must vanish.
    """
    free, shape = C0 / demand.frequency, _wanted(demand) / drive
    power = np.abs(drive) ** 2
    sines, lengths = np.full(power.size, 0.3), np.full(power.size, 0.48 * free)
    answer, load = table.response(sines, lengths)
    factor = np.mean(answer / shape)
    for _ in range(_ROUNDS):
        sines, lengths = _towards(table, sines, lengths, factor * shape, free)
        answer, load = table.response(sines, lengths)
        sent = np.sum(answer * load * power)
        change = np.sqrt((1 - demand.residual_power) / max(share * sent.real, 1e-3)) * np.exp(
            -1j * sent.imag / abs(sent)
        )
        factor *= np.sqrt(change)
        if abs(change - 1) < 1e-6:
            break
    return sines, lengths


def _towards(
    table: SlotTable, sines: NDArray, lengths: NDArray, wanted: NDArray, free: float
) -> tuple[NDArray, NDArray]:
    """One step of Newton's method for log(T / wanted) = 0, limited in length and to the table."""

    def excess(s: NDArray, n: NDArray) -> NDArray:
        return np.log(table.response(s, n)[0] / wanted)

    here, step = excess(sines, lengths), 1e-4
    across = (excess(sines * (1 + step), lengths) - here) / step
    along = (excess(sines, lengths + step * free) - here) / step
    determinant = across.real * along.imag - along.real * across.imag
    growth = -(here.real * along.imag - along.real * here.imag) / determinant
    longer = -(across.real * here.imag - here.real * across.imag) / determinant
    return (
        np.clip(sines * np.exp(np.clip(growth, -0.3, 0.3)), *table.sines),
        np.clip(lengths + free * np.clip(longer, -_LENGTH_STEP, _LENGTH_STEP), *table.lengths),
    )


def _require_room(demand: TravellingDemand, table: SlotTable, sines: NDArray) -> None:
    if sines.max() > 0.999 * table.sines[1]:
        edge = float(table.distance(np.array(table.sines[1]))) * 1e3
        raise InputError(
            "power left over",
            f"{100 * demand.residual_power:g} %",
            f"a slot would have to lie beyond the side wall, {edge:.1f} mm from the centre line; leave more, "
            "or take more slots",
        )
