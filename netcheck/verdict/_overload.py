"""Whether a network has room for what the items will send on it: load, and deadlines in the worst case."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from fractions import Fraction
from typing import Final

from netcheck.database import Message
from netcheck.files import Network, Supply
from netcheck.network import (
    ChannelLoad,
    FrameId,
    LoadRates,
    MessageLoad,
    Response,
    Timed,
    messages_by_id,
    response_times,
    worst_case_bits,
    worst_case_fd_bits,
)
from netcheck.records import dataclass
from netcheck.verdict._conflict_model import Conflict, Overload
from netcheck.verdict._context import PlanContext
from netcheck.verdict._item_note_model import LateMessage, LoadAdded, Note, RoomUnknown

MOST_LOAD: Final = Fraction(4, 5)  # of the wire in the busiest second; common practice


@dataclass(frozen=True)
class Outlook:
    """A network with the messages of some items against the same without them.

    before, after: share of the wire in the busiest second
    late:          messages that would miss their period and now meet it, and new ones that would miss it
    already:       messages that may miss their period now
    """

    before: Fraction
    after: Fraction
    late: tuple[LateMessage, ...]
    already: int

    @property
    def is_full(self) -> bool:
        """Whether too little of the wire is left."""
        return self.after > MOST_LOAD


def overloads(context: PlanContext, item: int) -> Iterator[Conflict]:
    """A conflict where the network has no room for the job's messages; on every item that sends there."""
    network = context.items[item].network
    if network is None or not context.items[item].retrofit.supplies:
        return
    senders = _senders(context, network)
    found = outlook(context, network, senders)
    if found is not None and found.is_full:
        names = tuple(context.items[number].retrofit.name for number in senders)
        yield Overload(network, _model(context, network).bitrate, found.before, found.after, names)


def load_notes(context: PlanContext, item: int) -> Iterator[Note]:
    """What an item's messages do to its network where they are not too much, or that this is not known."""
    network = context.items[item].network
    if network is None or not context.captures.by_network[network].is_captured:
        return
    supplies = context.items[item].retrofit.supply
    vague = tuple(
        _frame_id(supply) for supply in supplies if supply.message_id is not None and not supply.is_timed
    )
    if vague:
        yield RoomUnknown(vague, network)
    found = outlook(context, network, [item]) if _timed(context, item) else None
    if found is not None and not found.is_full:
        bitrate = _model(context, network).bitrate
        yield LoadAdded(network, bitrate, found.before, found.after, found.already, found.late)


def outlook(context: PlanContext, network: str, items: Sequence[int]) -> Outlook | None:
    """Compare a network with and without the messages of some items; None where it was not captured."""
    load = context.captures.by_network[network].load
    if load is None:
        return None
    model, names = _model(context, network), _names(context, network)
    gone = {FrameId(entry.can_id, entry.is_extended) for entry in context.replaced_messages(network)}
    sent = _sent(model, [supply for item in items for supply in _timed(context, item)])
    stays = [frame_id for frame_id in load.messages if frame_id not in gone and frame_id not in sent]
    seconds = context.captures.by_network[network].seconds
    seen = {
        frame_id: _seen_timing(frame_id, entry, names.get(frame_id), seconds)
        for frame_id, entry in load.messages.items()
    }
    before = {response.message.frame_id: response for response in _responses(list(seen.values()), model)}
    after = _responses([*(seen[frame_id] for frame_id in stays), *sent.values()], model)
    late = [
        LateMessage(
            frame_id,
            names[frame_id].name if frame_id in names else None,
            (response.message.deadline_ns or 0) / 1e9,
            response.worst_s,
            None if frame_id in sent else before[frame_id].worst_s,
        )
        for response in after
        for frame_id in [response.message.frame_id]
        if not response.meets and (frame_id in sent or before[frame_id].meets)
    ]
    now = _share(load, model)
    added = sum((_added(message, model) for message in sent.values()), Fraction(0))
    freed = sum((_freed(load.messages[key], model) for key in load.messages if key in gone), Fraction(0))
    already = sum(1 for response in before.values() if not response.meets)
    return Outlook(now, max(now - freed, Fraction(0)) + added, tuple(late), already)


def _timed(context: PlanContext, item: int) -> list[Supply]:
    return [supply for supply in context.items[item].retrofit.supply if supply.is_timed]


def _senders(context: PlanContext, network: str) -> list[int]:
    """Items that will send on a network; what is sent without a known period and length weighs nothing."""
    return [
        number
        for number, loaded in enumerate(context.items)
        if loaded.network == network and loaded.retrofit.supplies
    ]


def _model(context: PlanContext, network: str) -> Network:
    return context.job.vehicle.model.network[network]


def _names(context: PlanContext, network: str) -> dict[FrameId, Message]:
    """The DBC's message of each id that was captured on a network."""
    known: dict[FrameId, Message] = {}
    for captured in context.captures.by_network[network].channels:
        known |= messages_by_id(captured.channel.traffic, context.databases[network])
    return known


def _frame_id(supply: Supply) -> FrameId:
    return FrameId(supply.message_id or 0, supply.is_extended)


def _responses(messages: list[Timed], model: Network) -> tuple[Response, ...]:
    return response_times(messages, model.bitrate, model.fd_bitrate)


def _seen_timing(frame_id: FrameId, seen: MessageLoad, message: Message | None, seconds: float) -> Timed:
    """A message as it was seen. Its deadline is its period, if it has one: the DBC's or the measured one."""
    stated = message.cycle_time_ms if message is not None else None
    measured = seen.median_ns if seen.is_cyclic else None
    if stated:
        deadline: int | None = round(stated * 1e6)
        period = min(round(stated * 1e6), round(measured or stated * 1e6))
    elif measured is not None:
        deadline = period = round(measured)
    else:
        deadline, period = None, round(seen.mean_ns or max(seconds, 1.0) * 1e9)
    nominal, fast = _bits(seen.length, frame_id.is_extended, fd=seen.is_fd, switched=seen.is_fast)
    return Timed(frame_id, max(period, 1), nominal, fast, deadline)


def _sent(model: Network, supplies: list[Supply]) -> dict[FrameId, Timed]:
    """What the items will send; an id in several entries with its shortest period and most bits."""
    sent: dict[FrameId, Timed] = {}
    for supply in supplies:
        frame_id, length = _frame_id(supply), supply.length or 0
        period = max(round((supply.period_ms or 0) * 1e6), 1)
        bits, fast = _bits(
            length, supply.is_extended, fd=length > 8, switched=length > 8 and model.fd_bitrate is not None
        )
        known = sent.get(frame_id)
        if known is not None:
            period = min(period, known.period_ns)
            bits, fast = max((bits, fast), (known.bits, known.fast_bits), key=sum)
        sent[frame_id] = Timed(frame_id, period, bits, fast, period)
    return sent


def _bits(length: int, extended: bool, *, fd: bool, switched: bool) -> tuple[int, int]:
    """Most bits of a frame by phase."""
    if not fd:
        return worst_case_bits(min(length, 8), extended=extended), 0
    nominal, fast = worst_case_fd_bits(length, extended=extended)
    return (nominal, fast) if switched else (nominal + fast, 0)


def _share(load: ChannelLoad, model: Network) -> Fraction:
    _, second = load.busiest(LoadRates(model.bitrate, model.fd_bitrate))
    return _seconds(second.nominal, second.fast, model)


def _seconds(bits: float, fast_bits: float, model: Network) -> Fraction:
    """How long bits of the nominal and the data phase are on the wire."""
    return Fraction(bits) / model.bitrate + Fraction(fast_bits) / (model.fd_bitrate or model.bitrate)


def _added(message: Timed, model: Network) -> Fraction:
    """Share of the wire that a message takes, every frame as long as it can be."""
    return _seconds(message.bits, message.fast_bits, model) * 1_000_000_000 / message.period_ns


def _freed(seen: MessageLoad, model: Network) -> Fraction:
    """Share of the wire that goes away with a message; one that is not cyclic may not be in that second."""
    if not seen.is_cyclic or not seen.median_ns:
        return Fraction(0)
    return _seconds(seen.bits, seen.fast_bits, model) * 1_000_000_000 / Fraction(seen.median_ns)
