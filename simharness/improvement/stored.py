"""The advice that follows a run, kept beside it: it takes the model some seconds to find."""

from __future__ import annotations

import json
from collections.abc import Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np

from simharness import __version__
from simharness.errors import MachineError
from simharness.files import UnreadableError, atomic_write_text, content, machine_errors
from simharness.fingerprint import request_key
from simharness.improvement.messages import advice_sentences, proposal_text
from simharness.improvement.search import Proposal, improvement
from simharness.measurement.files import OnePort
from simharness.printable import printable
from simharness.progress import Progress
from simharness.records import Record
from simharness.records.text import plain_data
from simharness.results.match import worst_in_band
from simharness.verdict.assessment import state_of
from simharness.verdict.match_state import MatchState

FORMAT = 1
"""Of the file format: files with another number are not read."""
MAX_BYTES = 1_000_000
"""Of a file that is read; advice has some thousand."""


@dataclass(frozen=True)
class Advice:
    """What to change.

    Attributes
    ----------
    sentences : tuple of str
    proposals : tuple of dict
        In the order in which to try them: what to do, amounts (mm), predicted match and band.
    """

    sentences: tuple[str, ...]
    proposals: tuple[dict[str, Any], ...] = ()


def run_advice(
    record: Record,
    results: Mapping[str, np.ndarray],
    quality: str,
    folder: Path | None = None,
    progress: Progress | None = None,
) -> Advice:
    """What to change in a record after its run.

    Parameters
    ----------
    record : Record
        As it now stands; its band and target may differ from those the run was made for.
    results : mapping
        Arrays of the run.
    quality : str
        Of its mesh.
    folder : Path or None
        Where the advice is kept for the next time; a folder that cannot be written is left alone.
    progress : Progress or None
    """
    state, (_, worst) = state_of(record, results, quality), worst_in_band(record, results)
    if state is MatchState.MET:
        return Advice(tuple(advice_sentences(record, state, quality, worst, None)))
    data = plain_data(record)
    key = request_key(
        {
            "format": FORMAT,
            "version": __version__,
            "quality": quality,
            "record": {
                part: value
                for part, value in data.items()
                if part not in ("name", "title", "note", "mounting")
            },
        }
    )
    kept = None if folder is None else folder / f"advice-{key}.json"
    if kept is not None and (known := _read(kept)) is not None:
        return known
    found = improvement(record, OnePort(results["frequency"], results["s11"]), progress=progress)
    advice = Advice(
        tuple(advice_sentences(record, state, quality, worst, found)), tuple(map(_plain, found.proposals))
    )
    if kept is not None:
        with suppress(MachineError), machine_errors(f"write {kept}"):
            atomic_write_text(
                kept, json.dumps({"sentences": advice.sentences, "proposals": advice.proposals}, indent=1)
            )
    return advice


def _read(path: Path) -> Advice | None:
    """Advice that was kept; None where there is none that can be read."""
    try:
        data = json.loads(content(path, MAX_BYTES))
        return Advice(
            tuple(printable(str(sentence)) for sentence in data["sentences"]), tuple(data["proposals"])
        )
    except (UnreadableError, ValueError, KeyError, TypeError, RecursionError):
        return None


def _plain(proposal: Proposal) -> dict[str, Any]:
    return {
        "do": proposal_text(proposal),
        "amounts_mm": {change.dimension.name: amount for change, amount in proposal.parts},
        "worst_s11_db": proposal.worst_db,
        "best_match_hz": proposal.best,
        "band_low_hz": proposal.low,
        "band_high_hz": proposal.high,
        "verdict": proposal.state.value,
        "undo": proposal.undo.text,
    }
