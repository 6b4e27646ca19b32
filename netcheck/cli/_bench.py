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

InterfaceOption = Annotated[
    str | None,
    typer.Option(
        "--interface", metavar="NAME", help="The interface to send on, as python-can names it: socketcan, …"
    ),
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
        help="Listen first, for so long. A bus on which another node sends one of these ids is refused.",
    ),
]
TransmitOption = Annotated[
    bool, typer.Option("--transmit", help="Send. Without it, netcheck only says what it would send where.")
]


def announce(lines: Sequence[str], transmit: bool) -> None:
    """Say what will be sent where, and the caution. Raises UsageError where sending was not asked for."""
    from netcheck.report.bench import BENCH_CAUTION

    for line in lines:
        note(("to send: " if transmit else "would send: ") + line)
    note(BENCH_CAUTION)
    if not transmit:
        raise UsageError("nothing was sent", remedy="give --transmit to send it, on a bench")


def exit_status(played: Played) -> int:
    """0 when all was sent, 130 when a person stopped it, 1 when the bus did."""
    if played.is_interrupted:
        return status.INTERRUPTED
    return status.NO_GO if played.stop is not None else status.GO
