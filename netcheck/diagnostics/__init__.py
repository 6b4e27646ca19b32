"""Diagnostic traffic inside a capture: segmented messages put together."""

from netcheck.diagnostics._groups import GroupReassembler, group_frames
from netcheck.diagnostics._ids import Address, TransportCounts, TransportTally, transport_ids
from netcheck.diagnostics._segments import Reassembler, reassemble
from netcheck.diagnostics._transfer import GroupTransfer, Lapse, Transfer

__all__ = [
    "Address",
    "GroupReassembler",
    "GroupTransfer",
    "Lapse",
    "Reassembler",
    "Transfer",
    "TransportCounts",
    "TransportTally",
    "group_frames",
    "reassemble",
    "transport_ids",
]
