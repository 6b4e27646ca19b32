"""What a survey knows of a channel and of a message, as rows of the store."""

from __future__ import annotations

from typing import Any

from netcheck.network import ChannelSurvey, IdentityLevel, SurveyedMessage


def channel_row(channel: ChannelSurvey, place: tuple[str | None, IdentityLevel]) -> dict[str, Any]:
    """A channel as a survey has it. place: the network it was taken for, and how surely"""
    network, level = place
    own = next((entry for entry in channel.candidates if entry.network == network), None)
    load = channel.load
    return {
        "channel": channel.channel,
        "network": network,
        "identity": level.value,
        "ids": own.ids if own else len(channel.messages),
        "explained": own.explained if own else None,
        "messages": own.messages if own else None,
        "frames": channel.frames,
        "error_frames": channel.error_frames,
        "seconds": channel.seconds if channel.has_times else None,
        "awake_s": channel.awake_seconds if channel.has_times else None,
        "bitrate": channel.rates.nominal if channel.rates else None,
        "load_mean": load.mean if load else None,
        "load_peak_1s": load.peak_1s if load else None,
        "remarks": [str(remark.kind) for remark in channel.remarks],
    }


def message_row(channel: ChannelSurvey, message: SurveyedMessage) -> dict[str, Any]:
    """A message as a survey has it."""
    timing, counter, checksum = message.timing, message.counter, message.checksum
    is_known = channel.identity is IdentityLevel.IDENTIFIED
    return {
        "channel": channel.channel,
        "network": channel.network if is_known else None,
        "id": message.frame_id.can_id,
        "extended": message.frame_id.is_extended,
        "name": message.name or None,
        "senders": list(message.senders),
        "count": message.count,
        "length": max(message.lengths, key=lambda length: message.lengths[length]),
        "lengths": sorted(message.lengths),
        "declared_length": message.declared_length,
        "period_ms": timing.period,
        "declared_period_ms": message.declared_cycle_ms,
        "jitter_low_ms": timing.jitter[0] if timing.jitter else None,
        "jitter_high_ms": timing.jitter[1] if timing.jitter else None,
        "longest_gap_ms": timing.longest if channel.has_times else None,
        "cyclic": timing.cyclic,
        "at_changes": timing.at_changes,
        "bytes": [str(kind) for kind in message.kinds],
        "counter_bit": counter.bit if counter else None,
        "counter_width": counter.width if counter else None,
        "counter_share": counter.share if counter else None,
        "checksum": checksum.kind.value if checksum else None,
        "checksum_byte": checksum.byte if checksum else None,
        "checksum_share": checksum.share if checksum else None,
    }
