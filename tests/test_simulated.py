"""The traffic generator itself: the captures it makes are evidence for other tests."""

from __future__ import annotations

import gzip
from itertools import pairwise
from pathlib import Path

import cantools
import pytest
from cantools.database.can import Database

from tests.simulated import Frame, Script, candump, crc8, merge, simulate, write

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


@pytest.fixture(scope="module")
def database() -> Database:
    loaded = cantools.database.load_string(DBC, "dbc")
    assert isinstance(loaded, Database)
    return loaded


def test_crc8_check_values() -> None:
    """AUTOSAR_SWS_CRCLibrary, CRC-8 with polynomial 0x1D, two of its sample messages and the check value."""
    assert crc8(bytes.fromhex("00000000")) == 0x59
    assert crc8(bytes.fromhex("F20183")) == 0x37
    assert crc8(b"123456789") == 0x4B


def test_same_seed_same_bytes_other_seed_other_times(database: Database) -> None:
    first, second, third = (candump(simulate(database, Script(), 2.0, seed)) for seed in (1, 1, 2))
    assert first == second
    assert first != third


def test_counters_checksums_and_pages(database: Database) -> None:
    frames = simulate(database, Script(), 2.0, 3)
    lever = [f.data for f in frames if f.can_id == 256]
    assert [data[2] & 15 for data in lever[:17]] == [*range(15), 0, 1]
    assert all(crc8(data[:3]) == data[3] for data in lever)
    assert [f.data.hex() for f in frames if f.can_id == 512][:3] == ["0011", "0122", "0011"]


def test_periods_are_kept(database: Database) -> None:
    times = [f.time_us for f in simulate(database, Script(), 4.0, 3) if f.can_id == 256]
    gaps = [later - earlier for earlier, later in pairwise(times)]
    assert len(times) in (199, 200, 201)
    assert all(18_500 < gap < 21_500 for gap in gaps)


def test_script_sets_labels_and_ramps(database: Database) -> None:
    script = Script()
    script.put(("Lever", "LeverPosition"), 1.0, "up")
    script.put(("Lever", "LeverAngle"), 0.0, 10.0)
    script.put(("Lever", "LeverAngle"), 1.0, 30.0, ramp=1.0)
    for frame in simulate(database, script, 3.0, 4):
        if frame.can_id == 256:
            decoded = database.decode_message(256, frame.data)
            at = frame.time_us / 1e6
            assert at < 1.0 or decoded["LeverPosition"] == "up"
            assert abs(decoded["LeverAngle"] - (10.0 + 20.0 * min(max(at - 1.0, 0.0), 1.0))) < 0.6


def test_asleep_and_silent(database: Database) -> None:
    script = Script(asleep=[(1.0, 2.0)])
    script.never("Pages")
    frames = simulate(database, script, 3.0, 5)
    assert {f.can_id for f in frames} == {256}
    assert not [f for f in frames if 1_001_000 < f.time_us < 2_000_000]
    assert [f for f in frames if f.time_us > 2_000_000]


def test_frames_wait_for_the_bus(database: Database) -> None:
    """At 10 kbit/s a four-byte frame takes 47 + 8 * 4 bits and more, that is 7.9 ms (Linux can/length.h)."""
    times = [f.time_us for f in simulate(database, Script(), 1.0, 6, bitrate=10_000)]
    assert min(b - a for a, b in pairwise(times)) >= 6_300  # two-byte frames: 63 bits


def test_log_lines(database: Database, tmp_path: Path) -> None:
    one = simulate(database, Script(), 1.0, 7, channel="can0")
    two = simulate(database, Script(), 1.0, 8, channel="can1")
    text = candump(merge(one, two), ["invented"], start_us=1_000_000)
    lines = text.splitlines()
    assert lines[0] == "# invented"
    assert len(lines) == 1 + len(one) + len(two)
    assert lines[1:] == sorted(lines[1:])
    write(tmp_path / "x.log.gz", text)
    assert gzip.decompress((tmp_path / "x.log.gz").read_bytes()).decode() == text


def test_extra_frames_take_their_turn(database: Database) -> None:
    script = Script(extra=[Frame(500_000, "", 0x7A0, False, b"\x03\x22\x22\x10")])
    frames = simulate(database, script, 1.0, 9, channel="can3")
    (stranger,) = [f for f in frames if f.can_id == 0x7A0]
    assert stranger.channel == "can3"
    assert 500_000 < stranger.time_us < 502_000
    assert frames == sorted(frames, key=lambda f: f.time_us)
