"""Kernels as machine code: what is known of one, and a module of them as bytes for the cache."""

from __future__ import annotations

import json
from contextlib import suppress
from typing import Any, Final, NamedTuple

CODE_FORMAT: Final = 4  # of the bytes, and of what they say


class MachineCode(NamedTuple):
    """One kernel of a module.

    symbol:    its name in the module's code
    arguments: per argument "int64", "float64", a list for a tuple of these, or a dict for an array:
               dtype (name), dimensions, writable
    gives:     what it returns: nothing, "int64" or "float64", or several of one of them, as a tuple
    """

    symbol: str
    arguments: list[Any]
    gives: list[str]


class CompiledModule(NamedTuple):
    """The kernels of a module, their code, and digests of the files that it was made from, by path."""

    sources: dict[str, str]
    codes: dict[str, MachineCode]
    object_code: bytes


def pack(compiled: CompiledModule) -> bytes:
    """A line of JSON, then the object code."""
    head = json.dumps({"sources": compiled.sources, "kernels": compiled.codes}).encode()
    return b"\n".join([head, compiled.object_code])


def unpack(body: bytes) -> CompiledModule | None:
    """The opposite of ``pack``; None for bytes that are not of this form."""
    with suppress(ValueError, KeyError, TypeError, AttributeError):
        head, _, object_code = body.partition(b"\n")
        entry = json.loads(head)
        codes = {name: MachineCode(*code) for name, code in entry["kernels"].items()}
        return CompiledModule(entry["sources"], codes, object_code)
    return None
