"""The picture of a page for guide and README: ``python -m tests.page.picture`` writes it anew."""

from __future__ import annotations

import base64
import io
from pathlib import Path
from tempfile import TemporaryDirectory

from PIL import Image

from tests.page.browser import browser, look, open_page
from tests.page.made import write_page
from tests.readme_blocks import ROOT
from tests.test_demo import SAMPLE_LOGS

JOB = "guillemot_2021_camera_fitted"
PICTURE = ROOT / "netcheck" / "guide" / "report.png"
WIDTH = 1100
SKIPPED = ("cautions",)  # parts that would push the signals out of the picture


def main() -> None:
    """The page with one signal opened, from its head to that signal."""
    with TemporaryDirectory() as folder, browser() as driver:
        page = Path(folder) / f"{JOB}.html"
        write_page(page, str(SAMPLE_LOGS / page.with_suffix(".job.toml").name))
        look(driver, WIDTH)
        open_page(driver, page)
        for part in SKIPPED:
            driver.execute_script("document.getElementById(arguments[0]).hidden = true", part)
        button = "document.querySelector('button.show')"
        driver.execute_script(f"{button}.click()")
        row = f"document.getElementById({button}.dataset.target)"
        height = driver.execute_script(f"return {row}.getBoundingClientRect().bottom + scrollY")
        clip = {"x": 0, "y": 0, "width": WIDTH, "height": height, "scale": 1}
        told = driver.execute_cdp_cmd("Page.captureScreenshot", {"captureBeyondViewport": True, "clip": clip})
    with Image.open(io.BytesIO(base64.b64decode(told["data"]))) as picture:
        picture.convert("RGB").quantize(64).save(PICTURE, optimize=True)


if __name__ == "__main__":
    main()
