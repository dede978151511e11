"""How fine a mesh is, and the named qualities."""

from __future__ import annotations

from dataclasses import dataclass, replace


@dataclass(frozen=True)
class MeshSettings:
    """How fine. Counts are cells across a feature; `per_wavelength` holds at the highest frequency, in
    the antenna and up to the recording box, `air_per_wavelength` beyond, where waves only leave.

    `growth` is the slope of the cell size with distance, `merge` the share of a local cell below
    which two edges become one, `margin_wavelengths` the air at the centre frequency. Open faces have
    a perfectly matched layer of `absorber_cells`, or with 0 of them Mur's first-order condition, which
    wants more air but no layer. `surface_wavelengths` is the distance of the near-field recording box
    from the metal, `surface_cells` its least distance from the end of the air. `tube_cells` are the least
    across a round tube, whose wall is a staircase.
    """

    per_wavelength: float = 18.0
    air_per_wavelength: float = 12.0
    slot_cells: int = 4
    post_cells: int = 1
    bore_cells: int = 2
    growth: float = 0.3
    ratio_limit: float = 1.6
    merge: float = 0.35
    margin_wavelengths: float = 0.25
    absorber_cells: int = 8
    surface_wavelengths: float = 0.12
    surface_cells: int = 2
    tube_cells: int = 24


def cells_across(kind: str, settings: MeshSettings) -> int:
    """Cells across a post, or at its tip, by the kind of the feature: a screw is thick, and has one more."""
    return settings.post_cells + kind.startswith("screw")


QUALITIES = {
    "draft": MeshSettings(
        per_wavelength=15, slot_cells=2, bore_cells=1, margin_wavelengths=0.75, absorber_cells=0
    ),
    "normal": MeshSettings(
        per_wavelength=28, slot_cells=3, margin_wavelengths=0.75, absorber_cells=0, tube_cells=36
    ),
    "fine": MeshSettings(
        per_wavelength=36, slot_cells=4, post_cells=2, bore_cells=3, growth=0.2, tube_cells=48
    ),
}

BESIDE = {"absorber_cells": 8, "margin_wavelengths": 0.5}
"""Open faces of an antenna that has other bodies beside it. What Mur's condition sends back of the main beam
is scattered by antenna and pole and comes out behind, where little else does: six slots before a pole were up
to 2.2 dB off across the guide with it, 1.5 dB with a matched layer."""


def beside_others(settings: MeshSettings) -> MeshSettings:
    """The same fineness for an antenna that has a pole, a wall, wings or a second antenna beside it."""
    return replace(settings, **BESIDE)  # type: ignore[arg-type]
