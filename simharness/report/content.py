"""What a report says, in the order of reading: chapters of sentences, tables and pictures, for any page."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from simharness import __version__
from simharness.advice.warnings import CAUTIONS
from simharness.estimate.antenna import estimate
from simharness.figures import Figure, number
from simharness.geometry import antenna_scene
from simharness.records import Record
from simharness.report.dimensions import dimension_sections
from simharness.report.model import model_data
from simharness.report.pictures import Picture, measured_pictures, run_pictures, strongest_direction
from simharness.report.shapes import guide_table
from simharness.results.outputs import Results
from simharness.runs.manifest import Run
from simharness.sheets.build.build_list import build_list, build_of
from simharness.sheets.build.section import Section
from simharness.sheets.flat.fabrication import Fabrication
from simharness.verdict.assessment import Verdict, full_wave_figures, verdict
from simharness.verdict.error_bars import estimate_error, mesh_quality, solver_error
from simharness.verdict.match_state import MatchState

_AGREEMENT = {True: "agree", False: "differ", None: "not compared"}
_BARS = {
    "resonance": ("frequency of the best match", 100, " %"),
    "band": ("edges of the -10 dB band", 100, " %"),
    "gain": ("gain, directivity", 1, " dB"),
    "beamwidth": ("beamwidth", 100, " %"),
    "beam": ("direction of the beam, as a share of the beamwidth", 100, " %"),
    "side_lobe": ("side lobes", 1, " dB"),
    "front_to_back": ("front to back", 1, " dB"),
    "ripple": ("ripple across the guide", 1, " dB"),
    "null": ("directions of nulls", 1, " deg"),
    "s11": ("S11, as a distance in the complex plane", 1, ""),
    "coupling": ("coupling of the two feeds", 1, " dB"),
}
"""Kinds of error in `error_bars.SOLVER_ERROR`: label, scale and unit."""
_SETTLING = {
    "tail": "continued by its poles until it had died away",
    "record": "run until it had died away",
    "nearly": "continued by its poles, not yet well known: see the verdict",
}

_FEEDS = {
    "CoaxPort": "a true coax line",
    "GapPort": "a lumped gap at the foot of the probe: less accurate than the coax line",
    "ModePort": "the TE10 mode of the guide",
    "RoundModePort": "the TE11 mode of the round tube",
}


@dataclass(frozen=True)
class Chapter:
    """A part of the report with a heading of its own; `key` is short, for links."""

    key: str
    title: str
    sections: tuple[Section, ...] = ()
    pictures: tuple[Picture, ...] = ()


@dataclass(frozen=True)
class Report:
    """Everything a page or a document is made of.

    Attributes
    ----------
    title, subtitle, note : of the design and its run; the note is that of the record, or empty.
    headline : the verdict in a few words.
    state : how the match stands to its target.
    chapters : in the order of reading; 'verdict' comes first, 'view' holds a still of the turning view.
    model : see `model.model_data`.
    """

    title: str
    subtitle: str
    note: str
    headline: str
    state: MatchState
    chapters: tuple[Chapter, ...]
    model: dict[str, Any]


def report_content(
    run: Run,
    results: Results,
    record: Record,
    fabrication: Fabrication,
    added: tuple[Picture, ...] = (),
    advice: tuple[str, ...] = (),
) -> Report:
    """Collect the report of a run.

    Parameters
    ----------
    run : Run
    results : Results
    record : Record
    fabrication : Fabrication
    added : tuple of Picture
        Further pictures, shown as they are.
    advice : tuple of str
        What to change, in sentences.

    Returns
    -------
    Report

    Raises
    ------
    InputError
        The record does not suit how the box is made.
    """
    quality = mesh_quality(results)
    guess = estimate(record)
    found = full_wave_figures(results, record, quality)
    judged = verdict(record, guess, found, results, quality, advice)
    pictures = run_pictures(results, record, guess, found)
    still = tuple(picture for name, picture in pictures.items() if name == "sphere")
    others = tuple(picture for name, picture in pictures.items() if name != "sphere")
    solved = antenna_scene(record, "gap" if results.attributes.get("feed") == "GapPort" else "coax")
    chapters = [
        Chapter("verdict", "Verdict", (Section("", judged.sentences),)),
        Chapter(
            "figures",
            "Estimate and full wave",
            (_figures(judged), _bars(record, quality, results.attributes)),
        ),
        Chapter(
            "view",
            "Antenna and pattern in space",
            (Section("", _view_description(record, results, found)),),
            still,
        ),
        Chapter("pictures", "Pictures", (), others),
        Chapter("measured", "Measured", (), measured_pictures(run.figures(record.name))),
        Chapter("added", "Further pictures", (), added),
        Chapter("dimensions", "Dimensions", dimension_sections(record, fabrication.make)),
        Chapter("building", "Building it", _building(record, fabrication)),
        Chapter("provenance", "Where this comes from", (_provenance(run, results),)),
    ]
    return Report(
        title=record.title or record.name,
        subtitle=f"Report of {record.name}: run {run.path.name}, {quality} mesh, finished {_when(run)}.",
        note=record.note,
        headline=judged.state.headline,
        state=judged.state,
        chapters=tuple(chapter for chapter in chapters if chapter.sections or chapter.pictures),
        model=model_data(solved, results, record),
    )


def with_minus_signs(text: str) -> str:
    """Text with true minus signs before numbers, which screen readers speak; hyphens in names stay.

    Examples
    --------
    >>> with_minus_signs("-10 dB at the five-slot-2g45, (50.0 - j3.2) ohm")
    '\u221210 dB at the five-slot-2g45, (50.0 \u2212 j3.2) ohm'
    """
    return re.sub(r"(?<![\w.-])-(?=[\d.]| j\d)", "\u2212", text)


def _figures(judged: Verdict) -> Section:
    rows = [
        (row.label, number(row.estimate), number(row.full_wave), _AGREEMENT[row.agrees])
        for row in judged.rows
    ]
    sentence = (
        "Two methods that share nothing but the record. They agree where they differ by no more than both "
        "error bars together."
    )
    return Section("", (sentence,), (("figure", "estimate", "full wave", "do they agree?"), *rows))


def _bars(record: Record, quality: str, about: Mapping[str, object]) -> Section:
    """What the error bars are, and what they do not include."""
    error, trusted = solver_error(record, quality, about), estimate_error(record)
    rows = [
        (words, *(f"{scale * bars[kind]:.3g}{unit}" for bars in (trusted, error)))
        for kind, (words, scale, unit) in _BARS.items()
        if kind in trusted and kind in error and (record.two_faced or kind not in ("ripple", "null"))
    ]
    said = [
        f"Those of the estimate, and of a {quality} mesh in general; the verdict says what the latter rest "
        "on.",
        "Where the match is flat, the frequency of its deepest point is less sure, and its bar is longer.",
        "They are the bars of the calculation for the antenna exactly as written. Cutting and folding come "
        f"on top, and so do open seams, the connector, a cover, and {_other(record)} near the antenna.",
    ]
    if record.slots:
        mean = sum(slot.length_mm for slot in record.slots) / len(record.slots)
        said.append(
            f"Half a millimetre on the length of every slot moves the match by about {50 / mean:.1f} %."
        )
    return Section("What the error bars are", tuple(said), (("kind", "estimate", "full wave"), *rows))


def _other(record: Record) -> str:
    """What stands near an antenna beyond its record."""
    return "whatever stands" if record.mast is None and record.pair is None else "whatever else stands"


def _view_description(record: Record, results: Results, found: Mapping[str, Figure]) -> tuple[str, ...]:
    """What the view shows, for those who do not see it."""
    guide, count = record.guide, len(record.slots)
    upright = record.mounting.axis == "vertical"
    wall = "both broad walls" if record.two_faced else f"its {record.slots[0].face} wall" if count else ""
    slots = f"with {count} slot{'s' if count != 1 else ''} in {wall}" if count else "without slots"
    said = [
        f"A {'standing' if upright else 'lying'} {guide_table(guide).body()} and {guide.length_mm:g} mm long "
        f"inside, {slots}, drawn from the solids that the solver saw."
    ]
    direction = strongest_direction(results, record, found)
    if direction:
        said.append(
            "Around its middle the realized gain in every direction as a coloured body. It is strongest "
            f"{direction}."
        )
    return tuple(said)


def _building(record: Record, fabrication: Fabrication) -> tuple[Section, ...]:
    """The build list of an antenna; the cautions alone for a guide without slots."""
    if not record.slots:
        return (Section("Cautions", CAUTIONS),)
    build = build_of(record, fabrication)
    bends = ", and for the bends of your own tool" if build.folded else ""
    first = Section(
        "",
        (
            f"{build.how.capitalize()}. 'simharness sheets' writes this list with the true-scale "
            f"drawings{bends}.",
        ),
    )
    return first, *build_list(build)


def _when(run: Run) -> str:
    """Time when a run was finished as people write it."""
    return f"{datetime.fromisoformat(run.manifest.created):%Y-%m-%d %H:%M} UTC"


def _provenance(run: Run, results: Results) -> Section:
    about = results.attributes
    rows = [
        ("run", run.path.name),
        ("key, a hash of all that the solver saw", run.key),
        ("finished", _when(run)),
    ]
    rows += [
        (words, form.format(about[name]))
        for name, words, form in (
            ("solver", "solver", "{}"),
            ("simharness", "solved by", "simharness {}"),
            ("quality", "quality of the mesh", "{}"),
            ("cells", "cells of the mesh", "{:,}"),
            ("mesh_ratio", "largest ratio of neighbouring cells", "{:.2f}"),
            ("steps", "time steps", "{:,}"),
            ("solver_seconds", "time in the solver", "{:.0f} s"),
            ("threads", "threads", "{}"),
            ("python", "Python", "{}"),
        )
        if name in about
    ]
    if about.get("settling") in _SETTLING:
        rows.append(("record of the ports", _SETTLING[about["settling"]]))
    if "feed" in about:
        rows.append(("model of the feed", _FEEDS.get(about["feed"], str(about["feed"]))))
    rows.append(("report written by", f"simharness {__version__}"))
    return Section(
        "",
        ("Solver, mesh and time come from the run itself; nothing here was typed in.",),
        (("item", "value"), *rows),
    )
