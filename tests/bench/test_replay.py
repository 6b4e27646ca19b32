"""A capture as frames to send: filters, remaps, rounds, times; and onto a bus of a second process."""

from __future__ import annotations

import json
import re
import signal
import subprocess
import sys
from collections.abc import Iterator
from itertools import count
from pathlib import Path

import can
import pytest

import netcheck
from netcheck.bench import ReplayChoice, look_through
from netcheck.cli import main
from netcheck.edit import id_span
from netcheck.errors import InputError, UsageError
from tests.bench.recorder import RECORDER, Wire, multicast, multicast_fault

LOG = """(1.000000) can0 123#0102
(1.010000) can1 18FF21FE#03
(1.030000) can0 124##3AABBCCDDEEFF001122334455
(1.020000) can0 125#R4
(1.050000) can0 20000004#0000000000000000
(1.060000) can0 123#0405
"""


@pytest.fixture
def log(tmp_path: Path) -> Path:
    path = tmp_path / "x.log"
    path.write_text(LOG)
    return path


def told(path: Path, choice: ReplayChoice) -> list[tuple[float, str, str]]:
    """Milliseconds, bus channel, identifier of what would be sent."""
    return [
        (due / 1e6, channel, f"{message.arbitration_id:X}")
        for due, (channel, message) in look_through(path, choice).messages()
    ]


ALL = {"can0": "a", "can1": "b"}


def test_all_of_it_in_file_order_and_a_frame_behind_its_time_moves_no_other(log: Path) -> None:
    assert told(log, ReplayChoice(channels=ALL)) == [
        (0, "a", "123"), (10, "b", "18FF21FE"), (30, "a", "124"), (30, "a", "125"), (60, "a", "123"),
    ]  # fmt: skip


def test_a_clock_that_was_set_back_goes_on_from_where_it_was(tmp_path: Path) -> None:
    log = tmp_path / "back.log"
    times = [5.0, 5.05, 1.0, 1.02, 1.01, 1.04]
    log.write_text("".join(f"({time:.6f}) can0 12{n}#\n" for n, time in enumerate(times)))
    replay = look_through(log, ReplayChoice(target="a", rounds=2))
    assert replay.seconds == 0.09
    assert [due / 1e6 for due, _ in replay.messages()] == [
        0, 50, 50, 70, 70, 90, 108, 158, 158, 178, 178, 198,
    ]  # fmt: skip


def test_channels_written_in_turn_do_not_stretch_the_time(tmp_path: Path) -> None:
    """Each pair of frames stands the wrong way round, a millisecond apart."""
    log = tmp_path / "turns.log"
    pairs = [f"({n / 100 + 0.001:.6f}) can0 001#\n({n / 100:.6f}) can1 002#\n" for n in range(2000)]
    log.write_text("".join(pairs))
    replay = look_through(log, ReplayChoice(channels=ALL))
    assert replay.seconds == 19.99
    dues = [due for due, _ in replay.messages()]
    assert dues == sorted(dues)
    assert dues[-1] == 19_990_000_000


def test_what_it_will_be_is_known_before(log: Path) -> None:
    replay = look_through(log, ReplayChoice(channels=ALL))
    assert (replay.frames, replay.seconds, replay.left_out, replay.errors) == (5, 0.06, 1, 1)
    assert [(r.source, r.target, r.frames, r.ids, r.has_fd) for r in replay.routes] == [
        ("can0", "a", 4, ((0x123, False), (0x124, False), (0x125, False)), True),
        ("can1", "b", 1, ((0x18FF21FE, True),), False),
    ]


def test_frames_keep_what_they_are(log: Path) -> None:
    messages = [message for _, (_, message) in look_through(log, ReplayChoice(channels=ALL)).messages()]
    assert [m.is_extended_id for m in messages] == [False, True, False, False, False]
    assert (messages[0].data, messages[4].data) == (b"\x01\x02", b"\x04\x05")
    fd, remote = messages[2], messages[3]
    assert (fd.is_fd, fd.bitrate_switch, fd.error_state_indicator, len(fd.data)) == (True, True, True, 12)
    assert (remote.is_remote_frame, remote.dlc) == (True, 4)


def test_filters(log: Path) -> None:
    only = ReplayChoice(channels=ALL, ids=(id_span("0x124-0x125"), id_span("0x18FF21FE")))
    assert [word for _, _, word in told(log, only)] == ["18FF21FE", "124", "125"]
    assert [word for _, _, word in told(log, ReplayChoice(channels={"can1": "b"}))] == ["18FF21FE"]
    without = ReplayChoice(channels={"can0": "z"}, not_ids=(id_span("0x123"),))
    assert told(log, without) == [(0, "z", "124"), (0, "z", "125")]


def test_ids_go_out_as_others(log: Path) -> None:
    """Filters go by the ids of the capture; a new id has 29 bits where it is written so."""
    choice = ReplayChoice(
        channels=ALL,
        ids=(id_span("0x123-0x124"), id_span("0x18FF21FE")),
        remap={
            (0x123, False): (0x124, False),
            (0x124, False): (0x123, True),
            (0x18FF21FE, True): (0x7FF, False),
        },
    )
    replay = look_through(log, choice)
    messages = [message for _, (_, message) in replay.messages()]
    sent = [(message.arbitration_id, message.is_extended_id) for message in messages]
    assert sent == [(0x124, False), (0x7FF, False), (0x123, True), (0x124, False)]
    assert [route.ids for route in replay.routes] == [((0x124, False), (0x123, True)), ((0x7FF, False),)]
    assert (messages[2].is_fd, len(messages[2].data)) == (True, 12)


def test_what_cannot_be_remapped(log: Path) -> None:
    with pytest.raises(UsageError, match=r"^--remap: no frame to send has the id 0x7FF – leave it out"):
        look_through(log, ReplayChoice(channels=ALL, remap={(0x7FF, False): (1, False)}))
    with pytest.raises(UsageError, match=r"^--remap: 0x123, 0x124 would both go out as 0x124 – choose an id"):
        look_through(log, ReplayChoice(channels=ALL, remap={(0x123, False): (0x124, False)}))
    fine = ReplayChoice(channels=ALL, not_ids=(id_span("0x124"),), remap={(0x123, False): (0x124, False)})
    assert look_through(log, fine).frames == 4


def test_rounds_follow_each_other_after_the_mean_gap(log: Path) -> None:
    choice = ReplayChoice(channels={"can0": "a"}, ids=(id_span("0x123"),), rounds=3)
    assert [ms for ms, _, _ in told(log, choice)] == [0, 60, 120, 180, 240, 300]


def test_what_cannot_be_replayed(log: Path, tmp_path: Path) -> None:
    with pytest.raises(
        UsageError, match=r"has 2 channels \(can0, can1\), .* – say where each goes: --channel can0=vcan0"
    ):
        look_through(log, ReplayChoice(target="vcan0"))
    with pytest.raises(UsageError, match=r"has no channel can7 – one of can0, can1"):
        look_through(log, ReplayChoice(channels={"can7": "a"}))
    with pytest.raises(InputError, match="nothing of it is left to send"):
        look_through(log, ReplayChoice(channels=ALL, ids=(id_span("0x7FF"),)))
    with pytest.raises(InputError, match=r"gone.log: there is no such file"):
        look_through(tmp_path / "gone.log", ReplayChoice(target="a"))


def test_without_transmit_it_only_says_what_it_would_do(
    log: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    argv = ["replay", str(log), "--interface", "virtual", "--channel", "can0=one", "--channel", "can1=two"]
    assert main([*argv, "--loops", "2", "--speed", "4"]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    first, *said = err.splitlines()
    assert "time goes backwards 1 time" in first
    assert said == [
        "netcheck: would send: can0 → virtual one: 4 frames, 3 ids (0x123, 0x124, 0x125)",
        "netcheck: would send: can1 → virtual two: 1 frame, 1 id (0x18FF21FE)",
        "netcheck: would send: 2 times, 0.1 s a round, at 4× speed; 1 frame left out",
        "netcheck: for the bench only: never use it on a vehicle that can move, or on a network with live "
        "airbags, brakes or steering; whoever is responsible for the bench decides what may be sent",
        "netcheck: nothing was sent – give --transmit to send it, on a bench",
    ]


TO_A = ["--interface", "virtual", "--channel", "can0=a"]


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (["--channel", "a"], "nothing to send on – give --interface and --channel"),
        (
            ["--interface", "virtul", "--channel", "can0=a"],
            "has no interface 'virtul' – did you mean 'virtual'",
        ),
        (["--interface", "virtual", "--channel", "=a"], "--channel =a: must be TO or FROM=TO"),
        (["--interface", "virtual", "--channel", "a", "--channel", "can0=b"], "--channel: several targets"),
        (
            ["--interface", "virtual", "--channel", "can0=a", "--channel", "can0=b"],
            "can0 is sent to a and to b",
        ),
        (["--interface", "virtual", "--channel", "can0=a", "--id", "hello"], "'hello' is not an id"),
        ([*TO_A, "--remap", "0x123"], "--remap 0x123: must be OLD=NEW – one id each, such as 0x123=0x321"),
        ([*TO_A, "--remap", "0x100-0x1FF=0x200"], "--remap 0x100-0x1FF=0x200: must be OLD=NEW"),
        ([*TO_A, "--remap", "0x123=a"], "'a' is not an id"),
        ([*TO_A, "--remap", "0x123=0x1", "--remap", "0x123=0x2"], "--remap: 0x123 is remapped twice"),
        (["--interface", "virtual", "--channel", "can0=a", "--speed", "inf"], "invalid value for '--speed'"),
        (["--interface", "virtual", "--channel", "can0=a", "--speed", "nan"], "invalid value for '--speed'"),
        (
            ["--interface", "virtual", "--channel", "can0=a", "--listen", "inf"],
            "invalid value for '--listen'",
        ),
        (
            ["--interface", "virtual", "--channel", "can0=a", "--option", "port"],
            "--option port must be NAME=VALUE",
        ),
    ],
)
def test_bad_usage_is_one_line(
    log: Path, capsys: pytest.CaptureFixture[str], options: list[str], says: str
) -> None:
    assert main(["replay", str(log), *options]) == 2
    err = capsys.readouterr().err
    assert says in err
    assert err.count("\n") == 1


@pytest.fixture
def other_end() -> Iterator[can.BusABC]:
    """A second bus on the same wire, in this process."""
    with can.Bus(interface="virtual", channel="replayed", ignore_config=True) as bus:
        yield bus


VIRTUAL = ["--interface", "virtual", "--channel", "can0=replayed", "--listen", "0", "--transmit"]


def test_onto_a_bus_and_how_it_went_as_json(
    log: Path, other_end: can.BusABC, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["replay", str(log), *VIRTUAL, "--speed", "0", "--loops", "2", "--format", "json"]) == 0
    got = [message for _ in range(8) if (message := other_end.recv(0)) is not None]
    assert [message.arbitration_id for message in got] == 2 * [0x123, 0x124, 0x125, 0x123]
    assert other_end.recv(0) is None
    result = json.loads(capsys.readouterr().out)
    assert (result["schema"], result["frames"], result["rounds"], result["left_out"]) == (
        "netcheck.replay/1", 4, 2, 2,
    )  # fmt: skip
    assert (result["played"]["sent"], result["played"]["stopped"]) == (8, None)
    assert result["routes"][0]["ids"] == ["0x123", "0x124", "0x125"]
    assert sorted(result["played"]["late_ms"]) == ["max", "median", "p99"]


def test_a_full_queue_ends_it_with_status_1_and_says_how_far_it_got(
    log: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A bus with room for two frames that nobody takes."""
    with can.Bus(interface="virtual", channel="replayed", rx_queue_size=2, ignore_config=True):
        assert main(["replay", str(log), *VIRTUAL, "--speed", "0"]) == 1
    out = capsys.readouterr().out
    words = " ".join(out.split())
    assert "2 of 4 frames sent" in words
    assert re.search(r"STOPPED virtual replayed accepts no more frames: .*, after 2 frames", words)


def test_a_sender_that_joins_later_ends_it_with_status_1(
    log: Path, other_end: can.BusABC, capsys: pytest.CaptureFixture[str]
) -> None:
    """It sends once while the second frame is waited for."""
    lines = ["(1.000000) can0 123#\n", "(1.200000) can0 124#\n", "(9.000000) can0 125#\n"]
    log.write_text("".join(lines))

    def answer(message: can.Message) -> None:
        if message.arbitration_id == 0x123:
            other_end.send(can.Message(arbitration_id=0x125, is_extended_id=False))

    notifier = can.Notifier(other_end, [answer])
    try:
        assert main(["replay", str(log), *VIRTUAL]) == 1
    finally:
        notifier.stop()
    words = " ".join(capsys.readouterr().out.split())
    assert re.search(r"STOPPED another node sends 0x125 on virtual replayed, after [12] frames?$", words)


def test_a_wire_is_listened_to_before(log: Path, capsys: pytest.CaptureFixture[str]) -> None:
    command = [
        "replay",
        str(log),
        "--interface",
        "socketcan",
        "--channel",
        "can0=no-such-device",
        "--transmit",
    ]
    assert main([*command, "--listen", "0"]) == 2
    assert "--listen 0: socketcan no-such-device is a real bus" in capsys.readouterr().err
    assert main(command) == 2
    assert "socketcan no-such-device: cannot be opened" in capsys.readouterr().err


_WIRES = count()


@pytest.fixture
def wire() -> Wire:
    """A multicast group that nobody else uses.

    Skips where the machine lets no multicast through, or what python-can needs for it is not there.
    """
    wire = multicast(next(_WIRES))
    fault = multicast_fault(wire)
    if fault:
        pytest.skip(fault)
    return wire


def replay_command(log: Path, wire: Wire, *options: str) -> list[str]:
    channel = ["--interface", "udp_multicast", "--channel", f"can0={wire['channel']}"]
    channel += ["--option", f"port={wire['port']}"]
    return [sys.executable, "-m", "netcheck", "replay", str(log), *channel, *options]


def test_what_a_second_process_records_is_the_log_frame_by_frame(tmp_path: Path, wire: Wire) -> None:
    """The start of a demo capture, and a frame of each kind, from one process into another."""
    import gzip

    demo = Path(__file__).parents[2] / "sample_logs" / "fulmar_2022_comfort.log.gz"
    lines = [line for line in gzip.decompress(demo.read_bytes()).decode().splitlines() if line[0] == "("][
        :400
    ]
    last = float(lines[-1][1:18])
    lines += [f"({last + 0.01 * n:.6f}) can0 {frame}" for n, frame in enumerate(
        ["18FF21FE#0102", "123##3AABBCCDDEEFF001122334455", "124##0", "125#R4", "126#"], 1)]  # fmt: skip
    log = tmp_path / "original.log"
    log.write_text("\n".join(lines) + "\n")
    with subprocess.Popen(
        [sys.executable, "-c", RECORDER, json.dumps(wire), str(len(lines))], stdout=subprocess.PIPE, text=True
    ) as recorder:
        assert recorder.stdout is not None
        assert recorder.stdout.readline() == "ready\n"
        done = subprocess.run(
            replay_command(log, wire, "--transmit", "--listen", "0.1", "--format", "json"),
            capture_output=True, text=True, check=False,
        )  # fmt: skip
        recorded = recorder.stdout.read()
    assert done.returncode == 0, done.stderr
    (tmp_path / "recorded.log").write_text(recorded)
    original, again = (netcheck.read_capture(tmp_path / f"{name}.log") for name in ("original", "recorded"))
    assert len(again) == len(lines)
    for column in ("can_id", "flags", "length", "data"):
        assert (getattr(again, column) == getattr(original, column)).all(), column
    played = json.loads(done.stdout)["played"]
    assert played["sent"] == len(lines)


@pytest.mark.parametrize("number", [signal.SIGINT, signal.SIGTERM, signal.SIGHUP])
def test_ctrl_c_or_a_kill_ends_it_at_once_and_it_says_how_far_it_got(
    log: Path, wire: Wire, number: signal.Signals
) -> None:
    with can.Bus(**wire) as bus:
        command = replay_command(log, wire, "--transmit", "--listen", "0", "--loops", "0")
        with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as playing:
            for _ in range(10):
                assert bus.recv(30) is not None
            playing.send_signal(number)
            out, err = playing.communicate(timeout=30)
    assert playing.returncode == 130
    assert re.search(r"STOPPED interrupted, after [\d,]+ frames", out)
    assert err.endswith("netcheck: interrupted\n")


def test_a_bus_where_somebody_sends_the_same_ids_is_refused(log: Path, wire: Wire) -> None:
    command = replay_command(log, wire, "--transmit", "--listen", "1")
    with can.Bus(**wire) as bus:
        task = bus.send_periodic(can.Message(arbitration_id=0x125, is_extended_id=False), 0.02)
        try:
            done = subprocess.run(
                [word if word != "60" else "1" for word in command],
                capture_output=True,
                text=True,
                check=False,
            )
        finally:
            task.stop()
    assert done.returncode == 2
    assert "another node sends 0x125 on this bus – disconnect that node" in done.stderr
    assert done.stdout == ""
