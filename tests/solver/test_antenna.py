"""The shipped records, solved as a user solves them at the coarsest quality."""

import math

import numpy as np
import pytest

from simharness import open_run
from simharness.em.pattern.far_field import sphere_weights
from simharness.records import parse_record, read_record
from simharness.runs.execution import solve
from simharness.runs.planning import record_plan

RECORDS = ("five-slot-2g45", "eight-slot-5g8", "eight-slot-wr90-10g37")


@pytest.fixture(scope="module", params=RECORDS)
def antenna(request, store, records):
    record = read_record(records / f"{request.param}.toml")
    return record, solve(record_plan(record, "draft"), store, record).results()


def test_reflection_is_passive(antenna):
    """|S11| at most 1 within 0.5 %."""
    assert np.max(np.abs(antenna[1]["s11"])) < 1.005


def test_accepted_power_leaves_the_antenna(antenna):
    """The solver's metal is perfect: what is accepted must pass the recording box within 1 % (seen: 0.7 %).
    The far field holds the outgoing waves alone; what the absorber sends back (1 to 2 % with Mur's condition)
    is on top: 3 %. The loss in the walls is worked out afterwards and lies below 2 %."""
    results = antenna[1]
    np.testing.assert_allclose(results["surface_power"], results["accepted_power"], rtol=0.01)
    np.testing.assert_allclose(results["radiated_power"], results["accepted_power"], rtol=0.03)
    share = results["wall_loss"] / results["accepted_power"]
    assert np.all((share > 1e-4) & (share < 0.02))


def test_directivity_integrates_to_4_pi(antenna):
    """Within 1 %, by the trapezoid rule in both angles."""
    results = antenna[1]
    theta, phi = results["theta"], results["phi"]
    for d in results["directivity"]:
        total = np.trapezoid(np.trapezoid(d, phi, axis=1) * np.sin(theta), theta)
        assert total == pytest.approx(4 * np.pi, rel=0.01)


def test_slots_are_excited_in_phase_and_alike(antenna):
    """Half-wave spacing and alternating offsets: equal within 1.5 dB and 15 degrees at the centre."""
    v = antenna[1]["slot_voltage"][1]
    turned = v / v.mean()
    assert np.ptp(20 * np.log10(np.abs(turned))) < 1.5
    assert np.max(np.abs(np.degrees(np.angle(turned)))) < 15


def test_beam_points_broadside_and_is_polarized_across_the_guide(antenna):
    results = antenna[1]
    row = len(results["theta"]) // 2
    broadside = int(np.argmin(np.abs(results["phi"] - math.pi / 2)))
    d = results["directivity"][1]
    assert d[row, broadside] > 10 ** (-0.02) * d.max()
    # E along x at broadside is E_phi (there phi points to -x); longitudinal slots give next to no E_theta.
    assert abs(results["e_theta"][1, row, broadside]) < 0.03 * abs(results["e_phi"][1, row, broadside])


def test_the_verdict_puts_both_methods_side_by_side(antenna, store):
    """From the record to the verdict: two independent methods, each with its error bar, of one antenna.

    Known to differ: the mesh is coarse. Tolerance: what the verdict itself allows, by the error bars of
    both; this is what the tool promises its user.
    """
    record = antenna[0]
    verdict = open_run(record.name, runs=store.root).verdict
    judged = {row.name: row for row in verdict.rows if row.agrees is not None}
    assert judged and all(row.agrees for row in judged.values()), judged
    assert math.isfinite(verdict.worst_s11.value) and verdict.worst_s11.error > 0
    assert verdict.conclusion


def test_mirror_image_record_gives_the_mirror_image(store, records):
    """Offsets of the other sign: the same S11, the pattern mirrored in x.

    Runs stop when their spectra move by less than 2e-3 of the largest, the one perhaps at another step than
    the other: as far may they differ, the pattern in field strength over that of the beam, and there by what
    each run says that its field records lack unevenly besides. Seen: 2e-5 and 2e-4 idle, 1.3e-3 and 2.1e-3 in
    the pattern on a loaded machine.
    """
    record = read_record(records / "eight-slot-wr90-10g37.toml")
    data = record.model_dump(by_alias=True, exclude_none=True)
    data["slot_rule"]["offset_mm"] = -data["slot_rule"]["offset_mm"]
    one, two = (solve(record_plan(r, "draft"), store, r).results() for r in (record, parse_record(data)))
    settled = 2e-3
    np.testing.assert_allclose(one["s11"], two["s11"], atol=settled)
    phi = one["phi"]
    mirror = [int(np.argmin(np.abs(phi - (math.pi - p) % (2 * math.pi)))) for p in phi]
    field = [np.sqrt(d / d.max()) for d in (one["directivity"][1], two["directivity"][1][:, mirror])]
    uneven = sum(float(run.attributes["field_uneven"]) for run in (one, two))
    np.testing.assert_allclose(*field, rtol=0, atol=settled + uneven)


def test_lumped_gap_is_the_cheaper_choice_and_says_so(store, records):
    """A gap has no coax and no hole: it must balance too, and match within 0.5 in the complex plane of the
    coax run, which only shows that it is the same antenna (no published value)."""
    record = read_record(records / "eight-slot-wr90-10g37.toml")
    gap, coax = (
        solve(record_plan(record, "draft", feed), store, record).results() for feed in ("gap", "coax")
    )
    assert gap.attributes["feed"] == "GapPort" and coax.attributes["feed"] == "CoaxPort"
    np.testing.assert_allclose(gap["surface_power"], gap["accepted_power"], rtol=0.02)
    assert np.max(np.abs(gap["s11"] - coax["s11"])) < 0.5
    beam = [10 * np.log10(r["directivity"][1].max()) for r in (gap, coax)]
    assert abs(beam[0] - beam[1]) < 0.1


def test_far_field_weights_are_those_of_the_sphere(antenna):
    results = antenna[1]
    assert np.sum(sphere_weights(results["theta"], results["phi"])) == pytest.approx(4 * np.pi, rel=1e-9)
