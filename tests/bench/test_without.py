"""A restbus beside a real box: everything but what the box sends; what was assumed is said."""

from __future__ import annotations

from pathlib import Path

import pytest

from netcheck.bench import Bench, BenchRemarkKind, bench_ids, load_bench
from netcheck.cli import main
from netcheck.errors import InputError, UsageError
from netcheck.report.bench import simulation_notes

DBC = """VERSION ""
BU_: GATE LEVER BOX
BO_ 256 Lever: 4 LEVER
 SG_ LeverPosition : 0|4@1+ (1,0) [0|15] "" GATE
 SG_ LeverCounter : 16|4@1+ (1,0) [0|14] "" GATE
 SG_ LeverCrc : 24|8@1+ (1,0) [0|255] "" GATE
BO_ 257 BoxKeys: 3 BOX
 SG_ BoxAlive : 0|4@1+ (1,0) [0|15] "" GATE
 SG_ BoxChecksum : 16|8@1+ (1,0) [0|255] "" GATE
BO_ 258 Gate: 4 GATE
 SG_ DoorCounter : 0|4@1+ (1,0) [0|15] "times" LEVER
 SG_ TripCounter : 8|16@1+ (1,0) [0|65535] "" LEVER
 SG_ GateCrc : 24|8@1+ (1,0) [0|255] "" LEVER
BO_ 2147484160 Wide: 1 GATE
 SG_ WideOne : 0|8@1+ (1,0) [0|0] "" LEVER
BA_DEF_ BO_ "GenMsgCycleTime" INT 0 10000;
BA_DEF_DEF_ "GenMsgCycleTime" 0;
BA_ "GenMsgCycleTime" BO_ 256 50;
BA_ "GenMsgCycleTime" BO_ 258 50;
"""
VEHICLE = """kind = "vehicle"
format = 1
name = "Gull 3"
model_years = [2019, 2021]
[network.body]
bitrate = 250_000
dbc = "body.dbc"
[module.keys]
network = "body"
node = "BOX"
"""
SCRIPT = 'kind = "script"\nformat = 1\nseconds = 2.0\nseed = 1\n'
CRC = '[[checksum]]\nmessage = "{message}"\nsignal = "{signal}"\nkind = "{kind}"\n'


def bench(folder: Path, script: str = "", **named) -> Bench:
    (folder / "body.dbc").write_text(DBC)
    (folder / "van.vehicle.toml").write_text(VEHICLE)
    (folder / "x.script.toml").write_text(SCRIPT + script)
    return load_bench(folder / "van.vehicle.toml", folder / "x.script.toml", **named)


def ids(staged: Bench) -> set[int]:
    return {frame.can_id for frame in staged.frames()}


@pytest.mark.parametrize(
    ("without", "left"),
    [
        ([], {0x100, 0x101, 0x102, 0x200}),
        (["BOX"], {0x100, 0x102, 0x200}),
        (["keys"], {0x100, 0x102, 0x200}),
        (["0x101"], {0x100, 0x102, 0x200}),
        (["257", "LEVER"], {0x102, 0x200}),
        (["0x200"], {0x100, 0x101, 0x102}),
    ],
)
def test_what_a_node_a_module_or_an_id_sends_is_left_out(tmp_path, without, left):
    staged = bench(tmp_path, without=without)
    assert ids(staged) == left
    assert {can_id for can_id, _ in bench_ids(staged)} == left


def test_the_others_are_sent_just_as_without_it(tmp_path):
    whole = [frame for frame in bench(tmp_path).frames() if frame.can_id == 0x102]
    rest = [frame for frame in bench(tmp_path, without=["BOX"]).frames() if frame.can_id == 0x102]
    assert [frame.data for frame in rest] == [frame.data for frame in whole]


def test_what_nobody_sends_is_no_silence(tmp_path):
    with pytest.raises(UsageError, match=r"nothing on body is sent by 'BOXX' – one of BOX, GATE, LEVER"):
        bench(tmp_path, without=["BOXX"])
    with pytest.raises(UsageError, match="nothing on body is sent by '0x333'"):
        bench(tmp_path, without=["0x333"])


def test_counters_that_only_their_names_tell_go_on(tmp_path):
    frames = list(bench(tmp_path).frames())
    levers = [frame.data[2] & 15 for frame in frames if frame.can_id == 0x100]
    assert levers == [n % 15 for n in range(len(levers))]
    keys = [frame.data[0] & 15 for frame in frames if frame.can_id == 0x101]
    assert keys == [n % 16 for n in range(len(keys))]
    assert {frame.data[:3] for frame in frames if frame.can_id == 0x102} == {b"\0\0\0"}


def test_a_checksum_for_every_message_and_another_one_for_a_single_signal(tmp_path):
    script = CRC.format(message="Gate", signal="GateCrc", kind="xor")
    script += CRC.format(message="*", signal="*Crc", kind="sum")
    for frame in bench(tmp_path, script).frames():
        if frame.can_id == 0x100:
            assert frame.data[3] == sum(frame.data[:3]) & 255
        if frame.can_id == 0x102:
            assert frame.data[3] == frame.data[0] ^ frame.data[1] ^ frame.data[2]


def test_a_pattern_that_fits_nothing(tmp_path):
    with pytest.raises(InputError, match=r"checksum\[0\]\.signal: no signal of one or two whole bytes fits"):
        bench(tmp_path, CRC.format(message="*", signal="*Bcc", kind="sum"))


def test_what_was_assumed_and_what_is_not_known_is_said(tmp_path):
    staged = bench(tmp_path, without=["LEVER"])
    assert {remark.kind: remark.names for remark in staged.remarks} == {
        BenchRemarkKind.NO_CYCLE: ("BoxKeys", "Wide"),
        BenchRemarkKind.COUNTER_BY_NAME: ("BoxKeys.BoxAlive",),
        BenchRemarkKind.CHECKSUM_UNKNOWN: ("BoxKeys.BoxChecksum", "Gate.GateCrc"),
    }
    assert simulation_notes(staged) == (
        "network body: left out Lever",
        "network body: no cycle time in DBC or script, sent every 100 ms: BoxKeys and Wide",
        "network body: taken for rolling counters by their names: BoxKeys.BoxAlive",
        "network body: checksums by their names, of a kind that the script does not say, so they are not "
        "valid: BoxKeys.BoxChecksum and Gate.GateCrc; say it with [[checksum]]",
    )


def test_what_the_script_says_is_known(tmp_path):
    script = '[[cycle]]\nmessage = "Wide"\nperiod_ms = 20\n[[cycle]]\nmessage = "BoxKeys"\nperiod_ms = 20\n'
    script += CRC.format(message="*", signal="*", kind="sum")
    kinds = {remark.kind for remark in bench(tmp_path, script).remarks}
    assert kinds == {BenchRemarkKind.COUNTER_BY_NAME}


def test_the_option(tmp_path, capsys):
    bench(tmp_path)
    argv = ["simulate", str(tmp_path / "van.vehicle.toml"), "--script", str(tmp_path / "x.script.toml")]
    assert main([*argv, "--without", "BOX"]) == 0
    out, err = capsys.readouterr()
    assert "101#" not in out
    assert "netcheck: network body: left out BoxKeys\n" in err
    assert main([*argv, "--without", "BOXX"]) == 2
