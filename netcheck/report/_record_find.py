"""A recording that looks for roles: what is asked for, the ranking while it runs, and what came of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any, Final

from netcheck.capture.live import Listening, Losses
from netcheck.catalogue import roles as known_roles
from netcheck.find import Asking, AskKind, FieldCandidate, Search, SearchGuide
from netcheck.records import dataclass
from netcheck.report._draft import DraftFile, write_draft
from netcheck.report._find import find_json, write_search
from netcheck.report._find_words import place_text
from netcheck.report._page import Page, Style
from netcheck.report._record_live import caution_texts, cut
from netcheck.report._record_words import (
    QUIET_INTERFACES,
    RecordStop,
    listening_text,
    losses_text,
    stop_text,
)
from netcheck.words import bit_rate, counted, listing, path_text, sentence

FIND_KEYS: Final = "[r] I missed it: ask again [s] leave this role out [q] stop recording"
_MOST_LIVE: Final = 3

# Common practice, from the trade.
FIND_CAUTIONS: Final = (
    "Only listen: netcheck sends nothing. Local rules come first.",
    "Stand still for this: parking brake set, wheels chocked, nobody in front of or behind the vehicle, "
    "hands clear of what moves. Never look for a role on the road.",
    "Where an engine runs, let the exhaust out. Keep out of the way of airbags and pedals with the cable.",
)
ASK_WORDS: Final[Mapping[AskKind, str]] = {
    AskKind.TOUCH_NOTHING: "Touch nothing for {seconds}.",
    AskKind.ROLE: "Press it and let it go when you are asked to, not before. First press in {seconds}.",
    AskKind.WORK: "Press {press}: NOW, and hold it for {seconds}.",
    AskKind.LET_GO: "Let go.",
    AskKind.RANKED: "",
    AskKind.WORK_OTHERS: (
        "Several follow alike. For {seconds} work other controls near it, and touch this one not at all."
    ),
    AskKind.APART: (
        "A control and what it switches follow one after the other. For {seconds} work what it switches by "
        "another control, if there is one, and touch this one not at all."
    ),
    AskKind.CLEAR: "{best} stands clear.",
    AskKind.GIVEN_UP: "Left open: {why}.",
    AskKind.OVER: "That was all.",
}
_BEEPS: Final = frozenset({AskKind.WORK, AskKind.LET_GO, AskKind.OVER})


@dataclass(frozen=True)
class FindCase:
    """A recording that is over, and what was found in it. marks_file: None where no mark was made"""

    log: Path
    marks_file: Path | None
    channel: str
    frames: int
    seconds: float
    losses: Losses
    stop: RecordStop
    roles: tuple[str, ...]
    searches: tuple[Search, ...]
    draft: DraftFile | None


def find_introduction(
    roles: Sequence[str], *, interface: str, bitrate: int, listening: Listening, width: int, colour: bool
) -> tuple[str, ...]:
    """The cautions one by one; then what the interface does to the network, and what is looked for."""
    page = Page(width)
    page.text(f"Recording through {interface} at {bit_rate(bitrate)}", style=Style.STRONG)
    style = Style.PLAIN if listening in QUIET_INTERFACES else Style.BAD
    page.entry("interface", listening_text(listening), indent=2, column=12, text_style=style)
    page.entry("roles", listing(roles, most=12), indent=2, column=12)
    return *caution_texts(FIND_CAUTIONS, width=width, colour=colour), "\n" + page.render(colour=colour)


def asking_text(asking: Asking, guide: SearchGuide, *, width: int, colour: bool, keys: bool) -> str:
    """What is asked for; "" for what only the ranking tells."""
    page = Page(width)
    if asking.kind is AskKind.ROLE:
        number = guide.roles.index(asking.role) + 1
        page.heading(f"{number} of {len(guide.roles)}: {asking.role}")
        if asking.role in known_roles():
            page.text(sentence(known_roles()[asking.role].meaning))
    if asking.kind is AskKind.RANKED:
        for line in ranking_lines(asking.search):
            page.text(line)
        return page.render(colour=colour)
    best = asking.search.candidates[0] if asking.search and asking.search.candidates else None
    text = ASK_WORDS[asking.kind].format(
        seconds=f"{asking.seconds:.1f} s",
        press=asking.press,
        best=place_text(best.field) if best else "",
        why="nothing followed" if best is None else "no candidate stands clear",
    )
    style = {AskKind.CLEAR: Style.GOOD, AskKind.GIVEN_UP: Style.DOUBT}.get(asking.kind, Style.STRONG)
    page.text(text, style=style)
    if asking.kind is AskKind.ROLE and keys:
        page.text(FIND_KEYS)
    return page.render(colour=colour)


def is_heard(asking: Asking) -> bool:
    """Whether it comes with a beep: the person sits in the vehicle and does not see the screen."""
    return asking.kind in _BEEPS


def ranking_lines(search: Search | None) -> list[str]:
    """The first three candidates, each in a line."""
    if search is None:
        return []
    if not search.candidates:
        return ["  nothing moved with the presses so far"]
    return [f"  {number}. {_row(each)}" for number, each in enumerate(search.candidates[:_MOST_LIVE], 1)]


def _row(each: FieldCandidate) -> str:
    copies = f", {counted(len(each.copies), 'copy', 'copies')}" if each.copies else ""
    extra = f", {counted(len(each.unasked), 'extra movement')}" if each.unasked else ""
    edges = f"{each.matched} of {counted(each.edges, 'edge')}"
    return f"{each.score:.2f}  {place_text(each.field)}: {edges}{extra}{copies}"


def find_live_lines(guide: SearchGuide, frames: int, now_ns: int, width: int) -> list[str]:
    """At the bottom of the screen: what is going on, and for how long still."""
    what = {
        AskKind.WORK: f"{guide.role}: HOLD IT",
        AskKind.ROLE: f"{guide.role}: wait",
        AskKind.LET_GO: f"{guide.role}: let go",
        AskKind.WORK_OTHERS: "work other controls",
        AskKind.APART: "work what it switches by another control",
        AskKind.TOUCH_NOTHING: "touch nothing",
    }.get(guide.phase, "recording")
    return [cut(f"  {what}, {guide.left(now_ns):.1f} s", width), cut(f"  {counted(frames, 'frame')}", width)]


def record_find_text(case: FindCase, *, width: int, colour: bool, verbose: bool = False) -> str:
    """The recording, the candidates of each role, the draft."""
    page = Page(width)
    page.text(
        f"Recorded {case.channel}: {counted(case.frames, 'frame')} in {case.seconds:.1f} s",
        style=Style.STRONG,
    )
    page.entry("log", path_text(case.log), indent=2, column=8)
    if case.marks_file is not None:
        page.entry("marks", path_text(case.marks_file), indent=2, column=8)
    style = Style.BAD if case.losses.frames else Style.PLAIN
    page.entry("lost", losses_text(case.losses), indent=2, column=8, text_style=style)
    if ending := stop_text(case.stop):
        page.entry("ended", ending, indent=2, column=8, text_style=Style.BAD)
    missing = [role for role in case.roles if role not in {each.asked.role for each in case.searches}]
    if missing:
        page.entry("open", f"not asked for: {listing(missing)}", indent=2, column=8, text_style=Style.DOUBT)
    for search in case.searches:
        page.blank()
        write_search(page, search, verbose)
    if case.draft is not None:
        write_draft(page, case.draft)
    return page.render(colour=colour)


def record_find_json(case: FindCase) -> dict[str, Any]:
    """The same for scripts."""
    return {
        **find_json(case.searches, case.draft, file=str(case.log)),
        "log": str(case.log),
        "marks_file": str(case.marks_file) if case.marks_file else None,
        "channel": case.channel,
        "frames": case.frames,
        "seconds": round(case.seconds, 3),
        "lost": case.losses.frames,
        "ending": stop_text(case.stop),
        "stop": case.stop.kind.value,
    }
