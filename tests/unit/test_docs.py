"""The pages in docs/: examples run, links lead somewhere, reference and notebook are built."""

from __future__ import annotations

import doctest
import importlib.util
import re
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
PAGES = sorted((ROOT / "docs").glob("*.md"))
NOTEBOOK = ROOT / "docs" / "from_frequency_to_verdict.py"


def script(name: str):
    """A program of scripts/ as a module."""
    spec = importlib.util.spec_from_file_location(name, ROOT / "scripts" / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.mark.parametrize("page", PAGES, ids=lambda path: path.name)
def test_links_of_a_page_lead_somewhere(page):
    targets = re.findall(r"\]\(([^)#]+)\)", page.read_text(encoding="utf-8"))
    missing = [t for t in targets if "://" not in t and not (page.parent / t).exists()]
    assert missing == []


@pytest.mark.parametrize("page", [page for page in PAGES if ">>>" in page.read_text()], ids=lambda p: p.name)
def test_examples_of_a_page(page, monkeypatch):
    """Every block of a page in turn, as one session; paths count from the project's folder."""
    monkeypatch.chdir(ROOT)
    blocks = re.findall(r"^```python\n(.*?)^```", page.read_text(encoding="utf-8"), re.DOTALL | re.MULTILINE)
    names: dict = {}
    flags = doctest.NORMALIZE_WHITESPACE | doctest.ELLIPSIS
    runner = doctest.DocTestRunner(optionflags=flags)
    for number, block in enumerate(blocks, 1):
        test = doctest.DocTestParser().get_doctest(block, names, f"{page.name}, block {number}", page.name, 0)
        runner.run(test, clear_globs=False)
        names = test.globs
    assert runner.summarize().failed == 0
    assert runner.tries > 0


def test_blocks_without_prompts_are_python():
    """They need the solver, so they are only compiled."""
    for page in PAGES:
        for block in re.findall(r"^```python\n(.*?)^```", page.read_text(), re.DOTALL | re.MULTILINE):
            if ">>>" not in block:
                compile(block, page.name, "exec")


def test_every_page_is_in_the_list():
    listed = (ROOT / "docs" / "README.md").read_text(encoding="utf-8")
    assert [page.name for page in PAGES if page.name != "README.md" and f"({page.name})" not in listed] == []


def test_reference_is_built_without_a_warning(tmp_path):
    modules = ("simharness", "simharness.library", "simharness.errors")
    done = subprocess.run(
        [sys.executable, ROOT / "scripts" / "reference.py", tmp_path, *modules],
        capture_output=True,
        text=True,
        timeout=300,
        env={"PYTHONPATH": str(ROOT), "PATH": "", "SIMHARNESS_PROFILE": ""},
    )
    assert done.returncode == 0, done.stderr
    import simharness

    page = (tmp_path / "simharness.html").read_text(encoding="utf-8")
    assert [name for name in simharness.__all__ if f'id="{name}"' not in page] == []


def test_cells_of_the_notebook():
    found = script("notebook").cells(NOTEBOOK.read_text(encoding="utf-8"))
    assert found[0][0] and found[0][1].startswith("# From a frequency to a verdict")
    for number, (is_text, content) in enumerate(found):
        if not is_text:
            compile(content, f"cell {number}", "exec")


def test_a_notebook_shows_values_prints_and_pictures(tmp_path):
    """A text, a value, a printed line and a picture; the first error names its cell."""
    notebook = script("notebook")
    (tmp_path / "n.py").write_text(
        "# %% [markdown]\n# # Title\n#\n# some `code` & text\n\n# %%\nprint('a < b')\n6 * 7\n\n"
        "# %%\nimport matplotlib.pyplot as plt\n_ = plt.subplots()\n"
    )
    page = notebook.page(tmp_path / "n.py")
    for part in (
        "<h1>Title</h1>",
        "<code>code</code> &amp; text",
        "a &lt; b",
        ">42</pre>",
        "data:image/png;base64,",
    ):
        assert part in page
    (tmp_path / "bad.py").write_text("# %%\n1 / 0\n")
    with pytest.raises(SystemExit, match=r"bad\.py, cell 1: ZeroDivisionError"):
        notebook.page(tmp_path / "bad.py")
