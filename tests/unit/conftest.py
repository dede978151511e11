"""For all unit tests."""

from __future__ import annotations

import sys

import pytest

from simharness.cli import main as entry


@pytest.fixture
def call(monkeypatch, capsys, tmp_path):
    """A function that runs a command line in an empty folder: exit code, standard output, standard error."""
    monkeypatch.chdir(tmp_path)

    def run(*words: str) -> tuple[int, str, str]:
        monkeypatch.setattr(sys, "argv", ["simharness", *words])
        code = 0
        try:
            entry.main()
        except SystemExit as end:
            code = end.code or 0
        out, err = capsys.readouterr()
        return code, out, err

    return run
