"""A coax probe between a short and a matched guide: field solver against the project's own moment method.

Layout: the feeds of two shipped records in their guides, without slots, the far end a matched port; normal
mesh, metal outside. Independent route: `em.probe.straight` (frequency domain, no mesh; the round wire with
its flat end and the coax aperture). Resistance of a thin probe after Collin, Field Theory of Guided Waves,
ch. 7, is held elsewhere. Known bias: the moment method leaves out current that varies around the wire, 0.005
in S11; the far end sends some 0.025 back, which ripples over the band; |S11|^2 + |S21|^2 is 0.995 and 0.981,
constant over it (the coax agrees with the recording box of antennas within 0.7 %, so the guide port is
suspected; not understood). Tolerance: 15 % of the impedance over a band of 10 %, more than a builder's wire
is off. Seen: 6 % (WR-90) and 9 % (2.45 GHz).
"""

from dataclasses import replace

import numpy as np
import pytest
from textbook_scenes import solved

from simharness.em.guide.rectangular import phase_constant
from simharness.em.probe.straight import probe_network
from simharness.estimate.feeds import StraightInputs
from simharness.geometry import antenna_scene
from simharness.mesh.settings import QUALITIES
from simharness.records import read_record

BANDS = {"eight-slot-wr90-10g37": (9.85e9, 10.9e9), "five-slot-2g45": (2.32e9, 2.56e9)}


@pytest.fixture(scope="module", params=BANDS)
def probe(request, store, records):
    """Record and results of its feed alone."""
    record = read_record(records / f"{request.param}.toml")
    guide = record.guide.model_copy(update={"far_end": "port", "length_mm": 2.0 * record.guide.a_mm})
    bare = record.model_copy(update={"slot_rule": None, "guide": guide})
    low, high = BANDS[request.param]
    scene = antenna_scene(bare)
    spectrum = replace(scene.spectrum, centre=(low + high) / 2, low=low, high=high, far=())
    closed = replace(scene, spectrum=spectrum, radiates=False, boundaries=("metal",) * 6)
    return record, solved(store, closed, QUALITIES["normal"])


def impedance(s11):
    return 50.0 * (1 + s11) / (1 - s11)


def test_input_impedance_within_15_percent_of_the_moment_method(probe):
    record, results = probe
    a, b, place = record.guide.a_mm * 1e-3, record.guide.b_mm * 1e-3, record.feed.position_mm * 1e-3
    frequency = results["frequency"][::20]
    feed = StraightInputs(record)
    network = probe_network(a, b, feed.wire, feed.coax, frequency, place)
    sides = 1 / (
        1 - 1j / np.tan(phase_constant(a, frequency) * place)
    )  # the short's stub beside a matched guide
    theirs, ours = impedance(network.reflection(sides, 50.0)), impedance(results["s11"][::20])
    assert np.max(np.abs(ours / theirs - 1)) < 0.15
