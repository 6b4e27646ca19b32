"""Captures cut, joined, shifted and made anonymous, as a stream: their size does not matter."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from dataclasses import field, replace
from functools import partial
from pathlib import Path
from typing import Final

import numpy as np

from netcheck.capture import REMOTE, Capture, CaptureStream, has_directions, open_capture
from netcheck.edit._anonymise import TOUCHED, VinFinds, find_vins
from netcheck.edit._choose import IdSpan, Mask, TimeSpans, of_channels, of_ids
from netcheck.edit._join import Change, ChannelTable, Feed, joined
from netcheck.edit._remarks import EditRemark, EditRemarkKind
from netcheck.edit._side_marks import moved, within
from netcheck.edit._write import RELATIVE_NS, only
from netcheck.errors import UsageError
from netcheck.files import Mark, one_of, side_marks
from netcheck.records import dataclass

_NS: Final = 1_000_000_000
_LAST_NS: Final = (1 << 63) - 1


@dataclass(frozen=True)
class Cut:
    """What is kept of captures and what is changed in them; nothing given, all of it as it is.

    begin_s, end_s: seconds from the first frame; the begin is included, the end is not
    ids, not_ids:   only these, all but these. Error frames are nobody's: ``ids`` leaves them out
    channels:       only these, by their names in the files
    roles:          only the time around marks of these roles, ``margin_s`` before and behind
    shift_s:        added to every time
    renamed:        channel names, old to new
    blank:          ids whose payload bytes become 0
    hide_vin:       vehicle identification numbers become X's: those found in diagnostic answers, and ``vins``
    """

    begin_s: float | None = None
    end_s: float | None = None
    ids: tuple[IdSpan, ...] = ()
    not_ids: tuple[IdSpan, ...] = ()
    channels: tuple[str, ...] = ()
    roles: tuple[str, ...] = ()
    margin_s: float = 2.0
    shift_s: float = 0.0
    renamed: Mapping[str, str] = field(default_factory=dict)
    blank: tuple[IdSpan, ...] = ()
    hide_vin: bool = False
    vins: tuple[str, ...] = ()


@dataclass(frozen=True)
class Written:
    """A file that was written. remarks: what its format could not keep."""

    file: str
    frames: int
    seconds: float
    channels: Mapping[str, int]
    marks_file: str | None = None
    marks: int = 0
    marks_outside: int = 0
    remarks: tuple[EditRemark, ...] = ()


@dataclass(frozen=True)
class Edited:
    """What became of captures: frames read from all of them, the files written, what a person should know."""

    sources: tuple[str, ...]
    frames: int
    written: tuple[Written, ...]
    remarks: tuple[EditRemark, ...] = ()


class Track:
    """What one result holds: its frames, and from when to when."""

    def __init__(self) -> None:
        self.frames = 0
        self.channels: dict[str, int] = {}
        self.first_ns: int | None = None
        self.last_ns = 0

    def add(self, chunk: Capture) -> None:
        """Take note of frames that were written."""
        if not len(chunk):
            return
        if self.first_ns is None:
            self.first_ns = self.last_ns = int(chunk.time_ns[0])
        self.frames += len(chunk)
        self.last_ns = max(self.last_ns, int(chunk.time_ns.max()))
        for number, count in enumerate(np.bincount(chunk.channel, minlength=len(chunk.channels))):
            if count:
                name = chunk.channels[number]
                self.channels[name] = self.channels.get(name, 0) + int(count)

    @property
    def seconds(self) -> float:
        """From the first frame to the latest."""
        return 0.0 if self.first_ns is None else (self.last_ns - self.first_ns) / _NS


class Edit:
    """Goes once through captures; iterating gives what is left of them, chunk by chunk.

    frames:   read, once exhausted
    remarks:  what a person should know, once exhausted
    chunk_bytes, csv: as for ``open_capture``
    progress: called now and then with the file, the bytes done and the bytes in all

    Raises InputError for a file that cannot be read, UsageError for a role without marks, a channel that no
    capture has, and times that would lie before 1970.
    """

    def __init__(
        self,
        paths: Sequence[Path],
        cut: Cut,
        *,
        chunk_bytes: int | None = None,
        progress: Callable[[str, int, int], None] | None = None,
        csv: str = "",
    ) -> None:
        self._chunk_bytes = chunk_bytes
        self._progress = progress
        self._csv = csv
        self.paths = tuple(paths)
        self.frames = 0
        self.blanked = 0
        self.remarks: tuple[EditRemark, ...] = ()
        self._cut = cut
        self._marks = [side_marks(path) for path in paths]
        self._check_roles()
        self._firsts: list[int] = []
        self._vins = VinFinds()
        self._used = np.zeros(len(cut.ids), np.bool_)

    @property
    def has_marks(self) -> bool:
        """Whether a capture has marks beside it."""
        return any(self._marks)

    def __iter__(self) -> Iterator[Capture]:
        if self._cut.hide_vin:
            self._vins = find_vins(self.paths, self._cut.vins, self._csv)
        table = ChannelTable()
        streams = [self._stream(path) for path in self.paths]
        feeds = [Feed(stream, table, self._change(number)) for number, stream in enumerate(streams)]
        try:
            self._firsts = [feed.begin() for feed in feeds]
            chosen = _Chosen(self._cut, min(self._firsts), self._around_marks())
            for chunk in joined(feeds, table):
                self.frames += len(chunk)
                self._used |= np.array([of_ids(chunk, [span]).any() for span in self._cut.ids], np.bool_)
                left = self._vins.settled(only(chunk, chosen.mask(chunk)))
                if len(left):
                    yield self._shifted(left)
        finally:
            for feed in feeds:
                feed.close()
        names = [stream.channels for stream in streams]
        self._check_channels(names)
        self.remarks = (*_of_sources(streams), *self._own_remarks(names))

    def _stream(self, path: Path) -> CaptureStream:
        told = partial(self._progress, str(path)) if self._progress else None
        return open_capture(path, chunk_bytes=self._chunk_bytes, progress=told, csv=self._csv)

    def marks(self, track: Track) -> tuple[list[Mark], int]:
        """The marks for a result, from its first frame on, and how many lie outside it."""
        if track.first_ns is None:
            return [], 0
        begin = track.first_ns - round(self._cut.shift_s * _NS)
        every: list[Mark] = []  # captures that were one before have the same marks
        for first, marks in zip(self._firsts, self._marks, strict=True):
            every += [mark for mark in moved(marks, (first - begin) / _NS) if mark not in every]
        return within(every, track.seconds)

    def _change(self, number: int) -> Change:
        cut, vins = self._cut, self._vins.masks(number)

        def change(chunk: Capture) -> Capture:
            chunk = self._blanked(vins(chunk))
            names = tuple(cut.renamed.get(name, name) for name in chunk.channels)
            return chunk if names == chunk.channels else replace(chunk, channels=names)

        return change

    def _blanked(self, chunk: Capture) -> Capture:
        if not self._cut.blank:
            return chunk
        chosen = of_ids(chunk, self._cut.blank) & ((chunk.flags & REMOTE) == 0)
        self.blanked += int(np.count_nonzero(chosen))
        data = chunk.data.copy()
        places = np.repeat(chunk.start[chosen], chunk.length[chosen])
        inside = np.arange(len(places)) - np.repeat(
            np.cumsum(chunk.length[chosen], dtype=np.int64) - chunk.length[chosen], chunk.length[chosen]
        )
        data[places + inside] = 0
        return replace(
            chunk, data=data, flags=np.where(chosen, chunk.flags & ~np.uint8(TOUCHED), chunk.flags)
        )

    def _shifted(self, chunk: Capture) -> Capture:
        shift = round(self._cut.shift_s * _NS)
        if not shift:
            return chunk
        if int(chunk.time_ns.min()) + shift < 0:
            earliest = str(self.paths[self._firsts.index(min(self._firsts))])
            raise UsageError(
                f"{earliest}: shifted by {self._cut.shift_s:g} s, frames would lie before the year 1970",
                remedy="use a smaller negative --shift",
            )
        if int(chunk.time_ns.max()) + shift > _LAST_NS:
            latest = str(self.paths[self._firsts.index(max(self._firsts))])
            raise UsageError(
                f"{latest}: shifted by {self._cut.shift_s:g} s, frames would lie after the year 2262",
                remedy="use a smaller --shift",
            )
        return replace(chunk, time_ns=chunk.time_ns + shift)

    def _around_marks(self) -> TimeSpans | None:
        if not self._cut.roles:
            return None
        margin = self._cut.margin_s
        return TimeSpans(
            [
                (first + round((mark.from_ - margin) * _NS), first + round((mark.to + margin) * _NS))
                for first, marks in zip(self._firsts, self._marks, strict=True)
                for mark in (loaded.mark for loaded in marks)
                if mark.role in self._cut.roles
            ]
        )

    def _check_roles(self) -> None:
        there = {loaded.mark.role for marks in self._marks for loaded in marks}
        for role in self._cut.roles:
            if role not in there:
                remedy = one_of(role, there) if there else "no capture has a marks file beside it"
                raise UsageError(f"no mark of '{role}'", remedy=remedy)

    def _check_channels(self, names: Sequence[Sequence[str]]) -> None:
        there = dict.fromkeys(name for some in names for name in some)
        for name in (*self._cut.channels, *self._cut.renamed):
            if name not in there:
                raise UsageError(f"no capture has a channel {name}", remedy=f"there are {', '.join(there)}")

    def _own_remarks(self, names: Sequence[Sequence[str]]) -> Iterator[EditRemark]:
        yield from self._vins.remarks()
        for span, used in zip(self._cut.ids, self._used, strict=True):
            if not used:
                yield EditRemark(EditRemarkKind.ID_UNUSED, name=str(span))
        if self._cut.blank and not self.blanked:
            yield EditRemark(EditRemarkKind.BLANK_UNUSED, names=tuple(map(str, self._cut.blank)))
        held = self._cut.channels or [name for some in names for name in some]
        for name in dict.fromkeys(held):
            files = tuple(path.name for path, some in zip(self.paths, names, strict=True) if name in some)
            if len(files) > 1:
                yield EditRemark(EditRemarkKind.CHANNEL_SHARED, name=name, names=files)
        yield from self._one_by_name(dict.fromkeys(held))
        if len({first < RELATIVE_NS for first in self._firsts}) > 1:
            yield EditRemark(EditRemarkKind.CLOCKS_DIFFER)

    def _one_by_name(self, held: Iterable[str]) -> Iterator[EditRemark]:
        """Different channels that got the same name."""
        olds: dict[str, list[str]] = {}
        for name in held:
            olds.setdefault(self._cut.renamed.get(name, name), []).append(name)
        for new, several in olds.items():
            if len(several) > 1:
                yield EditRemark(EditRemarkKind.CHANNELS_JOINED, name=new, names=tuple(several))


def _of_sources(streams: Iterable[CaptureStream]) -> Iterator[EditRemark]:
    for stream in streams:
        for text in stream.warnings:
            yield EditRemark(EditRemarkKind.SOURCE, file=stream.file, text=text)
        if has_directions(Path(stream.file)):
            yield EditRemark(EditRemarkKind.DIRECTIONS_LOST, file=stream.file)


class _Chosen:
    """Which frames of the joined captures are kept."""

    def __init__(self, cut: Cut, first_ns: int, spans: TimeSpans | None) -> None:
        self._cut = cut
        self._spans = spans
        self._begin = None if cut.begin_s is None else first_ns + round(cut.begin_s * _NS)
        self._end = None if cut.end_s is None else first_ns + round(cut.end_s * _NS)
        self._channels = tuple(cut.renamed.get(name, name) for name in cut.channels)

    def mask(self, chunk: Capture) -> Mask:
        cut, kept = self._cut, np.ones(len(chunk), np.bool_)
        if self._begin is not None:
            kept &= chunk.time_ns >= self._begin
        if self._end is not None:
            kept &= chunk.time_ns < self._end
        if cut.ids:
            kept &= of_ids(chunk, cut.ids)
        if cut.not_ids:
            kept &= ~of_ids(chunk, cut.not_ids)
        if cut.channels:
            kept &= of_channels(chunk, self._channels)
        if self._spans is not None:
            kept &= self._spans.hold(chunk)
        return kept


def by_channel(chunk: Capture) -> Iterator[tuple[str, Capture]]:
    """The frames of each channel that a chunk has, by name."""
    for number in np.unique(chunk.channel):
        yield chunk.channels[number], only(chunk, chunk.channel == number)
