"""A page on paper: printed to PDF by a Chromium that is installed here."""

from __future__ import annotations

import os
import shutil
import subprocess
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Final

from netcheck.errors import UsageError
from netcheck.words import clean

BROWSERS: Final = ("chromium", "chromium-browser", "google-chrome-stable", "google-chrome", "chrome")
_ALL_CHARTS: Final = "#open-all"  # the page opens each chart
_SECONDS: Final = 180.0  # a page of many charts on a slow computer takes some
# It prints a local file, keeps nothing, and finds no host that it might want to ask.
_OPTIONS: Final = (
    "--headless",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-extensions",
    "--disable-sync",
    "--no-first-run",
    "--host-resolver-rules=MAP * ~NOTFOUND",
    "--no-pdf-header-footer",
)


def find_browser() -> str:
    """The Chromium that is found first on the path. Raises UsageError where none is."""
    for name in BROWSERS:
        path = shutil.which(name)
        if path is not None:
            return path
    raise UsageError(
        "no Chromium to print with",
        remedy="install one (Debian: apt-get install chromium), or print the page from your own browser",
    )


def page_pdf(html: str) -> bytes:
    """The page as PDF, A4. Raises UsageError without a Chromium, or where it prints nothing."""
    browser = find_browser()
    with TemporaryDirectory(prefix="netcheck-") as folder:
        page, target = Path(folder) / "page.html", Path(folder) / "page.pdf"
        page.write_text(html, encoding="utf-8")
        command = [browser, *_OPTIONS, f"--user-data-dir={folder}/profile", f"--print-to-pdf={target}"]
        if hasattr(os, "geteuid") and os.geteuid() == 0:
            command.append("--no-sandbox")  # the administrator's Chromium does not start with one
        try:
            done = subprocess.run(
                [*command, page.as_uri() + _ALL_CHARTS], capture_output=True, timeout=_SECONDS, check=False
            )
        except (OSError, subprocess.TimeoutExpired) as error:
            raise _not_printed(browser, str(error)) from error
        if done.returncode or not target.is_file():
            said = done.stderr.decode("utf-8", "replace").strip().splitlines()
            raise _not_printed(browser, said[-1] if said else f"exit status {done.returncode}")
        return target.read_bytes()


def _not_printed(browser: str, why: str) -> UsageError:
    return UsageError(
        f"{browser} printed nothing: {clean(why)[:200]}",
        remedy="open the page in a browser and print it there",
    )
