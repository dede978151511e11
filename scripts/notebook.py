#!/usr/bin/env python3
"""Run a notebook that is kept as text, and write what it shows as one page.

Cells begin with `# %%`, those of text with `# %% [markdown]`. What a cell prints, the value of its last line
and the figures of pyplot that it opens stand below it. The first error ends the run, and its cell is named.

    scripts/notebook.py docs/from_frequency_to_verdict.py page.html
"""

from __future__ import annotations

import ast
import base64
import contextlib
import html
import io
import os
import re
import sys
from pathlib import Path
from typing import Any

STYLE = (
    "body{max-width:50em;margin:2em auto;padding:0 1em;font-family:sans-serif;line-height:1.5}"
    "pre{background:#f4f4f4;padding:.7em;overflow-x:auto}pre.out{background:none;border-left:3px solid #bbb}"
    "img{max-width:100%}"
)


def cells(text: str) -> list[tuple[bool, str]]:
    """Cells of a notebook in order: whether each is text, and its content without the marks of comments."""
    found = []
    for part in re.split(r"^# %%", text, flags=re.MULTILINE)[1:]:
        head, _, body = part.partition("\n")
        if "[markdown]" in head:
            found.append((True, re.sub(r"^# ?", "", body.strip(), flags=re.MULTILINE)))
        elif body.strip():
            found.append((False, body.strip("\n")))
    return found


def executed(code: str, names: dict[str, Any], where: str) -> tuple[str, Any]:
    """What a cell prints, and the value of its last line; None where that is no expression."""
    tree = ast.parse(code, where)
    last = tree.body.pop() if tree.body and isinstance(tree.body[-1], ast.Expr) else None
    printed = io.StringIO()
    with contextlib.redirect_stdout(printed):
        exec(compile(tree, where, "exec"), names)
        value = None if last is None else eval(compile(ast.Expression(last.value), where, "eval"), names)
    return printed.getvalue(), value


def shown(value: Any) -> str:
    """A value as HTML: a figure as its picture, anything else as its text."""
    if value is None:
        return ""
    if hasattr(value, "savefig"):
        image = io.BytesIO()
        value.savefig(image, format="png", dpi=100)
        return (
            f'<img alt="picture" src="data:image/png;base64,{base64.b64encode(image.getvalue()).decode()}">'
        )
    return f'<pre class="out">{html.escape(repr(value))}</pre>'


def opened_figures() -> list[Any]:
    """The figures of pyplot that a cell has opened; they are closed."""
    if "matplotlib.pyplot" not in sys.modules:
        return []
    import matplotlib.pyplot as plt

    found = [plt.figure(number) for number in plt.get_fignums()]
    plt.close("all")
    return found


def text_html(text: str) -> str:
    """Headings, paragraphs and code words of a cell of text."""
    blocks = []
    for block in re.split(r"\n\s*\n", text):
        heading = re.match(r"(#+) (.*)", block)
        words = re.sub(r"`([^`]+)`", r"<code>\1</code>", html.escape(heading[2] if heading else block))
        level = f"h{len(heading[1])}" if heading else "p"
        blocks.append(f"<{level}>{words}</{level}>")
    return "\n".join(blocks)


def page(path: Path) -> str:
    """The notebook with what it shows, as one HTML page."""
    names: dict[str, Any] = {"__name__": "__main__"}
    parts = []
    for number, (is_text, content) in enumerate(cells(path.read_text(encoding="utf-8")), 1):
        if is_text:
            parts.append(text_html(content))
            continue
        try:
            printed, value = executed(content, names, f"{path.name}, cell {number}")
        except Exception as error:
            raise SystemExit(f"{path.name}, cell {number}: {type(error).__name__}: {error}") from error
        parts.append(f"<pre>{html.escape(content)}</pre>")
        parts.append(f'<pre class="out">{html.escape(printed)}</pre>' if printed else "")
        parts += [shown(value), *map(shown, opened_figures())]
    body = "\n".join(part for part in parts if part)
    return (
        f'<!doctype html><html lang="en"><meta charset="utf-8"><title>{html.escape(path.stem)}</title>'
        f"<style>{STYLE}</style>\n{body}\n</html>\n"
    )


def main() -> None:
    """The command line: the notebook, and the page to write."""
    if len(sys.argv) != 3:
        raise SystemExit("usage: scripts/notebook.py NOTEBOOK.py PAGE.html")
    os.environ.setdefault("MPLBACKEND", "Agg")
    Path(sys.argv[2]).write_text(page(Path(sys.argv[1])), encoding="utf-8")
    print(f"written: {sys.argv[2]}")


if __name__ == "__main__":
    main()
