"""A worker process of the live answers, seen from the process that asks: messages there and back.

The worker reads from a pipe whose other end is here, and ends when that end closes: also when this process is
killed.
"""

from __future__ import annotations

import contextlib
import os
import pickle
import struct
import subprocess
import sys
import threading
from collections.abc import Callable
from typing import IO, Any

from simharness.errors import MachineError

_SIZE = struct.Struct("<Q")
_END_SECONDS = 2.0
_ONE_THREAD = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
DIED = ("died",)
"""The message that is told in place of one from a worker that has ended by itself."""


def write_message(stream: IO[bytes], message: Any) -> None:
    """Write one message; OSError where nobody reads any more."""
    data = pickle.dumps(message, pickle.HIGHEST_PROTOCOL)
    stream.write(_SIZE.pack(len(data)) + data)
    stream.flush()


def read_message(stream: IO[bytes]) -> Any:
    """Read one message.

    Raises
    ------
    EOFError
        The other side has closed its end, or was killed while it wrote.
    """
    head = stream.read(_SIZE.size)
    if len(head) < _SIZE.size:
        raise EOFError
    (size,) = _SIZE.unpack(head)
    data = stream.read(size)
    if len(data) < size:
        raise EOFError
    return pickle.loads(data)  # from our own process, by a pipe of ours


class Channel:
    """One worker, started when something is first sent and again after it died.

    Parameters
    ----------
    role : str
        What the worker does; see `simharness.live.worker`.
    told : function
        Called with each message of the worker, and with `DIED`, in a thread of its own.
    """

    def __init__(self, role: str, told: Callable[[tuple], None]):
        self._role, self._told = role, told
        self._process: subprocess.Popen[bytes] | None = None
        self._listener: threading.Thread | None = None
        self._ended: subprocess.Popen[bytes] | None = None
        self._lock = threading.Lock()

    @property
    def pid(self) -> int | None:
        """Process number of the worker; None where none runs."""
        process = self._process
        return None if process is None or process.poll() is not None else process.pid

    def send(self, message: tuple) -> None:
        """Send a message; the worker is started where none runs.

        Raises
        ------
        MachineError
            It cannot be started.
        """
        with self._lock:
            process = self._running()
            assert process.stdin is not None
            with contextlib.suppress(OSError, ValueError):  # it has just died: its reader tells so
                write_message(process.stdin, message)

    def _running(self) -> subprocess.Popen[bytes]:
        if self._process is None or self._process.poll() is not None:
            environment = {**os.environ, **dict.fromkeys(_ONE_THREAD, "1")}
            try:
                self._process = subprocess.Popen(
                    [sys.executable, "-m", "simharness.live.worker", self._role],
                    stdin=subprocess.PIPE,
                    stdout=subprocess.PIPE,
                    env=environment,
                    start_new_session=True,  # an interrupt at the terminal is for the one who asks
                )
            except OSError as error:
                raise MachineError(f"cannot start a process for the estimate ({error})") from None
            self._listener = threading.Thread(target=self._listen, args=(self._process,), daemon=True)
            self._listener.start()
        return self._process

    def _listen(self, process: subprocess.Popen[bytes]) -> None:
        assert process.stdin is not None and process.stdout is not None
        while True:
            try:
                message = read_message(process.stdout)
            except (EOFError, OSError, ValueError):
                break
            self._told(message)
        process.wait()
        for stream in (process.stdin, process.stdout):
            with contextlib.suppress(OSError):
                stream.close()
        if process is not self._ended:
            self._told(DIED)

    def close(self) -> None:
        """End the worker, whatever it does; nothing is told after that."""
        with self._lock:
            process, self._process = self._process, None
            self._ended = process
        if process is None:
            return
        process.kill()
        if self._listener is not None:
            self._listener.join(_END_SECONDS)
