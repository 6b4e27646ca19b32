"""What the traffic says about the pair: which network, at which bit rate, how healthy."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Final

from netcheck.files import Vehicle
from netcheck.network import ChannelSurvey, Ranked, Remark, RemarkKind
from netcheck.tap._model import Finding, State
from netcheck.words import bit_rate

_ERROR_SHARE: Final = 0.001  # of all frames; common practice: single ones come with plugging and waking
_LEAST_SHARE: Final = 3  # a third of the ids, or of the DBC's messages, must be the other's; our own rule
_UNSURE: Final = {
    RemarkKind.TWO_NETWORKS: (
        "two-networks",
        "Two logs were joined, two pairs touch, or a gateway passes one network on to the other.",
    ),
    RemarkKind.DOUBTFUL: (
        "network",
        "The pair of another network, or of another vehicle than the file describes.",
    ),
}
_WAKE: Final = "Ignition on, open a door; check that the plug sits and high and low are the right way round."


@dataclass(frozen=True)
class Recorder:
    """What is known of what heard the frames. bitrate: bit/s it was set to; has_wire: False for software."""

    bitrate: int | None = None
    has_wire: bool = True


def silence(wanted: str | None) -> Finding:
    """Not one frame."""
    return Finding(
        "silence",
        State.UNKNOWN,
        "not one frame was heard",
        "The network is asleep, the clip makes no contact, or nothing runs on this pair"
        + (f" – so it need not be {wanted}." if wanted else "."),
        _WAKE + " If it stays silent, try the next pair.",
    )


def not_listened(wanted: str | None) -> Finding:
    """No capture and no interface."""
    name = wanted or "the network"
    return Finding(
        "network",
        State.UNKNOWN,
        f"nobody has listened yet: whether this is {name} is open",
        next="Clip on and give --capture with a recording, or --interface and --channel to listen now.",
    )


def findings(
    channel: ChannelSurvey, wanted: str | None, vehicle: Vehicle, recorder: Recorder
) -> Iterator[Finding]:
    """All findings, the network first."""
    remarks = {remark.kind: remark for remark in channel.remarks}
    if RemarkKind.ONLY_ERRORS in remarks:
        yield _only_errors(remarks[RemarkKind.ONLY_ERRORS], wanted, vehicle)
        return
    yield _network(channel, wanted, vehicle, remarks)
    yield _bit_rate(channel, wanted, vehicle, recorder, remarks)
    yield _errors(channel, remarks)
    if lost := remarks.get(RemarkKind.FRAMES_LOST):
        yield Finding("frames-lost", State.UNKNOWN, lost.text, next=lost.next_step)
    for kind in (RemarkKind.NEARLY_SILENT, RemarkKind.OVERLOAD):
        if remark := remarks.get(kind):
            yield Finding(str(kind), State.NOTE, remark.text, next=remark.next_step)


def is_network(channel: ChannelSurvey, wanted: str | None) -> bool:
    """Whether the roles of the wanted network are worth looking for: it is not clearly another one."""
    if wanted is None:
        return channel.network is not None
    return channel.network == wanted or (channel.network is None and _has_enough(channel, wanted))


def _has_enough(channel: ChannelSurvey, network: str) -> bool:
    entry = _entry(channel, network)
    return entry is not None and entry.explained >= entry.least


def _is_thin(channel: ChannelSurvey, network: str) -> bool:
    """Whether the DBC explains few of the channel's ids, and few of its messages came.

    More fit than by chance; but ids are not taken by chance. Of 810 channels made of one maker's public
    DBC, 67 passed for the network of another maker's; with this rule, 15.
    """
    entry = _entry(channel, network)
    return entry is not None and _LEAST_SHARE * entry.explained < min(entry.ids, entry.messages)


def _entry(channel: ChannelSurvey, network: str) -> Ranked | None:
    return next((entry for entry in channel.candidates if entry.network == network), None)


def _counts(channel: ChannelSurvey, first: str | None) -> str:
    """``61 of 64 ids fit the DBC of comfort, 2 that of drive``."""
    shown = sorted(
        (entry for entry in channel.candidates if entry.explained or entry.network == first),
        key=lambda entry: entry.network != first,
    )
    if not shown:
        return f"none of its {len(channel.messages)} ids fits a DBC of this vehicle"
    head, *rest = shown
    text = f"{head.explained} of {head.ids} ids fit the DBC of {head.network}"
    return text + "".join(f", {entry.explained} that of {entry.network}" for entry in rest)


def _where(vehicle: Vehicle, network: str) -> str:
    tap = vehicle.network[network].tap
    return f" ({tap})" if tap else ""


def _network(
    channel: ChannelSurvey, wanted: str | None, vehicle: Vehicle, remarks: dict[RemarkKind, Remark]
) -> Finding:
    seen = channel.network
    counts = _counts(channel, wanted or seen)
    for kind, (name, cause) in _UNSURE.items():
        if remark := remarks.get(kind):
            return Finding(name, State.UNKNOWN, remark.text, cause, remark.next_step)
    if not channel.messages:
        return silence(wanted)
    if seen is not None and wanted in {None, seen}:
        return _clear(channel, seen, counts, "" if wanted else "Write it into the job file's item.")
    if wanted is not None and seen is not None:
        return Finding(
            "network",
            State.WRONG,
            f"this is {seen}, not {wanted}: {counts}",
            "The clip is on the pair of another network.",
            f"Go to the pair of {wanted}{_where(vehicle, wanted)}.",
        )
    return _unclear(channel, wanted, vehicle, counts)


def _clear(channel: ChannelSurvey, seen: str, counts: str, next_: str) -> Finding:
    """The network that the channel is taken for is no other than the wanted one."""
    if not _is_thin(channel, seen):
        return Finding("network", State.RIGHT, f"this is {seen}: {counts}", next=next_)
    return Finding(
        "network",
        State.UNKNOWN,
        f"it may be {seen}: {counts}",
        "The DBC knows a part of the traffic only, or this is another vehicle: makers like the same ids.",
        "Compare model and model year; see with netcheck survey whether cycle times and values fit.",
    )


def _unclear(channel: ChannelSurvey, wanted: str | None, vehicle: Vehicle, counts: str) -> Finding:
    """No network of the vehicle clearly is it."""
    longer = "Listen for a minute with the ignition on, doors and lights operated."
    if wanted is not None and _has_enough(channel, wanted):
        cause = "Several networks share ids: a gateway passes them on."
        return Finding("network", State.UNKNOWN, f"it may be {wanted}: {counts}", cause, longer)
    entry = _entry(channel, wanted) if wanted is not None else None
    if (
        wanted is not None
        and entry is not None
        and not entry.explained
        and len(channel.messages) >= entry.least
    ):
        return Finding(
            "network",
            State.WRONG,
            f"this is not {wanted} as its DBC has it: {counts}",
            "The clip is on another pair, or the vehicle file's DBC is of another model or year.",
            f"Go to the pair of {wanted}{_where(vehicle, wanted)}; compare model and model year.",
        )
    cause = "Too few ids so far, or the DBC is of another model or year."
    return Finding("network", State.UNKNOWN, f"not clear which network this is: {counts}", cause, longer)


def _only_errors(remark: Remark, wanted: str | None, vehicle: Vehicle) -> Finding:
    rate = f" {wanted} has {bit_rate(vehicle.network[wanted].bitrate)}." if wanted is not None else ""
    return Finding(
        "only-errors",
        State.WRONG,
        remark.text,
        "Nothing can be read like this, so the network cannot be told.",
        remark.next_step + rate,
    )


def _bit_rate(
    channel: ChannelSurvey,
    wanted: str | None,
    vehicle: Vehicle,
    recorder: Recorder,
    remarks: dict[RemarkKind, Remark],
) -> Finding:
    name = None if RemarkKind.DOUBTFUL in remarks else channel.network or wanted
    known = vehicle.network[name].bitrate if name is not None else None
    if impossible := remarks.get(RemarkKind.RATE_IMPOSSIBLE):
        cause = "The vehicle file's bit rate is wrong, or the log joins several networks."
        return Finding("bit-rate", State.WRONG, impossible.text, cause, impossible.next_step)
    if not channel.messages:
        return Finding("bit-rate", State.UNKNOWN, "no frame to judge by")
    if not recorder.has_wire:
        return Finding("bit-rate", State.NOTE, "the frames came through software, which has none to judge")
    stated = recorder.bitrate
    if stated is not None and known is not None and stated != known:
        return Finding(
            "bit-rate",
            State.WRONG,
            f"frames came whole at {bit_rate(stated)}, and the vehicle file gives {name} {bit_rate(known)}",
            "The vehicle file is wrong, or this is another network.",
            "Compare with the vehicle's papers.",
        )
    whole = "frames came whole, so the recorder was set right"
    if known is None:
        return Finding("bit-rate", State.NOTE, f"{whole}; a log does not say to which rate")
    how = ": frames came whole at it"
    if stated is None:
        how = f" by the vehicle file; {whole} (a log does not say to what)"
    return Finding("bit-rate", State.RIGHT, bit_rate(known) + how)


def _errors(channel: ChannelSurvey, remarks: dict[RemarkKind, Remark]) -> Finding:
    if not channel.error_frames:
        return Finding(
            "errors", State.NOTE, "no error frames in the recording (not every recorder writes them)"
        )
    remark = remarks.get(RemarkKind.ERRORS)
    text = remark.text if remark is not None else f"{channel.error_frames:,} error frames"
    if channel.error_frames < _ERROR_SHARE * channel.frames:
        return Finding("errors", State.NOTE, text, "Single ones are usual when a clip is put on.")
    return Finding(
        "errors",
        State.WRONG,
        text,
        "A loose clip, a missing or third terminator, a long stub, or a leak to ground or supply.",
        remark.next_step if remark is not None else "",
    )
