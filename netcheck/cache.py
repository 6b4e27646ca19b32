"""What may be worked out once and kept: entries in the user's cache folder, which nothing depends on.

An entry is bytes under a name that says all it was made from, so it never grows stale. It is written whole
or not at all, checked when it is read, and dropped when there are too many. Whatever the file system says
against that is no error: the entry is then not there, or not kept.

Entries decide verdicts, and some are code. So they lie only where no other user of the machine can change
them or move a folder on the way to them, and are opened without following a link.
"""

from __future__ import annotations

import hashlib
import os
import stat
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
_SHORT: Final = 41  # characters of a folder's name: 128 bits of the digest
_TRIAL_BYTES: Final = 1 << 17
_MOST_LINKS: Final = 40
_OTHERS_WRITE: Final = 0o022
_HAS_OWNERS: Final = hasattr(os, "geteuid")
# A pipe in the place of an entry is not waited for.
_NO_FOLLOW: Final = getattr(os, "O_NOFOLLOW", 0) | getattr(os, "O_NONBLOCK", 0)


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


def read_entry(kind: str, key: str) -> bytes | None:
    """What was kept under a key; None when there is nothing whole, or others could have put it there."""
    folder = _kind_folder(kind)
    if folder is None or not _is_own_folder(folder):
        return None
    path = folder / _name(key)
    try:
        with open(path, "rb", opener=_without_following) as stream:
            if not _is_own_file(os.fstat(stream.fileno()), path):
                return None
            content = stream.read()
            with suppress(OSError):  # used lately: not to be dropped soon
                os.utime(stream.fileno() if os.utime in os.supports_fd else path)
    except (OSError, ValueError):
        return None
    body = content[_DIGEST:]
    return body if hashlib.sha256(body).digest() == content[:_DIGEST] else None


def write_entry(kind: str, key: str, body: bytes) -> None:
    """Keep bytes under a key, if that can be; other processes may do the same at the same time."""
    folder = _kind_folder(kind)
    if folder is None or not _make(folder):
        return
    path = folder / _name(key)
    temporary = path.with_name(f"{path.name}.{os.getpid()}-{os.urandom(4).hex()}{_PART}")
    with suppress(OSError, ValueError):
        try:
            with open(temporary, "xb", opener=_without_following) as stream:
                stream.write(hashlib.sha256(body).digest() + body)
            temporary.replace(path)
        finally:
            with suppress(OSError):
                temporary.unlink(missing_ok=True)
        _drop_oldest(path)


def can_keep(kind: str) -> bool:
    """Whether an entry can be kept now: tried with one as large as most, which is taken away again."""
    folder, key = _kind_folder(kind), os.urandom(8).hex()
    write_entry(kind, key, bytes(_TRIAL_BYTES))
    is_kept = read_entry(kind, key) is not None
    if folder is not None:
        with suppress(OSError):
            (folder / _name(key)).unlink(missing_ok=True)
    return is_kept


def entry_folder(kind: str, key: str) -> Path | None:
    """A folder under a key, for what keeps its files itself; made where it is not there.

    None where there cannot be one that nobody else can look into, change or move.
    """
    parent = _kind_folder(kind)
    if parent is None:
        return None
    folder = parent / _name(key)[:_SHORT]  # some systems allow no long paths
    is_new = not folder.exists()
    if not _make(folder):
        return None
    with suppress(OSError):
        if _HAS_OWNERS and folder.stat().st_mode & 0o077:
            return None
        os.utime(folder)
        if is_new:
            _drop_oldest(folder)
        return folder
    return None


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


def _kind_folder(kind: str) -> Path | None:
    folder = cache_folder()
    return None if folder is None else folder.absolute() / kind


def _name(key: str) -> str:
    return f"{_OURS}{key}"


# -- whose it is


def _is_own_folder(folder: Path) -> bool:
    """Whether nobody but this user and the administrator can change a folder, or put another in its place.

    False for one that is not there. Where files have no owners (Windows), the answer is left to the system's
    own protection of a user's folders.
    """
    try:
        if not _HAS_OWNERS:
            return folder.is_dir()
        way = list(_way_to(folder))
    except OSError:
        return False
    return stat.S_ISDIR(way[-1].st_mode) and not way[-1].st_mode & _OTHERS_WRITE and all(map(_is_held, way))


def _is_held(status: os.stat_result) -> bool:
    """Whether what lies in a folder, or where a link leads, is for this user and the administrator to say.

    In a folder with the sticky bit (such as /tmp) others can add files, but not move those of this user.
    """
    if status.st_uid not in (os.geteuid(), 0):
        return False
    is_sticky = stat.S_ISDIR(status.st_mode) and status.st_mode & stat.S_ISVTX
    return stat.S_ISLNK(status.st_mode) or bool(is_sticky) or not status.st_mode & _OTHERS_WRITE


def _way_to(folder: Path) -> Iterator[os.stat_result]:
    """The status of every folder and link that is passed on the way to a folder, itself the last."""
    at, left, links = Path(folder.anchor), list(reversed(folder.parts[1:])), 0
    yield at.lstat()
    while left:
        name = left.pop()
        if name == "..":
            at = at.parent
            continue
        status = (at / name).lstat()
        yield status
        if not stat.S_ISLNK(status.st_mode):
            at /= name
            continue
        links += 1
        if links > _MOST_LINKS:
            raise OSError(f"too many links on the way to {folder}")
        target = (at / name).readlink()
        at = Path(target.anchor) if target.is_absolute() else at
        left += reversed(target.parts[1:] if target.is_absolute() else target.parts)
    yield at.lstat()


def _is_own_file(status: os.stat_result, path: Path) -> bool:
    """Whether an open file lies at ``path`` itself, and only this user can have written it."""
    if not stat.S_ISREG(status.st_mode) or path.is_symlink():
        return False
    return not _HAS_OWNERS or (status.st_uid in (os.geteuid(), 0) and not status.st_mode & _OTHERS_WRITE)


def _without_following(path: str, flags: int) -> int:
    return os.open(path, flags | _NO_FOLLOW, 0o600)


def _make(folder: Path) -> bool:
    """Make a folder where it is missing, and those above it, for this user alone; whether it is our own."""
    try:
        for each in (*reversed(folder.parents), folder):
            if not each.is_dir():
                each.mkdir(mode=0o700, exist_ok=True)
    except (OSError, ValueError):
        return False
    return _is_own_folder(folder)


# -- how much


def _drop_oldest(newest: Path) -> None:
    """Keeps the number and the size of entries bounded; the one just written stays."""
    count, size = 0, 0
    for _, bytes_there, path in sorted(_entries(newest), reverse=True):
        count, size = count + 1, size + bytes_there
        if path != newest and (count > MOST_ENTRIES or size > MOST_BYTES):
            with suppress(OSError):
                _remove(path)


def _remove(path: Path) -> None:
    if path.is_symlink() or not path.is_dir():
        path.unlink()
        return
    from shutil import rmtree  # slow to import

    rmtree(path, ignore_errors=True)


def _entries(newest: Path) -> Iterator[tuple[int, int, Path]]:
    """Age, size and path of what is there; what a process left half-written is as good as an old entry."""
    for path in newest.parent.glob(f"{_OURS}*"):
        with suppress(OSError):
            status = path.lstat()
            inside = sum(one.lstat().st_size for one in path.rglob("*")) if path.is_dir() else 0
            yield (1 << 62 if path == newest else status.st_mtime_ns), status.st_size + inside, path
