"""All that is said of a plan's warnings: one entry for each record, in one place."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any, Final

from netcheck.report._database_words import repair_text
from netcheck.report._reason_parts import identity_text, name_it
from netcheck.verdict import (
    ClocksApart,
    DoubtfulChannel,
    MarksUnused,
    ModuleWithoutNode,
    NodeSendsNothing,
    NumberTooLarge,
    OtherDevices,
    OtherIds,
    OtherVin,
    PlanWarning,
    RepairedDbc,
    SeveralEntries,
    SharedBits,
    StrangeChannel,
    ToldByReader,
    VehicleDoubt,
)
from netcheck.words import counted, listing, path_text


def warning_text(warning: PlanWarning) -> str:
    """A warning, without a full stop of its own."""
    return WARNINGS[type(warning)](warning)


def doubt_text(doubt: VehicleDoubt) -> str:
    """What is to be cleared up first, without a full stop: ``which vehicle x.log is of: …``."""
    return DOUBTS[type(doubt)](doubt)


def doubt_question(doubts: Sequence[VehicleDoubt]) -> str:
    """What the headline asks; "" without a doubt."""
    others = [doubt for doubt in doubts if isinstance(doubt, OtherVin)]
    if others:
        what = "readout" if all(other.is_read for other in others) else "capture"
        return f"A {what} tells another VIN: is it of this vehicle?"
    return "Two captures look like two vehicles: are both of this one?" if doubts else ""


def _number_too_large(warning: NumberTooLarge) -> str:
    bits = f"{warning.width} {'signed ' if warning.is_signed else ''}bit of {warning.title}"
    return (
        f"{path_text(warning.file)}: role.{warning.role}: {warning.key}: {warning.number} does not fit the "
        f"{bits}, {warning.low} to {warning.high}, so it never counts"
    )


def _several_entries(warning: SeveralEntries) -> str:
    entries = f"{counted(warning.count, 'entry', 'entries')} on {warning.network}"
    return (
        f"{path_text(warning.file)}: role.{warning.role}: {entries} in model year {warning.year}: the "
        f"first counts, {warning.first}"
    )


def _shared_bits(warning: SharedBits) -> str:
    those = "that" if len(warning.others) == 1 else "those"
    return (
        f"{path_text(warning.file)}: module.{warning.module}.coding.0x{warning.did:04X}: {warning.field} "
        f"has bits in common with {listing(warning.others)}: coding it changes {those} too"
    )


def _clocks_apart(warning: ClocksApart) -> str:
    way = "later" if warning.seconds > 0 else "earlier"
    return (
        f"{path_text(warning.second)} is stamped {abs(warning.seconds):.2f} s {way} than "
        f"{path_text(warning.first)} "
        f"({warning.moments} moments that both saw): note marks by each one's own clock"
    )


def _other_vehicle(warning: OtherVin) -> str:
    whose = path_text(warning.other) if warning.other else "the job"
    if warning.is_read:
        return (
            f"{path_text(warning.file)}: module {warning.channel} tells VIN {warning.vin}, {whose} "
            f"{warning.expected}: read from another vehicle, or a module from another vehicle"
        )
    return (
        f"{path_text(warning.file)}: {warning.channel} tells VIN {warning.vin}, {whose} {warning.expected}: "
        "another vehicle's capture, or a module from another vehicle"
    )


def _strange_channel(warning: StrangeChannel) -> str:
    use = warning.use
    place = f"{path_text(use.file)}: "
    if use.is_unclear:
        known = f"{identity_text(use)} – {name_it(use)}"
        return f"{place}which network channel {use.channel} is cannot be told: {known}"
    return f"{place}channel {use.channel} is none of this vehicle's networks: {identity_text(use)}"


def _vin_doubt(doubt: OtherVin) -> str:
    what = f"which vehicle {path_text(doubt.file)} is of: it tells"
    if doubt.is_read:
        what = f"which vehicle was read out ({path_text(doubt.file)}): module {doubt.channel} tells"
    return f"{what} VIN {doubt.vin}, {doubt.other or 'the job'} {doubt.expected}"


def _two(doubt: OtherDevices | OtherIds) -> str:
    return f"whether {path_text(doubt.file)} and {path_text(doubt.other)} are of one vehicle"


def _other_devices(warning: OtherDevices) -> str:
    none = f"none of its {counted(warning.names, 'J1939 device number')} on {warning.network}"
    return (
        f"{path_text(warning.file)}: {none} is among the {warning.other_names} of "
        f"{path_text(warning.other)}: captures of two vehicles?"
    )


def _other_ids(warning: OtherIds) -> str:
    knows = f"the DBC knows {warning.fits[0]} of its {warning.fits[1]} ids"
    alike = f"only {warning.alike} of {warning.messages} messages on {warning.network} are alike"
    return (
        f"{path_text(warning.file)}: {alike} in {path_text(warning.other)}, by id and length; {knows}, and "
        f"{warning.other_fits[0]} of "
        f"{warning.other_fits[1]} there: captures of two vehicles?"
    )


def _marks_unused(warning: MarksUnused) -> str:
    why = "the vehicle file does not map it for this model year"
    if warning.networks:
        why = f"no channel there is {listing(warning.networks, last='or')}"
    return f"marks of {warning.role} in {warning.capture} are not used: {why}"


DOUBTS: Final[dict[type[VehicleDoubt], Callable[[Any], str]]] = {
    OtherVin: _vin_doubt,
    OtherDevices: lambda doubt: f"{_two(doubt)}: no J1939 device number on {doubt.network} is in both",
    OtherIds: lambda doubt: (
        f"{_two(doubt)}: only {doubt.alike} of {doubt.messages} messages on {doubt.network} are alike"
    ),
}

WARNINGS: Final[dict[type[PlanWarning], Callable[[Any], str]]] = {
    RepairedDbc: lambda warning: repair_text(warning.repair),
    ToldByReader: lambda warning: (
        f"{path_text(warning.file)}: {warning.text}" if warning.file else warning.text
    ),
    NumberTooLarge: _number_too_large,
    SeveralEntries: _several_entries,
    ModuleWithoutNode: lambda warning: (
        f"{path_text(warning.file)}: module.{warning.module} has no node, and a part replaces it: what "
        "else goes away is not seen"
    ),
    NodeSendsNothing: lambda warning: (
        f"{path_text(warning.file)}: module.{warning.module}.node: no message of the DBC files is sent by "
        f"{warning.node}, and a part replaces it: what else goes away is not seen"
    ),
    SharedBits: _shared_bits,
    StrangeChannel: _strange_channel,
    DoubtfulChannel: lambda warning: (
        f"{path_text(warning.use.file)}: whether channel {warning.use.channel} is {warning.use.network} is "
        f"doubtful: {identity_text(warning.use)}: too few to trust what the DBC says – is it this vehicle, "
        "model year and pair?"
    ),
    MarksUnused: _marks_unused,
    OtherVin: _other_vehicle,
    OtherDevices: _other_devices,
    OtherIds: _other_ids,
    ClocksApart: _clocks_apart,
}
