"""What ``survey`` and ``prove`` tell of a capture beside other vans in an archive."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from netcheck.cli._output import Look, check_target
from netcheck.records import dataclass

if TYPE_CHECKING:
    from netcheck.archive import BesidePeers, WantedCapture

PeersOption = Annotated[
    Path | None,
    typer.Option(
        "--archive",
        metavar="FOLDER",
        help="An archive: what is unusual beside other vans of the model year. It decides nothing.",
    ),
]


@dataclass(frozen=True)
class HeldBeside:
    """What came of it, a capture each; None where no archive was asked."""

    found: Sequence[BesidePeers] | None

    def text(self, how: Look) -> str:
        """A section for each capture; "" without an archive."""
        if self.found is None:
            return ""
        from netcheck.report.archive import peers_page

        pages = [peers_page(one, width=how.width, colour=how.colour) for one in self.found]
        return "".join(f"\n{page.strip(chr(10))}\n" for page in pages)

    def json(self) -> list[dict[str, Any]] | None:
        """An object for each capture."""
        if self.found is None:
            return None
        from netcheck.report.archive import peers_json

        return list(map(peers_json, self.found))


def held_beside(
    folder: Path | None,
    captures: Callable[[], Iterable[WantedCapture]],
    output: Path | None,
    *,
    cache: bool,
) -> HeldBeside:
    """Captures beside their peers in an archive; nothing without one."""
    if folder is None:
        return HeldBeside(None)
    from netcheck.archive import Archive, beside_peers, open_store

    store = open_store(folder)
    check_target(output, store.files())
    with Archive(store) as archive:
        return HeldBeside([beside_peers(archive, wanted, cache=cache) for wanted in captures()])
