"""What the tests of ``record`` begin with."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.cli.jobs import CLUSTER, GATEWAY, RETROFIT, write_job
from tests.live import free_port

EXERCISE = """
[[exercise]]
role = "reverse-engaged"
do = "Foot on the brake, select reverse for 3 seconds"
"""
ANSWERS = RETROFIT.replace('evidence = "defined"', 'evidence = "answers"') + EXERCISE


@pytest.fixture
def port() -> int:
    return free_port()


@pytest.fixture
def job(tmp_path: Path) -> Path:
    path = write_job(tmp_path, GATEWAY + CLUSTER)
    (tmp_path / "sensors.retrofit.toml").write_text(ANSWERS, encoding="utf-8")
    return path
