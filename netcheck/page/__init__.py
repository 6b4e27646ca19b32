"""Results to look at, to print and to hand over: one HTML file each, with all it needs inside."""

from netcheck.page._drawing import network_drawing
from netcheck.page._find_page import find_page, find_report_json
from netcheck.page._job_page import job_json, job_page, wanted_signals
from netcheck.page._print import find_browser, page_pdf
from netcheck.page._survey_page import survey_page, survey_report_json

__all__ = [
    "find_browser",
    "find_page",
    "find_report_json",
    "job_json",
    "job_page",
    "network_drawing",
    "page_pdf",
    "survey_page",
    "survey_report_json",
    "wanted_signals",
]
