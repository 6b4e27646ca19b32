"""Tables for 8-bit checksums; apart from the kernels, so that whoever needs a table starts no compiler."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray


def crc_table(polynomial: int) -> NDArray[np.uint8]:
    """uint8[256] for an 8-bit CRC, most significant bit first."""
    table = np.empty(256, np.uint8)
    for byte in range(256):
        crc = byte
        for _ in range(8):
            crc = (crc << 1 ^ polynomial if crc & 0x80 else crc << 1) & 0xFF
        table[byte] = crc
    return table
