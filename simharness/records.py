"""Design records: what the builder means to make, in millimetres and gigahertz.

A record is a TOML file. It is read once, validated as a whole and frozen; unknown
keys are errors. Everything below this module works in SI units.
"""

from __future__ import annotations

import json
import math
import re
import tomllib
from pathlib import Path
from typing import Annotated, Any, Literal, Union

from pydantic import BaseModel, ConfigDict, Field, ValidationError, model_validator

from simharness.constants import C0
from simharness.errors import InputError

SCHEMA_VERSION = 1
LEAST_BEYOND = 0.04
"""Least widening of the band on either side, of the design frequency, so that a detuned match is seen."""

REFERENCE_OHM = 50.0
"""Reference impedance of S11 at the coax, ohm: what a network analyser shows."""


def _mm(description: str, **limits: Any) -> Any:
    return Field(description=description, json_schema_extra={"unit": "mm"}, allow_inf_nan=False, strict=True, **limits)


class _Part(BaseModel):
    model_config = ConfigDict(extra="forbid", frozen=True)


class Band(_Part):
    """Frequencies the antenna is meant for, and the match asked for."""

    low_ghz: float = Field(gt=0.1, lt=100, allow_inf_nan=False, strict=True, description="lower edge, GHz")
    centre_ghz: float = Field(gt=0.1, lt=100, allow_inf_nan=False, strict=True, description="design frequency, GHz")
    high_ghz: float = Field(gt=0.1, lt=100, allow_inf_nan=False, strict=True, description="upper edge, GHz")
    target_s11_db: float = Field(
        -10.0, ge=-40, le=-3, allow_inf_nan=False, strict=True, description="largest |S11| wanted in the band, dB"
    )

    @property
    def beyond_ghz(self) -> float:
        """How far to look beyond either edge: the width of the band, or enough to see a detuned match."""
        return max(self.high_ghz - self.low_ghz, LEAST_BEYOND * self.centre_ghz)


class Mounting(_Part):
    """How the finished antenna hangs, so that polarization can be told in words."""

    axis: Literal["vertical", "horizontal"] = Field(description="direction of the long axis of the guide")


class Guide(_Part):
    """A rectangular guide: inner size, walls, ends."""

    shape: Literal["rectangular"] = "rectangular"
    a_mm: float = _mm("inner broad dimension", gt=1, lt=500)
    b_mm: float = _mm("inner narrow dimension", gt=0.5, lt=500)
    length_mm: float = _mm("inner length from end to end", gt=1, lt=5000)
    front_wall_mm: float = _mm("thickness of the slotted wall", ge=0.05, le=20)
    other_walls_mm: float = _mm("thickness of all other walls", ge=0.05, le=20)
    material: Literal[
        "perfect", "silver", "copper", "aluminium", "brass", "tin plate", "zinc-coated steel", "stainless steel"
    ] = Field("copper", description="wall material; 'perfect' has no loss")
    conductivity_s_per_m: float | None = Field(
        None, gt=1e3, le=1e9, allow_inf_nan=False, strict=True, description="overrides the material's usual conductivity, S/m"
    )
    near_end: Literal["short", "port"] = Field("short", description="what closes the guide at position 0")
    far_end: Literal["short", "port"] = Field("short", description="what closes the guide at its full length")


class Slot(_Part):
    """One longitudinal slot in the front wall."""

    position_mm: float = _mm("centre of the slot, from the near end along the guide", ge=0)
    offset_mm: float = _mm("centre of the slot from the centre line of the wall; the sign is the side")
    length_mm: float = _mm("overall length along the guide, end to end", gt=0)
    width_mm: float = _mm("width across", gt=0)
    ends: Literal["square", "round"] = "round"


class SlotRule(_Part):
    """Equal slots at equal spacing."""

    count: int = Field(strict=True, ge=1, le=40, description="number of slots")
    first_mm: float = _mm("centre of the first slot, from the near end", ge=0)
    spacing_mm: float = _mm("distance between centres of neighbours", gt=0)
    offset_mm: float = _mm("offset of the first slot from the centre line")
    alternate: bool = Field(True, strict=True, description="neighbours lie on opposite sides of the centre line")
    length_mm: float = _mm("overall length of each slot, end to end", gt=0)
    width_mm: float = _mm("width of each slot", gt=0)
    ends: Literal["square", "round"] = "round"


class Probe(_Part):
    """A straight coax probe through a broad wall."""

    kind: Literal["probe"]
    wall: Literal["back", "front"] = Field("back", description="back: the wall opposite the slots")
    position_mm: float = _mm("axis of the probe, from the near end", gt=0)
    offset_mm: float = _mm("axis of the probe from the centre line", default=0.0)
    height_mm: float = _mm("tip of the probe above the inner face of its wall", gt=0)
    wire_diameter_mm: float = _mm("diameter of the wire inside the guide", gt=0.1, lt=30)
    coax_inner_mm: float = _mm("diameter of the centre conductor in the wall and behind it", gt=0.1, lt=30)
    coax_outer_mm: float = _mm("inner diameter of the outer conductor (hole in the wall)", gt=0.2, lt=60)
    coax_permittivity: float = Field(
        2.08, ge=1, le=12, allow_inf_nan=False, strict=True, description="relative permittivity of the coax dielectric"
    )


class GuidePort(_Part):
    """The TE10 mode of the guide itself, at an end declared as a port."""

    kind: Literal["guide-port"]


Feed = Annotated[Union[Probe, GuidePort], Field(discriminator="kind")]


class Record(_Part):
    """A complete design record; see models/README.md for the axes."""

    schema_version: Literal[1] = Field(alias="schema", description="version of this format")
    name: str = Field(pattern=r"^[a-z0-9][a-z0-9-]{0,47}$", description="short name: a-z, 0-9 and hyphens")
    title: str = Field("", max_length=120)
    note: str = Field("", max_length=2000)
    band: Band
    mounting: Mounting
    guide: Guide
    slot_rule: SlotRule | None = None
    slot: tuple[Slot, ...] = ()
    feed: Feed

    @model_validator(mode="after")
    def _consistent(self) -> "Record":
        problems = list(geometry_problems(self))
        if problems:
            raise _Problems(problems)
        return self

    @property
    def slots(self) -> tuple[Slot, ...]:
        """All slots, the rule expanded, ordered along the guide."""
        rule = self.slot_rule
        if rule is None:
            return tuple(sorted(self.slot, key=lambda s: s.position_mm))
        return tuple(
            Slot(
                position_mm=rule.first_mm + i * rule.spacing_mm,
                offset_mm=-rule.offset_mm if rule.alternate and i % 2 else rule.offset_mm,
                length_mm=rule.length_mm,
                width_mm=rule.width_mm,
                ends=rule.ends,
            )
            for i in range(rule.count)
        )


_ROUNDING_MM = 1e-9
"""Sums of decimal fractions differ from what stands in the file by less than this."""


class _Problems(ValueError):
    """Carries (field, value, allowed) triples through pydantic's own wrapping."""

    def __init__(self, problems: list[tuple[str, object, str]]):
        self.problems = problems
        super().__init__("inconsistent record")


def geometry_problems(record: Record):
    """Yield (field, value, allowed) for everything that contradicts the geometry or the mode."""
    yield from _band_problems(record)
    yield from _port_problems(record)
    yield from _slot_problems(record)
    if isinstance(record.feed, Probe):
        yield from _probe_problems(record, record.feed)


def _up(length_mm: float) -> float:
    """The next tenth of a millimetre: printed advice must hold when it is followed."""
    return math.ceil(10 * length_mm) / 10


def _down(length_mm: float) -> float:
    return math.floor(10 * length_mm) / 10


def _band_problems(record: Record):
    band, guide = record.band, record.guide
    if not band.low_ghz < band.centre_ghz < band.high_ghz:
        yield "band.centre_ghz", band.centre_ghz, (
            f"must lie between low_ghz {band.low_ghz:g} and high_ghz {band.high_ghz:g}"
        )
        return
    cutoff = C0 / (2e6 * guide.a_mm)
    if band.low_ghz < 1.02 * cutoff:
        least = _up(1.02 * C0 / (2e6 * band.low_ghz))
        yield "guide.a_mm", guide.a_mm, (
            f"the guide cuts off at {cutoff:.3f} GHz, too near or above band.low_ghz "
            f"{band.low_ghz:g}; make a_mm at least {least:g}"
        )
    following = C0 / 2e6 / max(guide.a_mm / 2, guide.b_mm)
    if band.high_ghz > following:
        which = "a_mm" if guide.a_mm / 2 >= guide.b_mm else "b_mm"
        most = _down(C0 / 2e6 / band.high_ghz * (2 if which == "a_mm" else 1))
        yield f"guide.{which}", getattr(guide, which), (
            f"a second mode runs from {following:.3f} GHz, below band.high_ghz "
            f"{band.high_ghz:g}; make {which} at most {most:g}"
        )


def _port_problems(record: Record):
    guide = record.guide
    if record.feed.kind == "guide-port" and guide.near_end != "port":
        yield "guide.near_end", guide.near_end, "a guide-port feed needs near_end = 'port'"
    if record.feed.kind == "probe" and "port" in (guide.near_end, guide.far_end):
        end = "near_end" if guide.near_end == "port" else "far_end"
        yield f"guide.{end}", "port", "a probe-fed guide must be closed by a short at both ends"
    if record.slot_rule is not None and record.slot:
        yield "slot", len(record.slot), "give either [slot_rule] or [[slot]] entries, not both"
    if record.feed.kind == "probe" and not record.slots:
        yield "slot", 0, "an antenna needs at least one slot: add [slot_rule] or [[slot]]"


def _slot_problems(record: Record):
    guide = record.guide
    # Numbered as they stand in the file, not as they lie along the guide.
    slots = record.slots if record.slot_rule is not None else record.slot
    for i, slot in enumerate(slots):
        where = f"slot {i + 1}"
        aside, along = guide.a_mm / 2 - slot.width_mm / 2, slot.length_mm / 2
        if slot.width_mm > guide.a_mm:
            yield f"{where} width_mm", slot.width_mm, f"must be less than a_mm {guide.a_mm:g}"
        elif abs(slot.offset_mm) > aside + _ROUNDING_MM:
            yield f"{where} offset_mm", slot.offset_mm, f"the slot runs over the side wall; |offset_mm| at most {aside:g}"
        if slot.length_mm <= slot.width_mm:
            yield f"{where} length_mm", slot.length_mm, f"must be greater than width_mm {slot.width_mm:g}"
        if slot.length_mm > guide.length_mm:
            yield f"{where} length_mm", slot.length_mm, f"must be less than the guide's length_mm {guide.length_mm:g}"
        elif not along - _ROUNDING_MM <= slot.position_mm <= guide.length_mm - along + _ROUNDING_MM:
            yield f"{where} position_mm", slot.position_mm, (
                f"the slot runs past an end of the guide; allowed {along:g} to {guide.length_mm - along:g}"
            )
    for i in range(len(slots)):
        for j in range(i + 1, len(slots)):
            one, two = slots[i], slots[j]
            along = abs(one.position_mm - two.position_mm) - (one.length_mm + two.length_mm) / 2
            across = abs(one.offset_mm - two.offset_mm) - (one.width_mm + two.width_mm) / 2
            if along <= 0 and across <= 0:
                yield f"slot {j + 1} position_mm", two.position_mm, (
                    f"overlaps slot {i + 1} at {one.position_mm:g}; leave metal between them"
                )


def _probe_problems(record: Record, probe: Probe):
    guide = record.guide
    if probe.height_mm >= guide.b_mm:
        yield "feed.height_mm", probe.height_mm, (
            f"the probe would touch the far wall; must be less than b_mm {guide.b_mm:g}"
        )
    if probe.coax_outer_mm <= probe.coax_inner_mm:
        yield "feed.coax_outer_mm", probe.coax_outer_mm, (
            f"must be greater than coax_inner_mm {probe.coax_inner_mm:g}"
        )
    radius = max(probe.coax_outer_mm, probe.wire_diameter_mm) / 2
    if not radius < probe.position_mm < guide.length_mm - radius:
        yield "feed.position_mm", probe.position_mm, (
            f"the feed hole runs past an end of the guide; allowed {radius:g} to {guide.length_mm - radius:g}"
        )
    if abs(probe.offset_mm) + radius >= guide.a_mm / 2:
        yield "feed.offset_mm", probe.offset_mm, (
            f"the feed hole runs over the side wall; |offset_mm| less than {guide.a_mm / 2 - radius:g}"
        )
    if probe.wall == "front":
        for i, slot in enumerate(record.slots):
            along = abs(slot.position_mm - probe.position_mm) - slot.length_mm / 2 - radius
            across = abs(slot.offset_mm - probe.offset_mm) - slot.width_mm / 2 - radius
            if along <= 0 and across <= 0:
                yield "feed.position_mm", probe.position_mm, (
                    f"the feed hole cuts into slot {i + 1}; move it or use wall = 'back'"
                )


def parse_record(data: dict[str, Any], origin: str = "record") -> Record:
    """Validate a mapping as read from TOML.

    Raises
    ------
    InputError
        With one line for each problem: field = value: what would be allowed.
    """
    try:
        return Record.model_validate(data)
    except ValidationError as error:
        raise record_error(error, origin) from None


def read_record(path: str | Path) -> Record:
    """Read and validate a design record.

    Raises
    ------
    InputError
        The file is missing, is not TOML, or does not hold an allowed record.
    """
    path = Path(path)
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "it is not UTF-8 text"
        raise InputError("record", path, f"must be a readable TOML file ({reason})") from None
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise InputError("record", path, f"must be valid TOML ({error})") from None
    return parse_record(data, str(path))


def record_error(error: ValidationError, origin: str) -> InputError:
    """Turn pydantic's report into one InputError, a line for each problem."""
    problems: list[tuple[str, object, str]] = []
    for item in error.errors():
        cause = item.get("ctx", {}).get("error")
        if isinstance(cause, _Problems):
            problems += cause.problems
        else:
            problems.append(_plain_problem(item))
    first = InputError(*problems[0])
    first.problems = [f"{what} = {_shown(value)}: {allowed}" for what, value, allowed in problems]
    first.origin = origin
    first.args = (f"{origin}: " + f"\n{origin}: ".join(first.problems),)
    return first


def _shown(value: object) -> str:
    """A value as it may stand in a message: one short line, text in quotes."""
    if value == _MISSING:
        return _MISSING
    text = json.dumps(value, ensure_ascii=False) if isinstance(value, (str, bool)) else str(value)
    return text if len(text) <= 60 else text[:57] + "..."


_MISSING = "(missing)"
_ALLOWED = {
    "string_pattern_mismatch": "must be a-z, 0-9 and hyphens, at most 48 of them, no hyphen first",
    "missing": "this field must be given",
    "tuple_type": "must be written as [[slot]], one table for each slot",
    "union_tag_not_found": "must be 'probe' or 'guide-port'",
    "union_tag_invalid": "must be 'probe' or 'guide-port'",
    "model_type": "must be a table with fields of its own",
    "model_attributes_type": "must be a table with fields of its own",
    "float_type": "must be a number, written without quotes",
    "int_type": "must be a whole number, written without quotes",
    "bool_type": "must be true or false, written without quotes",
}


def _plain_problem(item: dict[str, Any]) -> tuple[str, object, str]:
    # Below "feed" pydantic names the kind of feed, which is no key of the file.
    loc = item["loc"]
    place = [p for i, p in enumerate(loc) if not (i == 1 and loc[0] == "feed")]
    where = ".".join(str(p + 1) if isinstance(p, int) else p for p in place) or "record"
    kind, value = item["type"], item["input"]
    if kind == "extra_forbidden":
        return where, value, f"unknown key; allowed here: {', '.join(_keys_at(place[:-1], loc))}"
    if kind.startswith("union_tag"):
        where, value = f"{where}.kind", value.get("kind", _MISSING) if isinstance(value, dict) else value
    message = re.sub(r"^(Input|String) should", "must", item["msg"])
    return where, _MISSING if kind == "missing" else value, _ALLOWED.get(kind, message)


def _keys_at(place: list[Any], loc: tuple[Any, ...]) -> list[str]:
    """Keys allowed in the table at `place`."""
    tables = {
        "band": Band, "mounting": Mounting, "guide": Guide, "slot": Slot, "slot_rule": SlotRule,
        "feed": GuidePort if "guide-port" in loc else Probe,
    }
    model = tables.get(place[0], Record) if place else Record
    return [f.alias or name for name, f in model.model_fields.items()]


def record_schema() -> dict[str, Any]:
    """JSON Schema (draft 2020-12) of a design record, for editors."""
    schema = Record.model_json_schema(by_alias=True)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema"} | schema | {"title": "simharness design record"}


def slot_clearance(record: Record) -> float:
    """Smallest metal bridge between neighbouring slots, mm; infinity for one slot."""
    slots = record.slots
    gaps = [
        math.hypot(
            max(0.0, abs(p.position_mm - q.position_mm) - (p.length_mm + q.length_mm) / 2),
            max(0.0, abs(p.offset_mm - q.offset_mm) - (p.width_mm + q.width_mm) / 2),
        )
        for i, p in enumerate(slots)
        for q in slots[i + 1 :]
    ]
    return min(gaps, default=math.inf)
