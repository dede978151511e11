"""What is cut, and what is kept: cut sheets and the report."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from simharness.errors import InputError

if TYPE_CHECKING:
    from simharness.library.solved_run import SolvedRun
    from simharness.records import Record
    from simharness.sheets import Written


def sheets(
    record: Record,
    folder: Path | str | None = None,
    *,
    paper: str = "a4",
    make: str | None = None,
    inside_radius_mm: float | None = None,
    k_factor: float | None = None,
    scored: bool = False,
    tab_mm: float = 8.0,
    lip_mm: float = 0.0,
    land_mm: float | None = None,
    cutter_mm: float = 0.0,
    date: str = "",
) -> Written:
    """Write cut sheets of a record at true scale, and the list of what to buy and do.

    They are drawn from the geometry that the solver computes. Print the PDF at 100 % and measure its check
    bars.

    Parameters
    ----------
    record : Record
    folder : Path or str, optional
        Made where it is not there; "sheets-" and the name of the record without it.
    paper : str
        "a4" or "letter".
    make : str, optional
        "folded": a box of sheet with a separate front wall; "tube": slots cut in a stock tube. As the record
        says without it.
    inside_radius_mm : float, optional
        Inside radius that your tool bends; the thickness of the sheet without it.
    k_factor : float, optional
        Neutral fibre over the inner face, in thicknesses; by DIN 6935 without it.
    scored : bool
        Bends are scored on the inside and folded sharp.
    tab_mm : float
        Height of the tabs of end caps; 0 for plain plates.
    lip_mm : float
        Lips of the front wall over the sides; 0: it is soldered on their edges.
    land_mm : float, optional
        Diameter to be tinned around the feed hole; three times the hole without it.
    cutter_mm : float
        SVG and DXF hold the path of the centre of a cutter of this diameter.
    date : str
        Day of issue in the title blocks, such as "2030-01-31"; left open without it.

    Returns
    -------
    Written
        `files`, a tuple of Path, and `sections`, the build list.

    Raises
    ------
    InputError
        The record does not suit the way of making, or an opening is no wider than the cutter.
    MachineError
        The folder cannot be written.

    Examples
    --------
    >>> import simharness, tempfile
    >>> record = simharness.read_record("docs/four-slot-9g6.toml")
    >>> with tempfile.TemporaryDirectory() as folder:
    ...     made = simharness.sheets(record, folder)
    >>> sorted({path.suffix for path in made.files})
    ['.csv', '.dxf', '.pdf', '.svg', '.txt']
    """
    from simharness.sheets import write_sheets
    from simharness.sheets.flat.fabrication import Fabrication

    if paper not in ("a4", "letter"):
        raise InputError("paper", paper, "must be a4 or letter")
    how = Fabrication(
        make=_make(record, make),  # type: ignore[arg-type]
        radius=None if inside_radius_mm is None else inside_radius_mm / 1e3,
        factor=k_factor,
        scored=scored,
        tab=tab_mm / 1e3,
        lip=lip_mm / 1e3,
        land=None if land_mm is None else land_mm / 1e3,
    )
    where = Path(f"sheets-{record.name}") if folder is None else Path(folder)
    return write_sheets(record, where, how, paper, cutter_mm / 1e3, date)


def _make(record: Record, make: str | None) -> str:
    if make not in (None, "folded", "tube"):
        raise InputError("make", make, "must be folded or tube")
    return make or record.guide.make


def report(
    run: SolvedRun,
    page: Path | str | None = None,
    *,
    pdf: bool = True,
    paper: str = "a4",
    make: str | None = None,
    pictures: Sequence[tuple[Path | str, str]] = (),
) -> list[Path]:
    """Write the report of a stored run: one HTML file that opens offline, and a PDF beside it.

    Verdict, figures with their error bars, pictures, a view of antenna and pattern that can be turned,
    dimensions, build list and provenance. Pictures of measurements that lie with the run are taken in.

    Parameters
    ----------
    run : SolvedRun
    page : Path or str, optional
        The HTML file, replaced where it is there; "report-", the name of the record and ".html" without it.
    pdf : bool
        Whether the PDF is written.
    paper : str
        "a4" or "letter".
    make : str, optional
        The build list of a box "folded" from sheet, or of slots cut in a stock "tube"; as the record says
        without it.
    pictures : sequence of pairs
        Further pictures: the file (PNG), and what it shows in words.

    Returns
    -------
    list of Path
        What was written.

    Raises
    ------
    InputError
        The page has another ending, a picture is none, or the record does not suit the way of making.
    MachineError
        A file cannot be written.

    Examples
    --------
    >>> import simharness
    >>> run = simharness.open_run("four-slot-9g6", runs="docs/runs")
    >>> simharness.report(run, "antenna.html")  # doctest: +SKIP
    [PosixPath('antenna.html'), PosixPath('antenna.pdf')]
    """
    from simharness.report import write_report
    from simharness.report.pictures import added_picture
    from simharness.sheets.flat.fabrication import Fabrication

    if paper not in ("a4", "letter"):
        raise InputError("paper", paper, "must be a4 or letter")
    record = run.record
    page = Path(f"report-{record.name}.html") if page is None else Path(page)
    if page.suffix.lower() not in (".html", ".htm"):
        raise InputError("--out", page, "must end in .html; the PDF beside it gets the same name")
    results, added = run.results, tuple(added_picture(Path(path), words) for path, words in pictures)
    how = Fabrication(make=_make(record, make))  # type: ignore[arg-type]
    document = page.with_suffix(".pdf") if pdf else None
    return write_report(run.stored, results, record, how, page, document, paper, added, run.advice.sentences)
