"""What the traffic says about the pair: which network, at which bit rate, how healthy."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from netcheck.files import Vehicle
from netcheck.network import (
    LONG_SECONDS,
    ChannelSurvey,
    IdentityLevel,
    NetworkFit,
    Ranked,
    Remark,
    RemarkKind,
)
from netcheck.records import dataclass
from netcheck.tap._model import (
    Finding,
    FindingKind,
    FindingReason,
    FitFinding,
    NetworkFinding,
    RateFinding,
    State,
    SurveyFinding,
)

_ERROR_SHARE: Final = 0.001  # of all frames; common practice: single ones come with plugging and waking
_PASSED_ON: Final = {  # what the survey points out and decides nothing here, but for frames that were lost
    RemarkKind.FRAMES_LOST: (FindingKind.FRAMES_LOST, State.UNKNOWN, FindingReason.FRAMES_LOST),
    RemarkKind.FRAMES_MISSING: (FindingKind.FRAMES_MISSING, State.NOTE, FindingReason.FRAMES_MISSING),
    RemarkKind.RECORDER_STALLED: (FindingKind.RECORDER_STALLED, State.NOTE, FindingReason.RECORDER_STALLED),
    RemarkKind.BUS_STOPPED: (FindingKind.BUS_STOPPED, State.NOTE, FindingReason.BUS_STOPPED),
    RemarkKind.NEARLY_SILENT: (FindingKind.NEARLY_SILENT, State.NOTE, FindingReason.NEARLY_SILENT),
    RemarkKind.OVERLOAD: (FindingKind.OVERLOAD, State.NOTE, FindingReason.OVERLOAD),
}
_UNTOLD: Final = {  # why the traffic does not say which network it is
    RemarkKind.DOUBTFUL: FindingReason.DOUBTFUL,
    RemarkKind.DIAGNOSTICS_ONLY: FindingReason.DIAGNOSTICS_ONLY,
}
Remarks = Mapping[RemarkKind, Remark]


@dataclass(frozen=True)
class Recorder:
    """What is known of the recorder. bitrate: bit/s it was set to; has_wire: False for software."""

    bitrate: int | None = None
    has_wire: bool = True


def silence(wanted: str | None) -> Finding:
    """Not one frame."""
    return NetworkFinding(FindingKind.SILENCE, State.UNKNOWN, FindingReason.SILENT, wanted)


def not_listened(wanted: str | None) -> Finding:
    """No capture and no interface."""
    return NetworkFinding(FindingKind.NETWORK, State.UNKNOWN, FindingReason.NOT_LISTENED, wanted)


def findings(
    channel: ChannelSurvey, wanted: str | None, vehicle: Vehicle, recorder: Recorder
) -> Iterator[Finding]:
    """All findings, the network first."""
    remarks = {remark.kind: remark for remark in channel.remarks}
    if RemarkKind.ONLY_ERRORS in remarks:
        yield SurveyFinding(
            FindingKind.ONLY_ERRORS,
            State.WRONG,
            FindingReason.ONLY_ERRORS,
            remarks[RemarkKind.ONLY_ERRORS],
            wanted,
            vehicle.network[wanted].bitrate if wanted is not None else None,
        )
        return
    yield _network(channel, wanted, vehicle, remarks)
    yield _bit_rate(channel, wanted, vehicle, recorder, remarks)
    yield _errors(channel, remarks)
    for kind, (about, state, reason) in _PASSED_ON.items():
        if remark := remarks.get(kind):
            yield SurveyFinding(about, state, reason, remark)
    if channel.fit is not None and channel.identity is IdentityLevel.IDENTIFIED:
        reason = FindingReason.OTHER_EDITION if channel.fit.is_partial else FindingReason.DBC_FITS
        yield FitFinding(FindingKind.FIT, State.NOTE, reason, channel.fit)


def is_network(channel: ChannelSurvey, wanted: str | None) -> bool:
    """Whether the roles of the wanted network are worth looking for: it is not clearly another one."""
    if wanted is None:
        return channel.network is not None
    return channel.network == wanted or (channel.network is None and _has_enough(channel, wanted))


def _has_enough(channel: ChannelSurvey, network: str) -> bool:
    entry = _entry(channel, network)
    return entry is not None and entry.explained >= entry.least and entry.is_beyond_chance


def _entry(channel: ChannelSurvey, network: str) -> Ranked | None:
    return next((entry for entry in channel.candidates if entry.network == network), None)


def _fits(channel: ChannelSurvey, first: str | None) -> tuple[NetworkFit, ...]:
    """Of each DBC that explains some ids, how many; the one asked for first, whether it does or not."""
    shown = sorted(
        (entry for entry in channel.candidates if entry.explained or entry.network == first),
        key=lambda entry: entry.network != first,
    )
    return tuple(NetworkFit(entry.network, entry.explained, entry.ids) for entry in shown)


def _network(channel: ChannelSurvey, wanted: str | None, vehicle: Vehicle, remarks: Remarks) -> Finding:
    if remark := remarks.get(RemarkKind.TWO_NETWORKS):
        about, reason = FindingKind.TWO_NETWORKS, FindingReason.TWO_NETWORKS
        return SurveyFinding(about, State.UNKNOWN, reason, remark)
    for kind, reason in _UNTOLD.items():
        if remark := remarks.get(kind):
            return SurveyFinding(FindingKind.NETWORK, State.UNKNOWN, reason, remark)
    if not channel.messages:
        return silence(wanted)
    state, reason = _match(channel, wanted)
    return NetworkFinding(
        FindingKind.NETWORK,
        state,
        reason,
        wanted=wanted,
        seen=channel.network,
        fits=_fits(channel, wanted or channel.network),
        ids=channel.candidates[0].ids,
        place=vehicle.network[wanted].tap if wanted is not None else "",
        is_short=channel.awake_seconds < LONG_SECONDS,
    )


def _match(channel: ChannelSurvey, wanted: str | None) -> tuple[State, FindingReason]:
    """Whether the traffic is that of the wanted network, or of any where that is open."""
    seen = channel.network
    if seen is not None and wanted in {None, seen}:
        return State.RIGHT, FindingReason.RIGHT_NETWORK
    if wanted is not None and seen is not None:
        return State.WRONG, FindingReason.OTHER_NETWORK
    if wanted is not None and _has_enough(channel, wanted):
        return State.UNKNOWN, FindingReason.SHARED_IDS
    entry = _entry(channel, wanted) if wanted is not None else None
    if entry is not None and not entry.explained and entry.ids >= entry.least:
        return State.WRONG, FindingReason.NO_ID_MATCHES
    return State.UNKNOWN, FindingReason.NOT_CLEAR


def _bit_rate(
    channel: ChannelSurvey, wanted: str | None, vehicle: Vehicle, recorder: Recorder, remarks: Remarks
) -> Finding:
    about = FindingKind.BIT_RATE
    name = None if channel.identity is IdentityLevel.DOUBTFUL else channel.network or wanted
    known = vehicle.network[name].bitrate if name is not None else None
    if impossible := remarks.get(RemarkKind.RATE_IMPOSSIBLE):
        return SurveyFinding(about, State.WRONG, FindingReason.RATE_IMPOSSIBLE, impossible)
    if not channel.messages:
        return Finding(about, State.UNKNOWN, FindingReason.NO_FRAME)
    if not recorder.has_wire:
        return Finding(about, State.NOTE, FindingReason.THROUGH_SOFTWARE)
    stated = recorder.bitrate
    if known is None:
        return RateFinding(about, State.NOTE, FindingReason.RATE_UNKNOWN, stated=stated)
    if stated is not None and stated != known:
        return RateFinding(about, State.WRONG, FindingReason.RATE_DIFFERS, name, known, stated)
    reason = FindingReason.RATE_OF_FILE if stated is None else FindingReason.RATE_CONFIRMED
    return RateFinding(about, State.RIGHT, reason, name, known, stated)


def _errors(channel: ChannelSurvey, remarks: Remarks) -> Finding:
    remark = remarks.get(RemarkKind.ERRORS)
    if remark is None:
        return Finding(FindingKind.ERRORS, State.NOTE, FindingReason.NO_ERROR_FRAMES)
    if channel.error_frames < _ERROR_SHARE * channel.frames:
        return SurveyFinding(FindingKind.ERRORS, State.NOTE, FindingReason.FEW_ERROR_FRAMES, remark)
    return SurveyFinding(FindingKind.ERRORS, State.WRONG, FindingReason.MANY_ERROR_FRAMES, remark)
