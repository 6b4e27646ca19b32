"""One line of the table."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Row:
    """One line of the table.

    ratio:    the figure that counts
    is_share: it is to be low (a share of the other side), not high (times as fast)
    least, aim: what it has to come to at least, and what it is meant to; None where nothing is asked
    """

    what: str
    against: str
    ours: str
    theirs: str
    ratio: float | None
    is_share: bool
    least: float | None
    aim: float | None


def seconds_text(seconds: float) -> str:
    """As short as it says enough."""
    return (
        f"{seconds:.1f} s"
        if seconds >= 10
        else f"{seconds:.2f} s"
        if seconds >= 1
        else f"{1000 * seconds:.0f} ms"
    )
