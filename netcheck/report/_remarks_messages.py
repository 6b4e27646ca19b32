"""All that is said of messages and of load: what is late, paused, too short or fails a check."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final

from netcheck.network import (
    AddressConflict,
    BusLoad,
    IdsBeyond,
    MessagesRemark,
    PausedMessages,
    RemarkKind,
)
from netcheck.report._remark_parts import RemarkWords, listed


def _rate_impossible(remark: BusLoad) -> RemarkWords:
    return RemarkWords(
        f"{remark.share:.0%} of {remark.bitrate:,} bit/s in the busiest second: not the true bit rate",
        "The bit rate is wrong, the log joins several networks, or its times are made up.",
        "Give the true bit rate with --bitrate, or correct it in the vehicle file.",
        is_grave=True,
        bars_plan=True,
    )


def _overload(remark: BusLoad) -> RemarkWords:
    return RemarkWords(
        f"load {remark.share:.0%} in the busiest second: low-priority messages are delayed",
        next="Work out the response times before you add a part that sends here.",
    )


def _too_short(remark: MessagesRemark) -> RemarkWords:
    names = listed(remark.messages)
    return RemarkWords(
        f"shorter than in the DBC: {names}",
        "The DBC is of another model year or another vehicle.",
        f"Do not rely on signals of {names}.",
    )


def _late(remark: MessagesRemark) -> RemarkWords:
    names = listed(remark.messages)
    return RemarkWords(
        f"slower than in the DBC: {names}",
        "The DBC is of another model year, or frames were lost.",
        f"Compare {names} with another capture.",
    )


def _paused(remark: PausedMessages) -> RemarkWords:
    names = listed(remark.messages)
    return RemarkWords(
        f"missing for up to {remark.longest_s:.3g} s while other messages came: {names}",
        next="If the ignition was on and its function in use all the time, check the supply and the plugs "
        "of "
        f"the module that sends {names}.",
    )


def _counter_jumps(remark: MessagesRemark) -> RemarkWords:
    return RemarkWords(
        f"the counter skips or repeats at over 1 % of the steps: {listed(remark.messages)}",
        "Two modules send the same id, or frames were lost.",
        "Record again. If the counter still jumps, look for a second module that sends this id.",
    )


def _check_fails(remark: MessagesRemark) -> RemarkWords:
    return RemarkWords(
        f"the checksum is wrong in over 1 % of the frames: {listed(remark.messages)}",
        "A second module sends this id.",
        "Look for a second sender, such as an added module. Receivers may discard the wrong frames.",
    )


def _address_conflict(remark: AddressConflict) -> RemarkWords:
    count = len(remark.devices)
    several = "two" if count == 2 else f"at least {count}"
    return RemarkWords(
        f"{several} devices claim J1939 address {remark.address}: {listed(remark.devices)}",
        "Only one can have it: the smaller number wins. A module that was replaced or coded during the "
        "recording looks the same.",
        "Give an added part another address, or unplug it and record again.",
    )


def _ids_beyond(remark: IdsBeyond) -> RemarkWords:
    return RemarkWords(
        f"more than {remark.most:,} different ids; {remark.frames:,} frames of further ids are only counted",
        next="Look for a test device that sends random frames.",
    )


MESSAGE_WORDS: Final[Mapping[RemarkKind, Callable[[Any], RemarkWords]]] = {
    RemarkKind.RATE_IMPOSSIBLE: _rate_impossible,
    RemarkKind.OVERLOAD: _overload,
    RemarkKind.TOO_SHORT: _too_short,
    RemarkKind.LATE: _late,
    RemarkKind.PAUSED: _paused,
    RemarkKind.COUNTER_JUMPS: _counter_jumps,
    RemarkKind.CHECK_FAILS: _check_fails,
    RemarkKind.ADDRESS_CONFLICT: _address_conflict,
    RemarkKind.IDS_BEYOND: _ids_beyond,
}
