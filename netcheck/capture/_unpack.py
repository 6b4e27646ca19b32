"""Decompression in small steps, of several members or frames in one file; says when the data break off."""

from __future__ import annotations

import lzma
import zlib
from collections.abc import Callable, Iterator
from typing import Any, Final

_LIMIT: Final = 1 << 20  # bytes of one step's output, so that a small file cannot fill the memory
_ZSTD_STEP: Final = 1 << 12  # bytes of input; zstandard has no limit for the output of a step

_MAGIC: Final = {"gzip": b"\x1f\x8b", "xz": b"\xfd7zXZ\x00", "zstd": b"\x28\xb5\x2f\xfd"}


class UnpackFault(Exception):  # noqa: N818 - a value that ends the stream, shown as a warning or an error by the caller
    """Compressed data that end early or are damaged: ``text`` is a clause about the file."""

    def __init__(self, text: str) -> None:
        self.text = text
        super().__init__(text)


def detect(start: bytes) -> str | None:
    """Name of the compression that a file with these first bytes has; None for any other."""
    for name, magic in _MAGIC.items():
        if start.startswith(magic):
            return name
    return None


def _zlib_step(engine: Any, data: bytes) -> tuple[bytes, bytes, bool]:
    out = engine.decompress(data, _LIMIT)
    rest = engine.unused_data if engine.eof else engine.unconsumed_tail
    return out, rest, len(out) == _LIMIT and not engine.eof


def _lzma_step(engine: Any, data: bytes) -> tuple[bytes, bytes, bool]:
    out = engine.decompress(data, _LIMIT)
    return out, engine.unused_data if engine.eof else b"", not engine.eof and not engine.needs_input


def _zstd_step(engine: Any, data: bytes) -> tuple[bytes, bytes, bool]:
    out = engine.decompress(data[:_ZSTD_STEP])
    rest = data[_ZSTD_STEP:]
    return out, engine.unused_data + rest if engine.eof else rest, False


def _engine(
    name: str,
) -> tuple[Callable[[], Any], Callable[[Any, bytes], tuple[bytes, bytes, bool]], type[Exception]]:
    """What starts one member, one step of it (output, input left, more output waiting), and its error."""
    if name == "gzip":
        return (lambda: zlib.decompressobj(31)), _zlib_step, zlib.error
    if name == "xz":
        return (lambda: lzma.LZMADecompressor(lzma.FORMAT_XZ)), _lzma_step, lzma.LZMAError
    import zstandard

    return zstandard.ZstdDecompressor().decompressobj, _zstd_step, zstandard.ZstdError


def unpack(name: str | None, raw: Iterator[bytes]) -> Iterator[bytes]:
    """Decompressed parts of a stream; with no name, the stream itself.

    Raises UnpackFault after the last good part when the data are damaged or end early.
    """
    if name is None:
        yield from raw
        return
    start, step, error = _engine(name)
    engine: Any = None
    try:
        for data in raw:
            rest, waiting = data, False
            while rest or waiting:
                if engine is None:
                    rest = rest.lstrip(b"\0")  # padding between members
                    if not rest:
                        break
                    engine = start()
                out, rest, waiting = step(engine, rest)
                if out:
                    yield out
                if engine.eof:
                    engine, waiting = None, False
    except error as problem:
        raise UnpackFault(f"its {name} data are damaged ({problem})") from problem
    if engine is not None:
        raise UnpackFault(f"its {name} data end early")
