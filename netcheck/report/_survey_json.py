"""A survey as plain values for JSON, schema ``netcheck.survey/1``."""

from __future__ import annotations

from typing import Any

from netcheck.network import (
    ChannelSurvey,
    ChecksumFinding,
    Counter,
    IdentityLevel,
    J1939Name,
    Ranked,
    Survey,
    SurveyedMessage,
)
from netcheck.report._checksum_words import problem_text
from netcheck.report._facts import facts_of
from netcheck.report._survey_words import remark_words


def survey_json(survey: Survey) -> dict[str, Any]:
    """The survey of one capture. Shares are rounded to 4 decimals, times in ms to the microsecond."""
    return {
        "schema": "netcheck.survey/1",
        "file": survey.file,
        "frames": survey.frames,
        "seconds": _seconds(survey.seconds),
        "has_times": survey.has_times,
        "skipped_lines": survey.skipped,
        "warnings": [*survey.warnings, *map(problem_text, survey.data_id_problems)],
        "data_id_problems": [facts_of(problem) for problem in survey.data_id_problems],
        "channels": [_channel(channel) for channel in survey.channels],
    }


def _channel(channel: ChannelSurvey) -> dict[str, Any]:
    load, rates = channel.load, channel.rates
    return {
        "channel": channel.channel,
        "frames": channel.frames,
        "seconds": _seconds(channel.seconds),
        "has_times": channel.has_times,
        "network": channel.network if channel.identity is IdentityLevel.IDENTIFIED else None,
        "identity": channel.identity.value,
        "fit": facts_of(channel.fit) if channel.fit else None,
        "bitrate": rates.nominal if rates else None,
        "fd_bitrate": rates.data if rates else None,
        "candidates": [_candidate(entry) for entry in channel.candidates],
        "load": {
            "mean": _share(load.mean),
            "peak_100ms": _share(load.peak_100ms),
            "peak_1s": _share(load.peak_1s),
            "mean_awake": _share(load.mean_awake),
            "is_upper_bound": load.is_bound,
        }
        if load
        else None,
        "bits": {
            "total": channel.bits.total,
            "peak_100ms": channel.bits.peak_100ms if channel.has_times else None,
            "peak_1s": channel.bits.peak_1s if channel.has_times else None,
        },
        "error_frames": channel.error_frames,
        "error_kinds": dict(channel.errors),
        "remote_frames": channel.remote_frames,
        "fd_frames": channel.fd_frames,
        "awake": [[_seconds(start), _seconds(end)] for start, end in channel.awake_periods],
        "awake_seconds": _seconds(channel.awake_seconds),
        "j1939": channel.is_j1939,
        "remarks": [
            {
                "kind": str(remark.kind),
                "text": words.found,
                "cause": words.cause,
                "next": words.next,
                "facts": facts_of(remark, "kind"),
            }
            for remark, words in ((remark, remark_words(remark)) for remark in channel.remarks)
        ],
        "recorder": {
            **facts_of(channel.recorder),
            "is_batched": channel.recorder.is_batched,
        },
        "messages": [_message(message, has_times=channel.has_times) for message in channel.messages],
        "unseen": list(channel.unseen),
    }


def _candidate(entry: Ranked) -> dict[str, Any]:
    return {
        "network": entry.network,
        "explained": entry.explained,
        "ids": entry.ids,
        "messages": entry.messages,
        "exact_lengths": entry.exact,
        "cycle_times": entry.timed,
        "cycle_times_kept": entry.on_time,
        "plausible": _share(entry.plausible),
        "covered": _share(entry.covered),
        "score": round(entry.score, 3),
    }


def _message(message: SurveyedMessage, *, has_times: bool) -> dict[str, Any]:
    timing, parts = message.timing, message.j1939
    found: dict[str, Any] = {
        "id": str(message.frame_id),
        "extended": message.frame_id.is_extended,
        "name": message.name or None,
        "senders": list(message.senders),
        "count": message.count,
        "fd_count": message.fd_count,
        "lengths": sorted(message.lengths),
        "length_counts": {str(length): count for length, count in message.lengths.items()},
        "declared_length": message.declared_length,
        "period_ms": _ms(timing.period),
        "declared_period_ms": message.declared_cycle_ms,
        "jitter_ms": [_ms(timing.jitter[0]), _ms(timing.jitter[1])] if timing.jitter else None,
        "longest_gap_ms": _ms(timing.longest) if has_times else None,
        "cyclic": timing.cyclic,
        "at_changes": timing.at_changes,
        "bytes": [str(kind) for kind in message.kinds],
        "counter": _counter(message.counter) if message.counter else None,
        "checksum": _checksum(message.checksum) if message.checksum else None,
    }
    if parts:
        found["j1939"] = {
            "priority": parts.priority,
            "pgn": parts.group,
            "group": parts.group_name or None,
            "source": parts.source,
            "source_name": parts.source_name or None,
            "destination": parts.destination,
            "claims": [_claim(name) for name in message.claims],
        }
    return found


def _claim(name: J1939Name) -> dict[str, Any]:
    return {
        "name": str(name),
        "function": name.function,
        "function_instance": name.function_instance,
        "ecu_instance": name.ecu_instance,
        "vehicle_system": name.vehicle_system,
        "vehicle_system_instance": name.vehicle_system_instance,
        "industry_group": name.industry,
        "manufacturer_code": name.manufacturer,
        "identity": name.identity,
        "takes_another_address": name.takes_another,
    }


def _counter(counter: Counter) -> dict[str, Any]:
    return {
        "bit": counter.bit,
        "width": counter.width,
        "share": _share(counter.share),
        "modulo": counter.modulo,
        "steps": counter.steps,
    }


def _checksum(checksum: ChecksumFinding) -> dict[str, Any]:
    found: dict[str, Any] = {
        "kind": checksum.kind.value,
        "byte": checksum.byte,
        "share": _share(checksum.share),
        "frames": checksum.frames,
        "constant": checksum.constant,
    }
    if checksum.mode is not None:
        found["mode"] = checksum.mode.value
    return found


def _share(share: float | None) -> float | None:
    return None if share is None else round(share, 4)


def _seconds(seconds: float) -> float:
    return round(seconds, 6)


def _ms(time: float | None) -> float | None:
    return None if time is None else round(time, 3)
