"""Simulated modules of a script, checked against the vehicle file."""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.bench._module import ModuleSetting
from netcheck.files import (
    LoadedVehicle,
    Problem,
    Script,
    did_text,
    fault_of,
    hex_bytes,
    one_of,
    present_modules,
)

_LAST = 0xFFFF


def module_settings(script: Script, vehicle: LoadedVehicle, year: int) -> Iterator[ModuleSetting]:
    """The modules that the script has answer, in its order. Blocks that it does not give are zeros.

    Raises Problem for a module that the model year does not have, one without addresses, and a block of
    another length.
    """
    present = present_modules(vehicle.model, year)
    seen: set[str] = set()
    for index, entry in enumerate(script.module):
        module = present.get(entry.module)
        at = ("module", index)
        if module is None:
            what = f"'{entry.module}' is not a module of model year {year}"
            raise Problem((*at, "module"), what, one_of(entry.module, present))
        if entry.module in seen:
            raise Problem((*at, "module"), f"'{entry.module}' stands twice", "keep one entry")
        seen.add(entry.module)
        if module.request_id is None or module.response_id is None:
            what = f"'{entry.module}' has no request_id and response_id"
            raise Problem((*at, "module"), what, "add them to the vehicle file")
        blocks = {did: bytes(block.length) for did, block in module.coding.items()}
        for did, text in entry.blocks.items():
            data = hex_bytes(text)
            known = module.coding.get(did)
            if did > _LAST or (known is not None and len(data) != known.length):
                due = f" has {known.length}" if known is not None else " is no data identifier"
                what = f"{len(data)} bytes, but block {did_text(did)} of '{entry.module}'{due}"
                raise Problem((*at, "blocks", did_text(did)), what, "give the whole block")
            blocks[did] = data
        yield ModuleSetting(
            name=entry.module,
            request=(module.request_id, module.request_id > 0x7FF),
            response=(module.response_id, module.response_id > 0x7FF),
            blocks=blocks,
            identification={did: text.encode("ascii") for did, text in entry.identification.items()},
            faults=tuple(map(_fault, entry.faults)),
            refuse=entry.refuse,
            pending=entry.pending,
            answer_ms=entry.answer_ms,
            block_size=entry.block_size,
            gap_ms=entry.gap_ms,
            waits=entry.waits,
        )


def _fault(text: str) -> bytes:
    """Three bytes and the status: the other way round than reading a report."""
    fault = fault_of(text)
    letter, digits = fault.code[0], fault.code[1:].ljust(6, "0")
    number = "PCBU".index(letter) << 22 | int(digits[0]) << 20 | int(digits[1:], 16)
    return number.to_bytes(3, "big") + bytes([0x09 if fault.status is None else fault.status])
