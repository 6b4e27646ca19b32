"""Diagnostic traffic inside a capture: segmented messages put together."""

from netcheck.diagnostics._groups import GroupReassembler, group_frames
from netcheck.diagnostics._ids import Address, TransportCounts, TransportTally, transport_ids
from netcheck.diagnostics._segments import Reassembler, reassemble
from netcheck.diagnostics._transfer import GroupTransfer, Lapse, Transfer
from netcheck.diagnostics._vin_services import (
    VIN_PIECE,
    VIN_RUN,
    NumberTold,
    number_begins,
    number_told,
    told_from,
)
from netcheck.diagnostics._vin_watch import VinWatch

__all__ = [
    "VIN_PIECE",
    "VIN_RUN",
    "Address",
    "GroupReassembler",
    "GroupTransfer",
    "Lapse",
    "NumberTold",
    "Reassembler",
    "Transfer",
    "TransportCounts",
    "TransportTally",
    "VinWatch",
    "group_frames",
    "number_begins",
    "number_told",
    "reassemble",
    "told_from",
    "transport_ids",
]
