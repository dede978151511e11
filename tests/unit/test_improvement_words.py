"""What is said after a run: three states, no sentence about a thing that the record has not."""

from __future__ import annotations

from dataclasses import replace
from math import log10

from each_case import each_case
from shaped_records import SHIPPED, two_port

from simharness.improvement.change import Undo
from simharness.improvement.changes import MARKED_MM, changes
from simharness.improvement.messages import advice_sentences, proposal_text
from simharness.improvement.search import Improvement, Proposal
from simharness.verdict.error_bars import SOLVER_ERROR
from simharness.verdict.match_state import MatchState

EIGHT = "eight-slot-5g8"


def proposal(record, *amounts, state=MatchState.MET, worst_db=-14.0):
    """A proposal of some dimensions by name, its predictions invented."""
    known = {change.dimension.name: change for change in changes(record)}
    parts, changed = tuple((known[name], amount) for name, amount in amounts), record
    for change, amount in parts:
        changed = change.applied(changed, amount)
    return Proposal(parts, changed, worst_db, 5.8e9, 5.7e9, None, state)


def said(record, state, *proposals, quality="draft", worst_db=-6.0):
    found = Improvement(worst_db, proposals, ("probe height", "slot length"))
    return " ".join(advice_sentences(record, state, quality, worst_db, found))


def test_nothing_to_change_where_the_target_is_met():
    assert advice_sentences(SHIPPED[EIGHT], MatchState.MET, "draft", -20.0, None) == [
        "Nothing needs changing for the match."
    ]


def test_amount_field_match_band_and_way_back_are_said():
    record = SHIPPED[EIGHT]
    text = said(
        record,
        MatchState.MISSED,
        proposal(record, ("probe height", 0.4)),
        proposal(record, ("slot length", -0.3)),
    )
    assert (
        "First make the probe 0.4 mm longer" in text
        and f"feed.height_mm = {record.feed.height_mm + 0.4:g}" in text
    )
    assert (
        "-14.0 dB at worst" in text
        and "best match at 5.800 GHz" in text
        and "-10 dB band from 5.700 GHz" in text
    )
    assert (
        "can be undone with another wire" in text
        and "Or make every slot 0.3 mm shorter" in text
        and "cannot be undone once the slots are cut" in text
    )


def test_a_finer_mesh_is_named_only_where_its_bar_tells():
    """Common sense of error bars: the distance to the target against the bar of each quality."""
    record = SHIPPED[EIGHT]
    edge = 10 ** (record.band.target_s11_db / 20)

    def close(distance, quality):
        return said(record, MatchState.CLOSE, quality=quality, worst_db=20 * log10(edge - distance))

    normal, fine = SOLVER_ERROR["normal"]["s11"], SOLVER_ERROR["fine"]["s11"]
    assert "--quality normal" in close(1.1 * normal, "draft")
    assert "--quality fine" in close(0.5 * (normal + fine), "draft")
    assert "no smaller than the distance" in close(0.5 * fine, "draft") and "converge" in close(
        0.5 * fine, "fine"
    )


def test_none_of_them_is_an_answer():
    record = SHIPPED[EIGHT]
    assert "None of the dimensions alone" in said(
        record, MatchState.MISSED, proposal(record, ("slot width", 0.5), state=MatchState.MISSED)
    )
    assert "leave the dimensions as they are" in said(record, MatchState.MISSED)


def test_a_guide_port_has_no_probe_to_change():
    record = two_port()
    assert not [
        change
        for change in changes(record)
        if "probe" in change.dimension.name or change.dimension.name == "near end"
    ]


@each_case("name", sorted(SHIPPED))
def test_every_change_of_a_shipped_record_has_words_and_a_record(name):
    """Reversible ones first, none less than can be marked, and each names a field of this record."""
    record = SHIPPED[name]
    found = changes(record)
    assert [change.undo for change in found] == sorted(change.undo for change in found)
    assert any(change.undo is Undo.WIRE for change in found) == (record.feed.kind != "guide-port")
    for change in found:
        amount = change.high if change.high >= MARKED_MM else change.low
        one = replace(proposal(record, (change.dimension.name, amount)))
        assert abs(amount) >= MARKED_MM and one.record != record
        text = said(record, MatchState.MISSED, one)
        assert proposal_text(one) in text and ("feed." in text or "guide." in text or "slot" in text)
        assert "probe" not in text or record.feed.kind != "guide-port"
