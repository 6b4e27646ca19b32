"""The readout as a readouts file, which a job includes."""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.diagnostics import FaultRead, ModuleReading
from netcheck.files import BlockEntry, When, readouts_text
from netcheck.report._diagnostic_words import identifier_name
from netcheck.report._readout_case import ReadoutCase
from netcheck.words import id_text, spaced

Entry = tuple[BlockEntry, list[str]]


def readouts_file(case: ReadoutCase) -> str:
    """The text of the file; "" where nothing was read that a job takes.

    With a vehicle file, blocks that it lacks are comments, as a job would refuse them. Without one, the
    tables of the modules that were met follow as comments, for a vehicle file.
    """
    entries = [entry for module in case.readout.modules for entry in _entries(case, module)]
    if not entries:
        return ""
    head = [f"Read out of {name} by netcheck readout." for name in case.readout.files]
    tail = [] if case.vehicle is not None else list(_skeleton(case))
    return readouts_text(entries, head, tail)


def _entries(case: ReadoutCase, module: ModuleReading) -> Iterator[Entry]:
    if case.vehicle is not None and module.name is None:
        return
    key = case.key(module)
    left: list[str] = []
    for block in module.blocks:
        known = case.vehicle is None or case.block(module, block.did) is not None
        for when, data in (("before", block.before), ("after", block.after)):
            if data is None:
                continue
            text = data.hex().upper()
            if known:
                yield BlockEntry(module=key, did=block.did, data=text, when=_when(when)), []
            else:
                left.append(f"{when}: 0x{block.did:04X} {spaced(text)}, no block of the vehicle file")
    for when, faults in (("before", module.faults.before), ("after", module.faults.after)):
        texts = {
            text.did: (text.before if when == "before" else text.after) for text in module.identification
        }
        known_texts = {did: text for did, text in texts.items() if text is not None}
        if not known_texts and faults is None:
            continue
        comments = [
            f"0x{did:04X} is the {identifier_name(did)}" for did in known_texts if identifier_name(did)
        ]
        yield (
            BlockEntry(
                module=key,
                identification=known_texts,
                faults=None if faults is None else tuple(_code(fault) for fault in faults),
                when=_when(when),
            ),
            [*left, *comments],
        )
        left = []


def _when(text: str) -> When:
    return "after" if text == "after" else "before"


def _code(fault: FaultRead) -> str:
    return str(fault.fault)


def _skeleton(case: ReadoutCase) -> Iterator[str]:
    yield "For a vehicle file: the modules that were met. Name them, and describe their blocks."
    for module in case.readout.modules:
        key = case.key(module)
        yield ""
        yield f"[module.{key}]"
        if module.request is not None:
            yield f"request_id = {id_text(*module.request)}"
        if module.response is not None:
            yield f"response_id = {id_text(*module.response)}"
        for block in module.blocks:
            yield f"[module.{key}.coding.0x{block.did:04X}]"
            yield f"length = {len(block.last)}"
