"""Lengths, resonances and conductances of a record that both its figures and its warnings are made of."""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import newton

from simharness.constants import C0
from simharness.em.guide.rectangular import guide_wavelength as line_wavelength
from simharness.em.slot import single
from simharness.em.slot.basis import SlotAperture
from simharness.em.slot.one_term import (
    SlotShape,
    resonant_frequency,
    shunt_admittance,
    stevenson_conductance,
)
from simharness.errors import InputError
from simharness.estimate import model_inputs
from simharness.estimate.shapes import shape_inputs
from simharness.records import Cover, Record, Slot


def free_wavelength(record: Record) -> float:
    """In free space at the design frequency, m."""
    return C0 / record.band.centre


def guide_wavelength(record: Record) -> float:
    """At the design frequency, m."""
    return float(line_wavelength(record.guide.line[0], record.band.centre))


def rows(record: Record) -> list[list[Slot]]:
    """The slots of each broad wall that has any, in order along the guide."""
    found = ([slot for slot in record.open_slots if slot.face == face] for face in ("front", "back"))
    return [row for row in found if row]


def gaps(slots: Sequence[Slot]) -> list[float]:
    """Distances between the centres of neighbours in one wall, m."""
    places = [slot.position for slot in slots]
    return [q - p for p, q in pairwise(places)]


def last_gap(record: Record, slots: Sequence[Slot]) -> float:
    """From the centre of the last slot to the far end, or to the plate inside it, m."""
    return record.guide.far_face - slots[-1].position


def conductances(record: Record) -> NDArray:
    """Stevenson's conductance (n,) of every slot, as if resonant, at the design frequency; normalised."""
    offsets = np.array([shape.offset for shape in model_inputs.slot_shapes(record)])
    return stevenson_conductance(*record.guide.line, offsets, record.band.centre)


def distinct_slots(record: Record) -> list[Slot]:
    """The first slot of every size, distance from the centre line and thickness of wall, covered or not."""
    seen: dict[tuple, Slot] = {}
    for slot in record.open_slots:
        # How far a curved slot stands towards its own side of the centre line: mirrored slots have the same.
        own_side = math.copysign(1.0, slot.offset_mm) * slot.aside_mm
        size = (slot.length_mm, slot.width_mm, slot.ends, slot.tip_mm, slot.shape, own_side)
        bare = record.cover is not None and slot.face not in record.cover.faces
        seen.setdefault((abs(slot.offset_mm), *size, record.guide.thickness_mm(slot.face), bare), slot)
    return list(seen.values())


def slot_model(record: Record) -> str:
    """Name of the model of a single slot that figures rest on."""
    sheets = [
        name for name, there in (("laminate", record.guide.substrate), ("cover", record.cover)) if there
    ]
    return f"method of moments with the {' and the '.join(sheets)}" if sheets else "one-term slot model"


def slot_resonance(record: Record, slot: Slot) -> float | None:
    """Resonant frequency of one slot alone, Hz; None where it is not in the band of the guide."""
    shape, line = model_inputs.slot_shapes(record)[record.open_slots.index(slot)], record.guide.line
    board = model_inputs.superstrate_over(record, slot.face)
    diameter = shape_inputs(record.guide).diameter
    try:
        if board is None and diameter is None:
            return resonant_frequency(*line, shape)
        return single.resonant_frequency(*line, shape.wall, _alone(shape), board, diameter)
    except InputError:
        return None


def slot_admittance(record: Record, shape: SlotShape, face: str = "front") -> complex:
    """Shunt admittance of one slot alone at the design frequency, normalised."""
    line, centre = record.guide.line, record.band.centre
    board = model_inputs.superstrate_over(record, face)
    diameter = shape_inputs(record.guide).diameter
    if board is None and diameter is None:
        return complex(shunt_admittance(*line, shape, centre))
    frequency, slot = np.array([centre]), _alone(shape)
    found = single.slot_admittance(*line, shape.wall, slot, frequency, superstrate=board, diameter=diameter)
    return complex(found[0])


def uncovered_resonance(record: Record, slot: Slot) -> float | None:
    """As `slot_resonance`, without the cover and by the model that takes one too."""
    bare = record.model_copy(update={"cover": None})
    try:
        return single.resonant_frequency(
            *record.guide.line, *_shape(record, slot), model_inputs.superstrate_over(bare, slot.face)
        )
    except InputError:
        return None


def resonance_near(record: Record, slot: Slot, cover: Cover, start: float) -> float:
    """Resonance of one slot alone under another cover, Hz, from one nearby; nan where there is none near it.

    A few steps of the secant method, to 1e-4 of the frequency.
    """
    other = record.model_copy(update={"cover": cover})
    line, (wall, alone) = record.guide.line, _shape(record, slot)
    board = model_inputs.superstrate_over(other, slot.face)

    def susceptance(frequency: float) -> float:
        return float(
            single.slot_admittance(*line, wall, alone, np.array([frequency]), superstrate=board)[0].imag
        )

    try:
        return float(newton(susceptance, start, x1=0.99 * start, tol=1e-4 * start, maxiter=12))
    except (InputError, RuntimeError):
        return math.nan


def _shape(record: Record, slot: Slot) -> tuple[float, SlotAperture]:
    """Thickness of its wall, and the slot."""
    shape = model_inputs.slot_shapes(record)[record.open_slots.index(slot)]
    return shape.wall, _alone(shape)


def _alone(shape: SlotShape) -> SlotAperture:
    return SlotAperture(
        shape.length, min(shape.width, model_inputs.MAX_SLOT_RATIO * shape.length), shape.offset
    )
