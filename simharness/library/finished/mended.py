"""What can still be done with a finished antenna."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any

from simharness.library.values import Cancellable, ShortRepr, plain, require_free, write_text

if TYPE_CHECKING:
    from simharness.library.finished.built import BuiltResult
    from simharness.progress import Progress
    from simharness.records import Record
    from simharness.solver.process import Cancel
    from simharness.workshop.mending import Mend, MendStudy


@dataclass(frozen=True, repr=False)
class MendResult(ShortRepr):
    """What can still be done with a finished antenna.

    Attributes
    ----------
    record : Record
        As built.
    study : simharness.workshop.mending.MendStudy
        The operations in the order in which to try them, and what each gives.
    """

    record: Record
    study: MendStudy

    @property
    def records(self) -> tuple[Record, ...]:
        """The antenna with each operation done, in that order."""
        return tuple(mended_record(mend) for mend in self.study.mends)

    @cached_property
    def sentences(self) -> tuple[str, ...]:
        """All of it in words."""
        from simharness.workshop.mend_messages import mend_sentences

        return tuple(mend_sentences(self.study))

    def _chosen(self, number: int) -> Mend:
        """An operation, counted from 1."""
        from simharness.errors import InputError

        count = len(self.study.mends)
        if not 1 <= number <= count:
            raise InputError(
                "number", number, f"must be from 1 to {count}" if count else "nothing is to be done"
            )
        return self.study.mends[number - 1]

    def write_files(self, path: Path | str, number: int = 1, replace: bool = False) -> tuple[Path, ...]:
        """Write the record with one operation done, and its sheets into a folder beside it.

        InputError where there is no such operation, or a file stands there and `replace` is not given.
        """
        from simharness.improvement.messages import proposal_text
        from simharness.library.fabrication import sheets
        from simharness.records.text import record_text

        done, record = proposal_text(self._chosen(number).proposal), self.records[number - 1]
        require_free(path := Path(path), replace)
        drawn = sheets(record, path.with_name(f"sheets-{path.stem}")).files
        return write_text(path, record_text(record, f"As built, then: {done}."), replace), *drawn

    def confirmed(
        self,
        number: int = 1,
        quality: str = "draft",
        *,
        runs: Path | str = "runs",
        progress: Progress | None = None,
        cancel: Cancel | None = None,
    ) -> tuple[str, ...]:
        """Solve the antenna with one operation done, and say what came of it; errors as those of `solve`."""
        from simharness.library.solving import plan, solve
        from simharness.results.match import worst_in_band
        from simharness.workshop.mend_messages import confirmed_sentence

        chosen, record = self._chosen(number), self.records[number - 1]
        run = solve(plan(record, quality), runs=runs, progress=progress, cancel=cancel)
        return (confirmed_sentence(chosen, worst_in_band(record, run.results)[1], run.name, quality),)

    def as_dict(self) -> dict[str, Any]:
        """Operations with what they give, in types that JSON knows."""
        from simharness.improvement.messages import proposal_text
        from simharness.workshop.mend_messages import amounts_that_do

        built = self.study.built
        return plain(
            {
                "record": built.base.record.name,
                "target_s11_db": self.record.band.target_s11_db,
                "as_built": {"worst_s11_db": vars(built.figures["worst_s11"]), "verdict": built.state.value},
                "can_be_met": any(mend.meets for mend in self.study.mends) or built.meets,
                "operations": [
                    {
                        "do": proposal_text(mend.proposal),
                        "amounts_mm": {
                            change.dimension.name: amount for change, amount in mend.proposal.parts
                        },
                        "undo": mend.proposal.undo.text,
                        "verdict": mend.state.value,
                        "share_that_meets": mend.likely,
                        "figures": {name: vars(one) for name, one in mend.figures.items()},
                        "will_do_mm": {
                            change.dimension.name: amounts_that_do(amount, allowed)
                            for (change, amount), (_, allowed) in zip(mend.proposal.parts, mend.exact)
                        },
                    }
                    for mend in self.study.mends
                ],
                "tried": self.study.tried,
                "sentences": self.sentences,
            }
        )


def mended_record(mend: Mend) -> Record:
    """The record with an operation done, under a name of its own."""
    record = mend.proposal.record
    return record.model_copy(update={"name": f"{record.name.removesuffix('-built')[:40].strip('-')}-mended"})


def mend(
    built: BuiltResult,
    *,
    step_mm: float = 0.1,
    progress: Progress | None = None,
    cancel: Cancel | None = None,
) -> MendResult:
    """Find what can still be done with a finished antenna that misses its target.

    Slots can be filed longer and wider, and closed a little with tape; a probe can be cut or replaced; a
    plate can be set inside either end. Half a minute or so, by the estimate.

    Parameters
    ----------
    built : BuiltResult
        From `as_built`.
    step_mm : float
        What can be marked: amounts are multiples of it.
    progress : Progress, optional
    cancel : threading.Event or callable, optional

    Returns
    -------
    MendResult
        With nothing to do where the antenna meets its target as built, or where nothing helps.

    Raises
    ------
    CancelledError
        `cancel` said so.

    Examples
    --------
    >>> import simharness
    >>> record = simharness.read_record("docs/four-slot-9g6.toml")
    >>> found = simharness.mend(simharness.as_built(record, "readings.csv"))  # doctest: +SKIP
    >>> found.sentences[1]  # doctest: +SKIP
    '1. Cut 0.4 mm off the probe: ...'
    """
    from simharness.workshop.mending import mend_study

    study = mend_study(built.study, step_mm=step_mm, progress=Cancellable(progress, cancel))
    return MendResult(built.record, study)
