"""The report of a run: one HTML file that needs nothing beside it, and a PDF of the same content."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from simharness.records import Record
    from simharness.report.pictures import Picture
    from simharness.results.outputs import Results
    from simharness.runs.manifest import Run
    from simharness.sheets.flat.fabrication import Fabrication

__all__ = ["write_report"]


def write_report(
    run: Run,
    results: Results,
    record: Record,
    fabrication: Fabrication,
    page: Path | str,
    document: Path | str | None = None,
    paper: str = "a4",
    added: tuple[Picture, ...] = (),
    advice: tuple[str, ...] = (),
) -> list[Path]:
    """Write the report of a run.

    Parameters
    ----------
    run : Run
        For its name, key and time, and for the pictures of measurements that lie in its folder.
    results : Results
        Of that run.
    record : Record
        The design that was solved.
    fabrication : Fabrication
        How the box is made, for the build list.
    page : Path or str
        The HTML file, replaced if it exists; its folder is made.
    document : Path or str, optional
        The PDF file; none is written without it.
    paper : str
        'a4' or 'letter'.
    added : tuple of Picture
        Further pictures, see `pictures.added_picture`.
    advice : tuple of str
        What to change, in sentences.

    Returns
    -------
    list of Path
        What was written.

    Raises
    ------
    InputError
        The record does not suit how the box is made.
    MachineError
        A file cannot be written.
    """
    from simharness.files import atomic_write_bytes, machine_errors
    from simharness.report.content import report_content
    from simharness.report.page import page_text
    from simharness.report.paper import pdf_bytes

    content = report_content(run, results, record, fabrication, added, advice)
    files = {Path(page): page_text(content).encode("utf-8")}
    if document is not None:
        files[Path(document)] = pdf_bytes(content, paper)
    for path, data in files.items():
        with machine_errors(f"make the folder {path.parent}"):
            path.parent.mkdir(parents=True, exist_ok=True)
        atomic_write_bytes(path, data)
    return list(files)
