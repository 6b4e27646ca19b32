"""What is known of a file across its pieces: channels, counts, times, and the warnings they come to."""

from __future__ import annotations

from typing import Final, NamedTuple

import numpy as np
from numpy.typing import NDArray

from netcheck.capture import _tally as tallied
from netcheck.capture._capture import Columns
from netcheck.capture._chunks import ByteSource
from netcheck.capture._codes import CUT, LATEST, MILLISECOND, MOST_CHANNELS, NAMED, REASONS
from netcheck.capture._columns import Batch
from netcheck.errors import InputError
from netcheck.words import counted

SHOWN: Final = 60  # bytes of a line that are shown
RELATIVE: Final = "time stamps count from the start of the recording: they are not times of day"
UNNAMED: Final = "frames name no channel: the channel is called can0 here"
DATED: Final = "time stamps are dates without a time zone: taken as UTC"
_OTHER_FILES: Final = (
    (b"\xff\xfe", "is UTF-16 text", "save it as UTF-8"),
    (b"\xfe\xff", "is UTF-16 text", "save it as UTF-8"),
    (b"BZh", "is compressed with bzip2", "unpack it first"),
    (b"PK\3\4", "is a zip archive", "unpack it first"),
    (b"7z\xbc\xaf", "is a 7z archive", "unpack it first"),
)
_SUMMED: Final = (
    tallied.QUIET,
    tallied.SKIPPED,
    tallied.BACK,
    tallied.UNTIMED,
    tallied.DATED,
    tallied.SHORT,
    tallied.ODD_FD,
    tallied.DROPPED,
)


class Skipped(NamedTuple):
    """A line that is no frame: its number, why, and its beginning."""

    line: int
    reason: int
    text: str


def skipped_warning(skipped: int, of: int, named: list[Skipped], noun: str = "line") -> str:
    """Says how many lines are no frames, and which came first."""
    first = "; ".join(f"{noun} {s.line}: {REASONS[s.reason]}, “{s.text}”" for s in named)
    more = f"; and {skipped - len(named):,} more" if skipped > len(named) else ""
    are = "is not a frame" if skipped == 1 else "are not frames"
    return f"{skipped:,} of {counted(of, noun)} {are}: {first}{more}"


def steps_back_warning(steps: int, first: str, largest: int) -> str:
    """Says that the clock went back; ``largest`` in ns."""
    return (
        f"time goes backwards {counted(steps, 'time')}, first in {first}, by {largest / 1e9:.6f} s at most: "
        "frames are kept in file order"
    )


def has_times(frames: int, untimed: int) -> bool:
    """Whether frames have time stamps: all but one in a hundred at most."""
    return untimed * 100 <= frames


def untimed_warning(untimed: int) -> str:
    """Says that times are made up."""
    return f"{counted(untimed, 'frame')} without a time stamp: times are made up, 1 ms apart"


def excerpt(line: bytes) -> str:
    """The start of a line, fit to be shown."""
    first = line.split(b"\n", 1)[0].rstrip(b"\r \t")
    text = "".join(c if c.isprintable() else "·" for c in first[:SHOWN].decode("utf-8", "replace"))
    return text + ("…" if len(first) > SHOWN else "")


class Ledger:
    """Sums over the pieces of one candump text, taken in file order."""

    def __init__(self, file: str) -> None:
        self.file = file
        self.deltas = 0
        self.zeroed = False  # log lines that begin as candump -t z and -t d do
        self.channels: dict[str, int] = {}
        self.frames = 0
        self.lines = 0
        self.sums = np.zeros(tallied.SIZE, np.int64)
        self.named: list[Skipped] = []
        self.endings: list[str] = []
        self._now = 0
        self._last = 0

    @property
    def has_times(self) -> bool:
        """Whether the frames so far have time stamps."""
        return has_times(self.frames, int(self.sums[tallied.UNTIMED]))

    @property
    def skipped(self) -> int:
        """Lines that are no frames, blank ones and comments not counted."""
        return int(self.sums[tallied.SKIPPED])

    def take(
        self,
        columns: Columns,
        tally: NDArray[np.int64],
        names: list[bytes],
        skipped: list[Skipped],
        done: int,
    ) -> Batch:
        """Sets a piece's columns right by what came before it, and adds it to the sums."""
        frames = int(tally[tallied.FRAMES])
        self._take_channels(columns, frames, int(tally[tallied.CHANNELS]), names)
        if frames:
            self._take_times(columns, tally, frames)
        room = NAMED - len(self.named)
        self.named += [Skipped(self.lines + s.line, s.reason, s.text) for s in skipped[:room]]
        for place, line in ((tallied.BACK, tallied.BACK_LINE), (tallied.ODD_FD, tallied.ODD_FD_LINE)):
            if tally[place] and not self.sums[place]:
                self.sums[line] = self.lines + tally[line]
        self.sums[list(_SUMMED)] += tally[list(_SUMMED)]
        self.sums[tallied.BACK_MOST] = max(self.sums[tallied.BACK_MOST], tally[tallied.BACK_MOST])
        self.frames += frames
        self.lines += int(tally[tallied.LINES])
        self._last = int(tally[tallied.LAST])
        refused, untimed = int(tally[tallied.SKIPPED]), int(tally[tallied.UNTIMED])
        return Batch(columns, frames, int(tally[tallied.BYTES]), refused, done, untimed)

    def _take_channels(self, columns: Columns, frames: int, found: int, names: list[bytes]) -> None:
        indices = [self.channels.setdefault(_name(name), len(self.channels)) for name in names]
        if max(found, len(self.channels)) > MOST_CHANNELS:
            raise InputError(
                self.file,
                f"has more than {MOST_CHANNELS} different channel names",
                remedy="check that this is a candump log",
            )
        if indices != list(range(len(indices))):
            renamed = columns.channel[:frames].tobytes().translate(bytes(indices).ljust(256, b"\0"))
            columns.channel[:frames] = np.frombuffer(renamed, np.uint8)

    def _take_times(self, columns: Columns, tally: NDArray[np.int64], frames: int) -> None:
        hanging = int(tally[tallied.HANGING])
        if not self.frames:
            self._now = -MILLISECOND if tally[tallied.FIRST_UNTIMED] else 0
        summed = hanging or tally[tallied.UNTIMED]
        latest = int(columns.time_ns[:frames].max()) if summed else 0
        if latest + (max(self._now, 0) if hanging else 0) >= LATEST:
            raise InputError(
                self.file,
                "its times add up to more than 292 years",
                remedy="check what its time stamps mean",
            )
        columns.time_ns[:hanging] += self._now
        before = int(columns.time_ns[hanging - 1]) if hanging else self._now
        if not tally[tallied.OPEN] and (self.frames or hanging):
            step = before - int(columns.time_ns[hanging])
            if step > 0:
                tally[tallied.BACK] += 1
                tally[tallied.BACK_LINE] = tally[tallied.TIMED_LINE]
                tally[tallied.BACK_MOST] = max(step, int(tally[tallied.BACK_MOST]))
        self._now = int(columns.time_ns[frames - 1])

    def close(self, source: ByteSource, lengths: list[int]) -> None:
        """Takes note of how the file ends. Raises InputError when it has no frame at all.

        lengths: of the frames with the id of the last one, which comes last; for an unfinished file
        """
        if source.cut:
            self.lines += 1
            self.sums[tallied.SKIPPED] += 1
            if len(self.named) < NAMED:
                self.named.append(Skipped(self.lines, CUT, excerpt(source.cut)))
        if not self.frames:
            raise self._no_frame(source)
        if source.fault:
            self.endings.append(f"{source.fault.text}: only what comes before that was read")
        elif source.unfinished and self._last == 2:
            self.endings.append(
                f"line {self.lines}, the last one, has no line end and is not a frame: "
                "the recording was cut off in it"
            )
        elif source.unfinished and self._last == 1 and lengths[:-1] and lengths[-1] < min(lengths[:-1]):
            # Without a line end, 123#1122 may be all or may have lost bytes; only its id's past can tell.
            size = counted(int(lengths[-1]), "data byte")
            self.endings.append(
                f"line {self.lines}, the last one, has no line end, and {size} where "
                f"its id had {min(lengths[:-1])} or more before: it may have been cut off"
            )

    def _no_frame(self, source: ByteSource) -> InputError:
        if source.fault:
            return InputError(self.file, f"{source.fault.text}; no frame before that", remedy="copy it again")
        for start, what, remedy in _OTHER_FILES:
            if source.head.startswith(start):
                return InputError(self.file, what, remedy=remedy)
        remedy = "record with candump -l, or name a format that can be read"
        if b"\0" in source.head:
            return InputError(self.file, "is binary data, not candump text", remedy=remedy)
        if not self.named:
            return InputError(self.file, "has no frame, only blank lines or comments", remedy=remedy)
        first = self.named[0]
        what = f"no frame in {counted(self.lines, 'line')}; {REASONS[first.reason]}: “{first.text}”"
        return InputError(self.file, what, where=f"line {first.line}", remedy=remedy)

    def warnings(self) -> tuple[str, ...]:
        """What a person should know, in a fixed order."""
        return (*self._line_warnings(), *self.endings, *self._time_warnings())

    def _line_warnings(self) -> list[str]:
        sums, found = self.sums, []
        if self.skipped:
            found.append(skipped_warning(self.skipped, self.lines, self.named))
        if sums[tallied.DROPPED]:
            times = counted(int(sums[tallied.DROPPED]), "time")
            found.append(f"the recorder reports {times} that it lost frames")
        if sums[tallied.ODD_FD]:
            frames = counted(int(sums[tallied.ODD_FD]), "CAN FD frame")
            found.append(
                f"{frames} of a length that CAN FD does not have, "
                f"first in line {sums[tallied.ODD_FD_LINE]}: kept as written"
            )
        return found

    def _time_warnings(self) -> list[str]:
        sums, found = self.sums, []
        if sums[tallied.UNTIMED]:
            found.append(untimed_warning(int(sums[tallied.UNTIMED])))
        if self.deltas == 2 or (self.deltas and sums[tallied.SHORT]):
            found.append(
                "time stamps are steps from frame to frame, added up from 0: they are not times of day"
            )
        elif sums[tallied.SHORT] or self.zeroed:
            found.append(RELATIVE)
        if sums[tallied.DATED]:
            found.append(DATED)
        if sums[tallied.BACK]:
            line = f"line {sums[tallied.BACK_LINE]}"
            found.append(steps_back_warning(int(sums[tallied.BACK]), line, int(sums[tallied.BACK_MOST])))
        return found


def _name(raw: bytes) -> str:
    return raw.decode("utf-8", "backslashreplace")
