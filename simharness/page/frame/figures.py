"""The figures beside the drawing: what the estimate says, how far it is trusted, and the last full wave."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from nicegui import ui

from simharness.page.bench import Bench
from simharness.page.widgets import Text, text, text_list

if TYPE_CHECKING:
    from simharness.figures import Figure
    from simharness.library.solved_run import SolvedRun
    from simharness.live.answers import Exact, NearFigures, Prediction
    from simharness.records import Record

_LIST = 12
"""Changed fields that are listed one by one."""


class Headline:
    """Whether the target is met, and how the curves were come by."""

    def __init__(self, bench: Bench):
        self.bench = bench
        self._headline = text("p", "").classes("headline")
        self._state = text("p", "").classes("note").props('role="status"')
        bench.record_opened.connect(lambda: self._show(None))
        bench.predicted.connect(self._show)
        bench.record_changed.connect(lambda origin: self._refuse())
        self._refused = False
        self._show(bench.prediction)
        self._refuse()

    def _refuse(self) -> None:
        """Say what is refused, as long as something is: curves and figures are older than the fields then."""
        problems = {} if self.bench.desk is None else self.bench.desk.problems
        before, self._refused = self._refused, bool(problems)
        if problems:
            self._mark("missed")
            self._headline.set_text(f"Refused: {next(iter(problems.values()))}")
            self._state.set_text("Curves and figures are those of the last record that was not refused.")
        elif before:
            self._show(self.bench.prediction)

    def _mark(self, kind: str) -> None:
        self._headline.classes(remove="met close missed", add=kind)

    def _show(self, prediction: Prediction | None) -> None:
        record = self.bench.record
        if record is None or self._refused:
            return
        if prediction is None:
            self._state.set_text("The estimate of this antenna is under way.")
        elif prediction.exact:
            self._state.set_text("Curves and figures are those of the estimate.")
        else:
            self._state.set_text("Predicted from antennas near this one; the estimate itself follows.")
        if prediction is not None:
            self._judge(prediction.figures.worst_s11, record)

    def _judge(self, worst_db: float, record: Record) -> None:
        from simharness.verdict.error_bars import estimate_error
        from simharness.verdict.match_state import MatchState, match_state

        target = record.band.target_s11_db
        if not math.isfinite(worst_db):
            self._headline.set_text("")
            return
        state = match_state(worst_db, target, estimate_error(record)["s11"])
        self._mark({MatchState.MET: "met", MatchState.CLOSE: "close"}.get(state, "missed"))
        self._headline.set_text(
            f"{state.headline} by the estimate: S11 in the band at most {worst_db:.1f} dB, "
            f"wanted {target:g} dB"
        )


class FiguresTable:
    """The figures of the estimate, with what they are trusted to, and those of the last full-wave run."""

    def __init__(self, bench: Bench):
        self.bench = bench
        self._cells: dict[str, tuple[Text, Text, Text]] = {}
        frame = ui.element("div").classes("wide").props('role="group" aria-label="Figures" tabindex="0"')
        with frame, ui.element("table"):
            with ui.element("thead"), ui.element("tr"):
                for words in ("figure", "estimate", "full wave"):
                    text("th", words).props('scope="col"')
            self._body = ui.element("tbody")
        bench.record_opened.connect(self._clear)
        bench.followed.connect(self._predicted)
        bench.estimated.connect(self._show_exact)
        bench.ghosted.connect(self._show_ghost)
        if bench.exact is not None:
            self._show_exact(bench.exact)
        self._predicted(bench.prediction)
        self._show_ghost(bench.ghost)

    def _clear(self) -> None:
        self._body.clear()
        self._cells = {}

    def _predicted(self, prediction: Prediction | None) -> None:
        """Follow a prediction within milliseconds: only the figures that it holds."""
        if prediction is not None and not prediction.exact and self.bench.record is not None:
            self._set_estimates(near_figures(prediction.figures), self.bench.record)

    def _show_exact(self, exact: Exact) -> None:
        from simharness.beside.side import WORST
        from simharness.figures import Figure

        worst = Figure(exact.shown.figures.worst_s11, "dB", "estimate")
        self._set_estimates({WORST: worst} | exact.figures, exact.record)

    def _set_estimates(self, figures: Mapping[str, Figure], record: Record) -> None:
        from simharness.beside.side import barred
        from simharness.figures import number

        for name, figure in barred(figures, record).items():
            self._cell(name, 1, number(figure))

    def _show_ghost(self, run: SolvedRun | None) -> None:
        from simharness.beside.side import run_side
        from simharness.figures import number

        for _, _, cell in self._cells.values():
            cell.set_text("")
        if run is None:
            return
        # Not the verdict of the run: it makes the estimate of the run's own record anew.
        side = self.bench.attempt(lambda: run_side("", run.record, run.results, run.quality))
        figures = {} if side is None else side.figures
        for name, figure in figures.items():
            self._cell(name, 2, number(figure))

    def _cell(self, name: str, column: int, words: str) -> None:
        """Put words into a row, made where it is not there yet; figures without a name are left out."""
        from simharness.beside.side import WORST
        from simharness.verdict.assessment import LABELS

        labels = {WORST: "largest S11 in the band"} | LABELS
        if name not in labels:
            return
        if name not in self._cells:
            with self._body, ui.element("tr"):
                head = text("th", labels[name]).props('scope="row"')
                self._cells[name] = head, text("td", ""), text("td", "")
        self._cells[name][column].set_text(words)


def near_figures(found: NearFigures) -> dict[str, Figure]:
    """Figures of a prediction under the names of the estimate's."""
    from simharness.beside.side import WORST
    from simharness.figures import Figure

    values = {
        WORST: (found.worst_s11, "dB"),
        "resonance": (found.best_frequency, "Hz"),
        "s11_at_resonance": (found.best_s11, "dB"),
        "s11_at_centre": (found.centre_s11, "dB"),
        "realized_gain": (found.gain, "dBi"),
        "side_lobe_level": (found.side_lobes, "dB"),
    }
    return {
        name: Figure(value if math.isfinite(value) else None, unit, "predicted")
        for name, (value, unit) in values.items()
    }


class Remarks:
    """What `check` warns of, and what the estimate says in words."""

    def __init__(self, bench: Bench):
        self._warnings, self._sentences = ui.element("div"), ui.element("div")
        bench.estimated.connect(self._show)
        bench.warned.connect(self._warn)
        bench.record_opened.connect(self._clear)
        if bench.exact is not None:
            self._show(bench.exact)
        if bench.warnings is not None:
            self._warn(bench.warnings)

    def _clear(self) -> None:
        self._warnings.clear()
        self._sentences.clear()

    def _warn(self, warnings: tuple[str, ...]) -> None:
        self._warnings.clear()
        with self._warnings:
            text("h2", "Warnings")
            if warnings:
                text_list(warnings)
            else:
                text("p", "None: nothing in these dimensions is likely to go wrong.")

    def _show(self, exact: Exact) -> None:
        self._sentences.clear()
        with self._sentences:
            text("h2", "In words")
            text_list(exact.sentences)


class GhostWords:
    """Which full-wave run stands behind the curves, and what has changed since."""

    def __init__(self, bench: Bench):
        self.bench = bench
        self._words = text("p", "").classes("note")
        bench.ghosted.connect(lambda run: self._show())
        bench.record_changed.connect(lambda origin: self._show())
        self._show()

    def _show(self) -> None:
        run, record = self.bench.ghost, self.bench.record
        if run is None or record is None:
            self._words.set_text("No full-wave run of this record is stored yet.")
            return
        changes = changed_words(run.record, record)
        since = f"changed since: {changes}" if changes else "nothing has changed since"
        self._words.set_text(f"Dashed: the full-wave run {run.name} ({run.quality} mesh); {since}.")


def changed_words(before: Record, after: Record) -> str:
    """Which fields differ, with both values; empty where none does that a model sees."""
    from simharness.live.differences import WITHOUT_EFFECT, field_values
    from simharness.sweep.points import value_text

    def said(value: Any) -> str:
        return "none" if value is None else value_text(value)

    by_rule = before.slot_rule is not None and after.slot_rule is not None
    one, other = field_values(before, by_rule), field_values(after, by_rule)
    names = [name for name in {**one, **other} if name not in WITHOUT_EFFECT]
    changes = [name for name in names if one.get(name) != other.get(name)]
    told = [f"{name} {said(one.get(name))} to {said(other.get(name))}" for name in changes[:_LIST]]
    rest = len(changes) - len(told)
    return ", ".join(told) + (f" and {rest} more" if rest else "")
