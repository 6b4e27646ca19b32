"""Four plans of a mobile library on an invented van, one for each verdict. All data is invented."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from netcheck.coding import CodingStatus, Write
from netcheck.evidence import Extremes
from netcheck.files import UnlockedBy
from netcheck.network import Candidate, FrameId
from netcheck.plan import Plan
from netcheck.report import plan_text
from netcheck.verdict import ChannelUse, FactUnknown, IdInUse, ItemResult, NeedFacts, Reason, Verdict
from tests.report.made import every, item, job, need, plan, row
from tests.report.van import CRUISE, PARK, WHEEL

COMFORT = ChannelUse(
    "comfort_before.log", "can0", "comfort", 184_211, 92.1, "comfort", 64, (Candidate("comfort", 61, 3),)
)
DRIVE = ChannelUse("drive_before.log", "can1", "drive", 98_304, 61.4, None, 41, (Candidate("drive", 40, 3),))
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
    need(PARK, "reverse-engaged", Reason.OK, every(100, 92.1, marks=3), evidence="answers"),
    need(PARK, "vehicle-speed", Reason.OK, every(20, 92.1), evidence="moves"),
    need(PARK, "terminal-15", Reason.OK, every(100, 92.1), evidence="moves"),
    need(PARK, "illumination", Reason.OK, every(200, 92.1), evidence="moves"),
)
TRAILER_SHOWN = need(PARK, "trailer-coupled", Reason.OK, every(500, 92.1), evidence="moves")


def absent(can_id: int) -> NeedFacts:
    """A message that never came."""
    return NeedFacts(
        frame_id=FrameId(can_id, False), seconds=92.1, channels=("can0",), files=("comfort_before.log",)
    )


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
    unlock = UnlockedBy(module="column", field="wheel_buttons", value="fitted")
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
        need(WHEEL, "terminal-15", Reason.OK, every(100, 92.1, marks=2), evidence="answers"),
        need(WHEEL, "illumination", Reason.OK, every(200, 92.1), evidence="moves"),
        need(
            WHEEL,
            "wheel.volume-up",
            Reason.LOCKED,
            replace(absent(0x305), locked_by=unlock),
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
    unlock = UnlockedBy(module="column", field="cruise_stalk", value="fitted")
    fast = every(10, 61.4, channel="can1")
    marked = every(10, 61.4, channel="can1", marks=3)
    needs = (
        need(CRUISE, "brake-pedal", Reason.OK, marked, network="drive", evidence="answers"),
        need(CRUISE, "clutch-pedal", Reason.OK, marked, network="drive", evidence="answers"),
        need(CRUISE, "vehicle-speed", Reason.OK, fast, network="drive", evidence="moves"),
        need(
            CRUISE,
            "cruise.set",
            Reason.LOCKED,
            replace(fast, frame_id=FrameId(0x1B0, False), locked_by=unlock),
            network="drive",
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
    still = every(20, 92.1)
    held = replace(still.seen, raw=Extremes(0, 0), value=Extremes(0.0, 0.0))
    needs = (
        need(
            PARK,
            "reverse-engaged",
            Reason.NO_MARK,
            replace(every(100, 92.1), has_active_states=True),
            evidence="moves",
        ),
        need(
            PARK,
            "vehicle-speed",
            Reason.NOT_EXERCISED,
            replace(still, seen=held, unit="km/h"),
            evidence="present",
        ),
        *FIVE_SHOWN[2:],
        need(PARK, "trailer-coupled", Reason.MESSAGE_ABSENT, absent(0x4D0)),
    )
    coding = (row("gateway", "0x2210", "park_distance_module", CodingStatus.UNKNOWN),)
    questions = (FactUnknown("park.bumper-material", ("plastic",), "sensors do not see through steel"),)
    items = (item(PARK, "comfort", Verdict.UNPROVEN, needs, coding, (), questions),)
    warnings = ("comfort_before.log: line 184213 is cut off, probably by the end of the recording",)
    return plan(job("library_unproven", (PARK, "comfort")), Verdict.UNPROVEN, items, (), (COMFORT,), warnings)


def no_go() -> Plan:
    needs = (
        need(PARK, "reverse-engaged", Reason.MESSAGE_ABSENT, absent(0x2A0)),
        *FIVE_SHOWN[1:],
        TRAILER_SHOWN,
    )
    conflict = IdInUse(FrameId(0x4A1, False), "comfort", 920, "ShelfHeater", ("BODY",))
    items = (item(PARK, "comfort", Verdict.NO_GO, needs, (PARK_ROW,), (conflict,)),)
    warnings = tuple(f"skerry_comfort.dbc: line {line}: an attribute was skipped" for line in range(10, 15))
    loaded = job("library_no_go", (PARK, "comfort"))
    return plan(loaded, Verdict.NO_GO, items, (PARK_WRITE,), (COMFORT,), warnings)


EXAMPLES = {"go": go, "go_with_changes": go_with_changes, "unproven": unproven, "no_go": no_go}
GOLDEN = Path(__file__).parent / "golden"


def renew() -> None:
    """Write the expected texts anew, to be read and committed: ``python -m tests.report.examples``."""
    for name, make in EXAMPLES.items():
        text = plan_text(make(), width=80, colour=False, verbose=False)
        (GOLDEN / f"{name}.txt").write_text(text, encoding="utf-8")


if __name__ == "__main__":
    renew()
