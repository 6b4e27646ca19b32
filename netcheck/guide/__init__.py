"""The pages behind the README: Markdown files, as data."""

from netcheck.guide._pages import GuidePage, guide_page, guide_pages

__all__ = ["GuidePage", "guide_page", "guide_pages"]
