"""The readout for scripts."""

from __future__ import annotations

from typing import Any

from netcheck.coding import VIN_IDS
from netcheck.diagnostics import Address, FaultRead, ModuleReading, ReadoutFinding, SeenWrite, vin_facts
from netcheck.files import did_text
from netcheck.report._facts import facts_of
from netcheck.report._readout_case import ReadoutCase
from netcheck.report._readout_words import readout_finding_text
from netcheck.words import id_text, sentence


def readout_json(case: ReadoutCase) -> dict[str, Any]:
    """The readout as JSON has it; ``blocks`` and ``identification`` are the last values."""
    readout = case.readout
    return {
        "schema": "netcheck.readout/1",
        "files": list(readout.files),
        "vehicle": case.vehicle.name if case.vehicle is not None else None,
        "modules": [_module(case, module) for module in readout.modules],
        "findings": [_finding(finding) for finding in readout.findings],
    }


def _module(case: ReadoutCase, module: ModuleReading) -> dict[str, Any]:
    faults = module.faults
    return {
        "module": module.name,
        "channel": module.channel or None,
        "request_id": _id(module.request),
        "response_id": _id(module.response),
        "address_byte": None if module.target is None else f"0x{module.target:02X}",
        "asked": module.asked,
        "answered": module.answered,
        "identification": {did_text(text.did): text.last for text in module.identification},
        "vin": _vin(module),
        "blocks": {did_text(block.did): block.last.hex().upper() for block in module.blocks},
        "fields": {
            did_text(block.did): dict(case.fields(module, block.did, block.last))
            for block in module.blocks
            if case.block(module, block.did) is not None
        },
        "before": {
            did_text(block.did): block.before.hex().upper()
            for block in module.blocks
            if block.before is not None
        },
        "after": {
            did_text(block.did): block.after.hex().upper()
            for block in module.blocks
            if block.after is not None
        },
        "faults": None if faults.last is None else [_fault(fault) for fault in faults.last],
        "faults_before": None if faults.before is None else [_fault(fault) for fault in faults.before],
        "lamp": None if module.lamp is None else {"on": module.lamp.is_on, "stored": module.lamp.stored},
        "refusals": [
            {
                "service": f"0x{refusal.service:02X}",
                "did": None if refusal.did is None else did_text(refusal.did),
                "code": f"0x{refusal.code:02X}",
                "count": refusal.count,
            }
            for refusal in module.refusals
        ],
        "writes": [_write(write) for write in module.writes],
        "services": [
            {
                "service": f"0x{seen.service:02X}",
                "function": None if seen.function is None else f"0x{seen.function:02X}",
                "accepted": seen.accepted,
                "refused": seen.refused,
                "unanswered": seen.unanswered,
            }
            for seen in module.services
        ],
        "sessions": [f"0x{session:02X}" for session in module.sessions],
        "findings": [_finding(finding) for finding in module.findings],
    }


def _vin(module: ModuleReading) -> dict[str, Any] | None:
    """The vehicle number with its facts; null where the module told none that is one."""
    for text in module.identification:
        facts = vin_facts(text.last) if text.did in VIN_IDS else None
        if facts is not None:
            return {"number": text.last, **facts_of(facts)}
    return None


def _id(address: Address | None) -> str | None:
    return None if address is None else id_text(*address)


def _fault(fault: FaultRead) -> dict[str, Any]:
    status = fault.fault.status
    return {
        "code": fault.fault.code,
        "status": None if status is None else f"0x{status:02X}",
        "kind": fault.kind,
        "stored": fault.fault.is_stored,
    }


def _write(write: SeenWrite) -> dict[str, Any]:
    return {
        "did": did_text(write.did),
        "data": write.data.hex().upper(),
        "file": write.file,
        "time": write.time,
        "accepted": write.accepted,
        "code": None if write.code is None else f"0x{write.code:02X}",
        "session": None if write.session is None else f"0x{write.session:02X}",
    }


def _finding(finding: ReadoutFinding) -> dict[str, Any]:
    return {
        "kind": finding.kind.value,
        "file": finding.file or None,
        "time": finding.time,
        "frame": finding.frame,
        "line": finding.line,
        "did": None if finding.did is None else did_text(finding.did),
        "service": None if finding.service is None else f"0x{finding.service:02X}",
        "lapse": None if finding.lapse is None else finding.lapse.value,
        "count": finding.count,
        "text": sentence(readout_finding_text(finding)),
    }
