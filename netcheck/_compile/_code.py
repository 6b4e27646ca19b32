"""Kernels as machine code: what is known of one, and a module of them as bytes for the cache."""

from __future__ import annotations

import json
from contextlib import suppress
from typing import Any, Final, NamedTuple

CODE_FORMAT: Final = 3  # of the bytes, and of what they say


class MachineCode(NamedTuple):
    """One kernel as machine code.

    arguments: per argument "int64", "float64", a list for a tuple of these, or a dict for an array:
               dtype (name), dimensions, writable
    gives:     what it returns: nothing, "int64" or "float64", or several of one of them, as a tuple
    """

    symbol: str
    arguments: list[Any]
    gives: list[str]
    object_code: bytes


class CompiledModule(NamedTuple):
    """The kernels of a module, and digests of the files compiled into them, by path in the package."""

    sources: dict[str, str]
    codes: dict[str, MachineCode]


def pack(compiled: CompiledModule) -> bytes:
    """A line of JSON, then the object code of all kernels."""
    listed = {name: [*code[:3], len(code.object_code)] for name, code in compiled.codes.items()}
    head = json.dumps({"sources": compiled.sources, "kernels": listed}).encode()
    return b"\n".join([head, b"".join(code.object_code for code in compiled.codes.values())])


def unpack(body: bytes) -> CompiledModule | None:
    """The opposite of ``pack``; None for bytes that are not of this form."""
    with suppress(ValueError, KeyError, TypeError, AttributeError):
        head, _, objects = body.partition(b"\n")
        entry, codes, at = json.loads(head), {}, 0
        for name, (symbol, arguments, gives, size) in entry["kernels"].items():
            codes[name] = MachineCode(symbol, arguments, gives, objects[at : at + size])
            at += size
        return CompiledModule(entry["sources"], codes)
    return None
