"""What may be worked out once and kept: entries in the user's cache folder, which nothing depends on.

An entry is bytes under a name that says all it was made from, so it never grows stale. It is written whole
or not at all, checked when it is read, and dropped when there are too many. Whatever the file system says
against that is no error: the entry is then not there, or not kept.
"""

from __future__ import annotations

import hashlib
import os
import sys
from collections.abc import Iterator
from contextlib import suppress
from functools import cache
from importlib.util import find_spec
from pathlib import Path
from typing import Final

FOLDER_VARIABLE: Final = "NETCHECK_CACHE_DIR"
MOST_ENTRIES: Final = 64  # of one kind
MOST_BYTES: Final = 64 << 20  # of one kind
_DIGEST: Final = hashlib.sha256().digest_size
_OURS: Final = "netcheck-"  # how every file name begins that may be dropped
_PART: Final = ".part"


def cache_folder() -> Path | None:
    """The folder: NETCHECK_CACHE_DIR, else the platform's place for caches; None where there is no home."""
    stated = os.environ.get(FOLDER_VARIABLE)
    if stated:
        return Path(stated)
    try:
        if sys.platform == "win32":
            local = os.environ.get("LOCALAPPDATA")
            return (Path(local) if local else Path.home() / "AppData" / "Local") / "netcheck" / "Cache"
        if sys.platform == "darwin":
            return Path.home() / "Library" / "Caches" / "netcheck"
        base = os.environ.get("XDG_CACHE_HOME", "")
        # The base directory specification: a relative path there is to be ignored.
        return (Path(base) if base.startswith("/") else Path.home() / ".cache") / "netcheck"
    except RuntimeError:
        return None


def key_of(*parts: str | bytes) -> str:
    """A name for what is made from these parts, in this order."""
    digest = hashlib.sha256()
    for part in parts:
        data = part.encode("utf-8", "surrogateescape") if isinstance(part, str) else part
        digest.update(len(data).to_bytes(8, "little") + data)
    return digest.hexdigest()


def read_entry(kind: str, key: str, *, own: bool = False) -> bytes | None:
    """What was kept under a key; None when there is nothing whole.

    own: only what no other user of the machine could have put there
    """
    path = _path(kind, key)
    if path is None:
        return None
    try:
        if own and not (_is_own(path) and _is_own(path.parent)):
            return None
        content = path.read_bytes()
    except (OSError, ValueError):
        return None
    body = content[_DIGEST:]
    if hashlib.sha256(body).digest() != content[:_DIGEST]:
        return None
    with suppress(OSError):
        os.utime(path)  # used lately: not to be dropped soon
    return body


def write_entry(kind: str, key: str, body: bytes) -> None:
    """Keep bytes under a key, if that can be; other processes may do the same at the same time."""
    path = _path(kind, key)
    if path is None:
        return
    temporary = path.with_name(f"{path.name}.{os.getpid()}-{os.urandom(4).hex()}{_PART}")
    with suppress(OSError, ValueError):
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        try:
            with temporary.open("xb") as stream:
                stream.write(hashlib.sha256(body).digest() + body)
            temporary.replace(path)
        finally:
            with suppress(OSError):
                temporary.unlink(missing_ok=True)
        _drop_oldest(path)


@cache
def installed(package: str) -> str:
    """Name and version of a package that is installed, which is not imported for that."""
    spec = find_spec(package)
    if spec is not None and spec.origin:
        found = [path.name for path in Path(spec.origin).parent.parent.glob(f"{package}-*.dist-info")]
        if len(found) == 1:
            return found[0]
    from importlib.metadata import version  # slow to import

    return f"{package} {version(package)}"


def _path(kind: str, key: str) -> Path | None:
    folder = cache_folder()
    return None if folder is None else folder / kind / f"{_OURS}{key}"


def _is_own(path: Path) -> bool:
    if not hasattr(os, "getuid"):
        return True
    status = path.stat()
    return status.st_uid in (os.getuid(), 0) and not status.st_mode & 0o022


def _drop_oldest(newest: Path) -> None:
    """Keeps the number and the size of entries bounded; the one just written stays."""
    count, size = 0, 0
    for _, bytes_there, path in sorted(_entries(newest), reverse=True):
        count, size = count + 1, size + bytes_there
        if path != newest and (count > MOST_ENTRIES or size > MOST_BYTES):
            with suppress(OSError):
                path.unlink()


def _entries(newest: Path) -> Iterator[tuple[int, int, Path]]:
    """Age, size and path of what is there; what a process left half-written is as good as an old entry."""
    for path in newest.parent.glob(f"{_OURS}*"):
        with suppress(OSError):
            status = path.stat()
            yield (1 << 62 if path == newest else status.st_mtime_ns), status.st_size, path
