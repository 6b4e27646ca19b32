"""Results to look at, to print and to hand over: one HTML file each, with all it needs inside."""

from netcheck.page._drawing import network_drawing
from netcheck.page._find_page import find_page
from netcheck.page._job_page import job_page, wanted_signals
from netcheck.page._print import find_browser, page_pdf
from netcheck.page._survey_page import survey_page

__all__ = [
    "find_browser",
    "find_page",
    "job_page",
    "network_drawing",
    "page_pdf",
    "survey_page",
    "wanted_signals",
]
