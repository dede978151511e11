"""Beginning on the page: answers judged as the command judges them, shipped records, a design given up."""

from __future__ import annotations

import asyncio
import os
import time

import psutil
import pytest
from shaped_records import SHIPPED

from simharness.design.questions import QUESTIONS
from simharness.errors import CancelledError, HarnessError, InputError, SolverError
from simharness.page.desk import Desk
from simharness.page.form.answers import judged_answers, typed_options
from simharness.page.form.designer import Designer
from simharness.page.form.shipped import listed, shipped_records


def test_without_answers_holds_what_holds_anyway():
    judged = judged_answers({})
    assert judged.options == {"frequency": 5.8}
    assert [asked.name for asked in judged.asked] == [question.name for question in QUESTIONS]
    assert all(asked.default and not asked.refused for asked in judged.asked)


def test_later_questions_follow_from_earlier_answers():
    judged = judged_answers({"band": "2.4-2.4835", "metal": "round 88x1", "row": "4"})
    assert judged.options == {"low": 2.4, "high": 2.4835, "round": "88x1", "slots": 4}
    names = [asked.name for asked in judged.asked]
    assert "feed" not in names, "a round tube takes one kind alone"
    assert next(asked.default for asked in judged.asked if asked.name == "material") == "copper"


@pytest.mark.parametrize(
    ("answers", "said"),
    [
        ({"band": "5800"}, r"do you mean 5\.8\?"),
        ({"band": "5,8"}, r"do you mean 5\.8, or the edges 5-8\?"),
        ({"row": "8,5"}, "must be a whole number"),
        ({"step": "0,1"}, r"do you mean 0\.1\?"),
        ({"metal": "WR-999"}, "must be one of"),
        ({"row": "1000"}, "must be 1 to 40"),
        ({"target": "5"}, "must be -40 to -3 dB"),
        ({"step": "nan"}, "finite"),
        ({"material": "<script>"}, "must be one of"),
        ({"row": "9" * 200}, "at most 80 characters"),
    ],
)
def test_an_answer_that_makes_no_sense_is_refused_at_its_question(answers, said):
    judged = judged_answers(answers)
    refused = {asked.name: asked.refused for asked in judged.asked if asked.refused}
    assert judged.options is None and list(refused) == list(answers)
    with pytest.raises(InputError, match=said):
        raise InputError("answer", "", refused[next(iter(answers))])


def test_options_have_the_types_of_the_library():
    assert typed_options({"low": "2.4", "slots": "6", "sheet": "0.5", "inside": "90x45"}) == {
        "low": 2.4,
        "slots": 6,
        "sheet": 0.5,
        "inside": "90x45",
    }


def test_shipped_records_are_found_with_their_titles():
    found = {record.path.stem: record.title for record in shipped_records()}
    assert found == {name: record.title for name, record in SHIPPED.items()}


def test_what_is_no_record_is_listed_without_a_title(tmp_path):
    for name, content in (("a.toml", b"\xff"), ("b.toml", b"title = 3"), ("c.toml", b"= ="), ("d.toml", b"")):
        (tmp_path / name).write_bytes(content)
    (tmp_path / "e.toml").write_text('title = "\\u202e<script>"')
    assert [record.title for record in listed(sorted(tmp_path.iterdir()))] == [
        "",
        "",
        "",
        "",
        "\\u202e<script>",
    ]


def quick(options):
    return f"# {options['slots']} slots", ["rounded"]


def refused(options):
    raise InputError("slots", 0, "must be 1 or more")


def endless(options):
    time.sleep(600)
    return "", []


def killed(options):
    os._exit(9)


def finished(designer: Designer, waiting=lambda seconds: None):
    return asyncio.run(designer.result(waiting))


def test_a_design_comes_back_from_its_process():
    assert finished(Designer({"slots": 3}, quick)) == ("# 3 slots", ["rounded"])


def test_a_refused_design_says_why():
    with pytest.raises(HarnessError, match="slots = 0: must be 1 or more"):
        finished(Designer({}, refused))


def test_a_design_that_is_cut_short_says_so():
    with pytest.raises(SolverError, match="cut short"):
        finished(Designer({}, killed))


def test_a_design_that_is_given_up_leaves_no_process():
    designer = Designer({}, endless)
    child = psutil.Process(designer._process.pid)
    seen: list[float] = []

    def waiting(seconds: float) -> None:
        seen.append(seconds)
        if seconds > 0.25:
            designer.cancel()

    with pytest.raises(CancelledError, match="nothing was written"):
        finished(designer, waiting)
    assert seen == sorted(seen) and not child.is_running()


def test_a_whole_design_goes_on_the_desk(tmp_path):
    """An invented antenna of two slots, the quickest there is."""
    text, sentences = finished(Designer({"frequency": 9.6, "slots": 2, "guide": "WR-90"}))
    desk = Desk.from_text(text, tmp_path, saved=False)
    assert len(desk.record.slots) == 2 and desk.dirty and sentences
    assert desk.text() == text
