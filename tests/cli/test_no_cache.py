"""``--no-cache``: a command neither reads nor writes layouts in the user's cache folder."""

from __future__ import annotations

import pytest

from netcheck.cli import main
from netcheck.cli._record_setup import prepare
from tests.cli.jobs import write_job

LOG = "".join(f"({100 + i / 10:.6f}) can0 123#0{i % 2}00000000000000\n" for i in range(50))


@pytest.fixture
def inputs(tmp_path, monkeypatch):
    """A folder with ``job`` and ``pair.log``, and a cache folder that is the test's own."""
    monkeypatch.setenv("NETCHECK_CACHE_DIR", str(tmp_path / "cache"))
    (tmp_path / "pair.log").write_text(LOG, encoding="utf-8")
    return tmp_path, str(write_job(tmp_path))


@pytest.mark.parametrize(
    "command",
    [
        "plan JOB",
        "coding JOB",
        "tap JOB",
        "decode LOG --dbc DBC",
        "survey LOG --dbc DBC",
    ],
)
def test_layouts_are_kept_unless_told_not_to(inputs, capsys, command):
    folder, job = inputs
    paths = {"JOB": job, "LOG": str(folder / "pair.log"), "DBC": str(folder / "comfort.dbc")}
    words = [paths.get(word, word) for word in command.split()]
    main([*words, "--no-cache"])
    without = capsys.readouterr().out
    assert not (folder / "cache" / "layouts").exists()
    main(words)
    assert capsys.readouterr().out == without != ""
    assert list((folder / "cache" / "layouts").iterdir())


@pytest.mark.parametrize("cache", [False, True])
def test_a_recording_is_prepared_without_it(inputs, cache):
    folder, job = inputs
    setup = prepare(folder / job, "comfort", folder / "new.log", cache=cache)
    assert setup.cache is cache
    assert (folder / "cache" / "layouts").exists() is cache
