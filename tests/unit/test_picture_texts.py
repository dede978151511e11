"""Words in pictures: none cut off, none over another, every entry of a legend with what it names; for all pictures of all shipped records.

Boxes of texts come from matplotlib's own text layout. Results are invented.
"""

from __future__ import annotations

import matplotlib.text
import pytest
from picture_cases import DrawnTexts, shipped_case, unseen_entries
from shaped_records import SHIPPED
from study_cases import study_pictures

from simharness.plot import album, style

LONG = {
    "words": ("A long row of words about an antenna, its metal and its maker " * 4)[:200],
    "one word": "W" * 200,
    "formula": ("A title with $signs$ that mean nothing, \\frac{ among them " * 4)[:200],
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


@pytest.mark.parametrize("name", SHIPPED)
def test_words_in_the_pictures_of_a_run(name):
    results, record, guess = shipped_case(name)
    with style.own_look():
        figures = {kind: draw(results, record, guess) for kind, draw in album.DRAWINGS.items()}
        assert None not in figures.values()
        assert [trouble for kind, figure in figures.items() for trouble in troubles(kind, figure, record.title)] == []


@pytest.mark.parametrize("name", SHIPPED)
def test_words_in_the_pictures_of_studies(name):
    record = SHIPPED[name]
    with style.own_look():
        assert [
            trouble for kind, draw in study_pictures(record) for trouble in troubles(kind, draw(), record.name if kind == "mesh" else record.title)
        ] == []


@pytest.mark.parametrize("title", LONG.values(), ids=LONG)
def test_titles_of_two_hundred_characters(title):
    results, record, guess = shipped_case("two-faced-5g8")
    named = record.model_copy(update={"title": title})
    with style.own_look():
        pictures = [(kind, draw(results, named, guess)) for kind, draw in album.DRAWINGS.items()]
        pictures += [(kind, draw()) for kind, draw in study_pictures(named) if kind != "mesh"]
        assert [trouble for kind, figure in pictures for trouble in troubles(kind, figure, title)] == []
