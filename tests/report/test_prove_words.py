"""Everything that a comparison before and after can say has its words, and the text and JSON hold them."""

from __future__ import annotations

import inspect
import json
import re
from pathlib import Path

import pytest

from netcheck import prove
from netcheck.network import FrameId
from netcheck.prove import (
    ChangeKind,
    ChecksumFailing,
    ChecksumsUncompared,
    CodingChanged,
    CodingUncompared,
    CodingUnread,
    CounterFailing,
    DelayStart,
    DelayUnmeasured,
    ErrorFramesMore,
    ExercisesOpen,
    FaultNew,
    FaultsUncompared,
    FaultsUnread,
    FewErrorFrames,
    Latency,
    LengthChanged,
    LoadHigher,
    LoadUncompared,
    MessageGone,
    MessageNew,
    ModuleSilent,
    ModulesUnread,
    NotAfter,
    NotAwaited,
    NotBefore,
    NotOnTheNetwork,
    OptionalNeedOpen,
    OtherVehicle,
    PeriodChanged,
    PeriodsUncompared,
    Promise,
    PromiseKind,
    Proof,
    ProvenMessage,
    ProveNote,
    ProveVerdict,
    ReadoutsDiffer,
    SameRecording,
    SeldomGone,
    SeldomNew,
    SideDoubt,
    SignalStuck,
    SleepLater,
    SleepUncompared,
    StayedAway,
    StrangeAfter,
    SupplyUnmapped,
    VehicleChange,
    VehicleState,
    VehicleUntold,
    WithoutTimes,
)
from netcheck.report._prove_words import CHANGES, NOTES
from netcheck.report.proving import (
    change_next,
    change_text,
    latency_text,
    promise_text,
    prove_json,
    prove_note_text,
    prove_text,
)
from netcheck.report.viewing import prove_next
from netcheck.verdict import ChannelUse, OtherDevices
from tests.prove.small import OTHER_VIN, USUAL, changed, lever, pair, vin_pages, without
from tests.report.layout import overlong

KEYS = ProvenMessage("comfort", FrameId(0x2B4, False), "PanelSwitches")
NAMELESS = ProvenMessage("comfort", FrameId(0x1F0, True))
STATE = VehicleState(terminal_15=True, engine=False)

CHANGE_TEXTS: list[tuple[VehicleChange, str]] = [
    (
        OtherVehicle(("A" * 17, "B" * 17)),
        f"the vehicle: the captures from after tell VIN {'B' * 17}, those from before {'A' * 17}",
    ),
    (
        OtherVehicle(None, (3, 2)),
        "the vehicle: none of the 3 J1939 device numbers from before is among the 2 from after",
    ),
    (
        OtherVehicle(None, (0, 0), 9, 5, 6, 1),
        "the vehicle: 8 messages are alike, 5 are gone, 6 new, 1 of other lengths, none of it planned",
    ),
    (
        MessageGone(KEYS, 100.0, 45.2, ("BODY",)),
        "PanelSwitches (0x2B4) on comfort: came every 100 ms, sent by BODY; not once in 45 s afterwards "
        "with the network awake",
    ),
    (MessageNew(NAMELESS, 50.0, 9), "0x000001F0 on comfort: comes every 50 ms; it never came before"),
    (
        LengthChanged(KEYS, ((4, 90),), ((3, 10), (4, 80))),
        "PanelSwitches (0x2B4) on comfort: had 4 bytes, now 3 bytes and 4 bytes",
    ),
    (
        PeriodChanged(KEYS, 100.0, (98.0, 101.5), 120.0, 121.0),
        "PanelSwitches (0x2B4) on comfort: came every 100 ms (98 ms to 102 ms), now every 120 ms",
    ),
    (
        PeriodChanged(KEYS, 100.0, (98.0, 101.5), 100.0, 160.0),
        "PanelSwitches (0x2B4) on comfort: came every 100 ms (98 ms to 102 ms), now every 100 ms, on average "
        "every 160 ms: frames are missing",
    ),
    (
        CounterFailing(KEYS, 40, 4, 300, 12, 7),
        "PanelSwitches (0x2B4) on comfort: its rolling counter (bit 40, 4 bits) stands still in 7 and "
        "jumps in 12 of 300 steps; it did not before",
    ),
    (
        ChecksumFailing(KEYS, 7, 300, 40),
        "PanelSwitches (0x2B4) on comfort: its checksum in byte 7 is wrong in 40 of 300 frames; it was right "
        "before",
    ),
    (
        SignalStuck(KEYS, "PanelLight", 4, 52.0, 3.0),
        "PanelSwitches (0x2B4) on comfort: PanelLight moved in each of 4 stretches of 10 s before; "
        "afterwards it did not move in 52 s, stays at 3",
    ),
    (
        SignalStuck(KEYS, "PanelPark", role="park.switch", marks=2),
        "PanelSwitches (0x2B4) on comfort: PanelPark (park.switch) followed none of 2 marks made after "
        "the fitting",
    ),
    (
        SignalStuck(KEYS, "PanelPark", role="park.switch", marks=1),
        "PanelSwitches (0x2B4) on comfort: PanelPark (park.switch) did not follow the one mark made after "
        "the fitting",
    ),
    (
        LoadHigher("comfort", STATE, 0.301, 0.412, 0.02),
        "comfort: the load was 30.1 %, is 41.2 %, of which the job explains 2.0 % (terminal 15 on "
        "and engine off)",
    ),
    (
        LoadHigher("comfort", VehicleState(), 0.301, 0.412, 0.0),
        "comfort: the load was 30.1 %, is 41.2 % (whatever the vehicle did)",
    ),
    (
        ErrorFramesMore("comfort", 0, 60.0, 8, 45.0),
        "comfort: 8 error frames in 45 s awake; before none in 60 s",
    ),
    (
        SleepLater("comfort", 9.7, 21.2, 60.0),
        "comfort: fell asleep 9.7 s after terminal 15 went off; now 21 s",
    ),
    (
        SleepLater("comfort", 9.7, None, 60.0),
        "comfort: fell asleep 9.7 s after terminal 15 went off; now it is still awake after 60 s",
    ),
    (
        CodingChanged("body", "0x2215", "park_switch", "absent", "fitted"),
        "body: 0x2215 park_switch: absent → fitted",
    ),
    (
        CodingChanged("body", "0x2215", "", 0, 3, 3, 4, 2),
        "body: 0x2215 byte 3, bit 4, 2 bits wide: 0 → 3",
    ),
]
CHANGE_TEXTS += [
    (FaultNew("body", "U012187", 0x2F), "body: stores U012187 (status 2F), which it did not before"),
    (ModuleSilent("body", 3), "body: answered the tester before, and none of 3 requests afterwards"),
]
NOTE_TEXTS: list[tuple[ProveNote, str]] = [
    (NotBefore("drive"), "captured after the fitting only"),
    (NotAfter("drive"), "captured before the fitting only"),
    (WithoutTimes("drive"), "no time stamps on one side"),
    (SideDoubt(OtherDevices("b.log", "a.log", "drive", 2, 3)), "none of its 2 J1939 device numbers on drive"),
    (VehicleUntold(), "no VIN and no device number"),
    (
        StayedAway("drive", (KEYS,)),
        "on drive for a while not, with the network awake, and before at all times",
    ),
    (SeldomGone("drive", (KEYS,)), "on drive before only, seldom or not by the clock: PanelSwitches (0x2B4)"),
    (SeldomNew("drive", (KEYS, NAMELESS)), "PanelSwitches (0x2B4) and 0x000001F0"),
    (NotAwaited("drive", (KEYS,) * 6), "and 2 more"),
    (PeriodsUncompared("drive", (KEYS,)), "to compare periods on drive"),
    (ChecksumsUncompared("drive", (KEYS,)), "to compare counters or checksums"),
    (LoadUncompared("drive"), "the load of drive was not compared"),
    (SleepUncompared("drive", True), "drive was recorded falling asleep after the fitting only"),
    (SleepUncompared("drive", False), "before the fitting only"),
    (FewErrorFrames("drive", 1), "1 error frame on drive"),
    (
        NotOnTheNetwork("camera", "reverse-engaged", "lamp feed"),
        "reverse-engaged comes by a wire (lamp feed)",
    ),
    (SupplyUnmapped("camera", ("camera.active",)), "no signal mapped for camera.active"),
    (
        SameRecording("before.log", "after.log"),
        "before.log from before and after.log from after are the same",
    ),
    (ModulesUnread(("gateway", "column")), "nothing of it was compared: gateway and column"),
    (
        DelayUnmeasured("camera", "camera.active", "reverse-engaged", is_end=True),
        "camera: how soon camera.active goes off after reverse-engaged ended was not seen",
    ),
    (ExercisesOpen("camera", ("reverse-engaged",)), "not exercised: reverse-engaged"),
    (OptionalNeedOpen("camera", ("steering-angle",)), "optional and not shown: steering-angle"),
    (FaultsUncompared(("body U012187",)), "nobody read the faults before: body U012187"),
    (FaultsUnread(("body",)), "faults read before the fitting and not after it: body"),
    (ReadoutsDiffer(("body 0x2215",)), "differ from what its captures show, and count: body 0x2215"),
    (CodingUnread(("body 0x2215",)), "not read after the fitting: body 0x2215"),
    (CodingUncompared(("body 0x2215",)), "so other bits were not compared: body 0x2215"),
    (
        StrangeAfter(ChannelUse("x.log", "can3", None, 9, 1.0)),
        "can3 of x.log is none of",
    ),
]


def leaves(base: type) -> set[type]:
    found = {value for value in vars(prove).values() if inspect.isclass(value) and issubclass(value, base)}
    return {value for value in found if not value.__subclasses__()}


def test_each_has_its_words_and_nothing_else_has() -> None:
    assert set(CHANGES) == leaves(VehicleChange) == {type(change) for change, _ in CHANGE_TEXTS}
    assert set(NOTES) == leaves(ProveNote) == {type(note) for note, _ in NOTE_TEXTS}
    assert {record.kind for record in leaves(VehicleChange)} == set(ChangeKind)  # type: ignore[attr-defined]


@pytest.mark.parametrize(("change", "text"), CHANGE_TEXTS)
def test_what_is_said_of_a_change(change: VehicleChange, text: str) -> None:
    assert change_text(change) == text
    assert change_next(change).endswith((".", "?"))


def test_a_planned_change_asks_for_nothing() -> None:
    assert change_next(MessageGone(KEYS, 100.0, 45.2, is_planned=True)) == ""


@pytest.mark.parametrize(("note", "part"), NOTE_TEXTS)
def test_what_is_said_of_a_note(note: ProveNote, part: str) -> None:
    assert part in prove_note_text(note)
    assert not prove_note_text(note).endswith(".")


@pytest.mark.parametrize(
    ("promise", "text"),
    [
        (
            Promise(PromiseKind.NEW_ID, "kit", True, KEYS),
            "PanelSwitches (0x2B4) on comfort is sent, as planned",
        ),
        (Promise(PromiseKind.NEW_ID, "kit", False, KEYS), "PanelSwitches (0x2B4) on comfort never came"),
        (
            Promise(PromiseKind.SOURCE_GONE, "kit", False, KEYS),
            "the replaced source PanelSwitches (0x2B4) on comfort is still sent",
        ),
        (
            Promise(PromiseKind.SOURCE_GONE, "kit", None, KEYS),
            "the replaced source PanelSwitches (0x2B4) on comfort was not recorded afterwards",
        ),
    ],
)
def test_what_is_said_of_a_promise(promise: Promise, text: str) -> None:
    assert promise_text(promise) == text


@pytest.mark.parametrize(
    ("latency", "text"),
    [
        (
            Latency(
                "reverse-engaged", DelayStart.COPY, "reverse-engaged", "drive", (31.0, 44.0, 62.0), 300.0
            ),
            "31 ms to 62 ms, median 44 ms, after the same change on drive, 3 times, limit 300 ms",
        ),
        (
            Latency("camera.active", DelayStart.CAUSE, "reverse-engaged", "drive", (), 2000.0, True, 2),
            "no reaction to 2 changes of reverse-engaged, limit 2000 ms by a published rule",
        ),
        (
            Latency(
                "camera.active",
                DelayStart.CAUSE,
                "reverse-engaged",
                "drive",
                (310.0,),
                3000.0,
                missed=1,
                is_end=True,
            ),
            "310 ms until off after the end of reverse-engaged on drive, "
            "still on at the limit after 1 end of reverse-engaged, limit 3000 ms",
        ),
        (
            Latency("park.lamp", DelayStart.MARK, "park.lamp", "comfort", (180.0,)),
            "180 ms after the mark (a person's watch: half a second or so)",
        ),
    ],
)
def test_what_is_said_of_a_delay(latency: Latency, text: str) -> None:
    assert latency_text(latency) == text


PROOF = Proof(
    "van",
    "Skerry 240",
    2020,
    ProveVerdict.FAIL,
    changes=tuple(change for change, _ in CHANGE_TEXTS[3:]),
    promises=(Promise(PromiseKind.NEW_ID, "kit", False, KEYS),),
    notes=tuple(note for note, _ in NOTE_TEXTS),
)


@pytest.mark.parametrize("width", [40, 80, 200])
def test_every_width_is_kept_and_colour_changes_no_word(width: int) -> None:
    text = prove_text(PROOF, width=width)
    assert overlong(text, width) == []
    coloured = prove_text(PROOF, width=width, colour=True)
    assert "\x1b" in coloured
    assert re.sub(r"\x1b\[[\d;]*m", "", coloured) == text


def test_json_is_plain_and_has_the_promised_keys() -> None:
    found = json.loads(json.dumps(prove_json(PROOF)))
    assert {"schema", "verdict", "same_vehicle", "unchanged", "changes", "needs"} <= set(found)
    assert found["schema"] == "netcheck.prove/1"
    first = found["changes"][0]
    assert {key: first[key] for key in ("kind", "network", "id", "name", "planned")} == {
        "kind": "message-gone",
        "network": "comfort",
        "id": "0x2B4",
        "name": "PanelSwitches",
        "planned": False,
    }
    for change in found["changes"]:
        assert ("id" in change) == (
            change["kind"]
            not in {
                "load-higher",
                "error-frames",
                "sleep-later",
                "coding-changed",
                "fault-new",
                "module-silent",
            }
        )
        assert ("module" in change) == (change["kind"] in {"coding-changed", "fault-new", "module-silent"})
        assert ("network" in change) != ("module" in change)


def test_what_to_do_next_names_what_changed_and_ends_with_another_look(tmp_path: Path) -> None:
    without_two = without(USUAL, "Plain", "Status")
    proof = pair(tmp_path, USUAL, changed(without_two, "Lever", data=lever()))
    texts = prove_next(proof)
    assert texts[0].startswith("Plain (0x106) on body: Check SWITCH") or "Status (0x102)" in texts[0]
    assert any(text.startswith("reverse-engaged: ") for text in texts)
    assert texts[-1] == "Then compare again: netcheck prove."
    assert len(texts) == len(set(texts))


def test_another_vehicle_asks_for_one_thing_only(tmp_path: Path) -> None:
    proof = pair(tmp_path, USUAL, USUAL | {"Vin": vin_pages(OTHER_VIN)})
    assert prove_next(proof) == [
        "Record this vehicle, and compare again. Nothing is proven by these captures."
    ]
