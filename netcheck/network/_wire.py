"""Frames as they were on the wire: how many bits each took, stuff bits and interframe space counted.

ISO 11898-1 frame formats, field by field (Σ without stuff bits):

    classic, 11 bit   SOF, id 11, RTR, IDE, r0, DLC 4, data, CRC 15 | end         47 + 8s
    classic, 29 bit   SOF, id 11, SRR, IDE, id 18, RTR, r1, r0, DLC 4, data, CRC 15 | end         67 + 8s
    CAN FD, 11 bit    SOF, id 11, RRS, IDE, FDF, res, BRS, ESI, DLC 4, data | count 4, CRC 17 or 21 | end
    CAN FD, 29 bit    SOF, id 11, SRR, IDE, id 18, RRS, FDF, res, BRS, ESI, DLC 4, data | … as above
    end               CRC delimiter, ACK slot and delimiter, EOF 7, interframe space 3

Classic frames are stuffed from SOF to the end of the CRC. CAN FD frames are stuffed like that up to the
end of the data; from the stuff count on there is a fixed stuff bit before every fourth bit, and that one
stands in for a stuff bit that the last data bits may call for. So the CRC of a CAN FD frame does not change
its length, while that of a classic frame does.

A CAN FD frame whose bit rate was switched runs at the higher rate from the sample point of BRS to that of
the CRC delimiter. Where both phases sample at the same share of a bit, BRS as a nominal bit and the
delimiter as a data bit give the same time; that is how they are counted.

Data-phase bits are only in CAN FD frames whose log says that the bit rate was switched. An error frame
counts as no bits: what it cost is not in the log. A CAN FD frame of a length that the format does not have
counts as the next longer one, with zeros. What counts bits is in ``_wire_kernels``; here are the bounds.
"""

from __future__ import annotations

from typing import Final

# Linux, include/linux/can/length.h, and ISO 11898-1: see the table above.
OVERHEAD: Final = 47  # bits of a classic frame with 11-bit id, without data and stuff bits
OVERHEAD_EXTENDED: Final = 67
STUFFED: Final = 34  # of these, bits that are stuffed
STUFFED_EXTENDED: Final = 54


def worst_case_bits(length: int, *, extended: bool) -> int:
    """Most bits that a classic frame of ``length`` payload bytes (0 to 8) can take, with interframe space.

    8s + g + 13 + ⌊(g + 8s − 1) / 4⌋ with g = 34 or 54 (Davis, Burns, Bril and Lukkien 2007, equation 1).
    """
    stuffed = 8 * length + (STUFFED_EXTENDED if extended else STUFFED)
    overhead = OVERHEAD_EXTENDED if extended else OVERHEAD
    return 8 * length + overhead + (stuffed - 1) // 4


def worst_case_fd_bits(length: int, *, extended: bool) -> tuple[int, int]:
    """No CAN FD frame of ``length`` payload bytes with a switched bit rate takes more: nominal, data phase.

    A bound, not the least one: as if every bit but the first could be stuffed as the theory allows at worst.
    """
    head = 36 if extended else 17  # SOF to BRS
    body = 5 + 8 * length  # ESI to the data
    nominal = head + (head - 2) // 4 + 12
    return nominal, body + 1 + (body - 1) // 4 + (28 if length <= 16 else 33)
