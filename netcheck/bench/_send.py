"""Frames of a capture or a simulation sent onto buses, after listening whether they are free."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from contextlib import ExitStack
from typing import TYPE_CHECKING, Final

from netcheck.bench._frame import Frame
from netcheck.bench._module import ModuleSetting, ModuleStation
from netcheck.bench._play import LOOK_NS, Played, play
from netcheck.bench._remarks import is_sent
from netcheck.bench._sender import wire_id
from netcheck.bench._setup import Bench
from netcheck.bench._target import Target, WireId
from netcheck.errors import UsageError

if TYPE_CHECKING:
    import can

    from netcheck.bench._bus import SendingBus

_SERVING_NS: Final = 2_000_000  # how often modules look for requests

Sending = tuple[int, tuple[str, "can.Message"]]  # ns from the start, bus channel, message


def send(
    frames: Iterable[Sending],
    ids: Mapping[Target, Iterable[WireId]],
    *,
    listen: float = 1.0,
    speed: float = 1.0,
    modules: Sequence[ModuleSetting] = (),
) -> Played:
    """Send frames onto the buses of ``ids``, whose channels they name, when they are due.

    The caller has asked whether sending is wanted at all.
    ids:    what will be sent where; a bus on which one of its ids is heard is refused
    listen: seconds to listen to each bus before; 0 only where there is no wire
    speed:  as ``play``
    modules: those that answer diagnostic requests on every bus; their ids are among ``ids``
    Raises InputError and UsageError as ``open_target`` and ``SendingBus.check_free``, before it sends any.
    """
    from netcheck.bench._bus import open_target
    from netcheck.capture.live import SOFTWARE

    for target in ids:
        if listen <= 0 and target.interface not in SOFTWARE:
            raise UsageError(
                f"--listen 0: {target.name} is a real bus, and another node may send on it",
                remedy="listen for one second at least",
            )
    with ExitStack() as stack:
        buses: dict[str, SendingBus] = {}
        for target in ids:
            bus = open_target(target)
            stack.callback(bus.close)
            bus.serve(map(ModuleStation, modules))
            buses[target.channel] = bus
        for target, own in ids.items():
            buses[target.channel].check_free(frozenset(own), listen)

        def hand_over(item: tuple[str, can.Message]) -> None:
            buses[item[0]].send(item[1])

        def look() -> None:
            for bus in buses.values():
                bus.look()

        return play(frames, hand_over, look, speed=speed, look_ns=_SERVING_NS if modules else LOOK_NS)


def bench_messages(bench: Bench, channel: str) -> Iterator[Sending]:
    """A simulation as frames to send. Raises UsageError for one of several networks: a bus is one."""
    import can

    if len(bench.networks) != 1:
        names = " and ".join(network.name for network in bench.networks)
        raise UsageError(f"{names} cannot be sent on one channel", remedy="choose one with --network")

    def messages(frames: Iterable[Frame]) -> Iterator[Sending]:
        for frame in frames:
            message = can.Message(
                arbitration_id=frame.can_id,
                is_extended_id=frame.is_extended,
                data=frame.data,
                is_fd=frame.is_fd,
                bitrate_switch=frame.has_fast_data,
            )
            yield frame.time_us * 1000, (channel, message)

    return messages(bench.frames())


def bench_ids(bench: Bench) -> frozenset[WireId]:
    """The identifiers that a simulation sends."""
    return frozenset(setting.response for setting in bench.modules) | frozenset(
        (
            wire_id(message, network.scenario.addresses.get(message.name, message.source_address)),
            message.is_extended,
        )
        for network in bench.networks
        for message in network.database.messages
        if is_sent(message, network.scenario)
    )
