"""How far the solver's figures and the estimate's are trusted, by kind of antenna and quality of the mesh."""

from __future__ import annotations

from collections.abc import Mapping

from simharness.constants import C0
from simharness.numerics.decibels import amplitude_decibels
from simharness.records import Record
from simharness.results.settling import FIELD_UNEVEN
from simharness.verdict.site_bars import COUPLING_SOLVER_ERROR, site_error

LOW_LEVEL = 0.1
"""Field of a side or back lobe (-20 dB), as a share of that of the main beam. Slot voltages that lack a
share u, as the root of the sum of their squares, change the field anywhere by no more than u of the main
beam of equal slots (Cauchy and Schwarz)."""

SOLVER_ERROR = {
    "draft": {
        "resonance": 0.005,
        "band": 0.006,
        "gain": 0.2,
        "beamwidth": 0.015,
        "beam": 0.05,
        "side_lobe": 0.7,
        "front_to_back": 1.2,
        "ripple": 0.5,
        "null": 1.0,
        "s11": 0.07,
    },
    "normal": {
        "resonance": 0.003,
        "band": 0.003,
        "gain": 0.15,
        "beamwidth": 0.012,
        "beam": 0.04,
        "side_lobe": 0.5,
        "front_to_back": 1.0,
        "ripple": 0.4,
        "null": 1.0,
        "s11": 0.04,
    },
    "fine": {
        "resonance": 0.0025,
        "band": 0.0025,
        "gain": 0.12,
        "beamwidth": 0.01,
        "beam": 0.03,
        "side_lobe": 0.4,
        "front_to_back": 0.6,
        "ripple": 0.3,
        "null": 1.0,
        "s11": 0.03,
    },
}
"""Error of each quality: relative for frequencies and beamwidths, dB otherwise, |S11| in the complex plane.
See `RESTS_ON`; `tests/solver/test_error_bars.py` holds draft and normal against the finer runs. Front to
back, the least sure, hangs on the absorber (Mur's condition against a matched layer moved it by 0.6 dB).
The direction of the beam is a share of the beamwidth, and a judgement: on the draft mesh 16 slots on a
travelling wave and 8 on a standing one were 0.1 deg from the estimate, 0.02 of the beamwidth; finer meshes
were not compared."""

RESTS_ON = (
    "the shipped arrays of 5 and 8 slots, held against meshes of 2 to 3 million cells "
    "(normal: S11 within 0.013, directivity within 0.01 dB of them), "
    "and single slots and feeds, held against the moment method"
)

CURVED_RESTS_ON = (
    "one row of six bent slots, held against a mesh with 5 cells across each, "
    "and single slots of other shapes"
)
LAMINATE_RESTS_ON = (
    "one antenna of five slots, held against a mesh with 5 cells across each, "
    "and single slots against the moment method"
)
ROUND_RESTS_ON = "one tube of four slots, held against a mesh with 54 cells across it, and the empty tube"

ESTIMATE_ERROR = {
    "resonance": 0.015,
    "band": 0.01,
    "gain": 0.5,
    "beamwidth": 0.04,
    "beam": 0.1,
    "side_lobe": 1.5,
    "front_to_back": 1.5,
    "ripple": 1.0,
    "null": 3.0,
    "s11": 0.15,
}
"""What the estimate is trusted to; relative for frequencies and beamwidths, dB otherwise, |S11| in the
complex plane. Rests on the three shipped antennas: against the finest mesh at hand, 5.8 and 10.37 GHz fine
and 2.45 GHz draft, the best match lay 1.0 % off at most (in a flat curve), edges of the band 0.5 %, gain
0.2 dB, beamwidth 1.1 %, side lobes and front to back 0.3 dB, S11 0.08."""

ROUND_SOLVER_ERROR = {
    "draft": SOLVER_ERROR["draft"]
    | {
        "resonance": 0.01,
        "band": 0.008,
        "gain": 0.25,
        "beamwidth": 0.1,
        "side_lobe": 0.9,
        "front_to_back": 1.2,
        "s11": 0.12,
    },
    "normal": SOLVER_ERROR["normal"]
    | {
        "resonance": 0.008,
        "band": 0.008,
        "gain": 0.2,
        "beamwidth": 0.04,
        "side_lobe": 0.8,
        "front_to_back": 1.0,
        "s11": 0.11,
    },
    "fine": SOLVER_ERROR["fine"]
    | {
        "resonance": 0.006,
        "band": 0.006,
        "gain": 0.15,
        "beamwidth": 0.03,
        "side_lobe": 0.6,
        "front_to_back": 0.8,
        "s11": 0.08,
    },
}
"""The same for a round tube, whose wall is a staircase. Rests on the shipped tube alone, against a mesh
with 54 cells across it: draft and normal were 0.09 off in S11, best match 0.14 and 0.4 %, edges of the band
0.3 and 0.7 %, directivity 0.16 and 0.06 dB, beamwidth across 9 and 2.3 %, side lobes 0.6 dB; fine lies
between and was not run. The estimate is within 0.025 in S11 of that finest mesh, and of the draft within
0.13 for three other tubes: it needs no bars of its own."""


CURVED_SOLVER_ERROR = {
    quality: error | {"resonance": 0.01, "band": 0.01, "s11": s11}
    for (quality, error), s11 in zip(SOLVER_ERROR.items(), (0.15, 0.13, 0.1))
}
"""The same for curved and tapered slots, whose edges are staircases. Rests on the six bent slots of the
shipped record, against 5 cells across each: draft and normal were 0.05 and 0.12 off in S11, best match 0.7
and 0.1 %, an edge of the band 0.8 %; fine was not run."""

LAMINATE_SOLVER_ERROR = {
    quality: error | {"resonance": resonance, "band": band, "s11": s11}
    for (quality, error), resonance, band, s11 in zip(
        SOLVER_ERROR.items(), (0.006, 0.004, 0.003), (0.009, 0.006, 0.004), (0.11, 0.05, 0.04)
    )
}
"""The same for a front wall of laminate. Rests on the shipped record, against 5 cells across a slot: draft
and normal were 0.09 and 0.04 off in S11, best match 0.4 and 0.25 %, the upper edge of the band 0.7 % and
less; fine was not run."""

CURVED_ESTIMATE_ERROR = ESTIMATE_ERROR | {"resonance": 0.02, "band": 0.015, "beamwidth": 0.1, "s11": 0.2}
"""The estimate of such slots, by an equivalent straight one: S11 was 0.18 off against that finest mesh, the
beamwidth across 9 %."""

COVERED_ESTIMATE_ERROR = ESTIMATE_ERROR | {"resonance": 0.04, "band": 0.02, "gain": 0.8, "s11": 0.2}
"""The estimate under a cover that lies on the wall or close to it, which it takes as endless. Rests on three
designs under 1 and 2 mm of PVC on the wall: against draft and normal meshes the best match lay 0.5, 3.6 and
3.7 % off (two flat curves of four slots), an edge of the band 1.3 %, gain 0.7 dB. One 3 mm away from the
wall (0.06 wavelengths), and single covered slots, were within the usual bars."""
COVER_CLOSE = 0.05
"""Gap up to which a cover counts as close to the wall, free-space wavelengths."""


COVERED_SOLVER_ERROR = {
    quality: {"resonance": frequency, "band": frequency, "s11": s11}
    for quality, frequency, s11 in (("draft", 0.011, 0.12), ("normal", 0.008, 0.09), ("fine", 0.007, 0.07))
}
"""The solver under a cover at the mouths of the slots: on a mesh too much of their field is in it. Rests
on single slots against a full vector aperture: 2 mm of PVC on a wall of 2 mm read 0.5 % low with 4 cells
across and 0.3 % with 8, four other sheets on 1 mm 0.0 to 0.5 % with 4; S11 of a row follows. Draft is a
judgement."""
THIN_GAP_ERROR = {"resonance": 0.017, "band": 0.017}
"""The same over a gap thinner than a cell: 1 mm of glass epoxy 0.2 mm before the wall read 1.4 % low."""
COVERED_RESTS_ON = (
    "single slots under sheets on the wall, held against a full vector aperture with 4 and 8 cells across"
)
MOUTH = 1.0 / 3.0
"""Gap up to which a cover is at the mouths of the slots, in widths of the widest: about a cell."""


def solver_error(record: Record, quality: str, about: Mapping[str, object] | None = None) -> dict[str, float]:
    """Error of a quality for a record; that of a draft where the quality is unknown.

    `about`, the provenance of a run, makes it that much longer where the run had only nearly settled.
    """
    errors, _, _ = _calibrated(record)
    error = errors.get(quality, errors["draft"])
    if record.pair is not None:
        error = error | {"coupling": COUPLING_SOLVER_ERROR[record.pair.place]}
    moving, lacking = left_open(about or {})
    if moving:
        longer = 1 + moving / error["s11"]
        error = error | {kind: error[kind] * longer for kind in ("resonance", "band", "s11")}
    if lacking:
        main, down = amplitude_decibels(1 + lacking), amplitude_decibels(1 + lacking / LOW_LEVEL)
        more = {
            "gain": main,
            "beamwidth": lacking,
            "side_lobe": down,
            "front_to_back": down,
            "ripple": 2 * main,
            "null": down,
        }
        error = error | {kind: error[kind] + more[kind] for kind in more}
    return error


def provenance(results: object) -> Mapping[str, object]:
    """How a run came about, where its results bring that."""
    return getattr(results, "attributes", {})


def mesh_quality(results: object) -> str:
    """Quality of the mesh of a run; "draft", with the longest error bars, where its results do not tell."""
    return str(provenance(results).get("quality", "draft"))


def left_open(about: Mapping[str, object]) -> tuple[float, float]:
    """What a run by its provenance left open: change of S11, and share of the field beyond a common factor;
    0 where it had settled."""
    moving, uneven = (
        value if isinstance(value, float) else 0.0
        for value in (about.get("change_s"), about.get("field_uneven"))
    )
    return (moving if about.get("settling") == "nearly" else 0.0), (uneven if uneven >= FIELD_UNEVEN else 0.0)


def estimate_error(record: Record) -> dict[str, float]:
    """What the estimate of a record is trusted to."""
    error = CURVED_ESTIMATE_ERROR if any(slot.off_grid for slot in record.slots) else ESTIMATE_ERROR
    cover = record.cover
    if cover is not None and cover.gap < COVER_CLOSE * C0 / record.band.centre:
        error = {kind: max(size, COVERED_ESTIMATE_ERROR[kind]) for kind, size in error.items()}
    return site_error(record, error)


def calibration(record: Record) -> tuple[str, str]:
    """Which error bars those of a record are, and what they rest on."""
    _, kind, rests_on = _calibrated(record)
    return kind, rests_on


_OF_SHAPE = {
    "round": (ROUND_SOLVER_ERROR, "of round tubes, whose wall is a staircase on the mesh", ROUND_RESTS_ON)
}
"""Error bars, kind of antenna and their basis for shapes of guide that have their own."""


def _calibrated(record: Record) -> tuple[dict[str, dict[str, float]], str, str]:
    """Errors of all qualities for a record, its kind of antenna, and what they rest on."""
    errors, kind, rests_on = _of_kind(record)
    cover = record.cover
    if cover is None or cover.gap > MOUTH * max(slot.width for slot in record.slots):
        return errors, kind, rests_on
    thin = THIN_GAP_ERROR if cover.gap else {}
    longer = {
        quality: error
        | {
            name: max(error[name], size, thin.get(name, 0.0))
            for name, size in COVERED_SOLVER_ERROR[quality].items()
        }
        for quality, error in errors.items()
    }
    return longer, "of covers on the slots", f"{rests_on}, and {COVERED_RESTS_ON}"


def _of_kind(record: Record) -> tuple[dict[str, dict[str, float]], str, str]:
    """The same without a cover."""
    if record.guide.shape in _OF_SHAPE:
        return _OF_SHAPE[record.guide.shape]
    if any(slot.off_grid for slot in record.slots):
        return (
            CURVED_SOLVER_ERROR,
            "of curved or tapered slots, whose edges are staircases on the mesh",
            CURVED_RESTS_ON,
        )
    if record.guide.substrate is not None:
        return LAMINATE_SOLVER_ERROR, "of fronts of laminate", LAMINATE_RESTS_ON
    return SOLVER_ERROR, "in general", RESTS_ON
