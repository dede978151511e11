"""`simharness check RECORD`."""

from __future__ import annotations

from pathlib import Path

import click

from simharness.cli.options import json_option, record_argument

LABELS = {
    "cutoff": "cutoff",
    "next_mode": "next mode from",
    "guide_wavelength_low": "guide wavelength, low edge",
    "guide_wavelength_centre": "guide wavelength, design frequency",
    "guide_wavelength_high": "guide wavelength, high edge",
    "free_space_wavelength": "free-space wavelength",
    "wall_loss": "wall loss",
    "wall_loss_least": "wall loss, at least",
    "wall_loss_most": "wall loss, at most",
    "probe_to_near_end": "probe to near end",
    "probe_height": "probe height",
    "coax_impedance": "impedance of the coax",
    "coax_next_mode": "second mode in the coax from",
    "slot_spacing_least": "slot spacing, least",
    "slot_spacing_most": "slot spacing, most",
    "last_slot_to_far_end": "last slot to far end",
    "slot_resonance_least": "resonance of a slot alone, lowest",
    "slot_resonance_most": "resonance of a slot alone, highest",
    "stevenson_conductance_least": "conductance of a slot alone, least",
    "stevenson_conductance_most": "conductance of a slot alone, most",
    "stevenson_conductance_sum": "slot conductances, sum",
    "slot_admittance_sum": "slot admittances, sum",
}


@click.command("check")
@record_argument
@json_option
def command(record: Path, as_json: bool) -> None:
    """Validate RECORD and print what follows from it, with warnings of what is likely to go wrong."""
    from simharness import check, read_record
    from simharness.cli.text import number, print_columns, print_json, print_wrapped

    found = check(read_record(record))
    if as_json:
        print_json(found.as_dict())
        return
    design, figures = found.record, found.figures
    click.echo(f"{design.name}: {design.title}" if design.title else design.name)
    rows = [
        (LABELS.get(name, name.replace("_", " ")), number(f))
        for name, f in figures.items()
        if name != "polarization"
    ]
    print_columns(rows)
    click.echo(f"\n  Polarization: {figures['polarization'].value}.")
    if found.warnings:
        click.echo("\nWarnings")
        for warning in found.warnings:
            print_wrapped(warning)
    else:
        click.echo("\nNo warnings.")
    click.echo("\nCautions")
    for caution in found.cautions:
        print_wrapped(caution)
