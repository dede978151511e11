"""Words in pictures: none cut off, none over another, every entry of a legend with what it names; for all
pictures of all shipped records.

Boxes of texts come from matplotlib's own text layout. Results are invented.
"""

from __future__ import annotations

import matplotlib.text
import pytest
from each_case import each_case
from picture_cases import DrawnTexts, shipped_case, unseen_entries
from shaped_records import SHIPPED
from study_cases import general_pictures, study_pictures

from simharness.plot import album, style

LONG = {
    "words": ("A long row of words with $signs$ that mean nothing, \\frac{ among them " * 4)[:200],
    "one word": "W" * 200,
}


def troubles(name: str, figure, title: str) -> list[str]:
    """What is wrong with the words of a picture, in words."""
    drawn = DrawnTexts(figure)
    found = [f"{name}: cut off: {words!r}" for words in drawn.clipped()]
    found += [f"{name}: over each other: {pair}" for pair in drawn.overlapping()]
    found += [f"{name}: in the legend only: {words!r}" for words in unseen_entries(figure)]
    said = "".join("".join(text.get_text() for text in figure.findobj(matplotlib.text.Text)).split())
    if "".join(title.split()) not in said:
        found.append(f"{name}: the title is not whole")
    return found


GENERAL = ("bent-probe-2g45", "eight-slot-wr90-10g37")
"""The longest title, and the most digits."""


@each_case("name", SHIPPED)
def test_words_in_all_pictures_of_a_record(name):
    results, record, guess = shipped_case(name)
    with style.own_look():
        figures = {kind: draw(results, record, guess) for kind, draw in album.DRAWINGS.items()}
        assert None not in figures.values()
        figures |= {kind: draw() for kind, draw in study_pictures(record, results)}
        if name in GENERAL:
            figures |= {kind: draw() for kind, draw in general_pictures(record, results)}
        assert [
            trouble for kind, figure in figures.items() for trouble in troubles(kind, figure, record.title)
        ] == []


@pytest.mark.parametrize("title", LONG.values(), ids=LONG)
def test_titles_of_two_hundred_characters(title):
    results, record, guess = shipped_case("bent-probe-2g45")
    named = record.model_copy(update={"title": title})
    with style.own_look():
        pictures = [
            (kind, album.DRAWINGS[kind](results, named, guess))
            for kind in ("match", "cuts", "slots", "overview")
        ]
        pictures += [(kind, draw()) for kind, draw in study_pictures(named, results)]
        pictures += [(kind, draw()) for kind, draw in general_pictures(named, results) if kind == "sweep"]
        assert [trouble for kind, figure in pictures for trouble in troubles(kind, figure, title)] == []


def test_a_picture_with_every_trouble_is_caught():
    figure = style.sheet(4, 3)
    axes = figure.add_axes((0.2, 0.2, 0.6, 0.6))
    axes.plot([0.0, 1.0], [5.0, 5.0], label="beyond")
    axes.set(ylim=(0, 1), xticks=[])
    axes.legend()
    figure.text(0.9, 0.05, "over the border")
    figure.text(0.3, 0.95, "one over")
    figure.text(0.32, 0.95, "the other")
    kinds = [trouble.split(":")[1].strip() for trouble in troubles("invented", figure, "Another title")]
    assert kinds == ["cut off", "over each other", "in the legend only", "the title is not whole"]
