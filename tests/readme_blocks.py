"""The executed blocks of README and guide: found, run, compared, and renewed in place.

``python -m tests.readme_blocks`` renews the output in every console block; read the difference before you
commit it. A line of … in a block stands for any number of lines: what is shown around it is found again in
the new output, also where it was reworded or wrapped anew.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import shlex
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from netcheck.cli import main
from tests.demo.fleet import fleet_archive

ROOT = Path(__file__).parent.parent
PAGES = (ROOT / "README.md", *sorted((ROOT / "netcheck" / "guide").glob("*.md")))
ELLIPSIS = "…"
WIDTH = "80"
CONSOLE = re.compile(
    r"(?<=^```console\n)\$ netcheck (?P<command>.*)\n(?P<shown>(?:.*\n)*?)(?=```$)", re.MULTILINE
)

# What it costs to explain the words that are shown by those that are printed.
CHANGED, GONE, NEW = 0.6, 1.0, 0.5
BREAK, ANY = "\n", "\n…"  # the words that an empty line and a line of … count as


@dataclass(frozen=True)
class Block:
    """A console block: the command line behind ``netcheck``, and the lines shown below it."""

    command: str
    shown: list[str]


def blocks(text: str) -> list[Block]:
    """The console blocks of a page, in order."""
    return [Block(found["command"], found["shown"].splitlines()) for found in CONSOLE.finditer(text)]


def matches(shown: list[str], printed: list[str]) -> bool:
    """Whether the printed lines are the shown ones; a line of … stands for any number of lines."""
    if not shown:
        return not printed
    if shown[0] == ELLIPSIS:
        return any(matches(shown[1:], printed[at:]) for at in range(len(printed) + 1))
    return bool(printed) and printed[0] == shown[0] and matches(shown[1:], printed[1:])


@contextlib.contextmanager
def _at_the_root() -> Iterator[None]:
    before = os.environ.copy()
    os.environ["COLUMNS"] = WIDTH
    try:
        with contextlib.chdir(ROOT):
            yield
    finally:
        os.environ.clear()
        os.environ.update(before)


def printed_by(command: str) -> list[str]:
    """What ``netcheck COMMAND`` prints on standard output, run at the top of the checkout.

    What asks an archive asks that of the demo's fleet.
    """
    out = io.TextIOWrapper(io.BytesIO(), encoding="utf-8")
    with _at_the_root(), contextlib.redirect_stdout(out):
        if command.startswith("archive ") or " --archive " in command:
            os.environ["NETCHECK_ARCHIVE_DIR"] = str(fleet_archive())
        main(shlex.split(command))
    out.seek(0)
    return out.read().splitlines()


def renewed(shown: list[str], printed: list[str]) -> list[str]:
    """The lines to show now: all that is printed, or the parts of it that the old lines show most of."""
    if matches(shown, printed):
        return shown
    if ELLIPSIS not in shown:
        return printed
    words, line_of = _words(printed)
    kept = {line_of[at] for at in _kept(_words(shown)[0], words)}
    lines: list[str] = []
    for number, line in enumerate(printed):
        if number in kept:
            lines.append(line)
        elif not lines or lines[-1] != ELLIPSIS:
            lines.append(ELLIPSIS)
    return lines


def _words(lines: list[str]) -> tuple[list[str], list[int]]:
    """All words, and the line of each."""
    pairs = [
        (word, number)
        for number, line in enumerate(lines)
        for word in ([ANY] if line == ELLIPSIS else line.split() or [BREAK])
    ]
    return [word for word, _ in pairs], [number for _, number in pairs]


def _kept(shown: list[str], printed: list[str]) -> list[int]:
    """Which printed words the shown ones stand for: the cheapest alignment. … skips words for nothing."""
    costs = [[0.0] * (len(printed) + 1)]
    steps: list[list[str]] = [["new"] * (len(printed) + 1)]
    for at in range(1, len(printed) + 1):
        costs[0][at] = NEW * at
    for word in shown:
        above, row, how = costs[-1], [], []
        for at in range(len(printed) + 1):
            if word == ANY:
                ways = [(above[at], "gone")]
                if at:
                    ways.append((row[-1], "skip"))
            else:
                ways = [(above[at] + GONE, "gone")]
                if at:
                    same = printed[at - 1] == word
                    ways += [(above[at - 1] + (0 if same else CHANGED), "pair"), (row[-1] + NEW, "new")]
            cost, step = min(ways)
            row.append(cost)
            how.append(step)
        costs.append(row)
        steps.append(how)
    kept, down, at = [], len(shown), len(printed)
    while down or at:
        step = steps[down][at]
        if step in ("pair", "new"):
            kept.append(at - 1)
        down -= step in ("gone", "pair")
        at -= step in ("pair", "new", "skip")
    return kept


def renew(text: str) -> str:
    """The page with what its commands print now."""

    def again(found: re.Match[str]) -> str:
        lines = renewed(found["shown"].splitlines(), printed_by(found["command"]))
        return "\n".join([f"$ netcheck {found['command']}", *lines, ""])

    return CONSOLE.sub(again, text)


def renew_pages() -> None:
    """Write the pages anew; says which changed."""
    for page in PAGES:
        old = page.read_text(encoding="utf-8")
        new = renew(old)
        if new != old:
            page.write_text(new, encoding="utf-8")
            sys.stdout.write(f"{page.relative_to(ROOT)}: renewed\n")


if __name__ == "__main__":
    renew_pages()
