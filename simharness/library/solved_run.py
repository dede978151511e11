"""A stored full-wave run, and what it says of its antenna."""

from __future__ import annotations

from collections.abc import Callable
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simharness.errors import InputError, StoreError
from simharness.figures import Figure
from simharness.library.values import misfit, plain
from simharness.progress import Progress, Silent
from simharness.results.far_field import PatternData
from simharness.results.outputs import Results
from simharness.verdict.assessment import Verdict, full_wave_figures, verdict
from simharness.verdict.error_bars import mesh_quality

if TYPE_CHECKING:
    import skrf
    from matplotlib.figure import Figure as MatplotlibFigure

    from simharness.estimate.antenna import Estimate
    from simharness.improvement.stored import Advice
    from simharness.records import Record
    from simharness.runs.manifest import Run


class SolvedRun:
    """A full-wave run with the record that it is judged by; `solve` and `open_run` return it.

    Attributes
    ----------
    record : Record
        As it now stands: name, title, target and mounting may differ from those the run was made for.
    name : str
        Of the run.
    folder : Path
        Of its files: record, results (HDF5), Touchstone file, transcript of the solver.
    remarks : tuple of str
        What was chosen from several runs, and what else the run is called.

    Examples
    --------
    >>> import simharness
    >>> run = simharness.open_run("four-slot-9g6", runs="docs/runs")  # an invented antenna
    >>> run.quality, run.verdict.state.value
    ('draft', 'met')
    >>> gain = run.figures["realized_gain"]
    >>> print(f"{gain.value:.1f} within {gain.error:.1f} {gain.unit}")
    12.7 within 0.2 dBi
    """

    def __init__(
        self,
        run: Run,
        record: Record,
        *,
        remarks: tuple[str, ...] = (),
        guess: Callable[[], Estimate] | None = None,
        progress: Progress | None = None,
    ):
        self._run, self._guess, self._progress = run, guess, progress or Silent()
        self.record, self.remarks = record, remarks
        self.name, self.folder = run.path.name, run.path

    def __repr__(self) -> str:
        return f"<SolvedRun {self.name}: {self.quality} mesh of {self.record.name}>"

    @property
    def stored(self) -> Run:
        """The run as the store knows it: manifest, checksums."""
        return self._run

    @property
    def key(self) -> str:
        """Hash of all that the solver saw."""
        return self._run.key

    @cached_property
    def results(self) -> Results:
        """All result arrays by name, read-only; units and axes are in the table of
        `simharness.results.outputs`.

        Raises StoreError where there are none, or some that are not of the record.
        """
        found = self._run.results()
        if odd := misfit(found, self.record):
            raise StoreError(f"run {self.name} holds results that are not of its design record: {odd}")
        return found

    @property
    def quality(self) -> str:
        """How fine the mesh is: "draft", "normal" or "fine"."""
        return mesh_quality(self.results)

    @property
    def provenance(self) -> dict[str, Any]:
        """Versions, cells, steps, times (s) and how the run settled."""
        return dict(self.results.attributes)

    @cached_property
    def s11(self) -> skrf.Network:
        """Reflection (f, 1, 1) at the reference plane, the outer face of the wall, against 50 ohm.

        Examples
        --------
        >>> import simharness
        >>> s11 = simharness.open_run("four-slot-9g6", runs="docs/runs").s11
        >>> worst = s11["9.552-9.648ghz"].s_db.max()
        >>> print(f"{worst:.0f} dB")
        -23 dB
        """
        from simharness.results.match import one_port

        return one_port(self.results["frequency"], self.results["s11"], self.name)

    @cached_property
    def figures(self) -> dict[str, Figure]:
        """Figures by name with error bars: "resonance" (Hz), "s11_at_centre" (dB), "realized_gain" (dBi) and
        so on.
        """
        return full_wave_figures(self.results, self.record, self.quality)

    @cached_property
    def far_field(self) -> PatternData:
        """The pattern on the whole sphere; InputError for a run without one.

        Examples
        --------
        >>> import simharness
        >>> import numpy as np
        >>> far = simharness.open_run("four-slot-9g6", runs="docs/runs").far_field
        >>> dict(zip(far.axes, far.directivity.shape))
        {'frequency': 3, 'theta': 91, 'phi': 181}
        >>> cut = far.cut("along", 9.6e9)
        >>> print(f"{np.degrees(cut.angle[cut.total.argmax()]):.0f} deg")
        0 deg
        """
        return PatternData.of_run(self.results)

    @cached_property
    def estimate(self) -> Estimate:
        """The estimate of the record, which the run is held against."""
        if self._guess is not None:
            return self._guess()
        from simharness.estimate.antenna import estimate

        return estimate(self.record)

    @cached_property
    def advice(self) -> Advice:
        """What to change where the target is not met: `sentences` and `proposals`. Some seconds, once for
        each run.
        """
        from simharness.improvement.stored import run_advice

        return run_advice(self.record, self.results, self.quality, self.folder, self._progress)

    @cached_property
    def verdict(self) -> Verdict:
        """Estimate and full wave side by side, and whether the target is met.

        `state` is met, too close to call or not met; `worst_s11` the largest S11 in the band with its error
        bar; `rows` the table; `conclusion` and `sentences` the words.
        """
        return verdict(
            self.record, self.estimate, self.figures, self.results, self.quality, self.advice.sentences
        )

    def picture(self, name: str) -> MatplotlibFigure:
        """Draw one picture: "match", "smith", "cuts", "sphere", "slots", "field" or "overview".

        Returns
        -------
        matplotlib.figure.Figure

        Raises
        ------
        InputError
            Another name, or a picture that the results of the run do not allow.
        """
        from simharness.plot import style
        from simharness.plot.album import DRAWINGS

        if name not in DRAWINGS:
            raise InputError("picture", name, f"must be one of {', '.join(DRAWINGS)}")
        with style.own_look():
            found = DRAWINGS[name](self.results, self.record, self.estimate)
        if found is None:
            raise InputError("picture", name, f"the run {self.name} does not hold what it shows")
        return found

    def write_pictures(self, folder: Path | str | None = None) -> list[Path]:
        """Draw match, Smith chart, pattern, slots and field as PNG, into the folder of the run or into
        another.

        Raises
        ------
        MachineError
            The folder cannot be written.
        """
        from simharness.plot import write_figures

        where = self._run.figures(self.record.name) if folder is None else folder
        return write_figures(self.results, self.record, self.estimate, where)

    @property
    def pictures_folder(self) -> Path:
        """Where `write_pictures` writes without a folder."""
        return self._run.figures(self.record.name)

    def as_dict(self) -> dict[str, Any]:
        """Verdict, figures of both sides, advice and provenance in types that JSON knows."""
        return plain(
            {
                "run": self.name,
                "record": self.record.name,
                "verdict": self.verdict.state.value,
                "worst_s11": self.verdict.worst_s11,
                "figures": self.figures,
                "estimate": self.estimate.figures,
                "sentences": self.verdict.sentences,
                "proposals": self.advice.proposals,
                "provenance": self.provenance,
            }
        )
