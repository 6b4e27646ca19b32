"""What a survey points out about a channel, gravest first, each with the next step."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from netcheck.database import Database
from netcheck.network._errors import LOST, WRONG_RATE
from netcheck.network._identity import least_ids, may_be_chance, messages_by_id
from netcheck.network._ranking import PERIOD_BAND
from netcheck.network._survey_book import MOST_IDS
from netcheck.network._survey_model import ChannelSurvey, Ranked, Remark, RemarkKind, SurveyedMessage
from netcheck.network._traffic import FrameId, Traffic

OVERLOAD: Final = 0.8  # of the busiest second
_ERRORS_ONLY: Final = 0.9
_FEW_FRAMES: Final = 10
_LEAST_SECONDS: Final = 5.0  # before few frames mean that a network is asleep
_MIXED_SHARE: Final = 0.2
_GOOD_CHECKS: Final = 0.99
_NAMED: Final = 3
_FULL: Final = 1.02  # a time stamp may be a frame late
_USUAL: Final = "500000, 250000, 125000, 100000, 83333, 50000, 33333, 1000000"


def remarks_on(
    channel: ChannelSurvey, traffic: Traffic, networks: Mapping[str, Database], beyond: int
) -> tuple[Remark, ...]:
    """All remarks about a channel. beyond: frames of ids that were too many to look at."""
    found = [*_on_errors(channel), *_on_silence(channel)]
    if networks and channel.messages:
        found += _on_network(channel, traffic, networks)
    found += [*_on_load(channel), *_on_messages(channel), *_on_claims(channel)]
    if beyond:
        text = f"more than {MOST_IDS:,} different ids; {beyond:,} frames of further ids are counted only"
        found.append(Remark(RemarkKind.IDS_BEYOND, text, "Look for a test device that sends random frames."))
    return tuple(found)


def _on_errors(channel: ChannelSurvey) -> Iterator[Remark]:
    errors, frames = channel.error_frames, channel.frames
    if not errors:
        return
    kinds = ", ".join(f"{kind} {count:,}" for kind, count in channel.errors.items())
    if errors >= _ERRORS_ONLY * frames:
        text = f"{errors:,} of {frames:,} frames are error frames ({kinds})"
        if "no-acknowledgement" in channel.errors and not WRONG_RATE & channel.errors.keys():
            text += ": nobody acknowledges, so nobody else is awake on this pair, or it is not connected"
            step = "Wake the vehicle, check the connection; record in listen-only mode."
        else:
            text += ": most likely the recorder's bit rate is wrong, or the two wires are swapped or shorted"
            step = f"Set another bit rate ({_USUAL}), in listen-only mode; then check high and low."
        yield Remark(RemarkKind.ONLY_ERRORS, text, step)
    else:
        share = f"{errors / frames:.1%}" if errors >= frames / 1000 else "under 0.1 %"
        text = f"{errors:,} error frame{'s' if errors > 1 else ''}, {share} of all ({kinds})"
        step = "Check plug contacts, stub length and termination (60 Ω across the pair, battery off)."
        yield Remark(RemarkKind.ERRORS, text, step)
    if lost := channel.errors.get(LOST):
        often = f"{lost:,} times" if lost > 1 else "once"
        text = f"the recorder lost frames {often} (its buffer was full): do not trust counts and gaps"
        yield Remark(RemarkKind.FRAMES_LOST, text, "Record again with less load on the computer.")


def _on_silence(channel: ChannelSurvey) -> Iterator[Remark]:
    messages = channel.data_frames
    if channel.error_frames > messages or messages >= _FEW_FRAMES:
        return
    if not messages:
        if channel.remote_frames:
            text = "no message, only remote frames: somebody asks and nobody answers"
            step = (
                "Wake the vehicle (ignition on, open a door), record again; if it stays so, try another pair."
            )
            yield Remark(RemarkKind.NEARLY_SILENT, text, step)
        return
    text = f"only {messages} frame{'s' if messages > 1 else ''} in {channel.seconds:.0f} s"
    if channel.seconds < _LEAST_SECONDS:
        text = text.replace(" in 0 s", "")
        step = "Record for a minute with the ignition on; if it stays so, try another pair."
        yield Remark(RemarkKind.NEARLY_SILENT, f"{text}: too short to say more", step)
    else:
        step = "Ignition on, open a door; if it stays so, try another pair."
        yield Remark(RemarkKind.NEARLY_SILENT, f"{text}: the network is asleep", step)


def _on_network(
    channel: ChannelSurvey, traffic: Traffic, networks: Mapping[str, Database]
) -> Iterator[Remark]:
    mixed = _mixed(channel, traffic, networks)
    if mixed is not None:
        one, other = mixed
        text = (
            f"two networks are on this channel: ids of {one.network} ({one.explained}) and of "
            f"{other.network} ({other.explained})"
        )
        step = "Record them on a channel each (see that no wire joins the two pairs), or split the log."
        yield Remark(RemarkKind.TWO_NETWORKS, text, step)
        return
    best = channel.candidates[0]
    if channel.network is not None:
        if may_be_chance(best.explained, traffic, networks[best.network]):
            text = (
                f"whether this is {best.network} is doubtful: {best.explained} of {best.ids:,} ids fit its "
                f"DBC, and any DBC of {best.messages} messages may fit as many by accident"
            )
            step = "Give the DBC files of this very vehicle, and look whether what they decode makes sense."
            yield Remark(RemarkKind.DOUBTFUL, text, step)
        return
    possible = [entry for entry in channel.candidates if entry.explained >= entry.least]
    if not possible:
        ranked = sorted(channel.candidates, key=lambda entry: -entry.explained)
        text = f"none of {_listed([entry.network for entry in ranked])}: {_explains(ranked[0])}"
        step = "Try another pair, or look for the DBC of another model year."
        yield Remark(RemarkKind.NO_NETWORK, text, step)
        return
    rivals = [entry for entry in channel.candidates if 2 * best.explained < 3 * entry.explained]
    names = [entry.network for entry in rivals if entry.network != best.network]
    text = f"not clear: {_explains(best)}, but {_listed(names)} nearly as many or more"
    if best.score > max(entry.score for entry in rivals if entry is not best) * 1.1:
        text += f"; lengths, times and values fit {best.network} better"
    step = "Record longer with the ignition on, or name the channel's network in the job file."
    yield Remark(RemarkKind.NOT_CLEAR, text, step)


def _explains(entry: Ranked) -> str:
    return f"{entry.network} explains {entry.explained} of {entry.ids} ids"


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
        (
            entry
            for entry in channel.candidates
            if not may_be_chance(entry.explained, traffic, networks[entry.network])
        ),
        key=lambda entry: -entry.explained,
    )
    for place, one in enumerate(by_count):
        for other in by_count[place + 1 :]:
            mine, theirs = explained[one.network], explained[other.network]
            least = max(
                _MIXED_SHARE * len(traffic.lengths), *(least_ids(networks[e.network]) for e in (one, other))
            )
            if all(
                len(a - b) >= least and 2 * len(a - b) > len(a) for a, b in ((mine, theirs), (theirs, mine))
            ):
                return one, other
        break  # only together with the one that explains the most
    return None


def _on_load(channel: ChannelSurvey) -> Iterator[Remark]:
    if channel.data_frames >= _FEW_FRAMES and not channel.seconds:
        text = "all frames have one time: nothing is known of periods, gaps and load"
        yield Remark(RemarkKind.NO_TIMES, text, "Record with time stamps; candump -l writes them.")
    load, rates = channel.load, channel.rates
    if load is None or rates is None or channel.seconds < 1:
        return
    if load.peak_1s > _FULL and not load.is_bound:
        text = f"{load.peak_1s:.0%} of {rates.nominal:,} bit/s in the busiest second: not the true bit rate"
        step = (
            "Give the true --bitrate; if it is true, the log joins several networks or its times are made up."
        )
        yield Remark(RemarkKind.RATE_IMPOSSIBLE, text, step)
    elif load.peak_1s > OVERLOAD:
        text = f"load {load.peak_1s:.0%} in the busiest second: messages of low priority come late"
        yield Remark(
            RemarkKind.OVERLOAD, text, "Add nothing that sends here without working out response times."
        )


def _on_messages(channel: ChannelSurvey) -> Iterator[Remark]:
    short = [m for m in channel.messages if _mostly_short(m)]
    if short:
        text = f"shorter than the DBC says: {_names(short)}"
        yield Remark(
            RemarkKind.TOO_SHORT,
            text,
            f"Do not rely on signals of {_names(short)}: the DBC may not fit this vehicle.",
        )
    late = [m for m in channel.messages if _is_late(m)]
    if late:
        text = f"slower than the DBC says: {_names(late)}"
        yield Remark(
            RemarkKind.LATE,
            text,
            f"Compare {_names(late)} with another capture; the DBC may be of another model year.",
        )
    paused = [m for m in channel.messages if m.timing.has_paused]
    if paused:
        longest = max(m.timing.longest for m in paused) / 1000
        text = f"away for up to {longest:.3g} s while others were there: {_names(paused)}"
        step = (
            "If the ignition was on and its function in use all the time, look at the supply and the plugs "
            f"of what sends {_names(paused)}."
        )
        yield Remark(RemarkKind.PAUSED, text, step)
    jumping = [m for m in channel.messages if m.counter and m.counter.share < _GOOD_CHECKS]
    if jumping:
        text = f"the counter jumps at over 1 % of the steps: {_names(jumping)}"
        step = (
            "Frames were lost, or two senders share the id: record again with less load on the computer; if "
            "it stays, look for a second module that sends it."
        )
        yield Remark(RemarkKind.COUNTER_JUMPS, text, step)
    wrong = [m for m in channel.messages if m.checksum and m.checksum.share < _GOOD_CHECKS]
    if wrong:
        text = f"the checksum is wrong in over 1 % of the frames: {_names(wrong)}"
        step = (
            "Look for a second sender of the id, such as a module that was added; what reads these frames "
            "may throw the wrong ones away."
        )
        yield Remark(RemarkKind.CHECK_FAILS, text, step)


def _on_claims(channel: ChannelSurvey) -> Iterator[Remark]:
    for message in channel.messages:
        parts = message.j1939
        if parts is None or not parts.has_address or len(message.claims) < 2:
            continue
        several = "two" if len(message.claims) == 2 else f"at least {len(message.claims)}"
        names = _listed([str(name) for name in message.claims])
        text = f"{several} devices claim J1939 address {parts.source}: {names}"
        step = (
            "Only one can have it, and the smaller number wins: give a part that was added another address, "
            "or unplug it and record again. A module that was changed or coded meanwhile looks the same."
        )
        yield Remark(RemarkKind.ADDRESS_CONFLICT, text, step)


def _mostly_short(message: SurveyedMessage) -> bool:
    if message.declared_length is None:
        return False
    short = sum(count for length, count in message.lengths.items() if length < message.declared_length)
    return 2 * short > message.count


def _is_late(message: SurveyedMessage) -> bool:
    stated, period = message.declared_cycle_ms, message.timing.period
    return bool(stated and period and message.timing.cyclic and period > (1 + PERIOD_BAND) * stated)


def _names(messages: list[SurveyedMessage]) -> str:
    return _listed([message.name or str(message.frame_id) for message in messages])


def _listed(names: list[str]) -> str:
    more = len(names) - _NAMED
    return ", ".join(names[:_NAMED]) + (f" and {more:,} more" if more > 0 else "")
