"""What the commands print is what was last read and found good: see `golden_cases`."""

from __future__ import annotations

import golden_cases as golden
import pytest

from simharness.cli.main import COMMANDS


@pytest.mark.parametrize("name", golden.COMMAND_LINES)
def test_words_of_a_command(name):
    assert golden.printed(name) == (golden.GOLDEN / f"{name}.txt").read_text(encoding="utf-8")


def test_every_command_has_its_file():
    files = {path.stem for path in golden.GOLDEN.glob("*.txt")}
    assert files == set(golden.COMMAND_LINES) == set(COMMANDS)
