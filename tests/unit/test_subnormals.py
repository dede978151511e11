"""Numbers too small for the fast path are zero inside the block, in threads started there too, and as ever
outside it.
"""

import platform
import threading

import pytest

from simharness.solver.subnormals import subnormals_as_zero

pytestmark = pytest.mark.skipif(
    platform.machine() != "x86_64" or platform.libc_ver()[0] != "glibc", reason="nothing is done here"
)


def _product() -> float:
    """1e-310, below the least normal number of double precision, 2.2e-308 (IEEE 754)."""
    return float("1e-300") * float("1e-10")


def test_subnormals_are_zero_in_the_block_only():
    assert _product() > 0
    with subnormals_as_zero():
        assert _product() == 0
    assert _product() > 0


def test_threads_started_in_the_block_take_it_along():
    """As those of the solver's engine do."""
    found = []
    with subnormals_as_zero():
        thread = threading.Thread(target=lambda: found.append(_product()))
        thread.start()
        thread.join()
    assert found == [0.0]


def test_the_block_ends_with_an_error_too():
    with pytest.raises(KeyError), subnormals_as_zero():
        raise KeyError
    assert _product() > 0
