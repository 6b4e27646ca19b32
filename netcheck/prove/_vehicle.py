"""Whether the captures from before and after the fitting are of one vehicle."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from netcheck.network import FrameId, is_diagnostic
from netcheck.prove._change_model import (
    LengthChanged,
    MessageGone,
    MessageNew,
    OtherVehicle,
)
from netcheck.prove._measure import ChannelMeasured, MeasuredSide, joined_payloads
from netcheck.prove._messages import NetworkMessages, PlannedIds
from netcheck.prove._model import (
    Sameness,
)
from netcheck.verdict import are_strange
from netcheck.words import unique


def sameness(
    before: MeasuredSide,
    after: MeasuredSide,
    networks: Mapping[str, NetworkMessages],
    planned: Mapping[str, PlannedIds],
    told_by_modules: tuple[tuple[str, ...], tuple[str, ...]],
) -> Sameness | OtherVehicle:
    """What tells one vehicle from another: vehicle numbers, then numbers of devices, then ids and lengths.

    told_by_modules: vehicle numbers from diagnostics, before and after
    """
    told = (
        unique([*told_by_modules[0], *vins_of(before)]),
        unique([*told_by_modules[1], *vins_of(after)]),
    )
    stated = before.context.job.identity.vin
    earlier = told[0] or ((stated,) if stated else ())
    common, gone, new, resized = _ids(networks, planned)
    if earlier and told[1]:
        if set(earlier).isdisjoint(told[1]):
            return OtherVehicle((earlier[0], told[1][0]), (0, 0), common, gone, new, resized)
        return Sameness(True, vin=next(vin for vin in told[1] if vin in earlier))
    names = _device_names(before), _device_names(after)
    both = names[0] & names[1]
    only = len(names[0] - names[1]), len(names[1] - names[0])
    if names[0] and names[1] and not both:
        return OtherVehicle(None, only, common, gone, new, resized)
    if are_strange(common, gone, new, resized):
        return OtherVehicle(None, (0, 0), common, gone, new, resized)
    if both and len(both) >= max(only):
        return Sameness(True, names=len(both))
    return Sameness(None)


def vins_of(side: MeasuredSide) -> tuple[str, ...]:
    """Vehicle numbers that messages send, in numbered parts."""
    return unique(
        vin
        for capture in side.captures
        for channel in capture.channels.values()
        for _, vin in sorted(_vins_on(channel), key=lambda entry: entry[0])
    )


def _vins_on(channel: ChannelMeasured) -> Iterable[tuple[FrameId, str]]:
    for frame_id, seen in joined_payloads([channel]).items():
        vin = None if is_diagnostic(frame_id) else seen.parts.vin()
        if vin is not None:
            yield frame_id, vin


def _device_names(side: MeasuredSide) -> frozenset[int]:
    """Numbers by which J1939 devices claim their addresses; no two devices have the same."""
    return frozenset(
        name.value
        for capture in side.captures
        for channel in capture.channels.values()
        for message in channel.survey.messages
        for name in message.claims
    )


def _ids(
    networks: Mapping[str, NetworkMessages], planned: Mapping[str, PlannedIds]
) -> tuple[int, int, int, int]:
    """Cyclic messages on both sides, on one only, and with other lengths; what the job changes left out."""
    common = gone = new = resized = 0
    for name, messages in networks.items():
        changes = messages.changes
        gone += sum(isinstance(change, MessageGone) and not change.is_planned for change in changes)
        new += sum(isinstance(change, MessageNew) and not change.is_planned for change in changes)
        resized += sum(isinstance(change, LengthChanged) and not change.is_planned for change in changes)
        common += sum(
            frame_id in messages.after and not planned[name].touches(frame_id)
            for frame_id in messages.compared()
        )
    return common, gone, new, resized
