"""What stands in the tables is what survey and plan say of the same captures, and the frames themselves."""

from __future__ import annotations

import gzip
import re
from pathlib import Path

import numpy as np
import pyarrow.parquet as pq
import pytest

import netcheck
from netcheck.archive import TABLES, Adder, Archive, CaptureFacts, Store, compact, find_captures
from netcheck.capture import open_capture
from netcheck.files import load_vehicle
from netcheck.network import LoadRates, SurveyPlan, survey
from netcheck.report.onsite import survey_json
from netcheck.roles import load_networks
from tests.archive.fleet import VINS, add_fleet, new_store


def test_each_capture_has_one_row(archive: Archive) -> None:
    rows = archive.ask(
        "SELECT vehicle, year, file, fitting, marks, has_frames FROM captures ORDER BY file"
    ).rows
    assert [(row[0], row[1], row[2][-10:], *row[3:]) for row in rows] == [
        ("Gull 3", year, f"{year}/{number}.log", None, marks, True)
        for year, marks in ((2019, 1), (2020, 2), (2021, 2))
        for number in (1, 2)
    ]


def test_messages_are_the_rows_of_a_survey(archive: Archive, fleet: Path) -> None:
    vehicle = load_vehicle(fleet / "gull.vehicle.toml")
    networks = load_networks(vehicle)
    rates = {name: LoadRates(entry.bitrate) for name, entry in vehicle.model.network.items()}
    path = fleet / "2021" / "1.log"
    told = survey_json(survey(open_capture(path), SurveyPlan(networks, rates)))
    found = archive.ask(
        "SELECT m.* FROM messages m JOIN captures c USING (capture) WHERE c.file = $file", {"file": str(path)}
    ).dicts()
    rows = {(row["channel"], row["id"]): row for row in found}
    expected = [(channel, message) for channel in told["channels"] for message in channel["messages"]]
    assert len(rows) == len(expected) > 5
    for channel, message in expected:
        row = rows[channel["channel"], int(message["id"], 16)]
        counter, jitter = message["counter"] or {}, message["jitter_ms"] or [None, None]
        assert (row["name"], row["count"], row["lengths"], row["network"]) == (
            message["name"],
            message["count"],
            message["lengths"],
            channel["network"],
        )
        assert (row["counter_bit"], row["counter_width"], row["cyclic"], row["bytes"]) == (
            counter.get("bit"),
            counter.get("width"),
            message["cyclic"],
            message["bytes"],
        )
        times = [row["period_ms"], row["jitter_low_ms"], row["jitter_high_ms"], row["longest_gap_ms"]]
        wanted = [message["period_ms"], *jitter, message["longest_gap_ms"]]
        assert times == pytest.approx(wanted, abs=0.001)


@pytest.mark.parametrize("year", [2019, 2020])
def test_roles_show_what_a_plan_shows(archive: Archive, fleet: Path, year: int, tmp_path: Path) -> None:
    retrofit = tmp_path / "any.retrofit.toml"
    roles = ("reverse-engaged", "vehicle-speed", "tow-lamp", "door.left-open")
    needs = "".join(f'[[need]]\nrole = "{role}"\nevidence = "answers"\n' for role in roles)
    retrofit.write_text(f'kind = "retrofit"\nformat = 1\nname = "any"\n{needs}')
    path = fleet / str(year) / "1.log"
    job = netcheck.assemble_job(
        fleet / "gull.vehicle.toml", [str(retrofit)], network="body", captures=[path], year=year
    )
    item = netcheck.make_plan(job).items[0]
    rows = archive.ask(
        "SELECT role, evidence, in_years FROM roles JOIN captures USING (capture)"
        " WHERE file = $file AND network = 'body'",
        {"file": str(path)},
    ).rows
    mapped = {role: evidence for role, evidence, in_years in rows if in_years}
    assert mapped == {need.role: need.evidence for need in item.needs if need.signal}
    assert ("tow-lamp" in mapped) == (year == 2020)
    assert {row[0] for row in rows} == set(
        roles
    )  # also what the file does not have for the year is looked at


def test_states_and_delays_of_a_role(archive: Archive) -> None:
    (row,) = archive.ask(
        "SELECT states, state_frames, delays_ms, r.marks, marks_answered, evidence FROM roles r JOIN captures"
        " USING (capture) WHERE file LIKE '%2021/1.log' AND role = 'reverse-engaged' AND network = 'body'"
    ).rows
    states, frames, delays, *rest = row
    assert states == ["P", "R"]
    # 5 s of a frame every 50 ms, 2 s of them in reverse; jitter moves a frame over an edge
    assert frames == pytest.approx([60, 40], abs=2)
    assert rest == [1, 1, "answers"]
    assert len(delays) == 1
    assert 0 <= delays[0] <= 60


def test_frames_come_back_as_they_were(archive: Archive, fleet: Path) -> None:
    path = fleet / "2020" / "2.log"
    capture = netcheck.read_capture(path)
    rows = archive.ask(
        "SELECT f.channel, f.id, f.extended, f.flags, f.length, epoch_ns(f.time), f.data FROM frames f"
        " JOIN captures c USING (capture) WHERE c.file = $file ORDER BY f.time, f.frame",
        {"file": str(path)},
    ).rows
    assert rows == tuple(
        (
            capture.channels[capture.channel[i]],
            int(capture.can_id[i]),
            bool(capture.is_extended[i]),
            int(capture.flags[i]),
            int(capture.length[i]),
            int(capture.time_ns[i]),
            capture.payload(i),
        )
        for i in range(len(capture))
    )


@pytest.mark.parametrize("block", [200, 1 << 20])
def test_frames_come_back_in_their_order_whatever_the_clock_does(block: int, tmp_path: Path) -> None:
    """Same times on two channels, a clock that goes back, and blocks that cut through."""
    from netcheck.archive._frames import frame_tables

    lines = [
        f"({1_600_000_000 + n // 3}.{n % 3 * 1000:06d}) can{n % 2} {0x300 - n % 7:03X}#{n % 256:02X}"
        for n in range(500)
    ]
    lines.insert(250, "(1500000000.000000) can1 100#FF")
    log = tmp_path / "x.log"
    log.write_text("\n".join(lines) + "\n")
    capture = netcheck.read_capture(log)
    rows = [
        row for table in frame_tables("0" * 32, log, lambda chunk: chunk, block) for row in table.to_pylist()
    ]
    rows.sort(key=lambda row: row["frame"])
    assert [row["data"] for row in rows] == [capture.payload(i) for i in range(len(capture))]
    assert [row["time_us"] * 1000 for row in rows] == capture.time_ns.tolist()


def test_vans_are_told_apart_without_their_numbers(archive: Archive, store: Store) -> None:
    assert archive.ask("SELECT year, count(DISTINCT van) FROM captures GROUP BY year ORDER BY year").rows == (
        (2019, 1), (2020, 1), (2021, 1)
    )  # fmt: skip
    for path in store.files():
        content = path.read_bytes()
        assert not any(vin.encode() in content for vin in VINS)
    for table in TABLES:
        assert not any(vin in str(store.read(table).to_pylist()) for vin in VINS)


def test_every_column_is_described_and_there(store: Store) -> None:
    for table in TABLES.values():
        assert all(column.text for column in table.columns)
        for path in store.paths(table.name):
            assert pq.read_schema(path).names == list(table.names)


def test_frames_take_half_of_the_log_at_most(store: Store, fleet: Path) -> None:
    sizes = {part.file: part.size for part in store.manifest().of("frames")}
    packed = sum(len(gzip.compress(path.read_bytes(), 6)) for path in fleet.glob("20*/*.log"))
    rows = store.read("frames", ["id"]).num_rows
    # Such short captures are mostly the overhead of their files: 2 KB each.
    assert rows > 2000
    assert sum(sizes.values()) - 2000 * len(sizes) <= packed / 2


@pytest.mark.parametrize("name", ["gannet_2019_comfort_after", "guillemot_2021_conversion_after"])
def test_a_short_log_takes_half_of_its_gz_too(name: str, tmp_path: Path) -> None:
    """Some 4,000 frames: the differences of times within an id stay small at the borders of ids, too."""
    log = Path(__file__).parents[2] / "sample_logs" / f"{name}.log.gz"
    store = new_store(tmp_path / "a")
    Adder(store, frames=True).add(find_captures([str(log)], CaptureFacts()).captures)
    (part,) = store.manifest().of("frames")
    assert 4000 < part.rows < 5000
    assert part.size <= len(gzip.compress(gzip.decompress(log.read_bytes()), 9)) / 2


def test_a_question_reads_only_the_row_groups_it_needs(
    fleet: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """By DuckDB's own account of what a scan read, of a compacted table in row groups of a few rows."""
    monkeypatch.setattr("netcheck.archive._store_files.ROW_GROUP", 8)
    store = new_store(tmp_path / "a")
    add_fleet(store, fleet)
    compact(store)
    (path,) = store.paths("messages")
    every = pq.read_metadata(path).num_row_groups
    assert every >= 5
    with Archive(store) as archive:

        def groups(question: str) -> tuple[int, int]:
            told = archive.sql(question).explain("analyze")
            found = re.search(r"Row Groups Scanned: (\d+) / (\d+)", told)
            if found is None:
                pytest.skip("this DuckDB does not say what it read")
            return int(found[1]), int(found[2])

        assert groups("SELECT sum(count + 1) FROM messages") == (every, every)
        some, of = groups("SELECT sum(count + 1) FROM messages WHERE year = 2019")
        assert 0 < some <= of // 2


def test_periods_are_those_of_the_frames(archive: Archive) -> None:
    rows = archive.ask("SELECT capture, channel, id, any_value(period_ms) FROM messages GROUP BY ALL").rows
    gaps = archive.ask(
        "SELECT capture, channel, id, (epoch_ns(time) - lag(epoch_ns(time)) OVER"
        " (PARTITION BY capture, channel, id ORDER BY time)) / 1e6 AS gap FROM frames QUALIFY gap IS NOT NULL"
    ).rows
    by_message: dict[tuple[str, str, int], list[float]] = {}
    for capture, channel, can_id, gap in gaps:
        by_message.setdefault((capture, channel, can_id), []).append(gap)
    for *key, period in rows:
        assert period == pytest.approx(float(np.median(by_message[tuple(key)])), rel=0.01)
