"""What the guide's pages look like on a terminal: a door of its own, so that no other command imports it."""

from netcheck.report._markdown import guide_page_text, topics_text

__all__ = ["guide_page_text", "topics_text"]
