"""Frames to capture files: candump logs by a kernel, other formats through python-can's writers."""

from __future__ import annotations

import gzip
import io
import lzma
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, BinaryIO, Final, NamedTuple, Protocol, cast

import numpy as np
from numpy.typing import NDArray

from netcheck._compile import kernels
from netcheck.capture import BRS, ERROR, ESI, EXTENDED, FD, REMOTE, Capture
from netcheck.edit._numbers import ChannelNumbers
from netcheck.edit._remarks import EditRemark, EditRemarkKind, FrameKind
from netcheck.errors import InputError, UsageError

if TYPE_CHECKING:
    import can

_KERNELS: Final = kernels("netcheck.edit._write_kernel")
RELATIVE_NS: Final = 100_000_000_000_000_000  # a clock below that counts from the start of the recording
_STEP_NS: Final = 1000  # python-can's messages and most of its formats have no finer times
_GZIP_LEVEL: Final = 6  # as gzip itself
_LONGEST_NAME: Final = 64  # bytes of a channel name that a candump log is read with
_LONGEST_FIXED: Final = 40  # characters of a log line besides the channel name and two for each byte


class Form(NamedTuple):
    """A file format: its name, the compression around it, and what it has no place for."""

    name: str
    packing: str = ""
    lacks: int = 0  # sum of frame flags


_PACKED: Final = {".gz": "gzip", ".xz": "xz", ".zst": "zstd", ".zstd": "zstd"}
_FORMS: Final = {
    ".log": Form("candump"),
    ".txt": Form("candump"),
    ".candump": Form("candump"),
    ".asc": Form("asc"),
    ".blf": Form("blf"),
    ".csv": Form("csv", lacks=FD),
    ".trc": Form("trc", lacks=FD | REMOTE | ERROR),
}
_KINDS: Final = ((FD, FrameKind.CAN_FD), (REMOTE, FrameKind.REMOTE), (ERROR, FrameKind.ERROR))


class _Frames(Protocol):
    """What every format does."""

    def write(self, chunk: Capture) -> None: ...
    def close(self) -> list[EditRemark]: ...


def form_of(path: Path) -> Form:
    """The format that a file's name asks for. Raises InputError for a name that tells none."""
    name = path.name.lower()
    packing = ""
    for suffix, kind in _PACKED.items():
        if name.endswith(suffix):
            name, packing = name.removesuffix(suffix), kind
    form = _FORMS.get(Path(name).suffix)
    if form is None:
        known = ", ".join(_FORMS)
        raise InputError(
            path, "its name tells no format", remedy=f"end it in one of {known}; .gz, .xz or .zst may follow"
        )
    if packing and form.name == "blf":
        raise InputError(path, "a blf file is compressed already", remedy=f"leave out the {packing} suffix")
    return form._replace(packing=packing)


class CaptureWriter:
    """Writes chunks of a capture to a binary stream, in the format that ``path`` asks for.

    The stream must be seekable for blf; it stays open where the format allows. ``close`` gives what the
    format cannot hold, so that nothing is lost silently.

    frames: written so far
    left_out: frames that the format has no place for, by kind

    Raises InputError for a name that tells no format, UsageError for times that the format cannot hold.
    """

    def __init__(self, path: Path, stream: BinaryIO) -> None:
        self.path = path
        self.frames = 0
        self.left_out: dict[FrameKind, int] = {}
        self._form = form_of(path)
        self._outer = _pack(self._form.packing, stream)
        maker = _Candump if self._form.name == "candump" else _Foreign
        self._frames: _Frames = maker(path, self._outer, self._form)
        self._is_packed = self._outer is not stream

    def write(self, chunk: Capture) -> Capture:
        """Append frames, which are in the order to be written; gives those that the format can hold."""
        if self._form.lacks and len(chunk):
            chunk = self._without_lacking(chunk)
        if len(chunk):
            self._frames.write(chunk)
            self.frames += len(chunk)
        return chunk

    def close(self) -> tuple[EditRemark, ...]:
        """Finish the file; gives what the format could not keep."""
        found = [
            EditRemark(EditRemarkKind.FRAMES_LEFT_OUT, form=self._form.name, count=count, frames=kind)
            for kind, count in self.left_out.items()
        ]
        found += self._frames.close()
        if self._is_packed and not self._outer.closed:
            self._outer.close()
        return tuple(found)

    def _without_lacking(self, chunk: Capture) -> Capture:
        for flag, kind in _KINDS:
            count = int(np.count_nonzero(chunk.flags & flag)) if self._form.lacks & flag else 0
            if count:
                self.left_out[kind] = self.left_out.get(kind, 0) + count
        return only(chunk, (chunk.flags & self._form.lacks) == 0)


def only(chunk: Capture, chosen: NDArray[Any] | slice) -> Capture:
    """The frames of a chunk that a mask or an array of positions chooses; the payload bytes are shared."""
    return Capture(
        chunk.file,
        chunk.channels,
        chunk.time_ns[chosen],
        chunk.can_id[chosen],
        chunk.flags[chosen],
        chunk.channel[chosen],
        chunk.length[chosen],
        chunk.start[chosen],
        chunk.data,
        has_times=chunk.has_times,
    )


def _pack(packing: str, stream: BinaryIO) -> BinaryIO:
    if packing == "gzip":
        packed: Any = gzip.GzipFile("", "wb", _GZIP_LEVEL, stream, mtime=0)
    elif packing == "xz":
        packed = lzma.LZMAFile(stream, "wb")  # noqa: SIM115 - closed by CaptureWriter.close
    elif packing == "zstd":
        import zstandard

        packed = zstandard.ZstdCompressor().stream_writer(stream, closefd=False)
    else:
        return stream
    return cast("BinaryIO", packed)


class _Candump:
    """Lines as ``candump -l`` writes them; nine digits of time where a frame needs them."""

    def __init__(self, path: Path, stream: BinaryIO, _form: Form) -> None:
        self._path = path
        self._stream = stream
        self._renamed: dict[str, str] = {}

    def write(self, chunk: Capture) -> None:
        if int(chunk.time_ns.min()) < 0:
            raise InputError(
                self._path,
                "a candump log has no place for frames before the year 1970",
                remedy="give --shift SECONDS to move all times forward, or name it .csv or .asc",
            )
        self._stream.write(capture_lines(chunk, self._name))

    def _name(self, name: str) -> str:
        good = log_name(name)
        if good != name:
            self._renamed[name] = good
        return good

    def close(self) -> list[EditRemark]:
        return [
            EditRemark(EditRemarkKind.CHANNEL_RENAMED, form="candump", name=old, names=(new,))
            for old, new in self._renamed.items()
        ]


def log_name(name: str) -> str:
    """The channel name in a form that a candump log can hold: no blanks, no control characters."""
    good = "".join(c if c > " " and c.isprintable() else "_" for c in name) or "_"
    while len(good.encode("utf-8", "backslashreplace")) > _LONGEST_NAME:
        good = good[:-1]
    return good


def capture_lines(chunk: Capture, name: Callable[[str], str] = log_name) -> bytes:
    """The frames of a chunk as lines of a candump log; ``name`` gives the written name of a channel.

    Raises UsageError for a time before 1970, which a log cannot hold.
    """
    if not len(chunk):
        return b""
    if int(chunk.time_ns.min()) < 0:
        raise UsageError("a frame before the year 1970 cannot be written", remedy="shift the times forward")
    names = [name(channel).encode("utf-8", "backslashreplace") for channel in chunk.channels]
    widest = max(len(written) for written in names)
    size = len(chunk) * (_LONGEST_FIXED + widest) + 2 * int(chunk.length.sum(dtype=np.int64))
    out = np.empty(size, np.uint8)
    used = _KERNELS.write_lines(
        chunk.columns,
        np.frombuffer(b"".join(names), np.uint8),
        np.cumsum([len(written) for written in names], dtype=np.int64),
        out,
    )
    return out[:used].tobytes()


def messages(chunk: Capture) -> Iterator[can.Message]:
    """The frames of a chunk as python-can messages: seconds since the epoch, channel by name."""
    import can

    for i in range(len(chunk)):
        flags = int(chunk.flags[i])
        is_remote = bool(flags & REMOTE)
        yield can.Message(
            timestamp=int(chunk.time_ns[i]) / 1e9,
            arbitration_id=int(chunk.can_id[i]),
            is_extended_id=bool(flags & EXTENDED) or bool(flags & ERROR),
            is_remote_frame=is_remote,
            is_error_frame=bool(flags & ERROR),
            is_fd=bool(flags & FD),
            bitrate_switch=bool(flags & BRS),
            error_state_indicator=bool(flags & ESI),
            channel=chunk.channels[chunk.channel[i]],
            dlc=int(chunk.length[i]),
            data=None if is_remote else chunk.payload(i),
        )


class _Foreign:
    """One of python-can's writers. Slower: one Python object a frame."""

    def __init__(self, path: Path, stream: BinaryIO, form: Form) -> None:
        self._path = path
        self._form = form
        self._numbers = ChannelNumbers()
        self._has_times_of_day = False
        self._error_kinds = self._fine_times = 0
        self._target: Any = stream
        if form.name != "blf":
            self._target = io.TextIOWrapper(cast("Any", stream), encoding="utf-8", newline="\n")
        self._writer: Any = None

    def write(self, chunk: Capture) -> None:
        there = np.unique(chunk.channel).tolist()
        numbers = {channel: self._numbers.of(chunk.channels[channel]) for channel in there}
        kinds = (chunk.can_id != 0) | (chunk.length != 0)
        self._error_kinds += int(np.count_nonzero(kinds & ((chunk.flags & ERROR) != 0)))
        self._fine_times += int(np.count_nonzero(chunk.time_ns % _STEP_NS))
        self._has_times_of_day |= bool(chunk.time_ns[0] >= RELATIVE_NS)
        try:
            if self._writer is None:
                self._writer = self._begin(int(chunk.time_ns[0]))
            for message, channel in zip(messages(chunk), chunk.channel.tolist(), strict=True):
                message.channel = numbers[channel]
                self._writer.on_message_received(message)
        except OSError:
            raise
        except Exception as error:  # python-can lets all kinds of errors through
            raise self._refused(error) from error

    def _begin(self, start_ns: int) -> Any:
        """python-can's writer; what it would take from the clock and the temporary file, from the frames."""
        import can

        class DatedASCWriter(can.ASCWriter):
            def _format_header_datetime(self, dt: datetime) -> str:
                dt = datetime.fromtimestamp(start_ns / 1e9, UTC)
                return super()._format_header_datetime(dt)

        makers: dict[str, Callable[[Any], Any]] = {
            "asc": DatedASCWriter,
            "blf": can.BLFWriter,
            "csv": can.CSVWriter,
            "trc": can.TRCWriter,
        }
        writer = makers[self._form.name](self._target)
        if self._form.name == "trc":
            writer.filepath = self._path.name
        return writer

    def close(self) -> list[EditRemark]:
        try:
            if self._writer is not None:
                self._writer.stop()
        except OSError:
            raise
        except Exception as error:
            raise self._refused(error) from error
        return [*self._time_remarks(), *self._channel_remarks()]

    def _time_remarks(self) -> Iterator[EditRemark]:
        form = self._form.name
        if form == "asc" and self._has_times_of_day:
            yield EditRemark(EditRemarkKind.TIME_OF_DAY_LOST, form=form)
        if self._fine_times:
            yield EditRemark(EditRemarkKind.TIME_DIGITS_LOST, form=form, count=self._fine_times)
        if form == "asc" and self._error_kinds:
            yield EditRemark(EditRemarkKind.ERROR_KINDS_LOST, form=form, count=self._error_kinds)

    def _channel_remarks(self) -> list[EditRemark]:
        if self._form.name != "csv":
            return self._numbers.remarks(self._form.name)
        return [EditRemark(EditRemarkKind.CHANNELS_LOST, form="csv")] if len(self._numbers) > 1 else []

    def _refused(self, error: Exception) -> InputError:
        text = f"{type(error).__name__}: {error}" if str(error) else type(error).__name__
        return InputError(
            self._path, f"cannot be written as {self._form.name} ({text})", remedy="write a .log instead"
        )
