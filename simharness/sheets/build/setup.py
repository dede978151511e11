"""How the finished antenna is put up: tilt, pole or wall, second antenna. None of it is on the sheets."""

from __future__ import annotations

from collections.abc import Iterator

from simharness.records import Record


def setup_steps(record: Record) -> Iterator[str]:
    """What the record says of the place of its antenna."""
    mast, pair, tilt = record.mast, record.pair, record.mounting.tilt_deg
    if pair is not None:
        apart = {
            "beside": f"from axis to axis {pair.distance_mm:g} mm",
            "above": f"{pair.distance_mm:g} mm between the ends that face each other",
            "back to back": f"{pair.distance_mm:g} mm between the outer faces of the backs",
        }[pair.place]
        fed = (
            "feed both in phase, through equal lengths of cable from a splitter"
            if pair.fed == "in phase"
            else "end the one that is not fed in a matched load"
        )
        yield f"Build a second one, equal to it, and mount it {pair.noun}: {apart}; {fed}."
    if mast is not None:
        size = f" of {mast.diameter_mm:g} mm" if mast.diameter_mm is not None else ""
        yield (
            f"Mount it parallel to the {mast.noun}{size}, {mast.distance_mm:g} mm clear of it, the "
            f"{mast.noun} {_where(mast.direction_deg)}; brackets and cable are not in "
            "the model: keep them off the slots."
        )
    if tilt:
        towards = "down" if tilt > 0 else "up"
        yield f"Tilt it so that its front looks {towards} by {abs(tilt):g} deg."


def _where(direction: float) -> str:
    if abs(direction) == 180:
        return "straight behind"
    if direction == 0:
        return "straight ahead"
    return f"{abs(direction):g} deg from the front towards {'+x' if direction > 0 else '-x'}"
