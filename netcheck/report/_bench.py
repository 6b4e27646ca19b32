"""What was simulated or replayed: how much, where to, and how punctually."""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, Any

from netcheck.records import dataclass
from netcheck.report._bench_words import simulation_notes, simulation_warnings, stop_text
from netcheck.report._page import Page, Style
from netcheck.words import counted, id_text, path_text

if TYPE_CHECKING:
    from netcheck.bench import Bench, Played, Replay, SendStop


@dataclass(frozen=True)
class SimulationRun:
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


def simulation_text(run: SimulationRun, width: int) -> str:
    """The summary of a simulation."""
    page = Page(width)
    bench, total = run.bench, sum(run.frames.values())
    frames = counted(total, "frame")
    page.text(f"{run.target}: {frames} of {bench.vehicle}, model year {bench.year}, seed {bench.seed}")
    for network in bench.networks:
        channel = "" if run.played else f" on {network.channel}"
        frames = counted(run.frames.get(network.channel, 0), "frame")
        page.text(f"{network.name}{channel}: {frames}", indent=2)
    if run.marks_file is not None:
        page.text(f"{path_text(run.marks_file)}: {counted(run.marks, 'mark')}")
    for note in simulation_notes(bench):
        page.text(f"note: {note}")
    if run.played is not None:
        _played_text(page, run.played, f"{bench.seconds:g} s in the script")
    return page.render(colour=False)


def simulation_json(run: SimulationRun) -> dict[str, Any]:
    """The summary for scripts, ``netcheck.simulation/1``. Times in seconds, lateness in milliseconds."""
    bench = run.bench
    return {
        "schema": "netcheck.simulation/1",
        "vehicle": bench.vehicle,
        "model_year": bench.year,
        "seed": bench.seed,
        "seconds": bench.seconds,
        "target": run.target,
        "marks_file": run.marks_file,
        "marks": run.marks,
        "networks": [
            {"network": n.name, "channel": n.channel, "frames": run.frames.get(n.channel, 0)}
            for n in bench.networks
        ],
        "warnings": list(simulation_warnings(bench)),
        "left_out": [{"network": name, "messages": list(messages)} for name, messages in bench.left_out],
        "remarks": [
            {"kind": each.kind.value, "network": each.network, "names": list(each.names)}
            for each in bench.remarks
        ],
        "overloads": [
            {"network": each.network, "load": round(each.load, 3), "bitrate": each.bitrate}
            for each in bench.overloads
        ],
        "played": None if run.played is None else _played_json(run.played),
    }


def replay_text(replay: Replay, played: Played, width: int) -> str:
    """How a replay went."""
    page = Page(width)
    rounds = replay.choice.rounds
    in_all = f" of {replay.frames * rounds:,}" if rounds else ""
    page.text(f"{path_text(replay.file)}: {played.sent:,}{in_all} frames sent, {replay.left_out:,} left out")
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
        page.text(
            f"as fast as the interface accepted them: {played.sent / played.seconds:,.0f} frames a second",
            indent=2,
        )
    if played.stop is not None:
        text = f"{stop_text(played.stop)}, after {counted(played.sent, 'frame')}"
        page.entry("STOPPED", text, style=Style.BAD)


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
        "stopped": None if played.stop is None else stop_text(played.stop),
        "stop": None if played.stop is None else _stop_json(played.stop),
    }


def _stop_json(stop: SendStop) -> dict[str, Any]:
    return {
        "reason": stop.reason.value,
        "bus": stop.bus or None,
        "ids": [id_text(*wire_id) for wire_id in stop.ids],
        "said": stop.said or None,
    }
