"""How far estimate and solver are trusted of an antenna with wings, or beside other bodies."""

from __future__ import annotations

from collections.abc import Mapping

from simharness.estimate.site.figures import ACROSS_ERROR, NEAR_DB
from simharness.estimate.site.wings import is_long
from simharness.records import Record

POLE_ERROR = {
    "gain": 0.5,
    "beamwidth": 0.06,
    "side_lobe": 1.5,
    "front_to_back": 3.0,
    "ripple": 3.0,
    "across": ACROSS_ERROR,
}
WALL_ERROR = POLE_ERROR | {"gain": 0.7, "beamwidth": 0.09, "side_lobe": 2.5, "front_to_back": 6.0}
BESIDE_ERROR = POLE_ERROR | {"beamwidth": 0.12, "side_lobe": 3.5, "coupling": 2.0}
BACK_ERROR = POLE_ERROR | {"front_to_back": 7.0, "coupling": 8.0}
ABOVE_ERROR = POLE_ERROR | {"front_to_back": 3.5}
"""What the estimate is trusted to, as `error_bars.ESTIMATE_ERROR`; "across" that of a level across the
guide down to 15 dB under the strongest, dB. Rests on rows of three and six slots against draft meshes
(`tests/references/mast-across.csv`, `mast-figures.csv`): six before poles were within 2.0 dB across and
two before walls within 0.9 dB; bars of the other figures rest on runs whose open faces sent more back:
five before poles were within 0.15 dB in gain, 4.4 % in beamwidth, 0.8 dB in side lobes and 2.1 dB in
front to back; two before walls 0.5 dB, 7 %, 2.0 dB and 4.5 dB; three beside each other 0.3 dB, 10 %, 2.8
dB, 1.5 dB, 1.7 dB, and 0.5 dB in coupling, which is the bar of that distance; one back to back 5.2 dB in
front to back and 6.1 dB in a coupling of -65 dB; one above the other 2.8 dB in front to back. Ripple is
a judgement."""

WING_ERROR = POLE_ERROR | {"side_lobe": 2.5, "front_to_back": 7.5, "across": 1.6}
FORWARD_ERROR = WING_ERROR | {"gain": 0.7, "beamwidth": 0.1, "across": 4.5, "s11": 0.3, "resonance": 0.05}
SHORT_FORWARD_ERROR = FORWARD_ERROR | {"side_lobe": 4.0, "across": 16.0}
"""The same of wings: flat or bent back; bent forward; bent forward on an antenna shorter than
`simharness.estimate.site.wings.LONG`. Rests on rows of three and six slots (2.5 and 4.4 wavelengths) against
draft meshes (`tests/references/wings-across.csv`, `wings-figures.csv`): five flat or bent back were within
0.1 dB in gain, 3.7 % in beamwidth, 1.4 dB in side lobes, 6.9 dB in front to back, and 1.4 dB across (three of
them within 1 dB); three long ones bent forward within 0.5 dB, 8 %, 1.0 dB, 2.1 dB and 3.8 dB; two short ones
within 0.6 dB, 6 %, 3.0 dB, 5.6 dB and 14.5 dB."""

COUPLING_SOLVER_ERROR = {"beside": 1.0, "above": 3.0, "back to back": 3.0}
"""Of the coupling in dB by place of the second antenna, any quality: a judgement, no finer mesh was run."""


def site_error(record: Record, error: Mapping[str, float]) -> dict[str, float]:
    """Error bars of an estimate of the antenna alone, longer for one that has something beside it.

    Directions of nulls then have none: of minima as low as those behind it, another may be the deepest.
    """
    if record.wings is not None:
        forward = FORWARD_ERROR if is_long(record) else SHORT_FORWARD_ERROR
        there = forward if record.wings.angle_deg > 0 else WING_ERROR
    elif record.mast is not None:
        there = WALL_ERROR if record.mast.shape == "wall" else POLE_ERROR
    elif record.pair is not None:
        there = {"beside": BESIDE_ERROR, "above": ABOVE_ERROR, "back to back": BACK_ERROR}[record.pair.place]
    else:
        return dict(error)
    kept = {kind: max(size, there.get(kind, 0.0)) for kind, size in error.items() if kind != "null"}
    return there | kept


def site_trust(record: Record, error: Mapping[str, float]) -> list[str]:
    """What the estimate leaves out of a pole, a wall or a second antenna, and how far it is trusted."""
    if "across" not in error:
        return []
    if record.wings is not None:
        return [_wing_trust(error)]
    other = f"the {record.mast.noun}" if record.mast is not None else "the second antenna"
    coupled = f", the coupling to {error['coupling']:g} dB" if "coupling" in error else ""
    return [
        f"The estimate takes the antenna and {other} as endless along their axes, and leaves out what sticks "
        f"out behind, connector and cable: its levels across are trusted to about {error['across']:g} dB "
        f"down to {-NEAR_DB:g} dB under the strongest, front to back to "
        f"{error['front_to_back']:g} dB{coupled}."
    ]


def _wing_trust(error: Mapping[str, float]) -> str:
    return (
        "The estimate takes guide and wings as endless along their axis: its levels across are trusted to "
        f"about {error['across']:g} dB down to {-NEAR_DB:g} dB under the strongest, front to back to "
        f"{error['front_to_back']:g} dB; the match is that of the guide without wings."
    )
