"""Pages of a sheet for paper: blocks that are not torn, head and foot on each, form feeds between them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from netcheck.records import dataclass

PAGE_WIDTH: Final = 80  # columns
PAGE_LINES: Final = 66  # A4 and Letter at six lines an inch hold as many
FORM_FEED: Final = "\f"
_WORTH: Final = 10  # lines at the foot of a page that are left empty so that a section is not torn


@dataclass(frozen=True)
class Block:
    """Lines that stay together. head: said above the first of several blocks that share it, on each page."""

    lines: tuple[str, ...]
    head: tuple[str, ...] = ()


@dataclass(frozen=True)
class Section:
    """A titled run of blocks. starts_page: it never shares a page with what stands before it."""

    title: str
    blocks: tuple[Block, ...]
    starts_page: bool

    @property
    def size(self) -> int:
        """Lines that it takes, title and the blank line before it included."""
        befores = [(), *(block.head for block in self.blocks)]
        heads = [
            block.head for block, before in zip(self.blocks, befores, strict=False) if block.head != before
        ]
        return 2 + sum(len(block.lines) for block in self.blocks) + sum(map(len, heads))


def pages(sections: Sequence[Section], head: Sequence[str], foot: Sequence[str]) -> str:
    """All sections on pages. ``{page}`` and ``{pages}`` in the head are filled in.

    A section that does not fit on the few lines left of a page, but on a page of its own, gets one. Any other
    goes on, with its title again. A block longer than a page is torn.
    """
    room = PAGE_LINES - len(head) - len(foot)
    bodies: list[list[str]] = []
    for section in sections:
        body = bodies[-1] if bodies and not section.starts_page else None
        if body is None or (len(body) + section.size > room >= section.size and room - len(body) <= _WORTH):
            bodies.append(body := [])
        _open(body, section.title)
        told: tuple[str, ...] = ()
        for block in section.blocks:
            for lines in _parts(block.lines, room - 1 - len(block.head)):
                above = block.head if block.head != told else ()
                if len(body) + len(above) + len(lines) > room:
                    bodies.append(body := [])
                    _open(body, section.title.replace(" ─", " (CONTINUED) ─", 1)[:PAGE_WIDTH])
                    above = block.head
                body += [*above, *lines]
                told = block.head
    return FORM_FEED.join(
        "\n".join([*_head(head, number, len(bodies)), *body, *[""] * (room - len(body)), *foot]) + "\n"
        for number, body in enumerate(bodies, 1)
    )


def _open(body: list[str], title: str) -> None:
    if body:
        body.append("")
    body.append(title)


def _parts(lines: tuple[str, ...], room: int) -> list[tuple[str, ...]]:
    return [lines[start : start + room] for start in range(0, len(lines), room)]


def _head(head: Sequence[str], number: int, count: int) -> list[str]:
    place = f"page {number} of {count}"
    return [
        f"{line:<{PAGE_WIDTH - len(place) - 1}} {place}" if not at else line for at, line in enumerate(head)
    ]
