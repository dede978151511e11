"""Pictures on the pages of a PDF: at their best size, or a little smaller where that fills a page."""

from __future__ import annotations

import io
from dataclasses import dataclass, field

from reportlab.lib.utils import ImageReader
from reportlab.platypus import Flowable

from simharness.report.content import with_minus_signs
from simharness.report.pictures import Picture
from simharness.sheets.drawing.lettering import BOLD, M
from simharness.sheets.pages.flow import paragraph

PIXEL = 25.4e-3 / 260
"""Size of a pixel, m; less where a picture is too wide or too high for the page."""
MAX_HEIGHT = 0.84
"""Greatest height of a picture over that of the page between its margins."""
MIN_SHARE = 0.62
"""Least share of its best size that a picture may shrink to: below it, its letters are hard to read."""
_GAP = 10.0
"""Space above the title of a picture, points."""


@dataclass(frozen=True)
class Frame:
    """Area between the margins of a page, points."""

    width: float
    height: float


@dataclass
class Plate(Flowable):
    """Headings, title, picture and its description in one piece, which shrinks to what is left of a page.

    Attributes
    ----------
    picture : Picture
    frame : of the page.
    scale : of letters.
    before : headings that stay with it.
    largest : share of its best size that it has at most.
    """

    picture: Picture
    frame: Frame
    scale: float = 1.0
    before: tuple[Flowable, ...] = ()
    largest: float = 1.0
    share: float = field(default=1.0, init=False)

    def __post_init__(self) -> None:
        super().__init__()
        self._above = [*self.before, paragraph(self.picture.title, 12 * self.scale, BOLD)]
        self._below = [paragraph(with_minus_signs(self.picture.alt), 9.5 * self.scale)]

    def image_size(self, share: float) -> tuple[float, float]:
        """Width and height of the picture at a share of its best size, points."""
        wide, high = self.picture.pixels
        pixel = share * min(PIXEL * M, self.frame.width / wide, MAX_HEIGHT * self.frame.height / high)
        return wide * pixel, high * pixel

    def text_height(self) -> float:
        """Height of all but the picture itself, points."""
        return _GAP + sum(
            each.wrap(self.frame.width, self.frame.height)[1] + each.getSpaceAfter()
            for each in (*self._above, *self._below)
        )

    def wrap(self, available_width: float, available_height: float) -> tuple[float, float]:
        """Its size: the best, or what is left of the page where it can shrink to that."""
        text, best = self.text_height(), self.image_size(self.largest)[1]
        self.share = self.largest
        if text + best > available_height:
            fitting = self.largest * (available_height - text) / best
            if fitting >= MIN_SHARE:
                self.share = fitting * 0.999
        return available_width, text + self.image_size(self.share)[1]

    def draw(self) -> None:
        """Draw it from the top."""
        wide, high = self.image_size(self.share)
        y = self.text_height() + high - _GAP
        for each in self._above:
            y -= each.wrap(self.frame.width, y)[1]
            each.drawOn(self.canv, 0, y)
            y -= each.getSpaceAfter()
        y -= high
        self.canv.drawImage(ImageReader(io.BytesIO(self.picture.png)), 0, y, wide, high)
        for each in self._below:
            y -= each.wrap(self.frame.width, y)[1]
            each.drawOn(self.canv, 0, y)


def plates(
    pictures: tuple[Picture, ...], frame: Frame, scale: float, before: tuple[Flowable, ...] = ()
) -> list[Plate]:
    """The pictures of a chapter, the first with its heading; two that fit on a page are sized for that."""
    found = [Plate(picture, frame, scale, before if i == 0 else ()) for i, picture in enumerate(pictures)]
    i = 0
    while i + 1 < len(found):
        pair = found[i : i + 2]
        room = frame.height - sum(plate.text_height() for plate in pair) - 2 * _GAP
        share = min(1.0, room / sum(plate.image_size(1.0)[1] for plate in pair))
        if share >= MIN_SHARE:
            for plate in pair:
                plate.largest = share
            i += 1
        i += 1
    return found
