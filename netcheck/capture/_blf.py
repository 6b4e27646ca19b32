"""python-can's blf reader with bounds: a damaged file cannot make it turn on the spot or fill the memory."""

from __future__ import annotations

import zlib
from collections.abc import Generator, Iterator
from typing import Final

from can import Message
from can.io import blf

_MOST_OBJECT: Final = 1 << 24  # bytes
_MOST_CONTAINER: Final = 1 << 26  # bytes, unpacked; they have 128 KB as a rule
_UNPACKED_FREELY: Final = 1 << 28  # bytes
_MOST_RATIO: Final = 500
_HEADER: Final = blf.OBJ_HEADER_BASE_STRUCT


class BoundedBlf(blf.BLFReader):
    """As its parent. Raises BLFParseError for an object or a container of an impossible size."""

    _sizes = (0, 0)  # of all containers: packed, unpacked

    def __iter__(self) -> Generator[Message, None, None]:
        while start := self.file.read(_HEADER.size):
            signature, _, _, size, kind = _HEADER.unpack(start)
            if signature != b"LOBJ":
                raise blf.BLFParseError("no object where one should begin")
            if size < _HEADER.size or size > _MOST_CONTAINER:
                raise blf.BLFParseError(f"an object of {size:,} bytes")
            content = self.file.read(size - _HEADER.size)
            self.file.read(size % 4)  # padding
            if kind == blf.LOG_CONTAINER:
                yield from self._parse_container(self._counted(content))
        if len(self._tail) >= _HEADER.size:
            raise blf.BLFParseError(f"the last object is cut off after {len(self._tail):,} bytes")
        self.stop()

    def _counted(self, content: bytes) -> bytes:
        """A container's data. Raises BLFParseError where all together are more than any recording's."""
        data = _unpacked(content)
        self._sizes = self._sizes[0] + len(content), self._sizes[1] + len(data)
        if self._sizes[1] > max(_UNPACKED_FREELY, _MOST_RATIO * self._sizes[0]):
            raise blf.BLFParseError(f"its data unpack to over {_MOST_RATIO} times their size")
        return data

    def _parse_container(self, data: bytes) -> Iterator[Message]:
        joined, self._tail = self._tail + data, b""
        _check_objects(joined)
        yield from super()._parse_container(joined)


def _unpacked(content: bytes) -> bytes:
    method, _ = blf.LOG_CONTAINER_STRUCT.unpack_from(content)
    data = content[blf.LOG_CONTAINER_STRUCT.size :]
    if method == blf.NO_COMPRESSION:
        return data
    if method != blf.ZLIB_DEFLATE:
        raise blf.BLFParseError(f"compression method {method} is not known")
    engine = zlib.decompressobj()
    unpacked = engine.decompress(data, _MOST_CONTAINER)
    if engine.unconsumed_tail:
        raise blf.BLFParseError(f"a container of more than {_MOST_CONTAINER >> 20} MB")
    return unpacked


def _check_objects(data: bytes) -> None:
    """Every object moves the reader on, and none grows over container after container."""
    place = 0
    while (place := data.find(b"LOBJ", place, place + 8)) >= 0 and place + _HEADER.size <= len(data):
        size = _HEADER.unpack_from(data, place)[3]
        if not _HEADER.size <= size <= _MOST_OBJECT:
            raise blf.BLFParseError(f"an object of {size:,} bytes")
        place += size
