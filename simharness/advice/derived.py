"""Figures that follow from a record by closed forms, before anything is run."""

from __future__ import annotations

from simharness.advice.feeds import feed_advice
from simharness.advice.quantities import (
    conductances,
    distinct_slots,
    free_wavelength,
    gaps,
    guide_wavelength,
    last_gap,
    rows,
    slot_admittance,
    slot_model,
    slot_resonance,
)
from simharness.em.guide.rectangular import attenuation_db
from simharness.em.guide.rectangular import guide_wavelength as line_wavelength
from simharness.estimate import model_inputs
from simharness.estimate.shapes import shape_inputs
from simharness.figures import Figure
from simharness.records import Record
from simharness.records.materials import wall_conductivity


def derived(record: Record) -> dict[str, Figure]:
    """Figures that follow from the record by closed forms, in the order of reading."""
    guide, band = record.guide, record.band
    mode, following = guide.next_mode
    nominal, least, most = wall_conductivity(guide)
    figures = {
        "cutoff": Figure(guide.cutoff, "Hz", f"{guide.mode}, exact"),
        "next_mode": Figure(following, "Hz", f"{mode}, exact"),
    }
    for edge in ("low", "centre", "high"):
        wave = float(line_wavelength(guide.line[0], getattr(band, edge)))
        figures[f"guide_wavelength_{edge}"] = Figure(wave, "m", f"{guide.mode}, exact")
    figures["free_space_wavelength"] = Figure(free_wavelength(record), "m", "at the design frequency")
    for name, value in (("wall_loss", nominal), ("wall_loss_least", most), ("wall_loss_most", least)):
        loss = float(attenuation_db(shape_inputs(guide).wall_loss(band.centre, value)))
        figures[name] = Figure(loss, "dB/m", f"{guide.mode} power-loss method, {value:.3g} S/m")
    figures |= feed_advice(record).figures()
    if record.slots:
        figures |= _slot_figures(record)
    figures["polarization"] = Figure(model_inputs.polarization(record), "", "longitudinal slots")
    return figures


def _slot_figures(record: Record) -> dict[str, Figure]:
    wave = guide_wavelength(record)
    figures = {}
    between = [gap for row in rows(record) for gap in gaps(row)]
    for name, pick in (("slot_spacing_least", min), ("slot_spacing_most", max)):
        if between:
            spacing = pick(between) / wave
            figures[name] = Figure(spacing, "guide wavelengths", "between neighbouring centres")
    last = last_gap(record, record.open_slots) / wave
    figures["last_slot_to_far_end"] = Figure(last, "guide wavelengths", "from the centre")
    resonances = [slot_resonance(record, slot) for slot in distinct_slots(record)]
    known, model = [f for f in resonances if f is not None], slot_model(record)
    figures["slot_resonance_least"] = Figure(min(known, default=None), "Hz", f"{model}, isolated slot")
    figures["slot_resonance_most"] = Figure(max(known, default=None), "Hz", f"{model}, isolated slot")
    conductance = conductances(record)
    figures["stevenson_conductance_least"] = Figure(float(conductance.min()), "", "Stevenson, resonant slot")
    figures["stevenson_conductance_most"] = Figure(float(conductance.max()), "", "Stevenson, resonant slot")
    figures["stevenson_conductance_sum"] = Figure(float(conductance.sum()), "", "Stevenson, resonant slots")
    shapes = model_inputs.slot_shapes(record)
    faces = [slot.face for slot in record.slots]
    loads = {one: slot_admittance(record, *one) for one in set(zip(shapes, faces))}
    total = sum(loads[one] for one in zip(shapes, faces))
    figures["slot_admittance_sum"] = Figure(total, "", f"{model} at the design frequency, no coupling")
    return figures
