"""What holds of the lines of every report, at any width."""

from __future__ import annotations

from netcheck.report._wrap import cells, pieces


def overlong(text: str, width: int) -> list[str]:
    """Lines wider than asked, without those that end in a piece that nothing may break.

    Such a piece begins its line: before it stand an indent and a lead at most, which never take more than
    three quarters of the line.
    """
    return [line for line in text.split("\n") if cells(line) > width and not _overhangs(line, width)]


def _overhangs(line: str, width: int) -> bool:
    before = line[: -len(pieces(line)[-1])]
    return cells(before) <= 3 * width // 4
