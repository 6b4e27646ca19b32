"""The benchmark runs, and its logs are what they seem; no time is judged here."""

from __future__ import annotations

import json
from pathlib import Path

import cantools
import pytest

import netcheck
import netcheck.cli
from tests.benchmarks import files, sides
from tests.benchmarks.__main__ import PAGE
from tests.benchmarks.finding import PARTS, find_command, finding_rows, score_rows, shares, spans_of
from tests.benchmarks.rows import PAGE_OPENED, Row, Sizes, rows
from tests.benchmarks.table import HEAD, judgement, table, with_run
from tests.benchmarks.traffic import BLOCK, POOL, Sender, senders, write_log
from tests.page.browser import missing


def test_all_rows_with_little_logs(tmp_path: Path) -> None:
    told: list[str] = []
    little = Sizes(frames=900, rounds=1, starts=1)
    measured = [
        *rows(tmp_path, little, told.append, cache=None),
        *finding_rows(tmp_path, little, told.append, cache=None),
        *score_rows(little.scored, told.append),
    ]
    replayed = [row for row in measured if row.what.startswith("`netcheck replay`")]
    assert len(replayed) == 2
    # Where no multicast goes through, or a frame is lost, the row says so.
    assert all(row.ratio is None or row.ratio > 0 for row in replayed)
    # So few captures tell nothing of several workers.
    untold = [*replayed, *(row for row in measured if "Dask worker" in row.what)]
    untold += [row for row in measured if row.what == PAGE_OPENED and missing()]
    others = [row.ratio is not None and row.ratio > 0 for row in measured if row not in untold]
    assert others == [True] * len(others)
    lines = table(measured).splitlines()
    assert len(lines) == 2 + len(measured)
    assert len({len(line) for line in lines}) == 1
    assert told
    assert [path.name for path in tmp_path.iterdir() if path.suffix == ".log"] == []


@pytest.mark.parametrize(
    ("ratio", "is_share", "said"),
    [
        (100, False, "aim met"),
        (60, False, "met"),
        (59, False, "NOT MET"),
        (None, False, "not run"),
        (60, True, "aim met"),
        (100, True, "met"),
        (101, True, "NOT MET"),
    ],
)
def test_what_a_row_comes_to(ratio: float | None, is_share: bool, said: str) -> None:
    least, aim = (100, 60) if is_share else (60, 100)
    assert judgement(Row("", "", "", "", ratio, is_share, least, aim)) == said


def test_the_script_on_pandas_finds_what_netcheck_finds(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    log, spans = tmp_path / "x.log", [(25 * begin + 0.3, 25 * end + 0.3) for begin, end in PARTS]
    with log.open("w") as file:
        for step in range(500):
            time = step * 0.05
            on = any(begin <= time < end for begin, end in spans)
            file.write(f"({1_700_000_000 + time:.6f}) can0 1A3#{step & 0xFF:02X}{4 * on:02X}\n")
            file.write(f"({1_700_000_000 + time:.6f}) can1 1A3#{step // 7 & 0xFF:02X}00\n")
    share, *place = sides.find_with_pandas(log, spans_of(log))[0]
    assert share > 0.9
    assert place == ["can0", "1A3", 10]
    assert netcheck.cli.main([*find_command(log), "--format", "json"]) == 0
    best = json.loads(capsys.readouterr().out)["candidates"][0]
    assert (best["channel"], best["id"], best["byte"], best["bit"]) == ("can0", "0x1A3", 1, 2)


def test_shares_against_what_they_have_to_come_to() -> None:
    found = {"runs": 20, "first": 0.9, "first three": 1.0, "right of those scored 0.9": 0.95}
    first, three, right = shares("states", found)
    assert (first.against, first.ours, judgement(first)) == ("95% of 20 runs", "90.0%", "NOT MET")
    assert (judgement(three), judgement(right)) == ("met", "met")
    for share, said in ((0.0, "met"), (0.02, "met"), (0.03, "NOT MET")):
        (row,) = shares("absent", {"runs": 100, "runs with one scored 0.9": share})
        assert judgement(row) == said


def test_a_run_takes_the_place_of_the_last_one() -> None:
    page = PAGE.read_text(encoding="utf-8")
    assert page.count(f"| {HEAD[0]} ") == 1
    once = with_run(page, "MACHINE\n\nTABLE\n")
    assert with_run(page, "") != page
    assert "\n## Last run\n\nMACHINE\n\nTABLE\n\n## " in once
    assert f"| {HEAD[0]} " not in once
    assert with_run(once, "MACHINE\n\nTABLE\n") == once
    assert once.partition("\n## Last run")[0] == page.partition("\n## Last run")[0]
    assert once.partition("TABLE")[2].split("## ", 1)[1] == page.partition("Last run")[2].split("## ", 1)[1]


def test_the_log_is_that_of_the_van(tmp_path: Path) -> None:
    capture = netcheck.read_capture(files.van_log(tmp_path, 20_000))
    assert (len(capture), capture.skipped, capture.warnings) == (20_000, 0, ())
    assert sorted(capture.channels) == ["can0", "can1"]
    again = tmp_path / "again"
    again.mkdir()
    assert files.van_log(again, 20_000).read_bytes() == files.van_log(tmp_path, 20_000).read_bytes()
    series = netcheck.decode(capture, netcheck.load_database(files.ROOT / "dbc" / "skerry_comfort.dbc"))
    assert all(one.short == 0 for one in series.values())
    counter = series["GearCopy", "GearCounter"]
    assert set((counter.raw[1:] - counter.raw[:-1]) % 16) == {1}
    assert abs((counter.time_ns[1:] - counter.time_ns[:-1]) / 1e6 - 100).max() < 5


def test_both_sides_decode_the_same_values(tmp_path: Path) -> None:
    log = files.many_signals_log(tmp_path, 400)
    ours, theirs = netcheck.load_database(files.MANY_SIGNALS), sides.load_with_cantools(files.MANY_SIGNALS)
    assert isinstance(theirs, cantools.database.Database)
    capture = netcheck.read_capture(log)
    series = netcheck.decode(capture, ours)
    expected = {}
    for number in range(len(capture)):
        message = theirs.get_message_by_frame_id(int(capture.can_id[number]))
        decoded = message.decode(capture.payload(number), decode_choices=False)
        expected |= {(message.name, name, number): value for name, value in decoded.items()}
    found = {
        (*key, frame): value
        for key, one in series.items()
        for frame, value in zip(one.frame.tolist(), one.value.tolist(), strict=True)
    }
    assert found == pytest.approx(expected)
    assert sides.read_with_python_can(log) == 400


def test_random_payloads_are_frames(tmp_path: Path) -> None:
    capture = netcheck.read_capture(files.random_log(tmp_path, BLOCK + 500))
    assert (len(capture), capture.skipped, capture.warnings) == (BLOCK + 500, 0, ())
    assert len(set(capture.can_id.tolist())) == 60
    assert sorted(capture.channels) == ["can0", "can1"]
    assert set(capture.length.tolist()) == {8}
    assert set((capture.time_ns[1:] - capture.time_ns[:-1]).tolist()) == {500_000}
    assert len({capture.payload(number) for number in range(1000)}) == 1000
    assert sides.read_with_python_can(tmp_path / "random.log") == len(capture)


def test_frames_go_on_over_blocks(tmp_path: Path) -> None:
    payloads = senders(files.ROOT / "dbc" / "skerry_drive.dbc", 0, seed=2)[0].payloads
    wide = Sender(0, 0x18FF0000, True, 10_000, 4, payloads)
    log = tmp_path / "x.log"
    assert write_log(log, BLOCK + 1000, 1, [wide], ["vcan"]) == log.stat().st_size
    capture = netcheck.read_capture(log)
    assert len(capture) == BLOCK + 1000
    assert (capture.can_id == 0x18FF0000).all()
    assert capture.is_extended.all()
    assert (capture.time_ns[1:] >= capture.time_ns[:-1]).all()
    assert capture.payload(POOL + 3) == payloads[3, :4].tobytes()
