"""What the build list says of the shape of a guide: its stock, its marking, what of it the solver lacks."""

from __future__ import annotations

from typing import TYPE_CHECKING, Protocol

from simharness.records import Record
from simharness.sheets.flat.shape_round import tube_wall
from simharness.sheets.flat.walls import inside

if TYPE_CHECKING:
    from simharness.sheets.build.facts import Build


class ShapeMessages(Protocol):
    """What the build list asks of the shape of a guide."""

    line: str
    """What places across count from."""

    def folded(self, make: str) -> bool:
        """Whether a guide of this make is folded from sheet."""

    def how(self, build: Build) -> str:
        """How it is made, the end of a sentence."""

    def wall(self, build: Build, wall: str) -> str:
        """What the 'front' or 'back' is called."""

    def feed_wall(self, build: Build, wall: str) -> str:
        """What that is called where the coax comes through it."""

    def stock(self, build: Build) -> tuple[str, ...]:
        """The tube to buy."""

    def absorber(self, build: Build) -> tuple[str, str]:
        """Shape of an absorber, and how large it is at its thick end."""

    def marking_steps(self) -> tuple[str, ...]:
        """How a tube is marked before the drawings are laid on it."""

    def seat(self, build: Build, cable: bool) -> tuple[str, ...]:
        """How the seat of a connector, or of a cable, is fitted to the guide."""

    def unmodelled(self, build: Build) -> tuple[str, ...]:
        """What of the guide the solver's model lacks."""


class RectangularMessages:
    """A rectangular guide, folded or of stock tube."""

    line = "centre line"

    def folded(self, make: str) -> bool:
        """Whether a guide of this make is folded from sheet."""
        return make == "folded"

    def how(self, build: Build) -> str:
        """How it is made, the end of a sentence."""
        if not build.folded:
            return "made from stock tube"
        front = "" if build.laminate is None else ", with a front wall of laminate"
        return f"folded from sheet{front}"

    def wall(self, build: Build, wall: str) -> str:
        """What the 'front' or 'back' is called."""
        return f"{wall} wall" if build.folded else f"{wall} face of the tube"

    def feed_wall(self, build: Build, wall: str) -> str:
        """The same, where the coax comes through it."""
        return self.wall(build, wall)

    def stock(self, build: Build) -> tuple[str, ...]:
        """The tube to buy, none for a folded box."""
        if build.folded:
            return ()
        x0, x1, y0, y1, z0, z1 = (1e3 * at for at in inside(build.scene))
        t = 1e3 * build.parts[0].thickness
        return (
            f"Stock tube, {build.metal}: inside {x1 - x0:.2f} x {y1 - y0:.2f} mm, outside "
            f"{x1 - x0 + 2 * t:.2f} x {y1 - y0 + 2 * t:.2f} mm, wall {t:g} mm, sawn square to "
            f"{z1 - z0:.2f} mm. Measure its inside at both ends before you cut: where it differs from the "
            "record, put the measured size into the record and start again.",
        )

    def absorber(self, build: Build) -> tuple[str, str]:
        """Shape of an absorber, and how large it is at its thick end."""
        x0, x1, y0, y1, *_ = inside(build.scene)
        return "wedge", f"{(x1 - x0) * 1e3:.2f} x {(y1 - y0) * 1e3:.2f} mm"

    def marking_steps(self) -> tuple[str, ...]:
        """How a stock tube is marked."""
        return (
            "Scribe the centre line on each face that is cut; measure it from both edges, since stock is "
            "rarely true. Glue the drawings on along it.",
        )

    def seat(self, build: Build, cable: bool) -> tuple[str, ...]:
        """A flat wall needs nothing."""
        return ()

    def unmodelled(self, build: Build) -> tuple[str, ...]:
        """What of a stock tube the solver's model lacks."""
        if build.folded:
            return ()
        return ("Not in its model: the rounded inner corners that drawn tube has.",)


class RoundMessages:
    """A round tube."""

    line = "front line, as an arc on the outside of the tube"

    def folded(self, make: str) -> bool:
        """A round tube is not folded, whatever is asked."""
        return False

    def how(self, build: Build) -> str:
        """How it is made, the end of a sentence."""
        return "made from round tube"

    def wall(self, build: Build, wall: str) -> str:
        """What the 'front' or 'back' is called."""
        return f"{wall} line of the tube"

    def feed_wall(self, build: Build, wall: str) -> str:
        """The same, where the coax comes through it."""
        return f"{wall} of the tube"

    def stock(self, build: Build) -> tuple[str, ...]:
        """The tube to buy."""
        *_, z0, z1 = inside(build.scene)
        ring = tube_wall(build.scene)
        return (
            f"Round tube, {build.metal}: inside {2e3 * ring.inner:.2f} mm, outside {2e3 * ring.outer:.2f} "
            f"mm, wall {(ring.outer - ring.inner) * 1e3:g} mm, sawn square to {(z1 - z0) * 1e3:.2f} mm. "
            "Measure its inner diameter in two directions at both ends before you cut: where the mean "
            "differs from the record, put it into the record and start again; where the two differ, the "
            "tube turns the polarization of the wave ('simharness check' says how much is too much).",
        )

    def absorber(self, build: Build) -> tuple[str, str]:
        """Shape of an absorber, and how large it is at its thick end."""
        x0, x1, *_ = inside(build.scene)
        return "cone", f"{(x1 - x0) * 1e3:.2f} mm across"

    def marking_steps(self) -> tuple[str, ...]:
        """How the tube is marked."""
        return (
            "Scribe the front line along the tube, laid in an angle iron, and the back line half-way round "
            "from the same set-up: the back line decides in which direction the wave stands, and the slots "
            "count from the front line.",
            "Wrap the template around the tube, its front line on the scribed one, and check that the back "
            "lines meet too.",
        )

    def seat(self, build: Build, cable: bool) -> tuple[str, ...]:
        """What sits on the tube is filed or bent to its outside."""
        radius = build.guide.width_mm / 2 + build.guide.thickness_mm("back")
        what = "file the seat of the connector hollow to"
        if cable and build.solders:
            what = "file the square end of the outer conductor hollow to"
        elif cable:
            what = "bend the brass plate to"
        return (f"The tube is round: {what} a radius of {radius:g} mm, so that it sits all round.",)

    def unmodelled(self, build: Build) -> tuple[str, ...]:
        """What of the tube the solver's model lacks."""
        return (
            "In its model the curved wall is a staircase in which the wave has the cutoff of the round tube; "
            "it has no dents and is round everywhere.",
        )


SHAPES: dict[str, ShapeMessages] = {"rectangular": RectangularMessages(), "round": RoundMessages()}


def shape_messages(record: Record) -> ShapeMessages:
    """What the build list says of the shape of the guide of a record."""
    return SHAPES[record.guide.shape]
