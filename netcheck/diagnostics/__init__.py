"""Diagnostic traffic inside a capture: segmented messages put together, and what the services say."""

from netcheck.diagnostics._groups import GroupReassembler, group_frames
from netcheck.diagnostics._ids import (
    ADDRESS_BYTES,
    Address,
    TransportCounts,
    TransportTally,
    is_customary,
    is_group,
    of_addresses,
    transport_ids,
)
from netcheck.diagnostics._segments import Reassembler, reassemble
from netcheck.diagnostics._transfer import GroupTransfer, Lapse, Transfer

__all__ = [
    "ADDRESS_BYTES",
    "Address",
    "GroupReassembler",
    "GroupTransfer",
    "Lapse",
    "Reassembler",
    "Transfer",
    "TransportCounts",
    "TransportTally",
    "group_frames",
    "is_customary",
    "is_group",
    "of_addresses",
    "reassemble",
    "transport_ids",
]
