"""What a survey points out about a channel, gravest first: kinds and facts, no sentence."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import Final

from netcheck.database import Database
from netcheck.network._errors import LOST, WRONG_RATE
from netcheck.network._identity import IdentityLevel, messages_by_id
from netcheck.network._ranking import PERIOD_BAND
from netcheck.network._remark_model import (
    AddressConflict,
    BatchedStamps,
    BusLoad,
    DiagnosticsOnly,
    DoubtfulNetwork,
    ErrorFrames,
    FewFrames,
    FramesMissing,
    IdsBeyond,
    LostByRecorder,
    MessagesRemark,
    MixedNetworks,
    NamedFrame,
    NetworkFit,
    NoNetwork,
    NotClear,
    OtherEdition,
    PausedMessages,
    Remark,
    RemarkKind,
    SameTimes,
    Stalled,
)
from netcheck.network._survey_model import ChannelSurvey, Ranked, SurveyedMessage
from netcheck.network._tally_book import MOST_IDS
from netcheck.network._traffic import FrameId, Traffic

OVERLOAD: Final = 0.8  # of the busiest second
_ERRORS_ONLY: Final = 0.9
_FEW_FRAMES: Final = 10
_LEAST_SECONDS: Final = 5.0  # before few frames mean that a network is asleep
# Awake, before a longer recording is unlikely to bring further ids: a person's minute. Our own rule.
LONG_SECONDS: Final = 55.0
_MIXED_SHARE: Final = 0.2
_GOOD_CHECKS: Final = 0.99
_FULL: Final = 1.02  # a time stamp may be a frame late
_MOSTLY: Final = 0.5  # of the messages with a counter: then the recorder lost the frames


def remarks_on(
    channel: ChannelSurvey, traffic: Traffic, networks: Mapping[str, Database], beyond: int
) -> tuple[Remark, ...]:
    """All remarks about a channel.

    traffic: without ids of diagnostics
    beyond:  frames of ids that were too many to look at
    """
    found = [*_on_errors(channel), *_on_recorder(channel), *_on_silence(channel)]
    if networks and channel.messages:
        found += _on_network(channel, traffic, networks)
    found += [*_on_load(channel), *_on_messages(channel), *_on_claims(channel)]
    if beyond:
        found.append(IdsBeyond(RemarkKind.IDS_BEYOND, MOST_IDS, beyond))
    return tuple(found)


def _on_errors(channel: ChannelSurvey) -> Iterator[Remark]:
    errors, frames = channel.error_frames, channel.frames
    if not errors:
        return
    kind = RemarkKind.ONLY_ERRORS if errors >= _ERRORS_ONLY * frames else RemarkKind.ERRORS
    is_unacknowledged = "no-acknowledgement" in channel.errors and not WRONG_RATE & channel.errors.keys()
    yield ErrorFrames(kind, errors, frames, channel.errors, is_unacknowledged)
    if lost := channel.errors.get(LOST):
        yield LostByRecorder(RemarkKind.FRAMES_LOST, lost)


def _on_recorder(channel: ChannelSurvey) -> Iterator[Remark]:
    """What the recorder did to the frames, told apart from what the vehicle did."""
    traces = channel.recorder
    skipping = _skipping(channel)
    if skipping:
        ids = {message.frame_id for message in skipping}
        missing = sum(entry.missing for entry in traces.skipping if entry.frame_id in ids)
        received = sum(entry.frames for entry in traces.skipping if entry.frame_id in ids)
        yield FramesMissing(
            RemarkKind.FRAMES_MISSING,
            _named(skipping),
            missing,
            traces.moments,
            missing / (missing + received),
            is_shared=len(skipping) >= 2 and len(skipping) > _MOSTLY * traces.counting,
            complete=traces.counting - len(skipping),
        )
    if traces.stalls and not traces.stalls_are_batches:
        late, lost = traces.stalls_late, traces.stalls_lost
        kind = RemarkKind.RECORDER_STALLED if late or lost else RemarkKind.BUS_STOPPED
        yield Stalled(kind, traces.stalls, traces.longest_stall_ms, late, traces.stall_counters)
    if traces.is_batched and channel.seconds:
        yield BatchedStamps(RemarkKind.STAMPS_BATCHED, traces.batched, traces.batch_ms)


def _skipping(channel: ChannelSurvey) -> list[SurveyedMessage]:
    """Messages of which over 1 % of the frames are missing, by counter and time alike."""
    return [message for message in channel.messages if channel.recorder.loses(message.frame_id)]


def _on_silence(channel: ChannelSurvey) -> Iterator[Remark]:
    messages = channel.data_frames
    if channel.error_frames > messages or messages >= _FEW_FRAMES:
        return
    if messages or channel.remote_frames:
        is_short = channel.seconds < _LEAST_SECONDS
        kind, remote = RemarkKind.NEARLY_SILENT, channel.remote_frames
        yield FewFrames(kind, messages, remote, channel.seconds, is_short)


def _on_network(
    channel: ChannelSurvey, traffic: Traffic, networks: Mapping[str, Database]
) -> Iterator[Remark]:
    if not traffic.lengths:
        yield DiagnosticsOnly(RemarkKind.DIAGNOSTICS_ONLY, len(channel.messages))
        return
    mixed = _mixed(channel, traffic, networks)
    if mixed is not None:
        yield MixedNetworks(RemarkKind.TWO_NETWORKS, *map(_fit, mixed))
        return
    best = channel.candidates[0]
    if channel.fit is not None:
        fit = channel.fit
        if channel.identity is IdentityLevel.DOUBTFUL:
            is_chance = not best.is_beyond_chance
            yield DoubtfulNetwork(
                RemarkKind.DOUBTFUL, _fit(best), best.messages, is_chance, fit.better, best.missing
            )
        elif fit.is_partial:
            yield OtherEdition(RemarkKind.OTHER_EDITION, fit)
        return
    if not any(entry.explained >= entry.least and entry.is_beyond_chance for entry in channel.candidates):
        ranked = sorted(channel.candidates, key=lambda entry: -entry.explained)
        names = tuple(entry.network for entry in ranked)
        yield NoNetwork(RemarkKind.NO_NETWORK, names, _fit(ranked[0]))
        return
    rivals = [entry for entry in channel.candidates if 2 * best.explained < 3 * entry.explained]
    others = [entry for entry in rivals if entry is not best]
    yield NotClear(
        RemarkKind.NOT_CLEAR,
        _fit(best),
        tuple(entry.network for entry in others),
        is_better_fit=best.score > max(entry.score for entry in others) * 1.1,
        more_may_help=_more_may_help(channel, traffic, [networks[entry.network] for entry in rivals]),
    )


def _fit(entry: Ranked) -> NetworkFit:
    return NetworkFit(entry.network, entry.explained, entry.ids)


def _more_may_help(channel: ChannelSurvey, traffic: Traffic, rivals: Iterable[Database]) -> bool:
    """Whether a longer recording may tell DBCs apart: some have ids of their own that did not come yet."""
    if channel.awake_seconds >= LONG_SECONDS:
        return False
    ids: list[set[FrameId]] = [
        {FrameId(message.can_id, message.is_extended) for message in database.messages} for database in rivals
    ]
    shared = ids[0].intersection(*ids[1:])
    return bool(ids[0].union(*ids[1:]) - shared - traffic.lengths.keys())


def _mixed(
    channel: ChannelSurvey, traffic: Traffic, networks: Mapping[str, Database]
) -> tuple[Ranked, Ranked] | None:
    """Two networks of which each explains a fifth of the ids, and most of its own, without the other."""
    explained: dict[str, set[FrameId]] = {}
    for name, database in networks.items():
        known = messages_by_id(traffic, database).items()
        explained[name] = {
            frame_id for frame_id, message in known if traffic.mostly_at_least(frame_id, message.length)
        }
    by_count = sorted(
        (entry for entry in channel.candidates if entry.is_beyond_chance),
        key=lambda entry: -entry.explained,
    )
    for place, one in enumerate(by_count):
        for other in by_count[place + 1 :]:
            mine, theirs = explained[one.network], explained[other.network]
            least = max(_MIXED_SHARE * len(traffic.lengths), one.least, other.least)
            if all(
                len(a - b) >= least and 2 * len(a - b) > len(a) for a, b in ((mine, theirs), (theirs, mine))
            ):
                return one, other
        break  # only together with the one that explains the most
    return None


def _on_load(channel: ChannelSurvey) -> Iterator[Remark]:
    if channel.data_frames >= _FEW_FRAMES and not channel.seconds:
        yield SameTimes(RemarkKind.NO_TIMES, channel.data_frames, channel.has_times)
    load, rates = channel.load, channel.rates
    if load is None or rates is None or channel.seconds < 1:
        return
    if load.peak_1s > _FULL and not load.is_bound:
        yield BusLoad(RemarkKind.RATE_IMPOSSIBLE, load.peak_1s, rates.nominal)
    elif load.peak_1s > OVERLOAD:
        yield BusLoad(RemarkKind.OVERLOAD, load.peak_1s, rates.nominal)


def _on_messages(channel: ChannelSurvey) -> Iterator[Remark]:
    """Frames that the recorder lost make counters jump and periods long: that is no fault of the vehicle."""
    skipping = {message.frame_id for message in _skipping(channel)}
    whole = [message for message in channel.messages if message.frame_id not in skipping]
    if short := [m for m in channel.messages if _mostly_short(m)]:
        yield MessagesRemark(RemarkKind.TOO_SHORT, _named(short))
    if late := [m for m in whole if _is_late(m)]:
        yield MessagesRemark(RemarkKind.LATE, _named(late))
    if paused := [m for m in channel.messages if m.timing.has_paused]:
        longest = max(m.timing.longest for m in paused) / 1000
        yield PausedMessages(RemarkKind.PAUSED, _named(paused), longest)
    if jumping := [m for m in whole if m.counter and m.counter.share < _GOOD_CHECKS]:
        yield MessagesRemark(RemarkKind.COUNTER_JUMPS, _named(jumping))
    if wrong := [m for m in channel.messages if m.checksum and m.checksum.share < _GOOD_CHECKS]:
        yield MessagesRemark(RemarkKind.CHECK_FAILS, _named(wrong))


def _on_claims(channel: ChannelSurvey) -> Iterator[Remark]:
    for message in channel.messages:
        parts = message.j1939
        if parts is not None and parts.has_address and len(message.claims) >= 2:
            devices = tuple(str(name) for name in message.claims)
            yield AddressConflict(RemarkKind.ADDRESS_CONFLICT, parts.source, devices)


def _mostly_short(message: SurveyedMessage) -> bool:
    if message.declared_length is None:
        return False
    short = sum(count for length, count in message.lengths.items() if length < message.declared_length)
    return 2 * short > message.count


def _is_late(message: SurveyedMessage) -> bool:
    stated, period = message.declared_cycle_ms, message.timing.period
    return bool(stated and period and message.timing.cyclic and period > (1 + PERIOD_BAND) * stated)


def _named(messages: Iterable[SurveyedMessage]) -> tuple[NamedFrame, ...]:
    return tuple(NamedFrame(message.frame_id, message.name) for message in messages)
