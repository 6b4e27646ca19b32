"""A buffer that moves over the blocks of a text."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
from numpy.typing import NDArray


class BlockWindow:
    """Blocks joined as far as wanted: bytes of ``buffer`` from ``at`` on are still to be read."""

    def __init__(self, blocks: Iterator[bytes], at: int) -> None:
        self._blocks = blocks
        self.buffer: bytes = b""
        self._text = np.frombuffer(b"", np.uint8)
        self.at = 0
        self._skip = at

    def fill(self, wanted: int) -> bool:
        """Makes ``wanted`` bytes available if there are that many; False when none are left."""
        have = len(self.buffer) - self.at
        if have >= wanted:
            return True
        parts: list[bytes] = [self.buffer[self.at :]] if have else []
        fresh = False
        while have < wanted and (block := next(self._blocks, None)) is not None:
            parts.append(block)
            have += len(block)
            fresh = True
        if fresh:
            self.buffer = parts[0] if len(parts) == 1 else b"".join(parts)
            self._text = np.frombuffer(self.buffer, np.uint8)
            self.at, self._skip = self._skip, 0
        return len(self.buffer) > self.at

    def text(self) -> NDArray[np.uint8]:
        """The buffer as an array that shares its memory."""
        return self._text

    def skip_line(self) -> bool:
        """Moves behind the next line end; False when there is none."""
        while True:
            found = self.buffer.find(b"\n", self.at)
            if found >= 0:
                self.at = found + 1
                return True
            self.at = len(self.buffer)
            if not self.fill(1):
                return False
