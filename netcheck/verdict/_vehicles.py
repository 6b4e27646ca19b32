"""Whether captures and readouts are of the job's vehicle: by what they tell of it, and by what fits worse."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Final

from netcheck.coding import VIN_IDS
from netcheck.files import ModuleReadout
from netcheck.network import FrameId, is_diagnostic
from netcheck.verdict._captures import CapturedChannel, JobCaptures
from netcheck.verdict._model import ChannelUse
from netcheck.verdict._warnings import OtherDevices, OtherIds, OtherVin, VehicleDoubt
from netcheck.words import unique

LEAST_STRANGE: Final = 3  # messages that only one has, and as many that only the other has
SAME_SHARE: Final = 2 / 3  # of all messages of both, below which it is another vehicle
_LEAST_FRAMES: Final = 5  # of an id: what came less often tells nothing

_Channel = tuple[ChannelUse, CapturedChannel]


def other_vehicles(
    vin: str | None,
    captures: JobCaptures,
    readouts: Iterable[ModuleReadout] = (),
    addresses: frozenset[FrameId] = frozenset(),
) -> Iterator[VehicleDoubt]:
    """What speaks for another vehicle: numbers of vehicles first, then those of devices, then ids.

    vin:       the job's, None where it has none
    readouts:  of which those from before the fitting count
    addresses: of diagnostics, whose ids tell nothing
    """
    numbers = tuple(other_vins(vin, captures.uses, readouts))
    yield from numbers
    told = {doubt.file for doubt in numbers}
    for network in captures.by_network.values():
        # What tells another number is told already. Of the others the first stands for the vehicle.
        channels = [
            (use, channel)
            for use, channel in zip(network.uses, network.channels, strict=True)
            if use.file not in told
        ]
        for other in channels[1:]:
            if other[0].file != channels[0][0].file:
                yield from _compared(network.network, channels[0], other, addresses)


def _compared(
    network: str, first: _Channel, second: _Channel, addresses: frozenset[FrameId]
) -> Iterator[VehicleDoubt]:
    """What speaks for two vehicles in two channels that were taken for one network."""
    files = second[0].file, first[0].file
    names = [frozenset(use.device_names) for use, _ in (first, second)]
    if all(names) and names[0].isdisjoint(names[1]):
        yield OtherDevices(*files, network, len(names[1]), len(names[0]))
        return
    lengths = [_lengths(channel, addresses) for _, channel in (first, second)]
    common = lengths[0].keys() & lengths[1].keys()
    resized = sum(lengths[0][frame_id] != lengths[1][frame_id] for frame_id in common)
    only = [len(one.keys() - common) for one in lengths]
    if are_strange(len(common), only[0], only[1], resized):
        worse, better = (second, first) if _fits_worse(second, first) else (first, second)
        alike = len(common) - resized
        yield OtherIds(
            worse[0].file,
            better[0].file,
            network,
            alike=alike,
            messages=len(common) + sum(only),
            fits=_fit(worse),
            other_fits=_fit(better),
        )


def are_strange(common: int, first: int, second: int, resized: int) -> bool:
    """Whether ids and lengths are those of two vehicles.

    common: ids that both have, resized of them with another length; first, second: ids that only one has
    """
    is_strange = min(first + resized, second + resized) >= LEAST_STRANGE
    return is_strange and common - resized < SAME_SHARE * (common + first + second)


def _lengths(channel: CapturedChannel, addresses: frozenset[FrameId]) -> Mapping[FrameId, int]:
    """The usual length of each id that came often enough, those of diagnostics left out."""
    return {
        frame_id: max(counts, key=lambda length: (counts[length], length))
        for frame_id, counts in channel.channel.traffic.lengths.items()
        if sum(counts.values()) >= _LEAST_FRAMES and not is_diagnostic(frame_id, addresses)
    }


def _fit(channel: _Channel) -> tuple[int, int]:
    """How many of a channel's ids the network's DBC explains, and how many it has."""
    use, _ = channel
    return next((entry.explained for entry in use.candidates if entry.network == use.network), 0), use.ids


def _fits_worse(one: _Channel, other: _Channel) -> bool:
    """Whether the DBC explains no larger share of the first one's ids."""
    mine, theirs = _fit(one), _fit(other)
    return mine[0] * theirs[1] <= theirs[0] * mine[1]


def other_vins(
    vin: str | None, uses: Iterable[ChannelUse], readouts: Iterable[ModuleReadout] = ()
) -> Iterator[OtherVin]:
    """One for each number that differs from the job's, or without one from the first told: captures first."""
    expected, source = vin, ""
    for file, channel, told, is_read in unique(_told(uses, readouts)):
        if expected is None:
            expected, source = told, file
        elif told != expected:
            yield OtherVin(file, channel, told, expected, source, is_read)


def _told(
    uses: Iterable[ChannelUse], readouts: Iterable[ModuleReadout]
) -> Iterator[tuple[str, str, str, bool]]:
    """File, channel and number of each capture; place, module and number of each readout."""
    for use in uses:
        for told in use.vins:
            yield use.file, use.channel, told, False
    for readout in readouts:
        for did in VIN_IDS:
            if readout.when == "before" and did in readout.identification:
                yield readout.where, readout.module, readout.identification[did], True
