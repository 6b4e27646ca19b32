"""Load over time: what the charts of each network read."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from netcheck.traces import ChannelTrace
from netcheck.words import clean


def load_data(channels: Iterable[ChannelTrace]) -> list[dict[str, Any]]:
    """Channels with times, by network: per span of so many seconds the mean and the busiest second, in %."""
    found: dict[str, list[dict[str, Any]]] = {}
    for channel in channels:
        if channel.load is None or not len(channel.load.mean):
            continue
        load = channel.load
        found.setdefault(channel.network, []).append(
            {
                "when": channel.when,
                "file": clean(channel.file),
                "channel": clean(channel.channel),
                "width": load.width,
                "mean": [round(100 * share, 2) for share in load.mean.tolist()],
                "peak": [round(100 * share, 2) for share in load.peak.tolist()],
                "outside": load.outside,
            }
        )
    return [{"network": clean(network), "runs": runs} for network, runs in found.items()]
