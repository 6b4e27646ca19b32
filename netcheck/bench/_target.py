"""Where frames are sent, and identifiers as people write them."""

from __future__ import annotations

from collections.abc import Collection
from itertools import starmap
from typing import Final

from netcheck.records import dataclass
from netcheck.words import id_text

_LISTED: Final = 4

WireId = tuple[int, bool]  # identifier, whether it has 29 bits


@dataclass(frozen=True)
class Target:
    """Where to send.

    interface: name of a python-can interface
    bitrate, fd_bitrate: bit/s; None leaves it to the interface
    options: further arguments of the interface: names and words
    sends_fd: CAN FD frames are to go out
    """

    interface: str
    channel: str
    bitrate: int | None = None
    fd_bitrate: int | None = None
    options: tuple[tuple[str, str], ...] = ()
    sends_fd: bool = False

    @property
    def name(self) -> str:
        """For messages."""
        return f"{self.interface} {self.channel}"


def id_list(ids: Collection[WireId]) -> str:
    """The first identifiers of several, and how many more there are."""
    ordered = sorted(ids, key=lambda wire_id: (wire_id[1], wire_id[0]))
    more = f" and {len(ordered) - _LISTED} more" if len(ordered) > _LISTED else ""
    return ", ".join(starmap(id_text, ordered[:_LISTED])) + more
