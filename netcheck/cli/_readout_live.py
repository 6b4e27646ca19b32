"""``netcheck readout --interface … --transmit``: modules are asked, after a person has agreed."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

from netcheck.cli._options import bus_words
from netcheck.cli._output import note
from netcheck.cli._signals import ended_gently
from netcheck.errors import UsageError
from netcheck.records import dataclass

if TYPE_CHECKING:
    from netcheck.diagnostics import Readout
    from netcheck.diagnostics.live import AskedModule
    from netcheck.files import LoadedVehicle, When


@dataclass(frozen=True)
class LiveWish:
    """What the command line asks for. modules: names; () for all that have addresses"""

    interface: str
    channel: str | None
    modules: tuple[str, ...]
    bitrate: int | None
    options: tuple[str, ...]
    listen: float


def ask_modules(
    wish: LiveWish, vehicle: LoadedVehicle | None, when: When, *, transmit: bool, agreed: bool
) -> Readout:
    """The conversation that netcheck has itself. Raises UsageError where it is not wanted or agreed to."""
    from netcheck.bench import BusStopped, Target
    from netcheck.bench.asking import AskingBus
    from netcheck.capture.live import check_interface
    from netcheck.diagnostics import read_conversation
    from netcheck.diagnostics.live import LiveEnd, LiveReading, ReadingLine
    from netcheck.report.readout import LIVE_CAUTIONS, OTHER_TESTER, asked_text

    if vehicle is None or wish.channel is None:
        missing = "--vehicle" if vehicle is None else "--channel"
        raise UsageError(f"--interface without {missing}", remedy="the vehicle file has the addresses to ask")
    check_interface(wish.interface)
    modules = _modules(vehicle, wish.modules)
    for asked in modules:
        note(("to send: " if transmit else "would send: ") + asked_text(asked))
    for caution in LIVE_CAUTIONS:
        note(caution)
    if not transmit:
        raise UsageError("nothing was sent", remedy="give --transmit to ask these modules")
    if not agreed:
        _agree()
    target = Target(wish.interface, wish.channel, wish.bitrate, None, tuple(bus_words(wish.options).items()))
    with ended_gently(), AskingBus(target) as bus:
        reading = LiveReading(ReadingLine(bus), modules)
        try:
            reading.listen(wish.listen)
            if reading.run(lambda name: note(f"asking {name}")) is LiveEnd.OTHER_TESTER:
                note(OTHER_TESTER)
        except KeyboardInterrupt:
            note("stopped; what was read until here follows")
        except BusStopped as stopped:
            note(
                f"{target.name}: {stopped.stop.said or stopped.stop.reason}; what was read until here follows"
            )
    return read_conversation(reading.capture(target.name), vehicle.model, when=when)


def _modules(vehicle: LoadedVehicle, names: tuple[str, ...]) -> tuple[AskedModule, ...]:
    from netcheck.diagnostics.live import AskedModule
    from netcheck.files import one_of

    found = {
        name: AskedModule(
            name,
            (module.request_id, module.request_id > 0x7FF),
            (module.response_id, module.response_id > 0x7FF),
            tuple(module.coding),
        )
        for name, module in vehicle.model.module.items()
        if module.request_id is not None and module.response_id is not None
    }
    for name in names:
        if name not in found:
            raise UsageError(
                f"--module: '{name}' is no module with request_id and response_id", remedy=one_of(name, found)
            )
    if not found:
        raise UsageError("the vehicle file has no module with request_id and response_id")
    return tuple(found[name] for name in (names or found))


def _agree() -> None:
    """A person says yes at the terminal; nothing else does."""
    if not sys.stdin or not sys.stdin.isatty():
        raise UsageError("nobody is at the terminal to agree", remedy="give --agreed if all of this holds")
    note("type yes if all of this holds:")
    if sys.stdin.readline().strip().lower() != "yes":
        raise UsageError("not agreed, so nothing was sent")
