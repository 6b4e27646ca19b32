"""What a module of kernels was made from: digests of every file compiled into it."""

from __future__ import annotations

import ast
import hashlib
from collections.abc import Iterator
from functools import cache
from importlib import import_module
from pathlib import Path
from typing import Final

ROOT: Final = Path(__file__).parent.parent  # the package
_PACKAGE: Final = ROOT
_ROOM: Final = Path(__file__).parent


def source_digest(path: str) -> str:
    """Digest of a file of the package; "" if there is none."""
    return file_digest(ROOT / path)


@cache
def file_digest(path: Path) -> str:
    """Digest of a file; "" if there is none. Kernels share most of their sources: each is read once."""
    try:
        return hashlib.sha256(path.read_bytes()).hexdigest()
    except OSError:
        return ""


def digests_of(module: str) -> dict[str, str]:
    """Digests, by path in the package, of all that decides what the kernels of a module do."""
    return {path: source_digest(path) for path in sorted(sources_of(module))}


def sources_of(module: str) -> set[str]:
    """Paths, in the package, of a module, of all that it takes from other modules, and of the compiling.

    Only the module itself is imported: the others may need much that no kernel does.
    """
    first = Path(str(import_module(module).__file__))
    found = {first.relative_to(ROOT).as_posix()}
    waiting = [first]
    while waiting:
        for path in _taken_from(waiting.pop()):
            name = path.relative_to(_PACKAGE).as_posix()
            if name not in found:
                found.add(name)
                waiting.append(path)
    return found | {f"{_ROOM.name}/{path.name}" for path in _ROOM.glob("*.py")}


def _taken_from(path: Path) -> Iterator[Path]:
    """Files of the package that a file takes names from: those where they are defined."""
    for source, names in _imports_in(path.read_bytes()):
        if source.split(".")[0] == _PACKAGE.name:
            for name, _ in names:
                yield _origin(source, name)


def _origin(module: str, name: str) -> Path:
    path = _file_of(module)
    if path.name == "__init__.py":
        if (part := _file_of(f"{module}.{name}")).exists():
            return part
        for source, names in _imports_in(path.read_bytes()):
            if name in {alias for _, alias in names}:
                return _file_of(source)
    return path


def _file_of(module: str) -> Path:
    place = _PACKAGE.joinpath(*module.split(".")[1:])
    return place / "__init__.py" if place.is_dir() else place.with_suffix(".py")


@cache
def _imports_in(text: bytes) -> list[tuple[str, list[tuple[str, str | None]]]]:
    """What a file imports by name: of which module, and under which other name."""
    return [
        (str(entry.module), [(name.name, name.asname) for name in entry.names])
        for entry in ast.walk(ast.parse(text))
        if isinstance(entry, ast.ImportFrom)
    ]
