"""The topics of the guide, in the order of the work, and the page of each."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from netcheck.errors import UsageError
from netcheck.records import dataclass
from netcheck.words import meant

TOPICS: Final = (
    "safety",
    "plan",
    "capture",
    "survey",
    "find",
    "tap",
    "record",
    "readout",
    "coding",
    "prove",
    "report",
    "archive",
    "python",
    "pytest",
    "trim",
    "bench",
    "new-vehicle",
    "files",
    "systems",
    "measurements",
    "changes",
)


@dataclass(frozen=True)
class GuidePage:
    """One page. title: its first heading; text: all of it, as Markdown."""

    topic: str
    title: str
    text: str


def guide_page(topic: str) -> GuidePage:
    """The page of a topic. Raises UsageError for an unknown one, with the topic that may be meant."""
    if topic not in TOPICS:
        raise UsageError(f"the guide has no topic '{topic}'", remedy=meant(topic, TOPICS))
    text = Path(__file__).with_name(f"{topic}.md").read_text(encoding="utf-8")
    return GuidePage(topic, text.partition("\n")[0].removeprefix("# "), text)


def guide_pages() -> tuple[GuidePage, ...]:
    """All pages, in the order of the work."""
    return tuple(guide_page(topic) for topic in TOPICS)
