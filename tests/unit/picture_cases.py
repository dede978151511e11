"""Results for the tests of pictures: every shipped record with a made-up run and estimate; and which texts a
picture draws.

The stand-ins hold all that a picture looks at, from formulas of a line: one resonance, slots fed alike or
along a wave, the array factor of their places times a cardioid. All of it is invented.
"""

from __future__ import annotations

from functools import cache
from itertools import combinations

import numpy as np
import pytest
from matplotlib.artist import Artist
from matplotlib.axes import Axes
from matplotlib.figure import Figure as Sheet
from matplotlib.legend import Legend
from matplotlib.lines import Line2D
from matplotlib.patches import Patch
from matplotlib.text import Text
from numpy.typing import NDArray
from shaped_records import SHIPPED

from simharness.constants import C0, TWO_PI
from simharness.em.pattern.far_field import FarField, directivity, radiated_power
from simharness.estimate.antenna import Cut, Estimate, Figure, estimate_span
from simharness.records import Record
from simharness.results.outputs import Results

ABOUT = {"quality": "draft", "cells": 1234567, "feed": "CoaxPort"}
FIGURES = {
    "realized_gain": Figure(12.34, "dBi", "invented"),
    "beamwidth_along": Figure(15.12, "deg", "invented"),
    "beamwidth_across": Figure(80.34, "deg", "invented"),
    "side_lobe_level": Figure(-12.81, "dB", "invented"),
    "front_to_back": Figure(15.72, "dB", "invented"),
}


def reflection(record: Record, frequency: NDArray, off: float = 0.0) -> NDArray:
    """One resonance, with a target just met in the band, moved by a share of its frequency."""
    detuning = 25 * (frequency / (1e9 * record.band.centre_ghz) - 1 - off)
    return (0.08 + 1j * detuning) / (1 + 1j * detuning) * np.exp(2j)


def _factor(record: Record, sine: NDArray) -> NDArray:
    """Field of equal sources at the places of the slots over the sine of the angle along the row, referred to
    their middle.
    """
    places = np.array([slot.position_mm for slot in record.slots]) * 1e-3
    wave = TWO_PI * 1e9 * record.band.centre_ghz / C0
    return np.mean(np.exp(1j * wave * np.multiply.outer(sine, places - places.mean())), axis=-1)


def invented_estimate(record: Record) -> Estimate:
    """Everything that pictures ask of an estimate."""
    frequency = np.linspace(*estimate_span(record), 61)
    s11 = reflection(record, frequency, 0.002)
    angle = np.radians(np.linspace(-180, 180, 721))
    along, across = np.abs(_factor(record, np.sin(angle))) ** 2, np.ones(angle.size)
    cardioid = 1.0 if record.two_faced else ((1.2 + np.cos(angle)) / 2.2) ** 2
    count = len(record.slots)
    return Estimate(
        frequency,
        s11,
        50 * (1 + s11) / (1 - s11),
        np.exp(0.05j * np.arange(count)),
        np.full(count, 1 / count),
        Cut(angle, along * cardioid),
        Cut(angle, across * cardioid),
        dict(FIGURES),
    )


def invented_run(record: Record, step_deg: float = 3.0) -> Results:
    """Everything that pictures ask of a run."""
    frequency, centre = np.linspace(*estimate_span(record), 61), 1e9 * record.band.centre_ghz
    s11 = reflection(record, frequency)
    accepted = 1 - abs(reflection(record, np.array([centre]))[0]) ** 2
    theta, phi = (np.radians(np.arange(0, end + 1, step_deg)) for end in (180.0, 360.0))
    middle = 1e-3 * np.mean([slot.position_mm for slot in record.slots])
    wave = (
        np.sin(theta)
        * _factor(record, np.cos(theta))
        * np.exp(1j * TWO_PI * centre / C0 * middle * np.cos(theta))
    )
    field = (wave[:, None] * (1.0 if record.two_faced else 1.2 + np.sin(phi)) * np.ones(phi.size))[None]
    far = FarField(np.array([centre]), theta, phi, 0.01 * field, field)
    scale = np.sqrt(accepted / radiated_power(far))[:, None, None]
    far = FarField(far.frequency, theta, phi, far.e_theta * scale, far.e_phi * scale)
    guide, number = record.guide, np.arange(len(record.slots))
    x, z = np.linspace(-0.5, 0.5, 15) * guide.width_mm * 1e-3, np.linspace(0, guide.length_mm, 120) * 1e-3
    return Results(
        {
            "frequency": frequency,
            "s11": s11,
            "input_impedance": 50 * (1 + s11) / (1 - s11),
            "far_frequency": far.frequency,
            "theta": theta,
            "phi": phi,
            "e_theta": far.e_theta,
            "e_phi": far.e_phi,
            "directivity": directivity(far),
            "accepted_power": np.array([accepted]),
            "radiated_power": np.array([accepted]),
            "slot_voltage": (12 + np.cos(number))[None] * np.exp(0.1j * number),
            "slot_z": np.array([s.position_mm for s in record.slots]) * 1e-3,
            "cut_x": x,
            "cut_z": z,
            "cut_field": (500 * np.cos(np.pi * x / np.ptp(x))[:, None] * np.sin(40 * z) * np.exp(0.7j))[None],
        },
        dict(ABOUT),
    )


@cache
def shipped_case(name: str) -> tuple[Results, Record, Estimate]:
    """Made-up results of a shipped record, the record, and a made-up estimate."""
    record = SHIPPED[name]
    return invented_run(record), record, invented_estimate(record)


class DrawnTexts:
    """Draws a figure once and keeps every text that comes onto the sheet, with the box it takes in dots.

    What matplotlib itself leaves out (ticks beyond an axis, words that are not visible) is left out here too.
    """

    def __init__(self, figure: Sheet):
        self.figure, self.found = figure, []
        plain = Text.draw

        def draw(text: Text, renderer) -> None:
            if text.get_visible() and text.get_text().strip():
                self.found.append((text.get_text(), Text.get_window_extent(text, renderer)))
            plain(text, renderer)

        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(Text, "draw", draw)
            figure.draw_without_rendering()

    def clipped(self) -> list[str]:
        """Texts that reach over the border of the sheet."""
        sheet = self.figure.bbox
        return [
            words
            for words, box in self.found
            if box.x0 < sheet.x0 or box.x1 > sheet.x1 or box.y0 < sheet.y0 or box.y1 > sheet.y1
        ]

    def overlapping(self) -> list[tuple[str, str]]:
        """Pairs of texts whose boxes share more than a dot in both directions."""
        return [
            (one, two)
            for (one, first), (two, second) in combinations(self.found, 2)
            if min(first.x1, second.x1) - max(first.x0, second.x0) > 1
            and min(first.y1, second.y1) - max(first.y0, second.y0) > 1
        ]


def unseen_entries(figure: Sheet) -> list[str]:
    """Entries of legends for which no axes show anything larger than a few dots under that name."""
    named = [text.get_text() for legend in figure.findobj(Legend) for text in legend.get_texts()]
    artists = (
        (axes, artist) for axes in figure.axes for artist in (*axes.lines, *axes.collections, *axes.patches)
    )
    shown = {
        artist.get_label()
        for axes, artist in artists
        if artist.get_label() in named and _is_seen(artist, axes)
    }
    errors = {bars.get_label() for axes in figure.axes for bars in axes.containers}
    return [words for words in named if words not in shown | errors]


def _is_seen(artist: Artist, axes: Axes) -> bool:
    if isinstance(artist, Line2D):
        points = artist.get_transform().transform(artist.get_xydata())
        if len(points) == 0:
            return True  # a sample of a marker for the legend, drawn elsewhere without a name
    elif isinstance(artist, Patch):
        points = artist.get_transform().transform(artist.get_path().vertices)
    else:
        points = np.concatenate(
            [artist.get_transform().transform(path.vertices) for path in artist.get_paths()]
        )
    points = points[np.isfinite(points).all(axis=1)]
    box = axes.bbox
    reach = np.minimum(points.max(axis=0), box.max) - np.maximum(points.min(axis=0), box.min)
    marked = isinstance(artist, Line2D) and artist.get_marker() not in ("None", "none", None, "")
    return bool(np.all(reach >= 0) and (marked or reach.max() > _MIN_DOTS))


_MIN_DOTS = 15.0
"""A tenth of an inch."""
