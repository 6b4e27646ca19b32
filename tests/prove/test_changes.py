"""What is different after a fitting, by hand-made recordings; each kind with its nearest miss."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from netcheck.catalogue import load_job
from netcheck.prove import LengthChanged, PeriodChanged, SideDoubt, SignalStuck, SleepLater, prove
from tests.network.logs import Line
from tests.prove.small import (
    NEW,
    OTHER_VIN,
    SECONDS,
    USUAL,
    VEHICLE,
    VIN,
    Sent,
    SmallJob,
    changed,
    checked,
    errors,
    fixed,
    kinds,
    lever,
    log_of,
    note_kinds,
    pair,
    status,
    terminal,
    vin_pages,
    without,
)


def test_two_recordings_of_one_vehicle_are_a_pass(tmp_path):
    """Moved at other moments, recorded for another time, with stamps that are a little off."""
    after = changed(USUAL, "Lever", data=lever((3.0, 8.0))) | {"Slow": replace(USUAL["Slow"], begin=0.4)}
    proof = pair(tmp_path, USUAL, after)
    assert (proof.verdict, kinds(proof), note_kinds(proof)) == ("pass", [], [])
    assert (proof.compared, proof.unchanged) == (7, 7)
    assert (proof.sameness.is_same, proof.sameness.vin) == (True, "1M8GDM9AXKP042788")


def standing(number: int, at: float) -> bytes:
    """The counter of Status stands; its checksum is right."""
    return checked(status(3, at)[:4] + b"\x05")


def spoilt(number: int, at: float) -> bytes:
    """The checksum of Status is wrong in every eighth frame."""
    data = status(number, at)
    return data[:5] + bytes([data[5] ^ 0x5A]) if number % 8 == 0 else data


def now_and_then_short(number: int, at: float) -> bytes:
    """A byte is missing in every twentieth frame."""
    return b"\x11" if number % 20 == 0 else b"\x11\x22"


def frozen(number: int, at: float) -> bytes:
    """Status but for its first value, which stands."""
    return checked(b"\x2a" + status(number, at)[1:5])


@pytest.mark.parametrize(
    ("after", "expected"),
    [
        (without(USUAL, "Plain"), ["message-gone"]),
        (without(USUAL, "Slow"), ["message-gone"]),
        (USUAL | {"Strange": Sent(0x4A0, 500, fixed(b"\1"))}, ["message-new"]),
        (changed(USUAL, "Plain", data=fixed(b"\x11\x22\x33")), ["length-changed"]),
        (changed(USUAL, "Plain", data=now_and_then_short), ["length-changed"]),
        (changed(USUAL, "Plain", period_ms=24), ["period-changed"]),
        (changed(USUAL, "Slow", period_ms=700), ["period-changed"]),
        (changed(USUAL, "Status", data=standing), ["counter-failing", "signal-stuck"]),
        (changed(USUAL, "Status", data=spoilt), ["checksum-failing"]),
        (changed(USUAL, "Status", data=frozen), ["signal-stuck"]),
        (USUAL | {"Tester": Sent(0x7E0, 4, fixed(bytes(8)))}, ["load-higher"]),
    ],
)
def test_what_is_different_is_told_once(tmp_path, after, expected):
    proof = pair(tmp_path, USUAL, after)
    assert (proof.verdict, sorted(set(kinds(proof)))) == ("fail", expected)


@pytest.mark.parametrize(
    ("after", "notes"),
    [
        (USUAL | {"Key": Sent(0x4A0, 500, fixed(b"\1"), begin=5.0, end=6.6)}, ["SeldomNew"]),
        (changed(USUAL, "Plain", period_ms=20.3), []),  # within what clocks and stamps differ by
        (USUAL | {"Tester": Sent(0x7E0, 100, fixed(bytes(8)))}, []),  # diagnostics are never new
    ],
)
def test_what_is_no_change(tmp_path, after, notes):
    proof = pair(tmp_path, USUAL, after)
    assert (kinds(proof), note_kinds(proof)) == ([], notes)


def test_a_message_seen_less_than_five_times_is_only_noted(tmp_path):
    before = USUAL | {"Key": Sent(0x4A0, 500, fixed(b"\1"), begin=5.0, end=6.6)}  # four frames
    proof = pair(tmp_path, before, USUAL)
    assert (proof.verdict, kinds(proof), note_kinds(proof)) == ("pass-with-notes", [], ["SeldomGone"])


def test_ids_of_diagnostics_are_never_gone(tmp_path):
    before = USUAL | {"Tester": Sent(0x7E0, 100, fixed(bytes(8)))}
    assert kinds(pair(tmp_path, before, USUAL)) == []


def test_a_period_is_judged_by_the_jitter_before(tmp_path):
    """16 ms are no surprise where the gaps were 14 to 26 ms before, and are one where they were 20 ms."""

    def lines(*gaps: float) -> list[Line]:
        at, found = 3.0, []
        while at < 1000 * SECONDS:
            found.append(Line(at, 0x4B0, b"\x01"))
            at += gaps[len(found) % len(gaps)]
        return found

    def verdict(before: list[Line], after: list[Line]) -> list[str]:
        return kinds(SmallJob(tmp_path, log_of(USUAL, before), log_of(USUAL, after)).proof())

    assert verdict(lines(14, 20, 26, 20), lines(16)) == []
    assert verdict(lines(20), lines(16)) == ["period-changed"]


def test_facts_of_a_period_and_a_length(tmp_path):
    after = changed(changed(USUAL, "Plain", period_ms=30), "Slow", data=fixed(b"\1"))
    first, second = sorted(pair(tmp_path, USUAL, after).changes, key=lambda change: change.kind)
    assert isinstance(first, LengthChanged)
    assert (first.message.name, first.before, first.after) == ("Slow", ((4, 40),), ((1, 40),))
    assert isinstance(second, PeriodChanged)
    assert (second.message.name, second.before_ms, second.after_ms) == ("Plain", 20.0, 30.0)


def test_a_message_that_lost_a_third_of_its_frames(tmp_path):
    """The median gap is as before; the mean says that frames are missing."""
    whole = list(USUAL["Plain"].lines())
    left = [line for number, line in enumerate(whole) if number % 10 < 6]
    proof = pair(tmp_path, USUAL, without(USUAL, "Plain"), left)
    assert kinds(proof) == ["period-changed"]


# ---- error frames


@pytest.mark.parametrize(
    ("count", "found", "notes"), [(2, [], ["FewErrorFrames"]), (5, ["error-frames"], [])]
)
def test_error_frames(tmp_path, count, found, notes):
    proof = pair(tmp_path, USUAL, USUAL, errors(count))
    assert (kinds(proof), note_kinds(proof)) == (found, notes)


# ---- the vehicle's state


def test_what_comes_only_with_the_engine_is_not_gone_without_it(tmp_path):
    """It is noted, since nobody waited for it."""
    engine = changed(USUAL, "Terminal", data=terminal(engine=(8.0, 30.0)))
    before = engine | {"Boost": Sent(0x1A0, 100, fixed(b"\1"), begin=9.2, end=29.8)}
    proof = pair(tmp_path, before, USUAL)
    assert kinds(proof) == []
    assert "NotAwaited" in note_kinds(proof)
    proof = pair(tmp_path, before, engine)
    assert kinds(proof) == ["message-gone"]


def test_periods_and_load_are_compared_in_one_state(tmp_path):
    """Twice as fast with the engine running, which it was not afterwards."""

    def plain(period: float) -> list[Line]:
        return [line for line in replace(USUAL["Plain"], period_ms=period).lines() if 8000 <= line.ms < 30000]

    engine = changed(USUAL, "Terminal", data=terminal(engine=(8.0, 30.0)))
    still = [line for line in USUAL["Plain"].lines() if not 8000 <= line.ms < 30000]
    fast = log_of(without(engine, "Plain"), [*plain(4), *still])
    proof = SmallJob(tmp_path, fast, log_of(USUAL)).proof()
    assert kinds(proof) == []


def asleep(off: float, silent: float) -> dict[str, Sent]:
    """Terminal 15 off, then silence, then a door wakes the network."""
    traffic = {}
    for name, sent in USUAL.items():
        traffic[name] = replace(sent, end=silent)
        traffic[f"{name} again"] = replace(sent, begin=38.0)
    data = terminal(off)
    traffic["Terminal"] = replace(traffic["Terminal"], data=data)
    traffic["Terminal again"] = replace(traffic["Terminal again"], data=data)
    return traffic


@pytest.mark.parametrize(
    ("silent", "found"),
    [(24.0, []), (25.2, []), (31.0, ["sleep-later"]), (38.0, ["sleep-later"])],
)
def test_sleep(tmp_path, silent, found):
    """Before: 3 s after terminal 15 off. Up to a fifth and two seconds later is as before."""
    proof = pair(tmp_path, asleep(20.0, 23.0), asleep(20.0, silent))
    assert kinds(proof) == found
    for change in proof.changes:
        assert isinstance(change, SleepLater)
        assert change.before_s == pytest.approx(3.0, abs=0.1)
        awake = silent < 37
        assert (change.after_s is not None) is awake
        assert change.after_s is None or change.after_s == pytest.approx(11.0, abs=0.1)


def test_falling_asleep_on_one_side_only_is_noted(tmp_path):
    assert "SleepUncompared" in note_kinds(pair(tmp_path, asleep(20.0, 23.0), USUAL))
    assert "SleepUncompared" in note_kinds(pair(tmp_path, USUAL, asleep(20.0, 23.0)))


# ---- signals that stand still


def test_a_signal_moved_by_a_person_is_not_stuck(tmp_path):
    """In three of four times ten seconds before, and not afterwards: nobody touched it."""
    held = [(1.0, 5.0), (11.0, 15.0), (21.0, 25.0)]
    before = USUAL | {"Hand": Sent(0x106 + 0x100, 50, lever(*held))}
    proof = pair(
        tmp_path, changed(before, "Lever", data=lever(*held)), changed(before, "Lever", data=lever())
    )
    assert "signal-stuck" not in kinds(proof)


MARK = """[[capture.mark]]
role = "{role}"
state = "active"
from = 10.0
to = 14.0
"""


def test_a_mark_that_a_role_did_not_follow(tmp_path):
    """The lever works; the role that was marked, no need of the job, stayed as it was."""
    after = changed(USUAL, "Terminal", data=terminal())
    proof = pair(tmp_path, USUAL, after, captures=MARK.format(role="engine-running"))
    (change,) = proof.changes
    assert isinstance(change, SignalStuck)
    assert (change.role, change.marks, change.signal) == ("engine-running", 1, "EngineOn")
    assert proof.compared - proof.unchanged == 1
    followed = changed(USUAL, "Terminal", data=terminal(engine=(10.0, 14.0)))
    assert kinds(pair(tmp_path, USUAL, followed, captures=MARK.format(role="engine-running"))) == []


def test_a_signal_of_j1939_that_followed_no_mark_is_told_with_the_id_that_came(tmp_path):
    """A DBC has such a message with the sender 0xFE: on the bus it comes with the address of its sender."""
    database = """VERSION ""
BU_: VAN
BO_ 2566857214 Motion: 8 VAN
 SG_ Reverse : 0|2@1+ (1,0) [0|3] "" VAN
BO_ 2566857470 Other: 8 VAN
 SG_ Thing : 0|2@1+ (1,0) [0|3] "" VAN
BO_ 2566857726 Third: 8 VAN
 SG_ More : 0|2@1+ (1,0) [0|3] "" VAN
BA_DEF_ BO_ "VFrameFormat" ENUM "StandardCAN","ExtendedCAN","reserved","J1939PG";
BA_DEF_DEF_ "VFrameFormat" "";
BA_ "VFrameFormat" BO_ 2566857214 3;
BA_ "VFrameFormat" BO_ 2566857470 3;
BA_ "VFrameFormat" BO_ 2566857726 3;
"""
    ids = [0x18FF2127, 0x18FF2227, 0x18FF2327]
    log = "\n".join(f"({n / 10:.6f}) can0 {ids[n % 3]:08X}#{'00' * 8}" for n in range(300))
    job = SmallJob(tmp_path, log, log)
    job.captures = MARK.format(role="reverse-engaged")
    loaded = job.load()
    (tmp_path / "van.dbc").write_text(database, encoding="utf-8")
    vehicle = (
        VEHICLE.partition("[module.unit]")[0]
        + """[[role.reverse-engaged]]
network = "body"
message = "Motion"
signal = "Reverse"
active = [1]
"""
    )
    (tmp_path / "van.vehicle.toml").write_text(vehicle, encoding="utf-8")
    stuck = [change for change in prove(load_job(loaded.file)).changes if isinstance(change, SignalStuck)]
    assert [str(change.message.frame_id) for change in stuck] == ["0x18FF2127"]


# ---- another vehicle


def test_another_vehicle_of_the_model_by_its_number(tmp_path):
    """All else is alike; nothing else is listed, whatever is different."""
    after = without(USUAL, "Plain", "Vin") | {"Vin": vin_pages(OTHER_VIN)}
    proof = pair(tmp_path, USUAL, after)
    assert (proof.verdict, kinds(proof), proof.sameness.is_same) == ("not-shown", ["other-vehicle"], False)
    assert (proof.needs, proof.promises, proof.notes) == ((), (), ())


def test_a_number_of_the_job_counts_where_the_captures_from_before_tell_none(tmp_path):
    identity = f'[identity]\nvin = "{OTHER_VIN}"\n'
    proof = pair(tmp_path, without(USUAL, "Vin"), USUAL, identity=identity)
    assert kinds(proof) == ["other-vehicle"]


def test_captures_of_one_side_that_tell_two_numbers_are_a_note(tmp_path):
    """The first capture from after is of this vehicle, the second one of another: nothing hides that."""
    (tmp_path / "second.log").write_text(log_of(without(USUAL, "Vin") | {"Vin": vin_pages(OTHER_VIN)}))
    second = '[[capture]]\nfile = "second.log"\nwhen = "after"\n'
    proof = pair(tmp_path, USUAL, USUAL, captures=second)
    assert (proof.sameness.is_same, kinds(proof)) == (True, [])
    told = [note.told for note in proof.notes if isinstance(note, SideDoubt)]
    assert [(doubt.file, doubt.vin, doubt.expected) for doubt in told] == [("second.log", OTHER_VIN, VIN)]
    assert "SideDoubt" not in note_kinds(pair(tmp_path, USUAL, USUAL))


def test_another_vehicle_by_ids(tmp_path):
    """No number on either side; three gone and four new of eight."""
    before = without(USUAL, "Vin")
    after = without(before, "Status", "Plain", "Slow") | {
        str(number): Sent(0x300 + number, 100, fixed(b"\1")) for number in range(4)
    }
    proof = pair(tmp_path, before, after)
    assert (proof.verdict, kinds(proof)) == ("not-shown", ["other-vehicle"])


def test_a_module_that_lost_its_plug_makes_no_other_vehicle(tmp_path):
    after = without(USUAL, "Vin", "Status", "Plain", "Slow")
    proof = pair(tmp_path, without(USUAL, "Vin"), after)
    assert (proof.verdict, kinds(proof)) == ("fail", ["message-gone"] * 3)
    assert proof.sameness.is_same is None
    assert "VehicleUntold" in note_kinds(proof)


# ---- what was planned


PLANNED = """[[supply]]
message_id = 0x2F1
period_ms = 100
length = 6
[[replace]]
role = "old-source"
[[code]]
module = "unit"
field = "part"
value = "fitted"
"""
READ = """[[readout]]
module = "unit"
did = 0x2210
data = "{data}"
when = "{when}"
"""


def readouts(after: str | None) -> str:
    told = READ.format(data="00000000", when="before")
    return told + (READ.format(data=after, when="after") if after else "")


def planned(folder: Any, after: dict[str, Sent], data: str | None = "00010000") -> Any:
    return pair(folder, USUAL, after, retrofit=PLANNED, readouts=readouts(data))


def test_planned_changes_are_listed_and_are_no_failure(tmp_path):
    proof = planned(tmp_path, without(USUAL, "Old") | {"New": NEW})
    assert (proof.verdict, kinds(proof)) == ("pass", [])
    assert kinds(proof, planned=True) == ["message-gone", "message-new", "coding-changed"]
    assert [(promise.kind.value, promise.is_kept) for promise in proof.promises] == [
        ("new-id", True),
        ("source-gone", True),
        ("coding", True),
    ]


@pytest.mark.parametrize(
    ("after", "data", "kept", "verdict"),
    [
        (without(USUAL, "Old"), "00010000", [False, True, True], "fail"),
        (USUAL | {"New": NEW}, "00010000", [True, False, True], "fail"),
        (without(USUAL, "Old") | {"New": NEW}, "00000000", [True, True, False], "fail"),
        (without(USUAL, "Old") | {"New": NEW}, None, [True, True, None], "not-shown"),
    ],
)
def test_a_planned_change_that_did_not_happen(tmp_path, after, data, kept, verdict):
    proof = planned(tmp_path, after, data)
    assert ([promise.is_kept for promise in proof.promises], proof.verdict) == (kept, verdict)
    assert kinds(proof) == []


def test_coding_bits_that_nobody_meant(tmp_path):
    """Byte 0 bit 2 is a field, byte 3 bits 4 and 5 are nobody's."""
    proof = planned(tmp_path, without(USUAL, "Old") | {"New": NEW}, "04010030")
    found = [change for change in proof.changes if change.kind == "coding-changed" and not change.is_planned]
    assert [(c.field_name, c.before, c.after, c.byte, c.bit, c.width) for c in found] == [
        ("menu", "off", "on", None, 0, 0),
        ("", 0, 3, 3, 4, 2),
    ]
    assert proof.verdict == "fail"


# ---- what cannot be compared


def test_the_recording_from_before_again_shows_nothing(tmp_path):
    """The file of before, copied or named twice; with one frame more it is another recording."""
    log = log_of(USUAL)
    proof = SmallJob(tmp_path, log, log, is_later=False).proof()
    assert (proof.verdict, note_kinds(proof)) == ("not-shown", ["SameRecording"])
    more = log_of(USUAL, [Line(39_900.0, 0x106, b"\x11\x22")])
    assert SmallJob(tmp_path, log, more, is_later=False).proof().verdict == "pass"


def test_a_network_captured_before_only_is_not_shown(tmp_path):
    proof = SmallJob(tmp_path, before=log_of(USUAL)).proof()
    assert (proof.verdict, note_kinds(proof)) == ("not-shown", ["NotAfter"])


def test_a_network_captured_after_only_is_a_note(tmp_path):
    proof = SmallJob(tmp_path, after=log_of(USUAL)).proof()
    assert (proof.verdict, note_kinds(proof), proof.compared) == ("pass-with-notes", ["NotBefore"], 0)


def test_captures_without_time_stamps(tmp_path):
    bare = ""
    for line in log_of(USUAL).splitlines():
        can_id, _, data = line.split()[2].partition("#")
        bare += f"  can0  {can_id}   [{len(data) // 2}]  {bytes.fromhex(data).hex(' ')}\n"
    proof = SmallJob(tmp_path, before=bare, after=log_of(USUAL)).proof()
    assert kinds(proof) == []
    assert "WithoutTimes" in note_kinds(proof)


# ---- needs and delays


def test_a_need_that_is_not_shown_afterwards(tmp_path):
    proof = pair(tmp_path, USUAL, changed(USUAL, "Lever", data=lever()))
    (need,) = proof.needs
    assert (need.result.status, need.result.reason) == ("expected", "not-exercised")
    assert proof.verdict == "not-shown"


def supplied(delay: float, *held: tuple[float, float]) -> dict[str, Sent]:
    """The camera is on so many seconds after reverse."""
    late = lever(*((begin + delay, end) for begin, end in held))
    return USUAL | {
        "Lever": replace(USUAL["Lever"], data=lever(*held)),
        "New": replace(NEW, period_ms=20, data=lambda number, at: late(number, at) + bytes(4)),
    }


def test_a_message_that_stopped_while_the_network_went_on_is_noted(tmp_path):
    """Its module dropped out for half of the recording: it is not gone, and its period is as it was."""
    paused = changed(USUAL, "Plain", end=20.0)
    proof = pair(tmp_path, USUAL, paused)
    assert (proof.changes, note_kinds(proof)) == ((), ["StayedAway"])
    assert (proof.compared - proof.unchanged, proof.verdict) == (1, "pass-with-notes")
    assert note_kinds(pair(tmp_path, USUAL, changed(USUAL, "Plain", end=39.2))) == []  # under a second
    assert note_kinds(pair(tmp_path, paused, paused)) == []  # as before
    off = changed(USUAL, "Terminal", data=terminal(off=15.0))
    asleep = changed(off, "Plain", end=25.0)  # modules fall asleep one by one
    assert "StayedAway" not in note_kinds(pair(tmp_path, off, asleep))


@pytest.mark.parametrize(
    ("delay", "is_late", "verdict"),
    [(0.8, False, "pass"), (1.9, False, "pass"), (2.1, True, "fail"), (5.0, True, "fail")],
)
def test_an_image_within_two_seconds_of_reverse(tmp_path, delay, is_late, verdict):
    """The published limit as it is. After 5 s: never in the four seconds."""
    retrofit = '[[supply]]\nroles = ["camera.active"]\nmessage_id = 0x2F1\n'
    after = supplied(delay, (10.0, 14.0), (20.0, 24.0), (30.0, 38.0))
    proof = pair(tmp_path, USUAL, after, retrofit=retrofit)
    camera = next(need for need in proof.needs if need.is_supplied)
    (latency,) = camera.latencies
    assert (latency.cause, latency.limit_ms, latency.is_published) == ("reverse-engaged", 2000.0, True)
    assert len(latency.delays_ms) + latency.missed == 3
    assert all(one == pytest.approx(1000 * delay, abs=60) for one in latency.delays_ms)
    assert (camera.is_too_late, proof.verdict) == (is_late, verdict)


FRONT_DBC = """VERSION ""
BU_: GATE
BO_ 515 Selector: 2 GATE
 SG_ SelectorReverse : 0|1@1+ (1,0) [0|1] "" GATE
BO_ 517 One: 1 GATE
 SG_ OneValue : 0|8@1+ (1,0) [0|255] "" GATE
BO_ 518 Two: 1 GATE
 SG_ TwoValue : 0|8@1+ (1,0) [0|255] "" GATE
"""
FRONT = """[network.front]
bitrate = 500_000
dbc = "front.dbc"
[[role.reverse-engaged]]
network = "front"
message = "Selector"
signal = "SelectorReverse"
active = [1]
"""


@pytest.mark.parametrize(("delay", "is_late"), [(0.1, False), (0.21, False), (0.3, True)])
def test_how_late_a_gateway_passes_a_change_on(tmp_path, delay, is_late):
    """Exact to the frame, so judged by the retrofit file's 200 ms and a tenth; frames come every 10 ms."""
    held = ((10.0, 14.0), (20.0, 24.0))
    front = {
        "Selector": Sent(0x203, 10, lever(*held), channel="can1"),
        "One": Sent(0x205, 100, fixed(b"\x01"), channel="can1"),
        "Two": Sent(0x206, 100, fixed(b"\x02"), channel="can1"),
    }
    late = lever(*((begin + delay, end + delay) for begin, end in held))
    traffic = USUAL | front | {"Lever": replace(USUAL["Lever"], period_ms=10, data=late)}
    (tmp_path / "front.dbc").write_text(FRONT_DBC, encoding="utf-8")
    proof = pair(tmp_path, traffic, traffic, vehicle=FRONT)
    need = next(need for need in proof.needs if need.result.role == "reverse-engaged")
    (latency,) = need.latencies
    assert (latency.start, latency.network, latency.limit_ms) == ("copy", "front", 200.0)
    assert latency.delays_ms == pytest.approx([1000 * delay] * 4, abs=12)
    assert (need.is_too_late, proof.verdict) == (is_late, "fail" if is_late else "pass")


KEYS = """[[role."cruise.set"]]
network = "body"
message = "Old"
signal = "OldValue"
active = [1]
[[role."cruise.state"]]
network = "body"
message = "Plain"
signal = "PlainValue"
active = [1]
"""
CRUISE = '[[need]]\nrole = "cruise.set"\n[[need]]\nrole = "cruise.state"\n'


def test_how_late_cruise_control_answers_its_button(tmp_path):
    """Two presses; nobody publishes how late it may be, so it is told and not judged."""
    pressed = ((12.0, 12.5), (20.0, 20.5))
    regulating = lever((12.3, 15.0), (20.3, 23.0))
    traffic = USUAL | {
        "Old": replace(USUAL["Old"], period_ms=20, data=lambda number, at: lever(*pressed)(number, at)[:1]),
        "Plain": replace(USUAL["Plain"], data=regulating),
    }
    proof = pair(tmp_path, traffic, traffic, vehicle=KEYS, retrofit=CRUISE)
    (latency,) = next(need for need in proof.needs if need.result.role == "cruise.state").latencies
    assert (latency.start, latency.cause, latency.limit_ms, latency.missed) == (
        "cause",
        "cruise.set",
        None,
        0,
    )
    assert latency.delays_ms == pytest.approx([300, 300], abs=40)
    assert proof.verdict == "pass"


CAMERA = '[[supply]]\nroles = ["camera.active"]\nmessage_id = 0x2F1\n'
OFF = '[[reaction]]\nrole = "camera.active"\ncause = "reverse-engaged"\noff_within_ms = 3000\n'


def lingering(seconds: float, *held: tuple[float, float], until: float = SECONDS) -> dict[str, Sent]:
    """The camera stays on so many seconds after reverse; the network falls asleep at ``until``."""
    after = lever(*((begin + 0.3, end + seconds) for begin, end in held))
    traffic = USUAL | {
        "Lever": replace(USUAL["Lever"], data=lever(*held)),
        "New": replace(NEW, period_ms=20, data=lambda number, at: after(number, at) + bytes(4)),
    }
    return {name: replace(sent, end=until) for name, sent in traffic.items()}


@pytest.mark.parametrize(
    ("seconds", "missed", "is_late"), [(0.4, 0, False), (3.2, 0, False), (3.5, 0, True), (20.0, 2, True)]
)
def test_an_image_that_stays_after_reverse(tmp_path, seconds, missed, is_late):
    """The retrofit file's limit and a tenth. After 20 s: reverse is selected again first."""
    after = lingering(seconds, (10.0, 14.0), (27.0, 30.0))
    proof = pair(tmp_path, USUAL, after, retrofit=CAMERA + OFF)
    camera = next(need for need in proof.needs if need.is_supplied)
    (ended,) = (latency for latency in camera.latencies if latency.is_end)
    assert (ended.cause, ended.limit_ms, ended.is_published) == ("reverse-engaged", 3000.0, False)
    assert (len(ended.delays_ms), ended.missed) == (2 - missed, missed)
    assert all(one == pytest.approx(1000 * seconds, abs=60) for one in ended.delays_ms)
    assert (camera.is_too_late, proof.verdict) == (is_late, "fail" if is_late else "pass")
    assert any(latency.is_end for latency in camera.foremost)


def test_an_image_of_which_a_sleeping_network_does_not_tell_whether_it_went(tmp_path):
    """Asleep two seconds after reverse: the limit of three is not known to be passed. Said as a note."""
    before = {name: replace(sent, end=30.0) for name, sent in USUAL.items()}
    woken = [Line(36_000.0 + 100 * n, 0x104, b"\x05") for n in range(20)]
    after = lingering(20.0, (10.0, 28.0), until=30.0)
    proof = pair(tmp_path, before, after, woken, retrofit=CAMERA + OFF)
    camera = next(need for need in proof.needs if need.is_supplied)
    assert not camera.is_too_late
    assert "DelayUnmeasured" in note_kinds(proof)


@pytest.mark.parametrize(("begin", "is_late"), [(11.2, False), (12.3, True)])
def test_a_camera_that_sends_only_while_it_is_fed_by_the_reversing_lamp(tmp_path, begin, is_late):
    """It begins active and ends without a word: how soon it came is known, how soon it went is not."""
    after = supplied(0.0, (10.0, 14.0))
    after["New"] = replace(NEW, period_ms=20, data=fixed(b"\x01" + bytes(5)), begin=begin, end=14.3)
    proof = pair(tmp_path, USUAL, after, retrofit=CAMERA + OFF)
    camera = next(need for need in proof.needs if need.is_supplied)
    (begun,) = camera.latencies
    assert begun.summary is not None
    assert begun.summary[1] == pytest.approx(1000 * (begin - 10), abs=60)
    assert (begun.is_end, begun.missed, begun.is_too_late) == (False, 0, is_late)


def test_a_limit_of_the_retrofit_file_beside_the_published_one(tmp_path):
    limit = OFF.replace("off_within_ms = 3000", "on_within_ms = 500")
    proof = pair(tmp_path, USUAL, supplied(1.0, (10.0, 14.0), (20.0, 24.0)), retrofit=CAMERA + limit)
    camera = next(need for need in proof.needs if need.is_supplied)
    told = [(one.limit_ms, one.is_published, one.is_too_late) for one in camera.latencies]
    assert told == [(2000.0, True, False), (500.0, False, True)]
    assert [one.limit_ms for one in camera.foremost] == [500.0]
    assert proof.verdict == "fail"


def test_a_delay_from_a_mark_judges_nothing(tmp_path):
    after = changed(USUAL, "Lever", data=lever((11.0, 14.4)))
    proof = pair(tmp_path, USUAL, after, captures=MARK.format(role="reverse-engaged").replace("14.0", "14.5"))
    (latency,) = proof.needs[0].latencies
    assert (latency.start, latency.is_too_late) == ("mark", False)
    assert latency.summary is not None
    assert latency.summary[1] == pytest.approx(1000, abs=60)


def test_a_wire_is_noted_and_an_exercise_counted(tmp_path):
    wire = '[[item.wire]]\nrole = "reverse-engaged"\nfrom = "lamp feed"\n'
    exercise = '[[exercise]]\nrole = "engine-running"\ndo = "Start the engine"\n'
    proof = pair(tmp_path, USUAL, USUAL, item=wire, retrofit=exercise)
    assert note_kinds(proof) == ["NotOnTheNetwork", "ExercisesOpen"]
    assert [(entry.role, entry.is_done) for entry in proof.exercises] == [("engine-running", False)]
    moved = changed(USUAL, "Terminal", data=terminal(engine=(10.0, 20.0)))
    assert pair(tmp_path, USUAL, moved, item=wire, retrofit=exercise).exercises[0].is_done
