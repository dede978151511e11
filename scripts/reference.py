#!/usr/bin/env python3
"""Build the reference of the Python interface as HTML from the docstrings; called by scripts/docs.

scripts/reference.py FOLDER MODULE ...
"""

from __future__ import annotations

import sys
import warnings
from pathlib import Path

import pdoc

import simharness


def main() -> None:
    """The command line: the folder to write, and the modules."""
    if len(sys.argv) < 3:
        raise SystemExit("usage: scripts/reference.py FOLDER MODULE ...")
    folder, modules = Path(sys.argv[1]), sys.argv[2:]
    warnings.simplefilter("error")
    for name in simharness.__all__:  # those that are imported when asked for are asked for here
        getattr(simharness, name)
    pdoc.render.configure(docformat="numpy", show_source=False)
    wanted = "|".join(module.removeprefix("simharness.") for module in modules if module != "simharness")
    pdoc.pdoc(*modules, rf"!simharness\.(?!({wanted})$).*", output_directory=folder)
    lacking = [name for name in modules if not (folder / f"{name.replace('.', '/')}.html").is_file()]
    if lacking:
        raise SystemExit(f"no page was made of {', '.join(lacking)}")


if __name__ == "__main__":
    main()
