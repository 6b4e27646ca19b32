"""Results to look at, to print and to hand over: one HTML file each, with all it needs inside."""

from netcheck.page._job_page import job_page, wanted_signals

__all__ = ["job_page", "wanted_signals"]
