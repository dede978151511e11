"""The processes behind the live answers: what is stale is dropped, what dies comes again, nothing stays."""

from __future__ import annotations

import asyncio
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest

from simharness.errors import InputError, MachineError
from simharness.estimate.antenna import estimate
from simharness.library.analysis import check
from simharness.library.values import changed
from simharness.live.front import Live
from simharness.records import read_record

RECORD = read_record(Path(__file__).parents[2] / "docs" / "four-slot-9g6.toml")
HEIGHT = "feed.height_mm"
SECONDS = 120.0
"""After that something hangs; it takes a few seconds on an idle machine."""


def higher(by_mm: float):
    return changed(RECORD, {HEIGHT: RECORD.feed.height_mm + by_mm})


@pytest.fixture
def live() -> Iterator[Live]:
    found = Live()
    yield found
    found.close()


def waited(work):
    """The result of a coroutine, unless it hangs."""
    return asyncio.run(asyncio.wait_for(work, SECONDS))


async def until(condition) -> None:
    end = time.monotonic() + SECONDS
    while not condition():
        assert time.monotonic() < end, "nothing happened"
        await asyncio.sleep(0.02)


def gone(pid: int) -> bool:
    """Whether a process has ended; one that waits to be collected has."""
    try:
        state = Path(f"/proc/{pid}/stat").read_text().rsplit(")", 1)[1].split()[0]
    except OSError:
        return True
    return state == "Z"


def test_predictions_follow_from_a_surface_and_become_exact(live):
    async def work():
        live.open(RECORD)
        live.prefetch(HEIGHT)
        await until(lambda: live.model is not None and HEIGHT in live.model.paths)
        other = higher(0.15)
        guess = live.predict(other)
        exact = await live.exact(other)
        return other, guess, exact, live.predict(other)

    other, guess, exact, after = waited(work())
    expected = estimate(other).s11
    assert not guess.exact and after.exact
    assert np.abs(guess.s11 - expected).max() < 0.02  # seen: 0.002
    np.testing.assert_array_equal(exact.shown.s11, expected)
    np.testing.assert_array_equal(after.s11, expected)
    assert exact.sentences and exact.trust["gain"] > 0


def test_of_several_estimates_only_the_first_and_the_last_are_made(live):
    async def work():
        asked = [asyncio.create_task(live.exact(higher(0.05 * k))) for k in range(4)]
        return await asyncio.gather(*asked)

    first, *dropped, last = waited(work())
    assert dropped == [None, None]
    assert first.record == higher(0.0) and last.record == higher(0.15)


def test_warnings_follow_the_estimate_and_are_those_of_the_check(live):
    first, second = higher(0.0), changed(RECORD, {"slot.1.length_mm": 1.3 * RECORD.slots[0].length_mm})

    async def work():
        await live.exact(first)
        outdated = asyncio.create_task(live.warnings(first))
        await asyncio.sleep(0)
        await live.exact(second)
        return await outdated, await live.warnings(first), await live.warnings(second)

    outdated, other, found = waited(work())
    assert outdated in (None, check(first).warnings) and other is None
    assert found == check(second).warnings and found


def test_a_record_out_of_reach_becomes_the_base(live):
    async def work():
        far = higher(1.5)
        live.open(RECORD)
        await until(lambda: live.model is not None)
        assert live.predict(far) is None
        await live.exact(far)
        await until(lambda: live.model is not None and live.model.record == far)
        return live.predict(far)

    assert waited(work()).exact


def test_a_killed_worker_fails_its_request_and_comes_again(live):
    async def work():
        task = asyncio.create_task(live.exact(RECORD))
        await until(lambda: live.pids[1] is not None)
        os.kill(live.pids[1], signal.SIGKILL)
        with pytest.raises(MachineError, match="the process of the estimate has ended"):
            await task
        return await live.exact(RECORD)

    assert waited(work()).record == RECORD


def test_a_killed_worker_of_surfaces_opens_its_record_again(live):
    async def work():
        live.open(RECORD)
        await until(lambda: live.model is not None)
        before, pid = live.model, live.pids[0]
        os.kill(pid, signal.SIGKILL)
        await until(lambda: live.model is not before)
        return pid, live.pids[0]

    before, after = waited(work())
    assert before != after and gone(before)


def test_unknown_tools_are_refused(live):
    with pytest.raises(InputError, match="must be one of hand, mill"):
        waited(live.band(RECORD, "laser"))


def test_a_newer_band_takes_the_place_of_an_older_one(live):
    async def work():
        older = asyncio.create_task(live.band(RECORD, "hand"))
        await asyncio.sleep(0.05)
        newer = asyncio.create_task(live.band(RECORD, "mill"))
        return await older, await newer

    older, newer = waited(work())
    assert older is None
    assert newer.tools == "mill" and newer.share == 1.0  # a worst |S11| of -24 dB at a target of -10 dB


def test_close_ends_both_processes(live):
    async def work():
        live.open(RECORD)
        task = asyncio.create_task(live.exact(RECORD))
        await until(lambda: None not in live.pids)
        pids = live.pids
        live.close()
        return pids, await task

    pids, answer = waited(work())
    assert answer is None
    assert all(gone(pid) for pid in pids)


PARENT = """
import asyncio, sys
from simharness.live.front import Live
from simharness.records import read_record

async def work():
    live, record = Live(), read_record(sys.argv[1])
    live.open(record)
    task = asyncio.create_task(live.exact(record))
    while None in live.pids:
        await asyncio.sleep(0.02)
    print(*live.pids, flush=True)
    await asyncio.sleep(600)

asyncio.run(work())
"""


def test_nothing_outlives_a_killed_parent():
    parent = subprocess.Popen(
        [sys.executable, "-c", PARENT, str(Path(__file__).parents[2] / "docs" / "four-slot-9g6.toml")],
        stdout=subprocess.PIPE,
        text=True,
    )
    pids = [int(word) for word in parent.stdout.readline().split()]
    assert len(pids) == 2
    parent.kill()
    parent.wait()
    parent.stdout.close()
    end = time.monotonic() + SECONDS
    while not all(map(gone, pids)):
        assert time.monotonic() < end, "a worker is still there"
        time.sleep(0.05)
