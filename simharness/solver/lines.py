"""Lines of a byte stream."""

from __future__ import annotations

import re
from collections.abc import Iterator

MAX_LINE_BYTES = 4096
"""Longer lines are cut for the callback (not in the transcript)."""


class LineSplitter:
    """Lines of a byte stream, split at line feeds and carriage returns; blank ones left out.

    A line is cut after `limit` bytes and marked with an ellipsis; what follows up to
    its end is dropped. Bytes that are no UTF-8 are replaced.
    """

    def __init__(self, limit: int = MAX_LINE_BYTES):
        self._limit = limit
        self._kept = bytearray()
        self._cut = False

    def feed(self, chunk: bytes) -> Iterator[str]:
        """The lines completed by a chunk."""
        pieces = re.split(rb"[\r\n]", chunk)
        for piece in pieces[:-1]:
            self._keep(piece)
            yield from self.flush()
        self._keep(pieces[-1])

    def flush(self) -> Iterator[str]:
        """The line begun but not ended, if any."""
        text = self._kept.decode("utf-8", errors="replace") + ("…" if self._cut else "")
        self._kept.clear()
        self._cut = False
        if text.strip():
            yield text

    def _keep(self, piece: bytes) -> None:
        room = self._limit - len(self._kept)
        self._kept += piece[:room]
        self._cut = self._cut or len(piece) > room
