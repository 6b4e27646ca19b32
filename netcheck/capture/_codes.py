"""Numbers that the kernels and their callers share, and what a person reads for them."""

from __future__ import annotations

from typing import Final

MOST_CHANNELS: Final = 256
RUN_CHANNELS: Final = 8  # channels that the short way knows
NAMED: Final = 5  # lines that are no frames and are named in a warning
LONGEST_LINE: Final = 4096  # bytes; longer lines are never frames
LONGEST_NAME: Final = 64  # bytes of a channel name
MILLISECOND: Final = 1_000_000  # ns between frames of a log without times
LATEST: Final = 9_223_372_036_000_000_000  # ns; times that are added up stop here

NOT_CANDUMP: Final = 1
BAD_TIME: Final = 2
NO_TIME: Final = 3
BAD_CHANNEL: Final = 4
BAD_ID: Final = 5
ID_11: Final = 6
ID_29: Final = 7
ODD_DIGITS: Final = 8
BAD_DATA: Final = 9
TOO_LONG_CLASSIC: Final = 10
TOO_LONG_FD: Final = 11
BAD_RAW_LENGTH: Final = 12
BAD_REMOTE: Final = 13
CAN_XL: Final = 14
BAD_BRACKETS: Final = 15
WRONG_COUNT: Final = 16
TAIL: Final = 17
TOO_LONG_LINE: Final = 18
DROPPED: Final = 19
CUT: Final = 20
NO_FRAME: Final = 21
WRONG_ID: Final = 22
BAD_LENGTH: Final = 23
BAD_NUMBER: Final = 24
FEW_COLUMNS: Final = 25

REASONS: Final = {
    NOT_CANDUMP: "not a candump line",
    BAD_TIME: "time stamp cannot be read",
    NO_TIME: "no time stamp",
    BAD_CHANNEL: "channel name cannot be read",
    BAD_ID: "id is not 3 or 8 hex digits",
    ID_11: "id does not fit in 11 bits",
    ID_29: "id does not fit in 29 bits",
    ODD_DIGITS: "odd number of data digits",
    BAD_DATA: "data are not hex digits in pairs",
    TOO_LONG_CLASSIC: "more than 8 data bytes in a classic frame",
    TOO_LONG_FD: "more than 64 data bytes",
    BAD_RAW_LENGTH: "raw length code does not match the data",
    BAD_REMOTE: "remote frame with something other than a length from 0 to 8",
    CAN_XL: "CAN XL frame",
    BAD_BRACKETS: "length in brackets cannot be read",
    WRONG_COUNT: "number of data bytes differs from the length given",
    TAIL: "something else after the frame",
    TOO_LONG_LINE: f"longer than {LONGEST_LINE} bytes",
    DROPPED: "the recorder lost frames here",
    CUT: "cut off",
    NO_FRAME: "not a frame of this format",
    WRONG_ID: "id does not fit in its bits",
    BAD_LENGTH: "length cannot be read",
    BAD_NUMBER: "id or data cannot be read as the numbers that they are in this file",
    FEW_COLUMNS: "fewer columns than the header",
}
