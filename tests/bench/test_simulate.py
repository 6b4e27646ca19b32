"""The core of the simulation: times, arbitration, counters, pages, log lines."""

from __future__ import annotations

import random
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

import cantools
import opendbc
import pytest
from cantools.database.can import Database as Oracle

from netcheck.bench import (
    BitRates,
    Checksum,
    Cycle,
    Frame,
    InjectedFault,
    Scenario,
    candump_lines,
    merge,
    raw_range,
    simulate,
)
from netcheck.database import Database, load_database
from netcheck.errors import UsageError

DBC = """VERSION ""
BU_: ONE TWO
BO_ 256 Lever: 4 ONE
 SG_ LeverPosition : 0|4@1+ (1,0) [0|9] "" TWO
 SG_ LeverAngle : 15|8@0- (0.5,10) [-50|70] "deg" TWO
 SG_ LeverCounter : 16|4@1+ (1,0) [0|14] "" TWO
 SG_ LeverCrc : 24|8@1+ (1,0) [0|255] "" TWO
BO_ 512 Pages: 2 TWO
 SG_ Page M : 0|8@1+ (1,0) [0|1] "" ONE
 SG_ First m0 : 8|8@1+ (1,0) [0|255] "" ONE
 SG_ Second m1 : 8|8@1+ (1,0) [0|255] "" ONE
BA_DEF_ BO_ "GenMsgCycleTime" INT 0 10000;
BA_DEF_ SG_ "GenSigStartValue" INT 0 255;
BA_DEF_DEF_ "GenMsgCycleTime" 0;
BA_DEF_DEF_ "GenSigStartValue" 0;
BA_ "GenMsgCycleTime" BO_ 256 20;
BA_ "GenMsgCycleTime" BO_ 512 50;
BA_ "GenSigStartValue" SG_ 512 First 17;
BA_ "GenSigStartValue" SG_ 512 Second 34;
VAL_ 256 LeverPosition 1 "up" 0 "down" ;
"""


CRC8 = Checksum("crc", polynomial=0x1D, start=0xFF, final=0xFF)


@pytest.fixture(scope="module")
def database(tmp_path_factory: pytest.TempPathFactory) -> Database:
    path = tmp_path_factory.mktemp("dbc") / "small.dbc"
    path.write_text(DBC)
    return load_database(path, cache=False)


@pytest.fixture(scope="module")
def oracle() -> Oracle:
    loaded = cantools.database.load_string(DBC, "dbc")
    assert isinstance(loaded, Oracle)
    return loaded


def known() -> Scenario:
    """What the names of the DBC tell of."""
    return Scenario(counters={("Lever", "LeverCounter")}, checksums={("Lever", "LeverCrc"): CRC8})


def candump(frames, comments=(), **start) -> str:
    return "".join(candump_lines(frames, comments, **start))


def test_same_seed_same_bytes_other_seed_other_times(database: Database) -> None:
    first, second, third = (candump(simulate(database, known(), 2.0, seed)) for seed in (1, 1, 2))
    assert first == second
    assert first != third


def test_counters_checksums_and_pages(database: Database) -> None:
    frames = list(simulate(database, known(), 2.0, 3))
    lever = [f.data for f in frames if f.can_id == 256]
    assert [data[2] & 15 for data in lever[:17]] == [*range(15), 0, 1]
    assert all(CRC8.of(data[:3]) == data[3] for data in lever)
    assert [f.data.hex() for f in frames if f.can_id == 512][:3] == ["0011", "0122", "0011"]


def test_periods_are_kept(database: Database) -> None:
    times = [f.time_us for f in simulate(database, known(), 4.0, 3) if f.can_id == 256]
    gaps = [later - earlier for earlier, later in pairwise(times)]
    assert len(times) in (199, 200, 201)
    assert all(18_500 < gap < 21_500 for gap in gaps)


def test_points_set_labels_and_ramps(database: Database, oracle: Oracle) -> None:
    scenario = known()
    scenario.put(("Lever", "LeverPosition"), 1.0, "up")
    scenario.put(("Lever", "LeverAngle"), 0.0, 10.0)
    scenario.put(("Lever", "LeverAngle"), 1.0, 30.0, ramp=1.0)
    for frame in simulate(database, scenario, 3.0, 4):
        if frame.can_id == 256:
            decoded = oracle.decode_message(256, frame.data)
            at = frame.time_us / 1e6
            assert at < 1.0 or decoded["LeverPosition"] == "up"
            assert abs(decoded["LeverAngle"] - (10.0 + 20.0 * min(max(at - 1.0, 0.0), 1.0))) < 0.6


def test_asleep_and_silent(database: Database) -> None:
    scenario = known()
    scenario.asleep.extend([(1.0, 2.0)])
    scenario.never("Pages")
    frames = list(simulate(database, scenario, 3.0, 5))
    assert {f.can_id for f in frames} == {256}
    assert not [f for f in frames if 1_001_000 < f.time_us < 2_000_000]
    assert [f for f in frames if f.time_us > 2_000_000]


def test_frames_wait_for_the_bus(database: Database) -> None:
    """At 10 kbit/s a four-byte frame takes 47 + 8 * 4 bits and more, that is 7.9 ms (Linux can/length.h)."""
    times = [f.time_us for f in simulate(database, known(), 1.0, 6, rates=BitRates(10_000))]
    assert min(b - a for a, b in pairwise(times)) >= 6_300  # two-byte frames: 63 bits


def test_log_lines(database: Database) -> None:
    one = list(simulate(database, known(), 1.0, 7, channel="can0"))
    two = list(simulate(database, known(), 1.0, 8, channel="can1"))
    text = candump(merge(one, two), ["invented"], start_us=1_000_000)
    lines = text.splitlines()
    assert lines[0] == "# invented"
    assert len(lines) == 1 + len(one) + len(two)
    assert lines[1:] == sorted(lines[1:])


def test_extra_frames_take_their_turn(database: Database) -> None:
    scenario = known()
    scenario.extra.extend([Frame(500_000, "", 0x7A0, False, b"\x03\x22\x22\x10")])
    frames = list(simulate(database, scenario, 1.0, 9, channel="can3"))
    (stranger,) = [f for f in frames if f.can_id == 0x7A0]
    assert stranger.channel == "can3"
    assert 500_000 < stranger.time_us < 502_000
    assert frames == sorted(frames, key=lambda f: f.time_us)


def test_can_fd_lines_and_lengths(tmp_path: Path) -> None:
    """10 bytes go out as 12, which CAN FD has (ISO 11898-1); the log says whether BRS was set."""
    path = tmp_path / "fd.dbc"
    path.write_text('VERSION ""\nBU_: A\nBO_ 256 Wide: 10 A\n SG_ Far : 72|8@1+ (1,0) [0|255] "" A\n')
    wide = load_database(path, cache=False)
    scenario = Scenario(cycles={"Wide": Cycle(100.0)}, starts={("Wide", "Far"): 0xAB})
    slow = candump(simulate(wide, scenario, 0.1, 1))
    fast = candump(simulate(wide, scenario, 0.1, 1, rates=BitRates(500_000, 2_000_000)))
    assert slow.split()[2] == "100##0000000000000000000AB0000"
    assert fast.split()[2] == "100##1000000000000000000AB0000"
    assert slow.split()[0] > fast.split()[0]


def test_a_cycle_from_elsewhere_and_none_at_all(database: Database) -> None:
    scenario = Scenario(cycles={"Lever": Cycle(200.0, 5.0)})
    silent = replace(
        database, messages=tuple(replace(message, cycle_time_ms=None) for message in database.messages)
    )
    frames = list(simulate(silent, scenario, 20.0, 1))
    assert {frame.can_id for frame in frames} == {256}
    gaps = [later.time_us - earlier.time_us for earlier, later in pairwise(frames)]
    assert len(frames) in (99, 100)
    assert 189_000 < min(gaps) < 196_000
    assert 204_000 < max(gaps) < 211_000


def test_what_the_dbc_says_at_the_start_is_followed_unless_told(database: Database) -> None:
    scenario = Scenario(starts={("Pages", "First"): 1})
    pages = [frame.data.hex() for frame in simulate(database, scenario, 0.2, 3) if frame.can_id == 512]
    assert pages[:2] == ["0001", "0122"]


def test_a_label_that_is_not_there(database: Database) -> None:
    scenario = Scenario()
    scenario.put(("Lever", "LeverPosition"), 1.0, "sideways")
    with pytest.raises(UsageError, match="LeverPosition has no value labelled 'sideways'"):
        list(simulate(database, scenario, 2.0, 1))


def counts(database: Database, *faults: InjectedFault, seconds: float = 4.0) -> list[tuple[int, int]]:
    """Time in ms and counter of every Lever frame that is long enough for it."""
    scenario = known()
    scenario.faults["Lever"] = list(faults)
    frames = [frame for frame in simulate(database, scenario, seconds, 11) if frame.can_id == 256]
    return [(frame.time_us // 1000, frame.data[2] & 15) for frame in frames if len(frame.data) > 2]


def test_a_missing_message_rests_and_goes_on(database: Database) -> None:
    told = counts(database, InjectedFault("message-missing", (1.0, 2.0)))
    assert not [ms for ms, _ in told if 1002 <= ms < 2000]
    assert all((b - a) % 15 == 1 for (_, a), (_, b) in pairwise(told))


def test_a_frozen_counter_keeps_its_value_and_a_valid_checksum(database: Database) -> None:
    scenario = known()
    scenario.faults["Lever"] = [InjectedFault("frozen-counter", (1.0, 2.0))]
    frames = [frame for frame in simulate(database, scenario, 3.0, 11) if frame.can_id == 256]
    during = {frame.data[2] & 15 for frame in frames if 1_002_000 <= frame.time_us < 2_000_000}
    assert len(during) == 1
    assert all(CRC8.of(frame.data[:3]) == frame.data[3] for frame in frames)


def test_lost_frames_leave_holes_in_the_count(database: Database) -> None:
    told = counts(database, InjectedFault("lost-frames", (1.0, 3.0), share=0.2))
    holes = [(at, (b - a) % 15) for (_, a), (at, b) in pairwise(told) if (b - a) % 15 != 1]
    assert len(told) + sum(step - 1 for _, step in holes) in (199, 200)
    assert 10 <= len(holes) <= 30
    assert all(1000 <= at <= 3100 for at, _ in holes)


def test_late_frames_keep_their_order(database: Database) -> None:
    told = counts(database, InjectedFault("late-frames", (1.0, 3.0), share=0.1, delay_ms=90.0))
    assert all((b - a) % 15 == 1 for (_, a), (_, b) in pairwise(told))
    gaps = [later - earlier for (earlier, _), (later, _) in pairwise(told)]
    assert 85 <= max(gaps) <= 115


def test_a_second_sender_counts_for_itself(database: Database) -> None:
    told = counts(database, InjectedFault("second-sender", (1.0, 3.0)))
    steps = [((b - a) % 15, at) for (_, a), (at, b) in pairwise(told)]
    assert {step for step, at in steps if at < 1000} == {1}
    assert len([step for step, at in steps if 1000 < at < 3000 and step != 1]) > 150
    assert 295 <= len(told) <= 305


def test_wrong_length_and_stuck_signal(database: Database) -> None:
    scenario = known()
    scenario.put(("Lever", "LeverAngle"), 0.0, 0.0)
    scenario.put(("Lever", "LeverAngle"), 1.0, 60.0, ramp=3.0)
    scenario.faults["Lever"] = [
        InjectedFault("wrong-length", (3.0, 3.5), length=1),
        InjectedFault("stuck-signal", (2.0, 3.0), signals=frozenset({"LeverAngle"})),
    ]
    frames = [frame for frame in simulate(database, scenario, 4.0, 11) if frame.can_id == 256]
    stuck = {frame.data[1] for frame in frames if 2_002_000 <= frame.time_us < 3_000_000}
    assert len(stuck) == 1
    assert {len(frame.data) for frame in frames if 3_002_000 <= frame.time_us < 3_500_000} == {1}
    assert {len(frame.data) for frame in frames if not 3_000_000 <= frame.time_us < 3_502_000} == {4}


def test_a_fault_leaves_the_other_messages_as_they_are(database: Database) -> None:
    scenario = known()
    scenario.faults["Lever"] = [InjectedFault("stuck-signal", (0.0, 9.0), signals=frozenset({"LeverAngle"}))]
    plain = [(f.time_us, f.data) for f in simulate(database, known(), 3.0, 2) if f.can_id == 512]
    assert plain == [(f.time_us, f.data) for f in simulate(database, scenario, 3.0, 2) if f.can_id == 512]


@pytest.mark.parametrize(
    "name",
    [
        "ford_lincoln_base_pt",
        "gm_global_a_high_voltage_management",
        "hyundai_2015_ccan",
        "tesla_model3_party",
    ],
)
def test_databases_of_an_open_data_set_come_back_through_cantools(name: str) -> None:
    """opendbc (MIT): every message is sent, and each signal reads as the raw value it was given."""
    path = Path(opendbc.__file__).parent / "dbc" / f"{name}.dbc"
    there, oracle = load_database(path), cantools.database.load_file(path, strict=False)
    scenario = Scenario(cycles={m.name: Cycle(100.0) for m in there.messages})
    rng = random.Random(name)
    for message in there.messages:
        for s in message.signals:
            if not s.is_float:
                scenario.starts[message.name, s.name] = rng.randint(*raw_range(s))
    sent = set()
    for frame in simulate(there, scenario, 1.0, 1):
        message = oracle.get_message_by_frame_id(frame.can_id)
        sent.add(message.name)
        read = message.decode(frame.data, scaling=False, decode_choices=False)
        pages = {page.multiplexer for s in there.message(message.name).signals for page in s.pages}
        for signal, raw in read.items():
            if signal not in pages:
                assert raw == scenario.starts[message.name, signal], (message.name, signal)
    assert sent == {message.name for message in there.messages}
