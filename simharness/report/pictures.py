"""The pictures of a run for the report, each with a description."""

from __future__ import annotations

import io
import tempfile
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path

import numpy as np
from PIL import Image

from simharness.errors import InputError
from simharness.estimate import beam
from simharness.estimate.antenna import Estimate
from simharness.figures import Figure, number
from simharness.files import input_bytes
from simharness.plot import style, write_figures
from simharness.printable import is_printable, printable
from simharness.records import Record
from simharness.results.outputs import Results

TITLES = {
    "match": "Match over frequency",
    "smith": "Match in the Smith chart",
    "cuts": "Pattern in the two principal cuts",
    "sphere": "Realized gain in all directions",
    "slots": "Voltages across the slots",
    "field": "Field in the guide",
}
MAX_PICTURE_BYTES, MAX_PIXELS = 20_000_000, 40_000_000
"""Limits of a picture that is added."""
_PNG = b"\x89PNG\r\n\x1a\n"


@dataclass(frozen=True)
class Picture:
    """A PNG picture with its title and, in `alt`, a description of it."""

    title: str
    png: bytes
    alt: str

    @property
    def pixels(self) -> tuple[int, int]:
        """Width and height, from the header chunk of every PNG (PNG specification, W3C 2003, 11.2.2)."""
        return int.from_bytes(self.png[16:20]), int.from_bytes(self.png[20:24])


def run_pictures(
    results: Results, record: Record, estimate: Estimate, found: Mapping[str, Figure]
) -> dict[str, Picture]:
    """Those of `TITLES` that the results allow, drawn anew.

    Parameters
    ----------
    results : Results
    record : Record
    estimate : Estimate
    found : mapping
        Full-wave figures, `verdict.full_wave_figures`.

    Returns
    -------
    dict
        Name to Picture, in the order of `TITLES`.
    """
    with tempfile.TemporaryDirectory() as folder:
        drawn = {
            path.stem: path.read_bytes() for path in write_figures(results, record, estimate, Path(folder))
        }
    texts = _alternatives(results, record, found)
    return {name: Picture(title, drawn[name], texts[name]) for name, title in TITLES.items() if name in drawn}


def measured_pictures(folder: Path) -> tuple[Picture, ...]:
    """Pictures that 'simharness compare' left among those of a run, in the order of their names.

    Raises
    ------
    InputError
        One of them is no picture.
    """
    return tuple(
        Picture(
            f"Measured: {printable(path.stem.removeprefix('compare-'), keep='')}",
            _png("picture", path),
            f"Measurement {path.stem.removeprefix('compare-')} over the prediction of this run, as drawn by "
            "simharness compare.",
        )
        for path in sorted(folder.glob("compare-*.png"))
    )


def added_picture(path: Path, words: str) -> Picture:
    """A picture from outside, with what is to be seen in it.

    Parameters
    ----------
    path : Path
        A PNG file.
    words : str

    Returns
    -------
    Picture

    Raises
    ------
    InputError
        The file is no PNG, or there are no words.
    """
    png = _png("--add", path)
    if not words.strip():
        raise InputError("--add", path, "say in words what is to be seen, for those who do not see it")
    if not is_printable(words):
        raise InputError("--add", words, "the words must be one line without control characters")
    return Picture(path.stem.replace("-", " ").capitalize(), png, words)


def _png(what: str, path: Path) -> bytes:
    """Content of a PNG file that can be shown: whole, and not too large when it is unpacked."""
    png = input_bytes(what, path, MAX_PICTURE_BYTES, "PNG picture")
    if not png.startswith(_PNG):
        raise InputError(what, path, "must be a PNG picture")
    wide, high = Picture("", png, "").pixels
    if not 0 < wide * high <= MAX_PIXELS:
        raise InputError(
            what, path, f"has {wide} x {high} pixels; at most {MAX_PIXELS / 1e6:g} million are taken in"
        )
    try:
        with Image.open(io.BytesIO(png), formats=["PNG"]) as picture:
            picture.load()
    except Exception:  # the reader raises whatever it stumbles over
        raise InputError(what, path, "must be a whole PNG picture: it cannot be unpacked") from None
    return png


def strongest_direction(results: Results, record: Record, found: Mapping[str, Figure]) -> str:
    """Where the realized gain is greatest, in words; empty without a far field.

    In the plane along the guide it is the beam of the verdict; outside that plane it is given to whole
    degrees, as the directions of a run lie a degree or two apart.
    """
    far = style.far_field(results, record)
    if far is None:
        return ""
    gain = style.field_gain(far, style.centre_index(results, record))
    row, column = np.unravel_index(np.argmax(gain), gain.shape)
    theta, phi = far.theta[row], far.phi[column]
    across = round(np.degrees(np.arctan2(np.cos(phi), np.sin(phi))))
    along, digits = (found[beam.NAME].value, 1) if across == 0 else (float(90 - np.degrees(theta)), 0)
    parts = [
        f"{abs(angle):.{places}f} degrees towards {side[angle > 0]}"
        for angle, places, side in (
            (along, digits, ("the near end", "the far end")),
            (across, 0, ("the side \u2212x", "the side +x")),
        )
        if round(abs(angle), places)
    ]
    wall = "front" if record.two_faced else "slotted"
    return " and ".join(parts) + " from broadside" if parts else f"broadside, straight out of the {wall} wall"


def _alternatives(results: Results, record: Record, found: Mapping[str, Figure]) -> dict[str, str]:
    """Descriptions of the pictures, with the main numbers."""
    say = {name: number(figure) for name, figure in found.items()}
    band = record.band
    span = ""
    if "frequency" in results:
        span = f" from {results['frequency'].min() / 1e9:.2f} to {results['frequency'].max() / 1e9:.2f} GHz"
    impedance = ""
    if "input_impedance" in say:
        impedance = f" Input impedance at the design frequency: {say['input_impedance']}."
    texts = {
        "match": (
            f"Curves of S11 in dB over frequency{span}, full wave and estimate with their error bars, and "
            f"the target of {band.target_s11_db:g} dB from {band.low_ghz:g} to {band.high_ghz:g} GHz. Full "
            f"wave: best match at {say['resonance']}, S11 there {say['s11_at_resonance']}."
        ),
        "smith": (
            f"Smith chart with the course of S11{span}, full wave and estimate, and marks at the edges and "
            f"the middle of the band.{impedance}"
        ),
        "slots": (
            f"Amplitude and phase of the voltages across the {len(record.slots)} slots along the guide, full "
            "wave and estimate, against their mean."
        ),
        "field": (
            "Two maps of the electric field in the guide, seen from the front, with slots and probe: its "
            "peak over time, and one instant."
        ),
    }
    if "realized_gain" in say:
        texts |= {
            "cuts": (
                "Two polar diagrams of the realized gain. Along the guide: beamwidth "
                f"{say['beamwidth_along']}, side lobes {say['side_lobe_level']}. Across the guide: beamwidth "
                f"{say['beamwidth_across']}, front to back {say['front_to_back']}."
            ),
            "sphere": (
                f"Body and map of the realized gain in all directions: {say['realized_gain']} at its "
                f"strongest, {strongest_direction(results, record, found)}."
            ),
        }
    return texts
