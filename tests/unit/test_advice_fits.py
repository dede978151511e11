"""No sentence of advice names a thing that its record lacks, nor an amount that cannot be marked."""

from __future__ import annotations

import re
from types import SimpleNamespace

from each_case import each_case
from shaped_records import SHIPPED, two_port, varied

from simharness.advice.warnings import warnings
from simharness.errors import InputError
from simharness.estimate.deviations import deviations
from simharness.improvement.change import amount_text
from simharness.measurement.remedies import remedy
from simharness.records import Record, parse_record
from simharness.tuning.feeds import tunable_feed
from simharness.tuning.messages import _beyond_range

STRAIGHT_SLOTS = "eight-slot-5g8"


def _port(record: Record) -> Record:
    """Fed by the guide itself."""
    data = record.model_dump(by_alias=True, exclude_none=True)
    guide = {**data["guide"], "near_end": "port"}
    return parse_record({**data, "feed": {"kind": "guide-port"}, "guide": guide})


def _wide(record: Record) -> Record:
    """For a band that is too wide for it."""
    low, high = 0.95 * record.band.low_ghz, 1.04 * record.band.high_ghz
    return varied(record, band={"low_ghz": low, "high_ghz": high})


CHANGES = {
    "as shipped": lambda record: record,
    "guide port": _port,
    "two ports": two_port,
    "load": lambda record: varied(record, guide={"far_end": "load", "load_mm": 20.0}),
    "aluminium": lambda record: varied(record, guide={"material": "aluminium"}),
    "wide band": _wide,
}


def changed() -> list[tuple[str, Record]]:
    """Every shipped record in every way in which it can be made."""
    found = []
    for name, record in SHIPPED.items():
        for what, change in CHANGES.items():
            try:
                found.append((f"{name}, {what}", change(record)))
            except InputError:
                continue
    return found


RECORDS = changed()


def lacking(record: Record) -> list[str]:
    """Patterns of what the record has not."""
    words = []
    if record.feed.kind == "guide-port":
        words += [r"\bprobe\b", r"\bwire\b", r"\bcoax\b"]
    if record.feed.kind == "bent-probe":
        words += ["position of the probe"]
    if record.guide.far_end != "short":
        words += ["far short"]
    if record.guide.laminate is None:
        words += [r"\bboard\b", "substrate"]
    if record.guide.shape == "round":
        words += [r"side wall", "far_end = 'load'"]
    else:
        words += ["round tube", "front line"]
    return words


@each_case("name, record", RECORDS)
def test_a_warning_names_what_the_record_has(name, record):
    text = " ".join(warnings(record))
    assert not [word for word in lacking(record) if re.search(word, text)], text
    assert not re.search(r"\b0(\.0+)? mm (too|longer|shorter)", text), text


@each_case("name, record", RECORDS)
def test_a_remedy_names_what_the_record_has(name, record):
    """Aluminium takes no soft solder (common practice)."""
    words = [word for word in lacking(record) if word not in (r"\bboard\b", "substrate")]
    if record.guide.material == "aluminium":
        words += [r"solder(ed)? (a|sheet|or|patch)", "unsolder"]
    for deviation in deviations(record):
        for amount in (1.0, -1.0) if deviation.unit else (1.0,):
            said = remedy(record, deviation, amount).instruction
            assert "{" not in said and not [word for word in words if re.search(word, said)], said


def test_there_are_records_of_every_kind():
    """Else the tests above would hold for want of records."""
    kinds = {(r.feed.kind, r.guide.shape, r.guide.far_end, r.guide.material) for _, r in RECORDS}
    assert {kind[0] for kind in kinds} == {"probe", "bent-probe", "guide-port"}
    assert any(kind[0] == "guide-port" and kind[1] == "round" for kind in kinds)
    assert any(kind[2] == "load" for kind in kinds) and any(kind[3] == "aluminium" for kind in kinds)


def test_a_probe_is_said_to_turn_the_mode_only_where_there_is_one():
    tube = SHIPPED["four-slot-tube-2g44"]
    assert any("a probe beside its line" in text for text in warnings(tube))
    assert any(
        "to that of the feed: a tube that is not round changes" in text for text in warnings(_port(tube))
    )


def test_a_finer_step_is_told_with_its_digits():
    """Rounding to tenths would make 0.05 mm into 0.1 and 0.04 into nothing."""
    assert [amount_text(amount) for amount in (0.05, -0.04, 1.25, 0.3)] == [
        "0.05 mm",
        "0.04 mm",
        "1.25 mm",
        "0.3 mm",
    ]


@each_case("name", sorted(SHIPPED))
def test_beyond_a_range_only_what_this_feed_can_tune_is_named(name):
    record = SHIPPED[name]
    said = _beyond_range(SimpleNamespace(record=record, variables=()))
    named = re.findall(r"--also (\S+)", said)
    assert named == list(tunable_feed(record).suggested) and named
