"""What was simulated or replayed: how much, where to, and how punctually."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from netcheck.report._page import Page, Style
from netcheck.words import counted, id_text

if TYPE_CHECKING:
    from netcheck.bench import Bench, Played, Replay


@dataclass(frozen=True)
class SimulationTold:
    """A simulation that went into a file or onto a bus.

    target: the file, or the interface with its channel
    marks_file: None where none was written
    frames: by channel
    played: how it went on the bus; None for a file
    """

    bench: Bench
    target: str
    marks_file: str | None
    marks: int
    frames: Mapping[str, int]
    played: Played | None = None


def simulation_text(told: SimulationTold, width: int) -> str:
    """The summary of a simulation."""
    page = Page(width)
    bench, total = told.bench, sum(told.frames.values())
    frames = counted(total, "frame")
    page.text(f"{told.target}: {frames} of {bench.vehicle}, model year {bench.year}, seed {bench.seed}")
    for network in bench.networks:
        channel = "" if told.played else f" on {network.channel}"
        frames = counted(told.frames.get(network.channel, 0), "frame")
        page.text(f"{network.name}{channel}: {frames}", indent=2)
    if told.marks_file is not None:
        page.text(f"{told.marks_file}: {counted(told.marks, 'mark')}")
    if told.played is not None:
        _played_text(page, told.played, f"{bench.seconds:g} s in the script")
    return page.render(colour=False)


def simulation_json(told: SimulationTold) -> dict[str, Any]:
    """The summary for scripts, ``netcheck.simulation/1``. Times in seconds, lateness in milliseconds."""
    bench = told.bench
    return {
        "schema": "netcheck.simulation/1",
        "vehicle": bench.vehicle,
        "model_year": bench.year,
        "seed": bench.seed,
        "seconds": bench.seconds,
        "target": told.target,
        "marks_file": told.marks_file,
        "marks": told.marks,
        "networks": [
            {"network": n.name, "channel": n.channel, "frames": told.frames.get(n.channel, 0)}
            for n in bench.networks
        ],
        "warnings": list(bench.warnings),
        "played": None if told.played is None else _played_json(told.played),
    }


def replay_text(replay: Replay, played: Played, width: int) -> str:
    """How a replay went."""
    page = Page(width)
    rounds = replay.choice.rounds
    in_all = f" of {replay.frames * rounds:,}" if rounds else ""
    page.text(f"{replay.file}: {played.sent:,}{in_all} frames sent, {replay.left_out:,} left out")
    round_at, frame_at = divmod(played.sent, replay.frames)
    if rounds != 1:
        a_round = counted(replay.frames, "frame")
        page.text(f"{counted(round_at, 'whole round')} of {a_round}, and {frame_at:,} more", indent=2)
    _played_text(page, played, f"{replay.seconds:.3f} s a round in the capture")
    for warning in replay.warnings:
        page.text(f"note: {warning}")
    return page.render(colour=False)


def replay_json(replay: Replay, played: Played) -> dict[str, Any]:
    """How a replay went, for scripts, ``netcheck.replay/1``."""
    return {
        "schema": "netcheck.replay/1",
        "file": replay.file,
        "frames": replay.frames,
        "seconds": replay.seconds,
        "rounds": replay.choice.rounds,
        "left_out": replay.left_out,
        "error_frames": replay.errors,
        "routes": [
            {
                "from": route.source,
                "to": route.target,
                "frames": route.frames,
                "ids": [id_text(*wire_id) for wire_id in route.ids],
            }
            for route in replay.routes
        ],
        "remap": [{"from": id_text(*old), "to": id_text(*new)} for old, new in replay.choice.remap.items()],
        "warnings": list(replay.warnings),
        "played": _played_json(played),
    }


def _played_text(page: Page, played: Played, length: str) -> None:
    late = played.lateness
    page.text(f"sending took {played.seconds:.3f} s; {length}", indent=2)
    median, most = late.percentile_us(50) / 1000, late.percentile_us(99) / 1000
    if played.speed:
        page.text(
            f"late by {median:.2f} ms in the median, {most:.2f} ms at the 99th percentile, "
            f"{late.max_us / 1000:.2f} ms at most",
            indent=2,
        )
    elif played.seconds:
        page.text(f"as fast as they were taken, {played.sent / played.seconds:,.0f} a second", indent=2)
    if played.stopped:
        page.entry("STOPPED", f"{played.stopped}, after {counted(played.sent, 'frame')}", style=Style.BAD)


def _played_json(played: Played) -> dict[str, Any]:
    late = played.lateness
    return {
        "sent": played.sent,
        "seconds": round(played.seconds, 6),
        "late_ms": {
            "median": late.percentile_us(50) / 1000,
            "p99": late.percentile_us(99) / 1000,
            "max": late.max_us / 1000,
        },
        "stopped": played.stopped or None,
    }
