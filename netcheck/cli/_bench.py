"""What ``simulate`` and ``replay`` share: the options of a bus, and what is said before anything is sent."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Annotated

import typer

from netcheck.cli import _status as status
from netcheck.cli._output import note
from netcheck.errors import UsageError

if TYPE_CHECKING:
    from netcheck.bench import Played

CAUTION = (
    "for the bench only: never on a vehicle that can move, nor on a network with airbags, brakes or steering "
    "live on it; whoever answers for the bench decides what may be sent"
)

InterfaceOption = Annotated[
    str | None,
    typer.Option("--interface", metavar="NAME", help="python-can's name of the interface to send on."),
]
BitrateOption = Annotated[
    int | None, typer.Option("--bitrate", metavar="BIT/S", min=1, help="Bit rate of the interface.")
]
FdBitrateOption = Annotated[
    int | None,
    typer.Option("--fd-bitrate", metavar="BIT/S", min=1, help="Bit rate of CAN FD's data phase."),
]
ListenOption = Annotated[
    float,
    typer.Option(
        "--listen",
        metavar="SECONDS",
        min=0,
        max=3600,
        help="Listen before, and refuse a bus with one of the ids on it.",
    ),
]
TransmitOption = Annotated[
    bool, typer.Option("--transmit", help="Really send. Without it, only say what would be sent where.")
]


def announce(lines: Sequence[str], transmit: bool) -> None:
    """Say what will be sent where, and the caution. Raises UsageError where sending was not asked for."""
    for line in lines:
        note(("to send: " if transmit else "would send: ") + line)
    note(CAUTION)
    if not transmit:
        raise UsageError("nothing was sent", remedy="give --transmit to send it, on a bench")


def exit_status(played: Played) -> int:
    """0 when all was sent, 130 when a person ended it, 1 when the bus did."""
    if played.is_interrupted:
        return status.INTERRUPTED
    return status.NO_GO if played.stopped else status.GO
