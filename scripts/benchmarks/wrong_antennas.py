"""Antennas made wrong on purpose, read with caliper and rule, foretold, mended, and solved each time.

`tests/references/wrong-antennas.toml` says what is wrong with each; it was written down before any was
solved. The tables that this writes are held against the models by `tests/stored/test_finished_full_wave.py`.

    PYTHONPATH=scripts python -m benchmarks.wrong_antennas RUNS [CASE ...]
"""

from __future__ import annotations

import csv
import io
import sys
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np

from simharness import plan, solve
from simharness.em.signals.match import worst_match
from simharness.files import atomic_write_text
from simharness.improvement.messages import proposal_text
from simharness.measurement.files import OnePort
from simharness.numerics.decibels import decibels
from simharness.records import Record, parse_record, read_record
from simharness.records.text import plain_data
from simharness.workshop.dimensions import dimensions, explicit_slots
from simharness.workshop.mending import MendStudy, mend_study
from simharness.workshop.readings import Reading, Readings, usual_within, without_readings
from simharness.workshop.study import BuiltStudy, built_study

REFERENCES = Path(__file__).resolve().parents[2] / "tests" / "references"
CASES: dict[str, dict[str, Any]] = tomllib.loads(
    (REFERENCES / "wrong-antennas.toml").read_text(encoding="utf-8")
)

SLOT_FIELDS = ("position_mm", "offset_mm", "length_mm", "width_mm")
GRADUATIONS = (0.05, 0.5)
"""Of caliper and rule, mm: what is read is a multiple of it."""


def nominal(name: str) -> Record:
    """A record as drawn, every slot by itself."""
    return explicit_slots(read_record(REFERENCES / f"{name}.toml"))


def wrong(case: str) -> Record:
    """The record of a case as it was made."""
    told = CASES[case]
    data = plain_data(nominal(told["record"]), rule=False)
    for name, amount in told["off"].items():
        part, field = name.split(".")
        if part in ("guide", "feed"):
            data[part][field] = round(data[part][field] + amount, 6)
            continue
        which = data["slot"] if part == "slot" else [data["slot"][int(part.split()[1]) - 1]]
        for slot in which:
            _change(slot, field, amount)
    for field, amounts in told.get("each", {}).items():
        for slot, amount in zip(data["slot"], amounts, strict=True):
            _change(slot, field, amount)
    data["name"] = f"{told['record']}-{case}"
    return parse_record(data, f"case {case}")


def _change(slot: dict[str, Any], field: str, amount: float) -> None:
    sign = -1 if field == "offset_mm" and slot[field] < 0 else 1
    slot[field] = round(slot[field] + sign * amount, 6)


def drawn_readings(case: str) -> Readings:
    """What is read on the antenna of a case with the errors of its instruments; the same each time."""
    told = CASES[case]
    noise = {"caliper_mm": 0.1, "rule_mm": 0.5} | told.get("noise", {})
    blank, chance = told.get("blank", ()), np.random.default_rng(1000 + int(case))
    start = without_readings(nominal(told["record"]))
    rows = []
    for row, true in zip(start.rows, dimensions(wrong(case)), strict=True):
        within = usual_within(row.dimension, noise["caliper_mm"], noise["rule_mm"])
        step = GRADUATIONS[within == noise["rule_mm"]]
        read = round(round((true.drawn + 0.5 * within * chance.standard_normal()) / step) * step, 6)
        skipped = row.dimension.name in blank or row.dimension.name.split()[-1] in blank
        rows.append(row if skipped else replace(row, read=read, within=within))
    return replace(start, rows=tuple(rows))


def stored_readings(case: str) -> Readings:
    """Those in the table."""
    with open(REFERENCES / "built-readings.csv", newline="", encoding="utf-8") as file:
        known = {row["dimension"]: row for row in csv.DictReader(file) if row["case"] == case}
    start = without_readings(nominal(CASES[case]["record"]))

    def filled(row: Reading) -> Reading:
        found = known.get(row.dimension.name)
        if found is None:
            return row
        return replace(row, read=float(found["read_mm"]), within=float(found["within_mm"]))

    return replace(start, rows=tuple(map(filled, start.rows)))


def mended(case: str, study: MendStudy) -> Record:
    """The antenna of a case as it really is, with the first operation carried out on it."""
    record = wrong(case)
    for change, amount in study.mends[0].proposal.parts:
        record = change.applied(record, amount)
    return record.model_copy(update={"name": f"{record.name}-mended"})


def _solved(record: Record, folder: str, frequency: np.ndarray) -> OnePort:
    results = solve(plan(record, "draft"), runs=folder).results
    return OnePort(frequency, OnePort(results["frequency"], results["s11"]).at(frequency))


def worst_db(record: Record, curve: OnePort) -> float:
    """Largest |S11| in the band, dB."""
    band = record.band
    return float(decibels(worst_match(curve.frequency, curve.s11, band.low, band.high)[1]))


def curve_of(case: str, state: str) -> OnePort:
    """S11 of a case in the table: "drawn", "wrong" or "mended"."""
    with open(REFERENCES / "built-runs.csv", newline="", encoding="utf-8") as file:
        rows = [row for row in csv.DictReader(file) if (row["case"], row["state"]) == (case, state)]
    s11 = [complex(float(row["s11_real"]), float(row["s11_imag"])) for row in rows]
    return OnePort(1e9 * np.array([float(row["frequency_ghz"]) for row in rows]), np.array(s11))


def foretold(case: str, readings: Readings, drawn: OnePort) -> BuiltStudy:
    """The antenna of a case by its readings."""
    return built_study(readings, drawn, f"{CASES[case]['record']} as drawn", "draft")


def _table(name: str, rows: list[dict[str, Any]]) -> None:
    text = io.StringIO()
    writer = csv.DictWriter(text, list(rows[0]), lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    atomic_write_text(REFERENCES / name, text.getvalue())


def _curve_rows(case: str, state: str, curve: OnePort) -> list[dict[str, Any]]:
    return [
        {
            "case": case,
            "state": state,
            "frequency_ghz": f"{f / 1e9:.6f}",
            "s11_real": f"{s.real:.5f}",
            "s11_imag": f"{s.imag:.5f}",
        }
        for f, s in zip(curve.frequency, curve.s11)
    ]


def main(folder: str, cases: list[str]) -> None:
    """Solve, foretell and mend, and write the tables."""
    from simharness.estimate.antenna import estimate_span

    readings, runs, built, mends, drawn = [], [], [], [], {}
    for name in dict.fromkeys(CASES[case]["record"] for case in cases):
        record = nominal(name)
        drawn[name] = _solved(record, folder, np.linspace(*estimate_span(record), 61))
        runs += _curve_rows(name, "drawn", drawn[name])
    for case in cases:
        name, read = CASES[case]["record"], drawn_readings(case)
        readings += [
            {
                "case": case,
                "dimension": row.dimension.name,
                "read_mm": f"{row.read:g}",
                "within_mm": f"{row.within:g}",
            }
            for row in read.read
        ]
        study, made = foretold(case, read, drawn[name]), wrong(case)
        solved = _solved(made, folder, drawn[name].frequency)
        runs += _curve_rows(case, "wrong", solved)
        now, told = study.by_model["worst_s11"], study.figures["worst_s11"]
        built.append(
            {
                "case": case,
                "foretold_db": f"{now.value:.2f}",
                "low_db": f"{now.low:.2f}",
                "high_db": f"{now.high:.2f}",
                "whole_low_db": f"{told.low:.2f}",
                "whole_high_db": f"{told.high:.2f}",
                "solved_db": f"{worst_db(made, solved):.2f}",
            }
        )
        print(built[-1], flush=True)
        found = mend_study(study)
        row = {"case": case, "do": "", "foretold_db": "", "low_db": "", "high_db": "", "solved_db": ""}
        if found.mends:
            first = found.mends[0]
            after = _solved(mended(case, found), folder, drawn[name].frequency)
            runs += _curve_rows(case, "mended", after)
            now = first.by_model["worst_s11"]
            row |= {
                "do": proposal_text(first.proposal),
                "foretold_db": f"{now.value:.2f}",
                "low_db": f"{now.low:.2f}",
                "high_db": f"{now.high:.2f}",
                "solved_db": f"{worst_db(made, after):.2f}",
            }
        mends.append(row)
        print(row, flush=True)
    _table("built-readings.csv", readings)
    _table("built-runs.csv", runs)
    _table("built-cases.csv", built)
    _table("mend-cases.csv", mends)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2:] or list(CASES))
