"""Files of a store: each is there whole or not at all, whenever a process or the disk ends."""

from __future__ import annotations

import os
import secrets
from collections.abc import Iterable, Iterator, Sequence
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import Any, Final

from netcheck.archive._schema import FRAMES, TABLES, arrow
from netcheck.errors import InputError

ROW_GROUP: Final = 122_880  # rows that DuckDB gives one thread at a time
FRAME_GROUP: Final = 1 << 20  # rows: frames are sorted by capture, and one capture is read at a time
_LEVEL: Final = 6  # of zstd; what more costs and brings is measured in the guide
PART: Final = ".part"


@contextmanager
def refused(folder: Path) -> Iterator[None]:
    """What the file system says about the store, as one line."""
    try:
        yield
    except OSError as error:
        named = error.filename if isinstance(error.filename, str) else str(folder)
        raise InputError(
            named,
            f"cannot be written: {error.strerror or error}",
            remedy="the archive is as it was before; make room or check the folder's permissions",
        ) from error


def write_whole(path: Path, content: bytes, *, private: bool = False) -> None:
    """A file that is the old one or the new one, whatever happens."""
    part = path.with_name(f"{path.name}.{os.getpid()}-{secrets.token_hex(4)}{PART}")
    try:
        with part.open("xb") as stream:
            if private:
                part.chmod(0o600)
            stream.write(content)
            stream.flush()
            os.fsync(stream.fileno())
        part.replace(path)
    finally:
        with suppress(OSError):
            part.unlink(missing_ok=True)
    sync_folder(path.parent)


def write_parquet_part(path: Path, table: str, tables: Iterable[Any]) -> int:
    """Tables as one Parquet file that is there whole or not at all; its size. Raises InputError."""
    import pyarrow.parquet as pq

    part = path.with_name(path.name + PART)
    is_frames = table == FRAMES.name
    settings = _FRAME_ENCODING if is_frames else {}
    with refused(path):
        try:
            with part.open("xb") as stream:
                with pq.ParquetWriter(
                    stream,
                    TABLES[table].arrow(),
                    compression="zstd",
                    compression_level=_LEVEL,
                    **settings,
                ) as writer:
                    for rows in tables:
                        writer.write_table(rows, row_group_size=FRAME_GROUP if is_frames else ROW_GROUP)
                stream.flush()
                os.fsync(stream.fileno())
                size = stream.tell()
            part.replace(path)
        finally:
            with suppress(OSError):
                part.unlink(missing_ok=True)
    return size


# Frames are sorted by id: a payload is much like the one before, and the time a period later.
_FRAME_ENCODING: Final[dict[str, Any]] = {
    "store_schema": False,
    "write_statistics": ["capture", "channel", "id", "time_us"],
    "use_dictionary": ["capture", "channel", "id", "flags", "length", "time_rest_ns"],
    "column_encoding": {
        "time_us": "DELTA_BINARY_PACKED",
        "frame": "DELTA_BINARY_PACKED",
        "data": "DELTA_BYTE_ARRAY",
    },
}


def read_part(path: Path, columns: Sequence[str] | None = None) -> Any:
    """A file of the store. Raises InputError where it is damaged or gone."""
    pa = arrow()
    import pyarrow.parquet as pq

    try:
        return pq.read_table(path, columns=list(columns) if columns else None, partitioning=None)
    except (OSError, pa.ArrowException) as error:
        raise damaged(path) from error


def damaged(path: Path | str) -> InputError:
    """The error for a file of the store that cannot be read."""
    return InputError(
        path,
        "this file of the archive is damaged or gone",
        remedy="put it back from a backup, or add its captures to a new archive",
    )


def sync_folder(folder: Path) -> None:
    """Makes renames in a folder last, where the system can do that."""
    if not hasattr(os, "O_DIRECTORY"):
        return
    number = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(number)
    finally:
        os.close(number)
