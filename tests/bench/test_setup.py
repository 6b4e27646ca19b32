"""A vehicle and a script on the bench: values against cantools, start values, marks, faults of a script."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import cantools
import pytest

from netcheck.bench import Bench, Frame, candump_lines, load_bench, seen_from
from netcheck.errors import InputError, UsageError
from netcheck.files import side_marks
from netcheck.report.bench import simulation_warnings
from tests.bench.vans import EXERCISES, put, stage

DEMO = Path(__file__).parents[2] / "dbc"


def decoded(
    folder: Path, frames: list[Frame], file: str, channel: str
) -> list[tuple[float, int, dict[str, Any]]]:
    """Seconds, id and values of each frame of a channel, by cantools."""
    oracle = cantools.database.load_file(folder / file, strict=True)
    return [
        (frame.time_us / 1e6, frame.can_id, dict(oracle.decode_message(frame.can_id, frame.data)))
        for frame in frames
        if frame.channel == channel
    ]


def series(told: list[tuple[float, int, dict[str, Any]]], signal: str) -> list[tuple[float, Any]]:
    return [(at, values[signal]) for at, _, values in told if signal in values]


def test_frames_decode_back_to_the_scripted_values(tmp_path: Path) -> None:
    frames = list(stage(tmp_path).frames())
    body = decoded(tmp_path, frames, "body.dbc", "can0")
    rear = decoded(tmp_path, frames, "rear.dbc", "can1")
    for at, value in series(body, "LeverPosition"):
        assert value == ("R" if 4.0 <= at - 0.002 < 7.0 else "P"), at
    for at, value in series(rear, "CopyReverse"):
        assert value == ("on" if 4.0 <= at - 0.002 < 7.0 else "off"), at
    for at, value in series(body, "DoorLeft"):
        assert value == ("open" if 8.0 <= at - 0.002 < 9.5 else "shut"), at
    for at, value in series(body, "SpeedValue"):
        expected = 30.0 * min(max((at - 10.0) / 2.0, 0.0), 1.0)
        assert value == pytest.approx(expected, abs=0.05), at
    assert {value for at, value in series(rear, "SpeedValue") if at > 12.1} == {30}


def test_counters_go_on_and_pages_come_in_turn(tmp_path: Path) -> None:
    body = decoded(tmp_path, list(stage(tmp_path).frames()), "body.dbc", "can0")
    counts = [value for _, value in series(body, "LeverCounter")]
    assert counts == [number % 15 for number in range(len(counts))]
    pages = [values["DoorPage"] for _, can_id, values in body if can_id == 512]
    assert pages == [number % 2 for number in range(len(pages))]


def test_a_message_without_period_comes_every_100_ms_unless_told(tmp_path: Path) -> None:
    def rate(body: str) -> float:
        frames = [f for f in stage(tmp_path, body).frames() if f.channel == "can1" and f.can_id == 274]
        return len(frames) / 16.0

    assert rate("") == pytest.approx(10, abs=0.2)
    assert rate('[[cycle]]\nmessage = "Other"\nperiod_ms = 40.0\njitter_ms = 3.0\n') == pytest.approx(
        25, abs=0.2
    )


def test_a_known_checksum_is_valid_and_another_is_not_guessed(tmp_path: Path) -> None:
    crc = '[[checksum]]\nmessage = "Lever"\nsignal = "LeverCheck"\nkind = "crc"\npolynomial = 0x1D\n'
    crc += 'start = 0xFF\nfinal = 0xFF\nafter = "C3"\n'
    sums = '[[checksum]]\nmessage = "Lever"\nsignal = "LeverCheck"\nkind = "sum"\n'

    def payloads(body: str) -> list[bytes]:
        return [frame.data for frame in stage(tmp_path, body).frames() if frame.can_id == 256]

    import crccheck

    assert payloads(crc.replace("C3", " C\\t3 ")) == payloads(crc)
    for data in payloads(crc):
        assert data[3] == crccheck.crc.Crc8SaeJ1850.calc(data[:3] + b"\xc3")
    assert all(data[3] == sum(data[:3]) & 0xFF for data in payloads(sums))
    assert {data[3] for data in payloads("")} == {0}


def text(bench: Bench) -> str:
    return "".join(candump_lines(bench.frames()))


def test_the_same_seed_gives_the_same_bytes_and_another_does_not(tmp_path: Path) -> None:
    first = text(stage(tmp_path))
    assert text(stage(tmp_path)) == first
    assert text(stage(tmp_path, networks=["body", "rear"])) == first
    put(tmp_path, EXERCISES, seed=4)
    assert text(load_bench(tmp_path / "gull.vehicle.toml", tmp_path / "s.script.toml")) != first


def test_one_network_alone_is_as_it_is_among_all(tmp_path: Path) -> None:
    alone = [(f.time_us, f.can_id, f.data) for f in stage(tmp_path, networks=["rear"]).frames()]
    among = [(f.time_us, f.can_id, f.data) for f in stage(tmp_path).frames() if f.channel == "can1"]
    assert alone == among


def test_what_the_script_says_of_other_networks_is_checked_and_makes_no_marks(tmp_path: Path) -> None:
    assert {mark.role for mark in stage(tmp_path, networks=["rear"]).marks} == {
        "reverse-engaged",
        "vehicle-speed",
    }
    with pytest.raises(InputError, match=r"set\[0\].state: 'ajar' is not a state"):
        stage(tmp_path, setting(role="door.left-open", state="ajar"), networks=["rear"])


def test_the_demo_van_starts_inactive_inside_limits_and_with_values(tmp_path: Path) -> None:
    """Every signal of the demo's networks in the first frames, read by cantools."""
    (tmp_path / "s.script.toml").write_text('kind = "script"\nformat = 1\nseconds = 12.0\n')
    bench = load_bench(DEMO / "skerry_240.vehicle.toml", tmp_path / "s.script.toml")
    frames = list(bench.frames())
    seen = set()
    for network in bench.networks:
        oracle = cantools.database.load_file(network.database.files[0], strict=True)
        for frame in frames:
            if frame.channel != network.channel:
                continue
            by_group = {m.frame_id >> 8 & 0xFFFF: m for m in oracle.messages if m.protocol == "j1939"}
            message = by_group.get(frame.can_id >> 8 & 0xFFFF) if frame.is_extended else None
            message = message or oracle.get_message_by_frame_id(frame.can_id)
            for name, value in message.decode(frame.data, decode_choices=False).items():
                signal = message.get_signal_by_name(name)
                seen.add((network.name, message.name, name))
                if value != signal.raw_initial:  # what the DBC itself says comes first
                    assert str((signal.choices or {}).get(value)) != "no value", (message.name, name)
                assert signal.minimum is None or value >= signal.minimum, (message.name, name)
                assert signal.maximum is None or value <= signal.maximum, (message.name, name)
    every = {(n.name, m.name, s.name) for n in bench.networks for m in n.database.messages for s in m.signals}
    assert every == seen


def test_a_signal_that_cannot_be_0_starts_at_its_least_value(tmp_path: Path) -> None:
    body = decoded(tmp_path, list(stage(tmp_path).frames()), "body.dbc", "can0")
    assert {value for _, value in series(body, "SpeedSpare")} == {5}


@pytest.mark.parametrize(("year", "comes"), [(2019, False), (2020, True), (None, True)])
def test_a_module_that_the_model_year_does_not_have_sends_nothing(
    tmp_path: Path, year: int | None, comes: bool
) -> None:
    bench = stage(tmp_path, year=year)
    assert bench.year == (year or 2021)
    assert any(frame.can_id == 1024 for frame in bench.frames()) == comes


def test_marks_say_what_the_script_did_in_the_captures_time(tmp_path: Path) -> None:
    marks = [(m.role, m.state or m.between, m.from_, m.to) for m in stage(tmp_path).marks]
    assert marks == [
        ("vehicle-speed", (-1.0, 1.0), 0.0, 10.0),  # a step of the coarser of both networks
        ("reverse-engaged", "active", 4.0, 7.0),
        ("door.left-open", "open", 8.0, 9.5),
        ("door.left-open", "shut", 9.5, 16.0),
        ("vehicle-speed", (29.0, 31.0), 12.0, 16.0),
    ]
    seen = seen_from(stage(tmp_path).marks, 1.5, 8.5)
    assert [(m.role, m.from_, m.to) for m in seen] == [
        ("vehicle-speed", 0.0, 8.5),
        ("reverse-engaged", 2.5, 5.5),
        ("door.left-open", 6.5, 8.0),
    ]


def test_a_label_of_one_network_means_active_on_the_other(tmp_path: Path) -> None:
    bench = stage(tmp_path, '[[set]]\nrole = "reverse-engaged"\nat = 2.0\nstate = "R"\n'
                  '[[set]]\nrole = "reverse-engaged"\nat = 5.0\nstate = "D"\n')  # fmt: skip
    rear = decoded(tmp_path, list(bench.frames()), "rear.dbc", "can1")
    assert {str(value) for at, value in series(rear, "CopyReverse") if 2.2 < at < 5.0} == {"on"}
    assert {str(value) for at, value in series(rear, "CopyReverse") if at > 5.2} == {"off"}
    assert [(mark.state, mark.from_) for mark in bench.marks] == [("active", 2.0), ("D", 5.0)]


def test_a_raw_number_is_a_state_too(tmp_path: Path) -> None:
    bench = stage(tmp_path, '[[set]]\nrole = "reverse-engaged"\nat = 2.0\nstate = 7\n', networks=["body"])
    body = decoded(tmp_path, list(bench.frames()), "body.dbc", "can0")
    assert {value for at, value in series(body, "LeverPosition") if at > 2.1} == {7}


def test_more_than_the_bit_rate_allows_is_said(tmp_path: Path) -> None:
    assert (stage(tmp_path).warnings, stage(tmp_path).overloads) == ((), ())
    bench = stage(tmp_path, '[[cycle]]\nmessage = "Lever"\nperiod_ms = 0.2\n')
    (warning,) = simulation_warnings(bench)
    assert warning.startswith("network body: all messages together take 1")


def setting(**keys: object) -> str:
    lines = [f"{key} = {value!r}" for key, value in keys.items()]
    return "\n".join(["[[set]]", *lines, ""]).replace("'", '"')


def fault(**keys: object) -> str:
    return setting(**{"from" if key == "start" else key: value for key, value in keys.items()}).replace(
        "[[set]]", "[[fault]]"
    )


START = setting(role="vehicle-speed", value=0.0)
WRONG = [
    (
        setting(role="reverse-engage", state="active"),
        "set[0].role: 'reverse-engage' is not a role of the vehicle – one of reverse-engaged, ",
    ),
    (
        setting(role="horn", state="active"),
        "set[0].role: no signal carries horn in this model year – one of ",
    ),
    (
        setting(role="reverse-engaged", state="Rear"),
        "set[0].state: 'Rear' is not a state of reverse-engaged – one of R, ",
    ),
    (
        setting(role="vehicle-speed", state="active"),
        "set[0].state: vehicle-speed has no active state – give a label or a value",
    ),
    (
        setting(role="vehicle-speed", value=300.0),
        "set[0].value: 300 does not fit Speed.SpeedValue on rear – it holds 0 to 255 km/h",
    ),
    (
        setting(role="reverse-engaged", state=99),
        "set[0].state: '99' is not a state of reverse-engaged – one of ",
    ),
    (
        setting(role="horn", at=16.0, state="active"),
        "set[0].at: 16 s is not before the end – less than 16",
    ),
    (
        setting(role="vehicle-speed", at=5.0, value=1.0) + setting(role="vehicle-speed", at=5.0, value=2.0),
        "set[1].at: 5 s is not after the 5 s of set[0], which is of vehicle-speed too – write the sets "
        "of a role in the order of time",
    ),
    (
        setting(role="vehicle-speed", at=5.0, value=30.0, ramp=2.0),
        "set[0].ramp: a ramp without a start: vehicle-speed is not set before – set its start value, at 0",
    ),
    (
        START + setting(role="vehicle-speed", at=5.0, state=3, ramp=2.0),
        "set[1].ramp: only a value can be reached in a ramp – give value, or no ramp",
    ),
    (
        fault(kind="message-missing", message="Levers", start=1.0, to=2.0),
        "fault[0].message: 'Levers' is not a message of body or rear – one of Lever, ",
    ),
    (
        fault(kind="message-missing", message="Speed", start=1.0, to=2.0),
        "fault[0].message: Speed is on body and rear – say which with network",
    ),
    (
        fault(kind="message-missing", message="Speed", network="roof", start=1.0, to=2.0),
        "fault[0].network: 'roof' is not a network of the vehicle – one of ",
    ),
    (
        fault(kind="stuck-signal", message="Lever", signal="Position", start=1.0, to=2.0),
        "fault[0].signal: 'Position' is not a signal of Lever – one of LeverPosition, ",
    ),
    (
        fault(kind="frozen-counter", message="Doors", start=1.0, to=2.0),
        "fault[0].message: no counter of Doors is known – name it in the vehicle file, as counter of a role",
    ),
    (
        fault(kind="stuck-signal", message="Lever", start=1.0, to=2.0, share=0.5),
        "fault[0].share: a fault of kind stuck-signal has no share – leave it out",
    ),
    (
        fault(kind="asleep", message="Lever", start=1.0, to=2.0),
        "fault[0].message: a fault of kind asleep has no message – leave it out",
    ),
    (
        fault(kind="wrong-length", message="Lever", start=1.0, to=2.0, length=4),
        "fault[0].length: 4 bytes are not fewer than the 4 of Lever – say how many are left",
    ),
    (
        fault(kind="asleep", start=16.0, to=17.0),
        "fault[0].from: 16 s is not before the end – less than 16",
    ),
    (
        '[[cycle]]\nmessage = "Lever"\nperiod_ms = 10.0\njitter_ms = 6.0\n',
        "cycle[0].jitter_ms: 6 ms is more than half of the period – use at most 5",
    ),
    (
        '[[checksum]]\nmessage = "Lever"\nsignal = "LeverCounter"\nkind = "xor"\n',
        "checksum[0].signal: LeverCounter is not one or two whole bytes – only such checksums are kept valid",
    ),
    (
        '[[checksum]]\nmessage = "Lever"\nsignal = "LeverCheck"\nkind = "crc"\n',
        "checksum[0].polynomial: a crc needs a polynomial – give it",
    ),
    (
        '[[checksum]]\nmessage = "Lever"\nsignal = "LeverCheck"\nkind = "crc"\npolynomial = 0x11D\n',
        "checksum[0].polynomial: 0x11D does not fit 8 bits – at most 0xFF",
    ),
]


@pytest.mark.parametrize(("body", "says"), WRONG, ids=[says.split(":")[0] for _, says in WRONG])
def test_what_is_wrong_in_a_script_is_one_line(tmp_path: Path, body: str, says: str) -> None:
    with pytest.raises(InputError) as caught:
        stage(tmp_path, body)
    assert str(caught.value).startswith(f"{tmp_path / 's.script.toml'}: {says}")
    assert "\n" not in str(caught.value)


def test_an_unknown_network_and_a_wrong_year(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"has no network 'roof' – one of "):
        stage(tmp_path, networks=["roof"])
    with pytest.raises(UsageError, match=r"--year: 2025 is outside the vehicle file's model years"):
        stage(tmp_path, year=2025)


def test_no_marks_are_beside_a_simulation_of_its_own(tmp_path: Path) -> None:
    """``stage`` writes nothing: what is on disk is the caller's business."""
    stage(tmp_path)
    assert side_marks(tmp_path / "s.log") == ()


def test_a_role_whose_counter_the_dbc_lacks_is_simulated_all_the_same(tmp_path: Path) -> None:
    """The one resolver says what the DBC lacks; a missing counter does not keep a script from the signal."""
    stage(tmp_path)
    vehicle = tmp_path / "gull.vehicle.toml"
    text_of = vehicle.read_text(encoding="utf-8")
    assert 'counter = "LeverCounter"' in text_of
    vehicle.write_text(text_of.replace('counter = "LeverCounter"', 'counter = "Gone"'), encoding="utf-8")
    bench = load_bench(vehicle, tmp_path / "s.script.toml")
    body = decoded(tmp_path, list(bench.frames()), "body.dbc", "can0")
    assert "R" in [str(value) for _, value in series(body, "LeverPosition")]
    counts = [value for _, value in series(body, "LeverCounter")]  # by its name, whatever the role says
    assert counts == [number % 15 for number in range(len(counts))]
