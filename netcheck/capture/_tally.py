"""Places in the tally that a parsed stretch of candump text leaves behind."""

from __future__ import annotations

from typing import Final

LINES: Final = 0
FRAMES: Final = 1
BYTES: Final = 2  # of payload
QUIET: Final = 3  # blank lines and comments
SKIPPED: Final = 4  # lines that are no frames
CHANNELS: Final = 5  # MOST_CHANNELS + 1: too many
HANGING: Final = 6  # frames at the start whose time counts from the frame before the stretch
OPEN: Final = 7  # no frame of the stretch has a time of its own
TIMED_LINE: Final = 8  # line of the first frame with a time of its own
NOW: Final = 9  # time of the last frame
BACK: Final = 10  # steps backwards inside the stretch
BACK_LINE: Final = 11  # line of the first one
BACK_MOST: Final = 12  # the largest, ns
UNTIMED: Final = 13  # frames without a time
FIRST_UNTIMED: Final = 14
DATED: Final = 15  # frames with a date and time of day
SHORT: Final = 16  # frames of screen output with fewer than ten digits of seconds
SHORT_BACK: Final = 17  # of these, below the one before
SHORT_SAME: Final = 18  # of these, equal to the one before (not counting the second)
SHORT_LAST: Final = 19
ODD_FD: Final = 20  # CAN FD frames of a length that the format does not have
ODD_FD_LINE: Final = 21
LAST: Final = 22  # the last line: 0 blank or comment, 1 frame, 2 neither
SHORT_FIRST: Final = 23
DROPPED: Final = 24  # reports of the recorder that it lost frames
SIZE: Final = 25
