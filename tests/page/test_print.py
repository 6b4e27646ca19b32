"""The print, by stand-ins for the browser: what they do wrong is said in one line."""

from __future__ import annotations

from pathlib import Path

import pytest

from netcheck.cli import main
from netcheck.errors import UsageError
from netcheck.page import page_pdf
from tests.cli.jobs import write_job

Patch = pytest.MonkeyPatch


def stand_in(folder: Path, patch: Patch, script: str) -> None:
    """A program named chromium, the only one on the path."""
    program = folder / "bin" / "chromium"
    program.parent.mkdir()
    program.write_text(f"#!/bin/sh\n{script}\n", encoding="utf-8")
    program.chmod(0o755)
    patch.setenv("PATH", str(program.parent))


WRITES = 'for word; do case "$word" in --print-to-pdf=*) echo "%PDF-1.4" > "${word#*=}";; esac; done'


def test_the_page_is_printed(tmp_path: Path, monkeypatch: Patch) -> None:
    stand_in(tmp_path, monkeypatch, WRITES)
    assert page_pdf("<p>x</p>") == b"%PDF-1.4\n"


def test_page_and_print_are_written_together(tmp_path: Path, monkeypatch: Patch) -> None:
    job = str(write_job(tmp_path))
    stand_in(tmp_path, monkeypatch, WRITES)
    page, pdf = tmp_path / "x.html", tmp_path / "x.pdf"
    assert main(["report", job, "-o", str(page), "--pdf", str(pdf)]) == 0
    assert page.read_bytes().startswith(b"<!DOCTYPE html>")
    assert pdf.read_bytes() == b"%PDF-1.4\n"
    page.unlink()
    assert main(["report", job, "-o", str(page), "--pdf", str(pdf)]) == 2
    assert not page.exists()
    assert main(["report", job, "-o", str(page), "--pdf", str(page)]) == 2


def test_without_a_browser_the_remedy_is_said_before_any_work(
    tmp_path: Path, monkeypatch: Patch, capsys: pytest.CaptureFixture[str]
) -> None:
    job = str(write_job(tmp_path))
    monkeypatch.setenv("PATH", str(tmp_path))
    assert main(["report", job, "--pdf", str(tmp_path / "x.pdf")]) == 2
    said = capsys.readouterr().err
    assert "no Chromium to print with" in said
    assert "apt-get install chromium" in said
    assert not (tmp_path / "x.pdf").exists()


@pytest.mark.parametrize(
    ("script", "said"), [("echo bad luck >&2; exit 3", "bad luck"), ("exit 0", "exit status 0")]
)
def test_a_browser_that_prints_nothing(tmp_path: Path, monkeypatch: Patch, script: str, said: str) -> None:
    stand_in(tmp_path, monkeypatch, script)
    with pytest.raises(UsageError, match=said):
        page_pdf("<p>x</p>")
