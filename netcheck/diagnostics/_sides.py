"""One side of a readout in the form in which a job has it."""

from __future__ import annotations

from netcheck.diagnostics._readout_model import Readout
from netcheck.files import LoadedReadout, ModuleReadout, Readbacks, Vehicle, When, present_modules


def readout_side(readout: Readout, vehicle: Vehicle, year: int, when: When) -> Readbacks:
    """What the modules of a model year said before, or after.

    Blocks that the vehicle file does not have, or with another length, are left out.
    """
    present = present_modules(vehicle, year)
    blocks, modules = [], []
    where = ", ".join(readout.files)
    for reading in readout.modules:
        module = present.get(reading.name or "")
        if module is None or reading.name is None:
            continue
        for block in reading.blocks:
            data = block.before if when == "before" else block.after
            known = module.coding.get(block.did)
            if data is not None and known is not None and len(data) == known.length:
                blocks.append(LoadedReadout(reading.name, block.did, data, when, where))
        texts = {text.did: text.before if when == "before" else text.after for text in reading.identification}
        report = reading.faults.before if when == "before" else reading.faults.after
        faults = None if report is None else tuple(fault.fault for fault in report)
        told = {did: text for did, text in texts.items() if text is not None}
        if told or faults is not None:
            modules.append(ModuleReadout(reading.name, when, told, faults, where))
    return Readbacks(tuple(blocks), tuple(modules))
