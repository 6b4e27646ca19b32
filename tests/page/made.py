"""Pages as the command writes them."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from netcheck.cli import main
from tests.page.hostile import hostile_job
from tests.test_demo import SAMPLE_LOGS

JOBS = sorted(path.name.removesuffix(".job.toml") for path in SAMPLE_LOGS.glob("*.job.toml"))


def write_page(target: Path, *words: str) -> str:
    """What ``netcheck report`` writes."""
    assert main(["report", *words, "-o", str(target), "--force"]) == 0
    return target.read_text(encoding="utf-8")


@cache
def demo_page(folder: Path, job: str) -> str:
    return write_page(folder / f"{job}.html", str(SAMPLE_LOGS / f"{job}.job.toml"))


def hostile_page(folder: Path) -> str:
    return write_page(folder / "hostile.html", str(hostile_job(folder)))
