"""Compacting changes no answer; what a question is reading meanwhile stays; workers lose nothing."""

from __future__ import annotations

import os
import shutil
import signal
import socket
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import ExitStack, suppress
from pathlib import Path

import pyarrow.parquet as pq
import pytest

from netcheck.archive import (
    TABLES,
    Adder,
    Archive,
    CaptureFacts,
    Store,
    _cluster,
    _compact,
    compact,
    compact_if_it_pays,
    find_captures,
    open_store,
)
from netcheck.archive._read import CaptureRead, ReadOrder
from tests.archive.fleet import new_store


def answers(store: Store) -> dict[str, object]:
    with Archive(store) as archive:
        return {name: archive.ask(f"FROM {name} ORDER BY ALL").rows for name in TABLES}


def test_compacting_changes_no_answer(store: Store, tmp_path: Path) -> None:
    copy = open_store(shutil.copytree(store.folder, tmp_path / "a"))
    before = answers(copy)
    with Archive(copy) as reading:
        done = compact(copy)
        # the old files stay for who is reading
        assert reading.ask("SELECT count(*) FROM roles").rows[0][0] == len(before["roles"])  # type: ignore[arg-type]
    assert done.files == (18, 5)
    assert answers(copy) == before
    assert [len(copy.paths(name)) for name in TABLES] == [1] * 5
    assert compact(copy).files == (5, 5)
    for name, table in TABLES.items():
        rows = pq.read_table(copy.paths(name)[0]).to_pylist()
        if name != "frames":
            keys = [tuple((row[key] is None, row[key]) for key in table.order) for row in rows]
            assert keys == sorted(keys)


def test_small_files_are_put_together_by_themselves(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    copy = open_store(shutil.copytree(store.folder, tmp_path / "a"))
    assert compact_if_it_pays(copy) is None
    monkeypatch.setattr(_compact, "_FILES", 3)
    done = compact_if_it_pays(copy)
    assert done is not None
    assert done.files == (18, 10)  # frames are still few


def test_files_go_in_pieces_that_fit_in_memory(
    store: Store, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    copy = open_store(shutil.copytree(store.folder, tmp_path / "a"))
    before = answers(copy)
    monkeypatch.setattr(_compact, "_MOST_ROWS", {"frames": 1500})
    compact(copy)
    assert 1 < len(copy.paths("frames")) < 6
    assert answers(copy) == before


def test_what_a_killed_writer_left_behind_goes_after_a_day(store: Store, tmp_path: Path) -> None:
    copy = open_store(shutil.copytree(store.folder, tmp_path / "a"))
    old, new = copy.data / "frames-0.parquet", copy.data / "frames-1.parquet.part"
    for path in (old, new):
        path.write_bytes(b"half")
    os.utime(old, (time.time() - 90_000,) * 2)
    assert compact(copy).swept == 1
    assert (old.exists(), new.exists()) == (False, True)


def killed_once(order: ReadOrder) -> CaptureRead:
    """Reads a capture as a worker does, but for the first that comes, whose process ends at once."""
    flag = order.folder / "killed"
    try:
        flag.touch(exist_ok=False)
    except FileExistsError:
        from netcheck.archive._read import read_capture_rows

        return read_capture_rows(order)
    os.kill(os.getpid(), signal.SIGKILL)
    raise AssertionError


def test_a_worker_that_is_killed_loses_nothing(
    fleet: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(_cluster, "read_capture_rows", killed_once)
    monkeypatch.setattr(_cluster, "cores", lambda: 1)
    store = new_store(tmp_path / "a")
    (tmp_path / "bad.log").write_text("no frames")

    def workers(orders: Sequence[ReadOrder]) -> Iterator[CaptureRead]:
        return _cluster.read_by_workers(None, orders)

    known = CaptureFacts(fleet / "gull.vehicle.toml")
    paths = [str(fleet / "2021"), str(tmp_path / "bad.log")]
    with ExitStack() as taken:
        with suppress(OSError):  # it is taken already
            taken.enter_context(socket.create_server(("", 8787)))  # where Dask would serve its pages
        added = Adder(store, frames=True, reader=lambda _: workers).add(find_captures(paths, known).captures)
    assert (store.data / "killed").exists()
    assert (len(added.added), list(added.refused)) == (2, [str(tmp_path / "bad.log")])
    here = new_store(tmp_path / "b")
    Adder(here, frames=True).add(find_captures([str(fleet / "2021")], known).captures)
    with Archive(store) as one, Archive(here) as other:
        for table in ("channels", "messages", "roles", "frames"):
            assert one.ask(f"FROM {table} ORDER BY ALL") == other.ask(f"FROM {table} ORDER BY ALL")
    assert threading.active_count() < 20


def test_a_scheduler_that_does_not_answer_is_one_line(
    fleet: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    from netcheck.cli import main

    monkeypatch.setattr(_cluster, "_ANSWERS", "0.2s")
    words = ["archive", "add", str(fleet / "2021"), "--store", str(tmp_path / "a")]
    assert main([*words, "--scheduler", "tcp://127.0.0.1:9"]) == 2
    told = capsys.readouterr()
    assert told.err.splitlines()[-1].startswith("netcheck: --scheduler tcp://127.0.0.1:9 does not answer")
