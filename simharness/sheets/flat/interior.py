"""The inside of the guide as it is built: with the room of an absorber at its far end."""

from __future__ import annotations

from simharness.errors import InputError
from simharness.geometry.scene import Scene
from simharness.geometry.solids import FAR_LOAD, Bounds
from simharness.sheets.flat.shapes import LETTERS, Path, Text, straight


def absorber_room(scene: Scene) -> tuple[float, float] | None:
    """From where to where along the guide an absorber lies, m; None without one."""
    return next((prism.bounds()[4:] for prism in scene.prisms if prism.part == FAR_LOAD), None)


def inside(scene: Scene) -> Bounds:
    """Inner bounds of the guide from end plate to end plate, m.

    Raises
    ------
    InputError
        The scene is no guide.
    """
    if scene.inside is None:
        raise InputError("scene", scene.name, "must have the inner size of a guide")
    room = absorber_room(scene)
    return scene.inside if room is None else (*scene.inside[:5], room[1])


def absorber_mark(scene: Scene, low: float, high: float) -> tuple[tuple[Path, ...], tuple[Text, ...]]:
    """A broken line across a wall where the absorber begins, from v = `low` to `high`, and its words; nothing without one."""
    room = absorber_room(scene)
    if room is None:
        return (), ()
    start, end = room
    return (straight((start, low), (start, high), dashed=True),), (
        Text(((start + end) / 2, low + 2 * LETTERS), "absorber inside", LETTERS),
    )


def absorber_words(scene: Scene, plate: str) -> tuple[str, ...]:
    """What to buy for it; `plate` is what the far end is called."""
    room = absorber_room(scene)
    if room is None:
        return ()
    x0, x1, y0, y1, *_ = inside(scene)
    start, end = room
    shape, thick = "wedge", f"{(x1 - x0) * 1e3:.2f} x {(y1 - y0) * 1e3:.2f} mm"
    if scene.bore:
        shape, thick = "cone", f"{(x1 - x0) * 1e3:.2f} mm across"
    return (
        f"Absorber: a {shape} of lossy foam, or of wood with graphite, {(end - start) * 1e3:.0f} mm long and {thick} at its thick end: its thin end "
        f"{start * 1e3:.2f} mm from the near end, its thick end against the {plate}. Longer is better.",
    )


def absorber_unmodelled(scene: Scene) -> tuple[str, ...]:
    """What the solver takes it for."""
    if absorber_room(scene) is None:
        return ()
    return (
        "In its model the absorber reflects nothing at all; what a real one sends back shows in the match and as a second, weaker beam.",
    )
