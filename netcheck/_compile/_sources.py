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
_ROOM: Final = Path(__file__).parent


def source_digest(path: str) -> str:
    """Digest of a file of the package; "" if there is none."""
    try:
        return hashlib.sha256((ROOT / path).read_bytes()).hexdigest()
    except OSError:
        return ""


def digests_of(module: str) -> dict[str, str]:
    """Digests, by path in the package, of all that decides what the kernels of a module do."""
    return {path: source_digest(path) for path in sorted(sources_of(module))}


def sources_of(module: str) -> set[str]:
    """Paths, in the package, of a module, of all that it takes from other modules, and of the compiling."""
    found: set[str] = set()
    waiting = [module]
    while waiting:
        name = waiting.pop()
        path = Path(str(import_module(name).__file__)).relative_to(ROOT).as_posix()
        if path not in found:
            found.add(path)
            waiting += _taken_from(name)
    return found | {f"{_ROOM.name}/{path.name}" for path in _ROOM.glob("*.py")}


def _taken_from(module: str) -> Iterator[str]:
    """Modules of the package that a module takes names from: those where they are defined."""
    for source, names in _imports_in(Path(str(import_module(module).__file__)).read_bytes()):
        if source.split(".")[0] == "netcheck":
            for name, _ in names:
                yield _origin(source, name)


def _origin(module: str, name: str) -> str:
    imported = import_module(module)
    path = Path(str(imported.__file__))
    if isinstance(value := getattr(imported, name, None), type(ast)):
        return value.__name__
    if path.name == "__init__.py":
        for source, names in _imports_in(path.read_bytes()):
            if name in {alias for _, alias in names}:
                return source
    return module


@cache
def _imports_in(text: bytes) -> list[tuple[str, list[tuple[str, str | None]]]]:
    """What a file imports by name: of which module, and under which other name."""
    return [
        (str(entry.module), [(name.name, name.asname) for name in entry.names])
        for entry in ast.walk(ast.parse(text))
        if isinstance(entry, ast.ImportFrom)
    ]
