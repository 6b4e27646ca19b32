"""Four plans of a mobile library on an invented van, one for each verdict. All data is invented."""

from __future__ import annotations

from pathlib import Path

from netcheck.coding import CodingStatus, Write
from netcheck.report import plan_text
from netcheck.verdict import ChannelUse, Conflict, ConflictKind, ItemResult, Plan, Question, Reason, Verdict
from tests.report.made import item, job, need, plan, row
from tests.report.van import CRUISE, PARK, WHEEL

COMFORT = ChannelUse("comfort_before.log", "can0", "comfort", 184_211, 92.1, "comfort", "61 of 64 ids fit")
DRIVE = ChannelUse("drive_before.log", "can1", "drive", 98_304, 61.4, None, "40 of 41 ids fit")
PARK_WRITE = Write("gateway", "0x2210", "010300010080", "010300210080")
PARK_ROW = row(
    "gateway",
    "0x2210",
    "park_distance_module",
    CodingStatus.TO_DO,
    from_="absent",
    before="01",
    after="21",
)
FIVE_SHOWN = (
    need(
        PARK,
        "reverse-engaged",
        Reason.OK,
        "3 of 3 marks, every 100 ms, 92 s on can0",
        evidence="answers",
    ),
    need(PARK, "vehicle-speed", Reason.OK, "every 20 ms, 92 s on can0", evidence="moves"),
    need(PARK, "terminal-15", Reason.OK, "every 100 ms, 92 s on can0", evidence="moves"),
    need(PARK, "illumination", Reason.OK, "every 200 ms, 92 s on can0", evidence="moves"),
)
TRAILER_SHOWN = need(PARK, "trailer-coupled", Reason.OK, "every 500 ms, 92 s on can0", evidence="moves")


def go() -> Plan:
    already = row(
        "gateway",
        "0x2210",
        "park_distance_module",
        CodingStatus.ALREADY,
        from_="fitted",
        before="21",
        after="21",
    )
    items = (item(PARK, "comfort", Verdict.GO, (*FIVE_SHOWN, TRAILER_SHOWN), (already,)),)
    return plan(job("library_go", (PARK, "comfort")), Verdict.GO, items, (), (COMFORT,))


def _wheel() -> ItemResult:
    coding = row(
        "column",
        "0x2230",
        "wheel_buttons",
        CodingStatus.TO_DO,
        from_="absent",
        byte=1,
        before="40",
        after="41",
        mask="01",
        unlock="wheel.volume-up",
    )
    needs = (
        need(WHEEL, "terminal-15", Reason.OK, "2 of 2 marks, every 100 ms, 92 s on can0", evidence="answers"),
        need(WHEEL, "illumination", Reason.OK, "every 200 ms, 92 s on can0", evidence="moves"),
        need(
            WHEEL,
            "wheel.volume-up",
            Reason.LOCKED,
            "no frame of WheelKeys (0x305) in 92 s on can0; it needs column.wheel_buttons = fitted",
            todo="Code column.wheel_buttons = fitted, capture comfort again and show it: Press volume-up "
            "three times, one second each.",
        ),
    )
    return item(WHEEL, "comfort", Verdict.GO_WITH_CHANGES, needs, (coding,))


def _cruise() -> ItemResult:
    coding = (
        row(
            "column",
            "0x2230",
            "cruise_stalk",
            CodingStatus.TO_DO,
            from_="absent",
            byte=1,
            before="40",
            after="50",
            mask="10",
            unlock="cruise.set",
        ),
        row(
            "engine",
            "0x2281",
            "cruise_control",
            CodingStatus.TO_DO,
            from_="off",
            to="on",
            byte=0,
            before="09",
            after="0D",
            mask="04",
        ),
    )
    needs = (
        need(
            CRUISE,
            "brake-pedal",
            Reason.OK,
            "3 of 3 marks, every 10 ms, 61 s on can1",
            network="drive",
            evidence="answers",
        ),
        need(
            CRUISE,
            "clutch-pedal",
            Reason.OK,
            "3 of 3 marks, every 10 ms, 61 s on can1",
            network="drive",
            evidence="answers",
        ),
        need(
            CRUISE,
            "vehicle-speed",
            Reason.OK,
            "every 10 ms, 61 s on can1",
            network="drive",
            evidence="moves",
        ),
        need(
            CRUISE,
            "cruise.set",
            Reason.LOCKED,
            'only "no value" in 6,140 frames of StalkKeys (0x1B0); it needs column.cruise_stalk = fitted',
            network="drive",
            todo="Code column.cruise_stalk = fitted, capture drive again and show it.",
        ),
    )
    return item(CRUISE, "drive", Verdict.GO_WITH_CHANGES, needs, coding)


def go_with_changes() -> Plan:
    """Two items that share a coding block."""
    items = (_wheel(), _cruise())
    writes = (
        Write("column", "0x2230", "02400100", "02510100"),
        Write("engine", "0x2281", "0900FF0000", "0D00FF0000"),
    )
    loaded = job("library_changes", (WHEEL, "comfort"), (CRUISE, "drive"))
    return plan(loaded, Verdict.GO_WITH_CHANGES, items, writes, (COMFORT, DRIVE))


def unproven() -> Plan:
    needs = (
        need(
            PARK,
            "reverse-engaged",
            Reason.NO_MARK,
            "there, every 100 ms, 92 s on can0, but no mark says when it was active",
            evidence="moves",
            todo="Repeat the exercise and mark from when to when: Foot on the brake, engine off, select "
            "reverse for 3 seconds, then neutral.",
        ),
        need(
            PARK,
            "vehicle-speed",
            Reason.NOT_EXERCISED,
            "there, every 20 ms, 92 s on can0, but it never moved: 0 km/h throughout",
            evidence="present",
            todo="Exercise it during a capture and mark it: Drive at walking pace, then stop.",
        ),
        *FIVE_SHOWN[2:],
        need(
            PARK,
            "trailer-coupled",
            Reason.MESSAGE_ABSENT,
            "no frame of TowStatus (0x4D0) in 92 s on can0",
            todo="Check that comfort was fully awake and that this vehicle has the sending module.",
        ),
    )
    coding = (row("gateway", "0x2210", "park_distance_module", CodingStatus.UNKNOWN),)
    questions = (
        Question(
            "park.bumper-material",
            "the vehicle file does not state park.bumper-material; the part needs plastic (sensors do not "
            "see through steel)",
        ),
    )
    items = (item(PARK, "comfort", Verdict.UNPROVEN, needs, coding, (), questions),)
    warnings = ("comfort_before.log: line 184213 is cut off, probably by the end of the recording",)
    return plan(job("library_unproven", (PARK, "comfort")), Verdict.UNPROVEN, items, (), (COMFORT,), warnings)


def no_go() -> Plan:
    needs = (
        need(
            PARK,
            "reverse-engaged",
            Reason.MESSAGE_ABSENT,
            "no frame of SelectorStatus (0x2A0) in 92 s on can0",
            todo="Check that comfort was fully awake (terminal 15 on, the sender's function in use) and that "
            "this vehicle has the sending module. Capture again; if it stays away, the part needs another "
            "source.",
        ),
        FIVE_SHOWN[1],
        FIVE_SHOWN[2],
        FIVE_SHOWN[3],
        TRAILER_SHOWN,
    )
    conflict = Conflict(
        ConflictKind.ID_IN_USE,
        "it will send 0x4A1 on comfort, where ShelfHeater from BODY was seen with that id in 920 frames and "
        "nothing replaces it",
        "Ask the part's maker for another id, or put it behind a gateway of its own.",
    )
    items = (item(PARK, "comfort", Verdict.NO_GO, needs, (PARK_ROW,), (conflict,)),)
    tried = ("comfort_before.log can0: comfort; 61 of 64 ids fit the DBC of comfort",)
    warnings = tuple(f"skerry_comfort.dbc: line {line}: an attribute was skipped" for line in range(10, 15))
    return plan(
        job("library_no_go", (PARK, "comfort")),
        Verdict.NO_GO,
        items,
        (PARK_WRITE,),
        (COMFORT,),
        warnings,
        tried,
    )


EXAMPLES = {"go": go, "go_with_changes": go_with_changes, "unproven": unproven, "no_go": no_go}
GOLDEN = Path(__file__).parent / "golden"


def renew() -> None:
    """Write the expected texts anew, to be read and committed: ``python -m tests.report.examples``."""
    for name, make in EXAMPLES.items():
        text = plan_text(make(), width=80, colour=False, verbose=False)
        (GOLDEN / f"{name}.txt").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    renew()
