"""Diagnostic traffic inside a capture: segmented messages put together, and what the services say."""

from typing import TYPE_CHECKING

from netcheck.doors import door

if TYPE_CHECKING:
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
    from netcheck.diagnostics._readout import (
        ConversationReader,
        read_conversation,
        read_diagnostics,
        refuse_pipe,
    )
    from netcheck.diagnostics._readout_model import (
        BlockRead,
        FaultLamp,
        FaultRead,
        FaultsRead,
        ModuleReading,
        Readout,
        ReadoutFinding,
        ReadoutFindingKind,
        Refusal,
        SeenService,
        SeenWrite,
        TextRead,
    )
    from netcheck.diagnostics._segments import Reassembler, reassemble
    from netcheck.diagnostics._sides import readout_side
    from netcheck.diagnostics._streams import ConversationSearch
    from netcheck.diagnostics._transfer import GroupTransfer, Lapse, Transfer
    from netcheck.diagnostics._typed import is_typed, read_typed
    from netcheck.diagnostics._vin import VinFacts, vin_facts
    from netcheck.diagnostics._vin_services import (
        VIN_PIECE,
        VIN_RUN,
        NumberTold,
        number_begins,
        number_told,
        told_from,
    )
    from netcheck.diagnostics._vin_watch import VinWatch
else:
    __getattr__ = door(
        __name__,
        {
            "_groups": "GroupReassembler group_frames",
            "_ids": (
                "ADDRESS_BYTES Address TransportCounts TransportTally is_customary is_group of_addresses "
                "transport_ids"
            ),
            "_readout": "ConversationReader read_conversation read_diagnostics refuse_pipe",
            "_readout_model": (
                "BlockRead FaultLamp FaultRead FaultsRead ModuleReading Readout ReadoutFinding "
                "ReadoutFindingKind Refusal SeenService SeenWrite TextRead"
            ),
            "_segments": "Reassembler reassemble",
            "_sides": "readout_side",
            "_streams": "ConversationSearch",
            "_transfer": "GroupTransfer Lapse Transfer",
            "_typed": "is_typed read_typed",
            "_vin": "VinFacts vin_facts",
            "_vin_services": "VIN_PIECE VIN_RUN NumberTold number_begins number_told told_from",
            "_vin_watch": "VinWatch",
        },
    )

__all__ = [
    "ADDRESS_BYTES",
    "VIN_PIECE",
    "VIN_RUN",
    "Address",
    "BlockRead",
    "ConversationReader",
    "ConversationSearch",
    "FaultLamp",
    "FaultRead",
    "FaultsRead",
    "GroupReassembler",
    "GroupTransfer",
    "Lapse",
    "ModuleReading",
    "NumberTold",
    "Readout",
    "ReadoutFinding",
    "ReadoutFindingKind",
    "Reassembler",
    "Refusal",
    "SeenService",
    "SeenWrite",
    "TextRead",
    "Transfer",
    "TransportCounts",
    "TransportTally",
    "VinFacts",
    "VinWatch",
    "group_frames",
    "is_customary",
    "is_group",
    "is_typed",
    "number_begins",
    "number_told",
    "of_addresses",
    "read_conversation",
    "read_diagnostics",
    "read_typed",
    "readout_side",
    "reassemble",
    "refuse_pipe",
    "told_from",
    "transport_ids",
    "vin_facts",
]
