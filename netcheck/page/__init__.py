"""Results to look at, to print and to hand over: one HTML file each, with all it needs inside."""

from netcheck.page._job_page import job_page, wanted_signals
from netcheck.page._print import find_browser, page_pdf

__all__ = ["find_browser", "job_page", "page_pdf", "wanted_signals"]
