"""A Chromium without a screen, driven through Selenium: offline, with a profile of its own."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

from selenium import webdriver
from selenium.webdriver.chrome.service import Service

from netcheck.page._print import BROWSERS

OPTIONS = (
    "--headless",
    "--no-sandbox",
    "--disable-gpu",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-dev-shm-usage",
    "--disable-extensions",
    "--disable-sync",
    "--no-first-run",
    "--host-resolver-rules=MAP * ~NOTFOUND",
)


def missing() -> str:
    """Why there is no browser to test with; "" where there is one."""
    if shutil.which("chromedriver") is None or not any(map(shutil.which, BROWSERS)):
        return "no Chromium with its driver: apt-get install chromium chromium-driver"
    return ""


@contextmanager
def browser() -> Iterator[Any]:
    """One session."""
    options = webdriver.ChromeOptions()
    options.binary_location = next(path for path in map(shutil.which, BROWSERS) if path)
    options.set_capability("goog:loggingPrefs", {"browser": "ALL"})
    with TemporaryDirectory(ignore_cleanup_errors=True) as profile:
        for option in (*OPTIONS, f"--user-data-dir={profile}"):
            options.add_argument(option)
        driver = webdriver.Chrome(
            options=options, service=Service(shutil.which("chromedriver"), log_output=os.devnull)
        )
        driver.set_script_timeout(30)
        try:
            yield driver
        finally:
            driver.quit()


def look(driver: Any, width: int, scheme: str = "light") -> None:
    """The size of the window, and whether it asks for dark colours."""
    metrics = {"width": width, "height": 900, "deviceScaleFactor": 1, "mobile": False}
    driver.execute_cdp_cmd("Emulation.setDeviceMetricsOverride", metrics)
    features = [{"name": "prefers-color-scheme", "value": scheme}]
    driver.execute_cdp_cmd("Emulation.setEmulatedMedia", {"features": features})


def open_page(driver: Any, page: Path) -> None:
    driver.get(page.as_uri())


def complaints(driver: Any) -> list[str]:
    """What the console has to say since it was asked last, blocked resources among it."""
    return [entry["message"] for entry in driver.get_log("browser")]
