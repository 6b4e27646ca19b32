"""All that is said of a survey's remarks: one entry for each kind."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from netcheck.network import (
    AddressConflict,
    BatchedStamps,
    BusLoad,
    ChecksumKind,
    DataIdMode,
    DataIdProblem,
    DataIdProblemKind,
    DbcFit,
    DiagnosticsOnly,
    DoubtfulNetwork,
    ErrorFrames,
    FewFrames,
    FramesMissing,
    IdsBeyond,
    LostByRecorder,
    MessagesRemark,
    MixedNetworks,
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
from netcheck.words import counted, listing

_RATES: Final = "500000, 250000, 125000, 100000, 83333, 50000, 33333, 1000000"
_MOST_NAMES: Final = 3
_RECORD_AGAIN: Final = "Close other programs on the computer, use another USB port, and record again."


@dataclass(frozen=True)
class RemarkWords:
    """What is said of a remark.

    found:   what was found, a clause without a full stop
    cause:   the likely cause, sentences; "" where ``found`` says it or nothing is known
    next:    the next check, sentences; "" for nothing
    channel: in place of the network's name, at the head of the channel; "" to leave that as it is
    match:   after how many ids match, in few words; ""
    is_grave: nothing else about the channel can be relied upon
    bars_plan: the capture is no good for a plan yet
    """

    found: str
    cause: str = ""
    next: str = ""
    channel: str = ""
    match: str = ""
    is_grave: bool = False
    bars_plan: bool = False


def remark_words(remark: Remark) -> RemarkWords:
    """The words of one remark."""
    return REMARK_WORDS[remark.kind](remark)


def _error_kinds(remark: ErrorFrames) -> str:
    return ", ".join(f"{kind} {count:,}" for kind, count in remark.kinds.items())


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


def _frames_lost(remark: LostByRecorder) -> RemarkWords:
    often = "once" if remark.times == 1 else f"{remark.times:,} times"
    return RemarkWords(
        f"the recorder lost frames {often}: its receive buffer was full",
        next=f"{_RECORD_AGAIN} Do not trust counts and gaps of this recording.",
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


def _two_networks(remark: MixedNetworks) -> RemarkWords:
    one, two = remark.first, remark.second
    return RemarkWords(
        f"two networks are on this channel: ids of {one.network} ({one.explained}) and of {two.network} "
        f"({two.explained})",
        "Two logs were joined, the two pairs touch, or a gateway copies one network to the other.",
        "Check that no wire joins the two pairs and record each on its own channel, or split the log.",
        channel="two networks mixed",
        match="more than one network is here",
        is_grave=True,
        bars_plan=True,
    )


def _explains(fit: NetworkFit) -> str:
    return f"{fit.explained} of {counted(fit.ids, 'id')} match {fit.network}"


def _no_network(remark: NoNetwork) -> RemarkWords:
    return RemarkWords(
        f"none of {_listed(remark.networks)}: {_explains(remark.best)}",
        next="Try another pair, or look for the DBC of another model year.",
        channel="none of these networks",
        match="none of them",
    )


def _not_clear(remark: NotClear) -> RemarkWords:
    found = (
        f"several networks match: {_explains(remark.best)}, {_listed(remark.rivals)} nearly as many or more"
    )
    if remark.is_better_fit:
        found += f"; lengths, times and values fit {remark.best.network} better"
    step = "Name the channel's network in the job file."
    if remark.more_may_help:
        step = f"Record for a minute with the ignition on: ids that tell them apart may come. Or: {step}"
    return RemarkWords(found, next=step, channel="several networks match", match="several match")


def _doubtful(remark: DoubtfulNetwork) -> RemarkWords:
    fit = remark.fit
    why = "random ids would match as often" if remark.may_be_chance else "most of them did not come"
    return RemarkWords(
        f"whether this is {fit.network} is doubtful: {fit.explained} of {counted(fit.ids, 'id')} match its "
        "DBC; "
        f"it has {counted(remark.messages, 'message')}, and {why}{_better(remark.better)}",
        "This is the pair of another network, or the DBC is of another vehicle or of another edition of this "
        "network.",
        "Give the DBC files of this very vehicle. Check that the decoded values make sense.",
        channel=f"perhaps {fit.network}",
        match="doubtful",
        bars_plan=True,
    )


def _diagnostics_only(remark: DiagnosticsOnly) -> RemarkWords:
    came = "its only id is one" if remark.ids == 1 else f"all {remark.ids:,} ids are ids"
    return RemarkWords(
        f"{came} of diagnostics, which do not tell which network this is",
        "A tester was connected, and a gateway keeps the network's own messages off this pair.",
        "Record on the network itself, with no tester connected.",
        channel="diagnostics only",
        match="diagnostics only",
        bars_plan=True,
    )


def fit_text(fit: DbcFit) -> str:
    """How a DBC fits the ids that it has, a clause: lengths, and values and moving bits if there are any."""
    all_fit = fit.exact == fit.explained
    parts = [f"all {fit.explained} lengths fit" if all_fit else f"{fit.exact} of {fit.explained} lengths fit"]
    if fit.outside is not None:
        parts.append(
            f"{_share(fit.outside)} of the values out of limits" if fit.outside else "values in limits"
        )
    if fit.uncovered is not None:
        moving = f"{_share(fit.uncovered)} of the moving bits in no signal"
        parts.append(moving if fit.uncovered else "moving bits all in signals")
    return ", ".join(parts)


def _share(share: float) -> str:
    """``0.4 %``, ``12 %``."""
    if share < 0.001:
        return "under 0.1 %"
    return f"{100 * share:.1f} %" if share < 0.1 else f"{100 * share:.0f} %"


def _better(better: Sequence[NetworkFit]) -> str:
    if not better:
        return ""
    names = [f"{fit.network} ({fit.explained} of {fit.ids})" for fit in better]
    verb = "fits" if len(better) == 1 else "fit"
    return f"; by lengths, times and values {_listed(names)} {verb} better"


def fit_words(fit: DbcFit) -> RemarkWords:
    """The words of a DBC that explains less than two thirds of the ids."""
    return RemarkWords(
        f"another edition of this network? {fit.ids - fit.explained} of {counted(fit.ids, 'id')} are not in "
        f"the DBC of {fit.network}, or their frames are shorter{_better(fit.better)}",
        "The DBC is of another model year or another equipment, or it leaves out part of the messages.",
        "Compare model and model year with the vehicle file. Check that the decoded values make sense.",
        channel=f"{fit.network}, perhaps another edition",
        match="another edition of this network?",
    )


def _other_edition(remark: OtherEdition) -> RemarkWords:
    return fit_words(remark.fit)


def _no_times(remark: SameTimes) -> RemarkWords:
    return RemarkWords(
        f"all {remark.frames:,} frames have the same time: periods, gaps and load are not known",
        next="Record with time stamps. candump -l writes them.",
    )


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
    names = _listed(remark.messages)
    return RemarkWords(
        f"shorter than in the DBC: {names}",
        "The DBC is of another model year or another vehicle.",
        f"Do not rely on signals of {names}.",
    )


def _late(remark: MessagesRemark) -> RemarkWords:
    names = _listed(remark.messages)
    return RemarkWords(
        f"slower than in the DBC: {names}",
        "The DBC is of another model year, or frames were lost.",
        f"Compare {names} with another capture.",
    )


def _paused(remark: PausedMessages) -> RemarkWords:
    names = _listed(remark.messages)
    return RemarkWords(
        f"missing for up to {remark.longest_s:.3g} s while other messages came: {names}",
        next="If the ignition was on and its function in use all the time, check the supply and the plugs "
        "of "
        f"the module that sends {names}.",
    )


def _counter_jumps(remark: MessagesRemark) -> RemarkWords:
    return RemarkWords(
        f"the counter skips or repeats at over 1 % of the steps: {_listed(remark.messages)}",
        "Two modules send the same id, or frames were lost.",
        "Record again. If the counter still jumps, look for a second module that sends this id.",
    )


def _check_fails(remark: MessagesRemark) -> RemarkWords:
    return RemarkWords(
        f"the checksum is wrong in over 1 % of the frames: {_listed(remark.messages)}",
        "A second module sends this id.",
        "Look for a second sender, such as an added module. Receivers may discard the wrong frames.",
    )


def _address_conflict(remark: AddressConflict) -> RemarkWords:
    count = len(remark.devices)
    several = "two" if count == 2 else f"at least {count}"
    return RemarkWords(
        f"{several} devices claim J1939 address {remark.address}: {_listed(remark.devices)}",
        "Only one can have it: the smaller number wins. A module that was replaced or coded during the "
        "recording looks the same.",
        "Give an added part another address, or unplug it and record again.",
    )


def _ids_beyond(remark: IdsBeyond) -> RemarkWords:
    return RemarkWords(
        f"more than {remark.most:,} different ids; {remark.frames:,} frames of further ids are only counted",
        next="Look for a test device that sends random frames.",
    )


def _frames_missing(remark: FramesMissing) -> RemarkWords:
    names = _listed(remark.messages)
    share = f"{remark.share:.0%}" if remark.share >= 0.1 else f"{remark.share:.1%}"
    found = f"{share} of the frames of {names} are missing ({remark.missing:,}, by their counters and times)"
    if remark.is_shared:
        if remark.moments:
            found += f"; several messages lost frames at the same moment, {counted(remark.moments, 'time')}"
        return RemarkWords(
            found,
            "The recorder lost the frames. This is no fault of the vehicle.",
            f"{_RECORD_AGAIN} Do not trust counts and gaps of this recording.",
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
            f"{_RECORD_AGAIN} Do not trust short gaps of this recording.",
        )
    return RemarkWords(
        f"{found}; counters show that frames are missing",
        "The recorder lost the frames. This is no fault of the vehicle.",
        f"{_RECORD_AGAIN} Do not trust counts and gaps of this recording.",
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


def _listed(names: Sequence[object]) -> str:
    return listing([str(name) for name in names], most=_MOST_NAMES)


REMARK_WORDS: Final[Mapping[RemarkKind, Callable[[Any], RemarkWords]]] = {
    RemarkKind.ONLY_ERRORS: _only_errors,
    RemarkKind.FRAMES_LOST: _frames_lost,
    RemarkKind.ERRORS: _errors,
    RemarkKind.NEARLY_SILENT: _nearly_silent,
    RemarkKind.TWO_NETWORKS: _two_networks,
    RemarkKind.NO_NETWORK: _no_network,
    RemarkKind.NOT_CLEAR: _not_clear,
    RemarkKind.DOUBTFUL: _doubtful,
    RemarkKind.DIAGNOSTICS_ONLY: _diagnostics_only,
    RemarkKind.OTHER_EDITION: _other_edition,
    RemarkKind.NO_TIMES: _no_times,
    RemarkKind.RATE_IMPOSSIBLE: _rate_impossible,
    RemarkKind.OVERLOAD: _overload,
    RemarkKind.TOO_SHORT: _too_short,
    RemarkKind.LATE: _late,
    RemarkKind.PAUSED: _paused,
    RemarkKind.COUNTER_JUMPS: _counter_jumps,
    RemarkKind.CHECK_FAILS: _check_fails,
    RemarkKind.ADDRESS_CONFLICT: _address_conflict,
    RemarkKind.IDS_BEYOND: _ids_beyond,
    RemarkKind.FRAMES_MISSING: _frames_missing,
    RemarkKind.RECORDER_STALLED: _recorder_stalled,
    RemarkKind.BUS_STOPPED: _bus_stopped,
    RemarkKind.STAMPS_BATCHED: _stamps_batched,
}


@dataclass(frozen=True)
class ChecksumWords:
    """short: in a narrow column; full: in a line of its own; tried: in a list of kinds, or ""."""

    short: str
    full: str
    tried: str


CHECKSUM_WORDS: Final[Mapping[ChecksumKind, ChecksumWords]] = {
    ChecksumKind.CRC_J1850: ChecksumWords("CRC", "CRC-8 J1850", "CRC-8 J1850"),
    ChecksumKind.CRC_2F: ChecksumWords("CRC", "CRC-8 0x2F", "CRC-8 0x2F"),
    ChecksumKind.SUM: ChecksumWords("sum", "sum of the other bytes", "sum"),
    ChecksumKind.SUM_COMPLEMENT: ChecksumWords("sum", "complement of the sum", "complement of the sum"),
    ChecksumKind.XOR: ChecksumWords("XOR", "exclusive-or of the other bytes", "XOR"),
    ChecksumKind.PROFILE_1: ChecksumWords("AUTOSAR 1", "AUTOSAR profile 1", ""),
    ChecksumKind.PROFILE_2: ChecksumWords("AUTOSAR 2", "AUTOSAR profile 2", ""),
}

DATA_ID_WORDS: Final[Mapping[DataIdMode, str]] = {
    DataIdMode.BOTH: "with both bytes of the data id",
    DataIdMode.ALTERNATING: "with the two bytes of the data id in turn",
    DataIdMode.LOW: "with the low byte of the data id",
    DataIdMode.NIBBLE: "with the low byte and a nibble of the data id",
}


def tried_checksums() -> str:
    """The kinds that every message is searched for; a profile needs its data id."""
    names = [words.tried for words in CHECKSUM_WORDS.values() if words.tried]
    return f"one byte over all others: {listing(names, last='or')}"


def _problem_absent(problem: DataIdProblem) -> str:
    return f"no frame of {problem.frame_id}, for which a data id is given"


def _problem_few(problem: DataIdProblem) -> str:
    return f"the data id of {problem.frame_id} could not be checked: its payload changed too few times"


def _problem_wrong(problem: DataIdProblem) -> str:
    return (
        f"the data id of {problem.frame_id} does not match: at best {problem.share:.1%} of "
        f"{problem.frames:,} frames pass"
    )


DATA_ID_PROBLEM_WORDS: Final[Mapping[DataIdProblemKind, Callable[[DataIdProblem], str]]] = {
    DataIdProblemKind.ABSENT: _problem_absent,
    DataIdProblemKind.FEW_CHANGES: _problem_few,
    DataIdProblemKind.WRONG: _problem_wrong,
}


def problem_text(problem: DataIdProblem) -> str:
    """What is wrong with a data id that was given, a clause."""
    return DATA_ID_PROBLEM_WORDS[problem.kind](problem)
