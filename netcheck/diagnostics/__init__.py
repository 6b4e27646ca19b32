"""Diagnostic traffic inside a capture: segmented messages put together."""

from netcheck.diagnostics._segments import Address, Reassembler, reassemble, transport_ids
from netcheck.diagnostics._transfer import Lapse, Transfer

__all__ = [
    "Address",
    "Lapse",
    "Reassembler",
    "Transfer",
    "reassemble",
    "transport_ids",
]
