"""The words of what is sent on a bench: what will be sent, what ended it, what a person should know."""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from typing import TYPE_CHECKING, Final

from netcheck.bench import Bench, BenchOverload, Replay, SendStop, StopReason, WireId, id_list
from netcheck.report._database_words import repair_text
from netcheck.words import counted

if TYPE_CHECKING:
    from netcheck.bench import Target

BENCH_CAUTION: Final = (
    "for the bench only: never use it on a vehicle that can move, or on a network with live airbags, brakes "
    "or steering; whoever is responsible for the bench decides what may be sent"
)

STOP_WORDS: Final[Mapping[StopReason, Callable[[SendStop], str]]] = {
    StopReason.INTERRUPTED: lambda _: "interrupted",
    StopReason.REFUSED: lambda stop: f"{stop.bus} accepts no more frames: {stop.said}",
    StopReason.BUS_OFF: lambda stop: f"{stop.bus} is bus-off",
    StopReason.FOREIGN_SENDER: lambda stop: f"another node sends {id_list(stop.ids)} on {stop.bus}",
    StopReason.INTERFACE_LOST: lambda stop: f"{stop.bus} no longer responds: {stop.said}",
}


def stop_text(stop: SendStop) -> str:
    """What ended sending before its end."""
    return STOP_WORDS[stop.reason](stop)


def overload_text(overload: BenchOverload) -> str:
    """More is to be sent than the bit rate allows."""
    return (
        f"network {overload.network}: all messages together take {overload.load:.0%} of "
        f"{overload.bitrate} bit/s, so frames pile up; "
        "give the messages without a period in the DBC a longer one (cycle)"
    )


def simulation_warnings(bench: Bench) -> tuple[str, ...]:
    """What a person should know before a simulation runs."""
    return (*bench.warnings, *map(repair_text, bench.repairs), *map(overload_text, bench.overloads))


def simulation_head(bench: Bench) -> tuple[str, str]:
    """The comments at the head of a simulated log."""
    where = ", ".join(f"{network.name} on {network.channel}" for network in bench.networks)
    return (
        f"Simulated, no real vehicle: {bench.vehicle}, model year {bench.year}, seed {bench.seed}.",
        where[:1].upper() + where[1:] + ".",
    )


def simulation_plan(bench: Bench, target: Target, ids: Collection[WireId]) -> str:
    """What a simulation will send where."""
    names = ", ".join(network.name for network in bench.networks)
    return (
        f"{names} of {bench.vehicle} → {target.name}: {counted(len(ids), 'id')} ({id_list(ids)}), "
        f"{bench.seconds:g} s"
    )


def replay_plan(replay: Replay, interface: str, speed: float) -> tuple[str, ...]:
    """What a replay will send where, line by line."""
    rounds = replay.choice.rounds
    how_often = {0: "until Ctrl-C", 1: "once"}.get(rounds, f"{rounds} times")
    how_fast = f"at {speed:g}× speed" if speed else "as fast as the interface accepts frames"
    routes = (
        f"{route.source} → {interface} {route.target}: {counted(route.frames, 'frame')}, "
        f"{counted(len(route.ids), 'id')} ({id_list(route.ids)})"
        for route in replay.routes
    )
    remapped = (f"{id_list([old])} as {id_list([new])}" for old, new in replay.choice.remap.items())
    return (
        *routes,
        *remapped,
        f"{how_often}, {replay.seconds:.1f} s a round, {how_fast}; "
        f"{counted(replay.left_out, 'frame')} left out",
    )
