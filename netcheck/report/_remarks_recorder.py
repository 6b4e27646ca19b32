"""All that is said of the recording itself: error frames, silence, frames lost, stalled or in batches."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any, Final

from netcheck.network import (
    BatchedStamps,
    ErrorFrames,
    FewFrames,
    FramesMissing,
    LostByRecorder,
    RemarkKind,
    SameTimes,
    Stalled,
)
from netcheck.report._remark_parts import RECORD_AGAIN, RemarkWords, listed
from netcheck.words import counted

_RATES: Final = "500000, 250000, 125000, 100000, 83333, 50000, 33333, 1000000"


def _only_errors(remark: ErrorFrames) -> RemarkWords:
    found = f"{remark.errors:,} of {remark.frames:,} frames are error frames ({_error_kinds(remark)})"
    if remark.is_unacknowledged:
        return RemarkWords(
            found,
            "No other node acknowledges. The network is asleep, or the recorder is not connected to it.",
            "Wake the vehicle and check the connection. Record in listen-only mode.",
            is_grave=True,
            bars_plan=True,
        )
    return RemarkWords(
        found,
        "The recorder is set to the wrong bit rate, or high and low are swapped or shorted.",
        f"Try another bit rate ({_RATES}) in listen-only mode. Then check high and low.",
        is_grave=True,
        bars_plan=True,
    )


def _errors(remark: ErrorFrames) -> RemarkWords:
    part = remark.errors / remark.frames
    share = f"{part:.1%}" if remark.errors >= remark.frames / 1000 else "under 0.1 %"
    return RemarkWords(
        f"{counted(remark.errors, 'error frame')}, {share} of all ({_error_kinds(remark)})",
        next="Check the plug contacts, the stub length and the termination (60 Ω across the pair, battery "
        "off).",
    )


def _error_kinds(remark: ErrorFrames) -> str:
    return ", ".join(f"{kind} {count:,}" for kind, count in remark.kinds.items())


def _frames_lost(remark: LostByRecorder) -> RemarkWords:
    often = "once" if remark.times == 1 else f"{remark.times:,} times"
    return RemarkWords(
        f"the recorder lost frames {often}: its receive buffer was full",
        next=f"{RECORD_AGAIN} Do not trust counts and gaps of this recording.",
        is_grave=True,
        bars_plan=True,
    )


def _nearly_silent(remark: FewFrames) -> RemarkWords:
    if not remark.frames:
        return RemarkWords(
            "no message, only remote frames",
            "A module asks for data and no module answers.",
            "Wake the vehicle (ignition on, open a door) and record again. If nothing changes, try another "
            "pair.",
        )
    frames, seconds = counted(remark.frames, "frame"), round(remark.seconds)
    found = f"only {frames} in {seconds} s" if seconds else f"only {frames}"
    if remark.is_short:
        return RemarkWords(
            f"{found}: too short to say more",
            next="Record for a minute with the ignition on. If nothing changes, try another pair.",
        )
    return RemarkWords(
        f"{found}: the network is asleep",
        next="Switch the ignition on and open a door. If nothing changes, try another pair.",
    )


def _no_times(remark: SameTimes) -> RemarkWords:
    why = f"all {remark.frames:,} frames have the same time"
    if not remark.is_stamped:
        why = "the lines have no time stamps"
    return RemarkWords(
        f"{why}: periods, gaps and load are not known",
        next="Record with time stamps (candump -l, or a logger that writes them).",
    )


def _frames_missing(remark: FramesMissing) -> RemarkWords:
    names = listed(remark.messages)
    share = f"{remark.share:.0%}" if remark.share >= 0.1 else f"{remark.share:.1%}"
    found = f"{share} of the frames of {names} are missing ({remark.missing:,}, by their counters and times)"
    if remark.is_shared:
        if remark.moments:
            found += f"; several messages lost frames at the same moment, {counted(remark.moments, 'time')}"
        return RemarkWords(
            found,
            "The recorder lost the frames. This is no fault of the vehicle.",
            f"{RECORD_AGAIN} Do not trust counts and gaps of this recording.",
            bars_plan=True,
        )
    if not remark.complete:
        return RemarkWords(
            found,
            "The recorder lost the frames, or a gateway passes on only part of the message. No other "
            "message has a "
            "counter that would tell.",
            "Record again. If nothing changes, record on the sender's own network.",
        )
    return RemarkWords(
        found,
        f"The counters of {counted(remark.complete, 'other message')} go on without such losses. The "
        "recorder "
        "filters this message, or a gateway passes on only part of it.",
        f"Check the recorder's filters, and record {names} on its sender's own network.",
    )


def _recorder_stalled(remark: Stalled) -> RemarkWords:
    found = f"all messages stopped together {_often(remark)}"
    if remark.is_late:
        return RemarkWords(
            f"{found}; the frames came later in a burst",
            "The recorder was busy and stamped the frames late. This is no fault of the vehicle.",
            f"{RECORD_AGAIN} Do not trust short gaps of this recording.",
        )
    return RemarkWords(
        f"{found}; counters show that frames are missing",
        "The recorder lost the frames. This is no fault of the vehicle.",
        f"{RECORD_AGAIN} Do not trust counts and gaps of this recording.",
    )


def _bus_stopped(remark: Stalled) -> RemarkWords:
    found = f"all messages stopped together {_often(remark)}"
    if remark.counters:
        return RemarkWords(
            f"{found}; no counter skipped, so no frame was sent",
            "The bus was disturbed, or the supply of the modules dropped.",
            "Check the wiring of the pair and the battery voltage. Record error frames too if your recorder "
            "can.",
        )
    return RemarkWords(
        found,
        "The recorder lost the frames, or no module sent. No message has a counter that would tell.",
        "Record again, with another interface or computer if you have one.",
    )


def _often(remark: Stalled) -> str:
    if remark.times == 1:
        return f"once, for {remark.longest_ms:.0f} ms"
    return f"{remark.times:,} times, for up to {remark.longest_ms:.0f} ms"


def _stamps_batched(remark: BatchedStamps) -> RemarkWords:
    return RemarkWords(
        f"{remark.share:.0%} of the frames are stamped closer together than frames can be sent",
        f"The recorder handed frames over in batches, about every {remark.batch_ms:.3g} ms. This is no "
        "fault of "
        "the vehicle.",
        "Do not rely on jitter and on the busiest 100 ms of this recording. Counts and values are not "
        "affected.",
    )


RECORDER_WORDS: Final[Mapping[RemarkKind, Callable[[Any], RemarkWords]]] = {
    RemarkKind.ONLY_ERRORS: _only_errors,
    RemarkKind.ERRORS: _errors,
    RemarkKind.FRAMES_LOST: _frames_lost,
    RemarkKind.NEARLY_SILENT: _nearly_silent,
    RemarkKind.NO_TIMES: _no_times,
    RemarkKind.FRAMES_MISSING: _frames_missing,
    RemarkKind.RECORDER_STALLED: _recorder_stalled,
    RemarkKind.BUS_STOPPED: _bus_stopped,
    RemarkKind.STAMPS_BATCHED: _stamps_batched,
}
