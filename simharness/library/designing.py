"""A complete record from a band and the metal at hand."""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal, TypedDict, Unpack, get_args, get_origin, get_type_hints

from simharness.errors import InputError
from simharness.hints import meant_word
from simharness.library.values import ShortRepr, plain, write_text

if TYPE_CHECKING:
    from simharness.design.proposal import Design
    from simharness.figures import Figure
    from simharness.records import Record


class DesignOptions(TypedDict, total=False):
    """What can be asked of a design; what is left out takes the default of `simharness design --help`.

    The names are those of the options of that command, in its units.
    """

    frequency: float
    """Centre of the band, GHz."""
    bandwidth: float
    """Width of the band, per cent of the centre (default 1)."""
    low: float
    """In the place of a width: lower edge of the band, GHz."""
    high: float
    """Upper edge of the band, GHz; the centre need not be given then."""
    target: float
    """Largest S11 wanted in the band, dB (default -10)."""
    slots: int
    """Number of slots, in each wall (default 8)."""
    beamwidth: float
    """In the place of a number of slots: widest beam along the guide between half-power directions,
    degrees.
    """
    gain: float
    """In the place of a number of slots: least directivity, dBi."""
    taper: Literal["uniform", "dolph", "taylor"]
    """Slot voltages (default uniform, dolph with `side_lobes`)."""
    side_lobes: float
    """Side lobes below the main beam, dB (default 20)."""
    nbar: int
    """Even side lobes of a Taylor taper, plus one (default 4)."""
    guide: str
    """A standard guide ("WR-159"), or the inner size in mm ("40x20"); by frequency without it."""
    tube: str
    """In its place: a rectangular tube, outer size and wall in mm ("50x25x2")."""
    round: str
    """In its place: a round tube, inner diameter and wall in mm ("88x1")."""
    sheet: float
    """In its place: a box folded of sheet of this thickness, mm."""
    inside: str
    """Inner size of that box, mm ("90x40")."""
    wall: float
    """Thickness of the walls of a guide, mm."""
    laminate: str
    """Front etched in laminate: thickness in mm, permittivity, loss tangent ("0.8x4.4x0.02")."""
    cover: str
    """Weather cover: material or permittivity x loss tangent, thickness and gap in mm ("PVC,2,6")."""
    material: str
    """Of the walls: brass, copper, aluminium, ..."""
    cutter: float
    """Width of the slots, mm."""
    ends: Literal["round", "square"]
    """Ends of the slots (default round)."""
    feed: Literal["probe", "bent-probe"]
    """Straight, through the back wall; or through the near end and bent (default probe)."""
    tip: Literal["soldered", "open"]
    """End of a bent probe (default soldered)."""
    connector: Literal["bare", "panel", "stripped"]
    """What sits on the wall: a connector, one with a flange, or stripped coax (default bare)."""
    coax: str
    """Inner and outer diameter of its coax, mm ("1.27x4.1")."""
    permittivity: float
    """Of the dielectric of the coax (default 2.03)."""
    wire: float
    """Diameter of the probe's wire, mm."""
    dielectric: float
    """How far the dielectric protrudes into the guide, mm (default 0)."""
    flange: float
    """Side of the square flange of a panel connector, mm (default 12.7)."""
    flange_thickness: float
    """Of that flange, mm (default 1.6)."""
    load: float
    """Load of the whole row on the guide, normalised (default 1, less for few slots)."""
    far_end: Literal["short", "load"]
    """Short: a standing wave, beam broadside; load: a travelling wave into an absorber (default short)."""
    residual_power: float
    """Power that the absorber of a travelling-wave row takes, per cent (default 10)."""
    step: float
    """What you can mark: dimensions are rounded to it, mm (default 0.1)."""
    axis: Literal["vertical", "horizontal"]
    """How the guide hangs (default vertical)."""
    faces: Literal["front", "both"]
    """Broad walls with slots (default front)."""
    back: Literal["opposite", "same"]
    """Offsets in the back wall (default opposite)."""


@dataclass(frozen=True, repr=False)
class DesignResult(ShortRepr):
    """A designed antenna.

    Attributes
    ----------
    record : Record
        The complete record, with a note that says what it was designed for.
    model : simharness.design.proposal.Design
        What stands behind it: exact and rounded dimensions, and what both do.
    options : dict
        What was asked for, without what was left out.
    """

    record: Record
    model: Design
    options: dict[str, Any]

    @property
    def command(self) -> str:
        """The command line that makes the same record."""
        import shlex

        words = [
            f"--{name.replace('_', '-')} "
            f"{shlex.quote(f'{value:.12g}' if isinstance(value, float) else str(value))}"
            for name, value in self.options.items()
        ]
        return f"simharness design {' '.join(words)}"

    @cached_property
    def figures(self) -> dict[str, Figure]:
        """Figures of the rounded design by the models of the design, under the names of the estimate's."""
        from simharness.figures import Figure

        after, basis = self.model.after, "slots and probe by the method of moments, infinite plane outside"
        match, own = self.model.match, "of the finished record, by the estimate"
        lobes = after.side_lobe_db if math.isfinite(after.side_lobe_db) else None
        return {
            "resonance": Figure(match.best_at, "Hz", f"deepest |S11|; {own}"),
            "s11_at_resonance": Figure(match.best, "dB", own),
            "s11_at_centre": Figure(float(after.s11_db[1]), "dB", basis),
            "s11_in_band": Figure(match.worst, "dB", f"edges included; {own}"),
            "beamwidth_along": Figure(math.degrees(after.beamwidth), "deg", basis),
            "side_lobe_level": Figure(lobes, "dB", basis),
            "beam_direction": Figure(math.degrees(after.beam.angle), "deg", basis),
            "directivity": Figure(
                after.directivity_db, "dBi", "cut along the guide times cut across the tube"
            ),
        }

    @cached_property
    def choices(self) -> tuple[str, ...]:
        """What was chosen and why, in sentences."""
        from simharness.design.messages import choices

        return tuple(choices(self.model))

    @cached_property
    def rounding(self) -> str:
        """What the rounding to what can be marked does."""
        from simharness.design.messages import rounding

        return rounding(self.model)

    @cached_property
    def warnings(self) -> tuple[str, ...]:
        """What to look out for, in sentences."""
        from simharness.design.cautions import cautions

        return tuple(cautions(self.model))

    @property
    def bias(self) -> str:
        """By how much the models of the design are known to be off, in a sentence."""
        from simharness.design.messages import model_bias

        return model_bias(self.record)

    @property
    def text(self) -> str:
        """The record as TOML, with the choices as a comment on top."""
        from simharness import __version__
        from simharness.design.messages import as_made
        from simharness.records.text import record_text

        heading = f"Made by simharness {__version__}:\n{self.command}\n\n{as_made(self.model)}"
        return record_text(self.record, heading)

    def save(self, path: Path | str, replace: bool = False) -> Path:
        """Write `text` to a file; InputError where one is and `replace` is false, or where none can be."""
        return write_text(path, self.text, replace)

    def as_dict(self) -> dict[str, Any]:
        """Record, reasons and figures in types that JSON knows."""
        return plain(
            {
                "record": self.record.model_dump(by_alias=True, exclude_none=True),
                "choices": self.choices,
                "rounding": self.rounding,
                "figures": self.figures,
                "warnings": self.warnings,
                "bias": self.bias,
            }
        )


def design(name: str = "", **options: Unpack[DesignOptions]) -> DesignResult:
    """Design a complete antenna from a band and the metal at hand: some seconds, and no solver.

    Slots, spacing, ends and probe are computed with all coupling, rounded to what can be marked, and computed
    again.

    Parameters
    ----------
    name : str
        Of the record; by slots and frequency without it, or where it cannot be one.
    **options
        See `DesignOptions`: those of the command, `frequency` in GHz, lengths in mm, levels in dB, shares in
        per cent.

    Returns
    -------
    DesignResult

    Raises
    ------
    InputError
        The options contradict each other or the metal.
    NotConvergedError
        No row of slots was found.

    Examples
    --------
    >>> import simharness
    >>> made = simharness.design(frequency=9.6, slots=2, guide="WR-90")  # an invented example
    >>> made.record.guide.a_mm, len(made.record.slots)
    (22.86, 2)
    >>> made.command
    'simharness design --frequency 9.6 --slots 2 --guide WR-90'
    """
    from simharness.design.messages import noted_record
    from simharness.design.options import requirements_from_options
    from simharness.design.proposal import designed

    given = known_options(options)
    model = designed(requirements_from_options(given, name))
    asked = {option: value for option, value in given.items() if value is not None}
    return DesignResult(noted_record(model), model, asked)


def known_options(options: dict[str, Any] | DesignOptions) -> dict[str, Any]:
    """Every option of a design by its name, with None for what is left out.

    Raises
    ------
    InputError
        An unknown name, a word that is none of the choices, or no number where one is wanted.
    """
    kinds = get_type_hints(DesignOptions)
    for name, value in options.items():
        if name not in kinds:
            raise InputError(name, value, f"unknown option{meant_word(name, kinds)}")
        if value is None:
            continue
        if get_origin(kinds[name]) is Literal:
            if value not in get_args(kinds[name]):
                raise InputError(name, value, f"must be one of {', '.join(get_args(kinds[name]))}")
        elif kinds[name] is str:
            if not isinstance(value, str):
                raise InputError(name, value, "must be text, such as 'WR-90' or '22.86x10.16'")
        elif isinstance(value, bool) or not isinstance(value, (int, float)) or not math.isfinite(value):
            raise InputError(name, value, "must be a finite number")
    # first what is given, in the caller's order, as the command shows it
    return dict(options) | {name: None for name in kinds if name not in options}
