"""Four plans of a mobile library on an invented van, one for each verdict. All data is invented.

Needs, coding and conflicts are written by hand, as the rules would give them; checklist and next steps
are computed, so that the whole text is what a person would read.
"""

from __future__ import annotations

import tomllib
from pathlib import Path

from netcheck.coding import CodingRow, CodingStatus, Write
from netcheck.files import LoadedItem, LoadedJob, LoadedVehicle, Retrofit, Vehicle
from netcheck.plan import (
    ChannelUse,
    Conflict,
    ConflictKind,
    ItemResult,
    NeedResult,
    Plan,
    Question,
    Reason,
    Verdict,
)
from netcheck.plan._checklist import checklist
from netcheck.plan._next import next_steps
from netcheck.plan._rules import STATUS
from netcheck.report import plan_text

VEHICLE = Vehicle.model_validate(
    tomllib.loads("""
kind = "vehicle"
format = 1
name = "Skerry 240"
model_years = [2017, 2022]

[network.comfort]
bitrate = 125_000
dbc = "skerry_comfort.dbc"
tap = "20-way connector behind the glovebox, pins 4 and 14"

[network.drive]
bitrate = 500_000
dbc = "skerry_drive.dbc"
tap = "20-way connector behind the glovebox, pins 7 and 17"

[module.gateway]
title = "Gateway"
network = "comfort"
request_id = 0x6A0
response_id = 0x6B0
coding_order = "last"
coding_why = "it asks every module it lists and stores a fault for one that does not answer yet"
[module.gateway.coding.0x2210]
length = 6
[module.gateway.coding.0x2210.field]
park_distance_module = { byte = 3, bit = 5, width = 1, values = { 0 = "absent", 1 = "fitted" } }

[module.column]
title = "Steering column module"
network = "comfort"
request_id = 0x6A3
response_id = 0x6B3
[module.column.coding.0x2230]
length = 4
[module.column.coding.0x2230.field]
wheel_buttons = { byte = 1, bit = 0, width = 1, values = { 0 = "absent", 1 = "fitted" } }
cruise_stalk = { byte = 1, bit = 4, width = 1, values = { 0 = "absent", 1 = "fitted" } }

[module.engine]
title = "Engine control"
network = "drive"
coding_order = "first"
coding_why = "the column module refuses the stalk while cruise control is off"
[module.engine.coding.0x2281]
length = 5
[module.engine.coding.0x2281.field]
cruise_control = { byte = 0, bit = 2, width = 1, values = { 0 = "off", 1 = "on" } }

[[role.reverse-engaged]]
network = "comfort"
message = "SelectorStatus"
signal = "SelectorLever"
active = ["R"]
[[role.vehicle-speed]]
network = "comfort"
message = "SpeedCopy"
signal = "SpeedOverGround"
[[role.vehicle-speed]]
network = "drive"
message = "WheelSpeeds"
signal = "VehicleSpeed"
[[role.terminal-15]]
network = "comfort"
message = "KeyStatus"
signal = "Terminal15"
active = ["on"]
[[role.illumination]]
network = "comfort"
message = "LightStatus"
signal = "SideLights"
active = ["on"]
[[role.trailer-coupled]]
network = "comfort"
message = "TowStatus"
signal = "Coupled"
active = ["yes"]
[[role.brake-pedal]]
network = "drive"
message = "PedalStatus"
signal = "BrakePedal"
active = ["pressed"]
[[role.clutch-pedal]]
network = "drive"
message = "PedalStatus"
signal = "ClutchPedal"
active = ["pressed"]
[[role."wheel.volume-up"]]
network = "comfort"
message = "WheelKeys"
signal = "VolumeUp"
active = ["pressed"]
unlocked_by = { module = "column", field = "wheel_buttons", value = "fitted" }
[[role."cruise.set"]]
network = "drive"
message = "StalkKeys"
signal = "SetKey"
active = ["pressed"]
unlocked_by = { module = "column", field = "cruise_stalk", value = "fitted" }
""")
)

PARK = Retrofit.model_validate(
    tomllib.loads("""
kind = "retrofit"
format = 1
name = "park-distance"
title = "Front and rear park-distance sensors"
cautions = [
  "Airbag and belt sensors may sit behind the bumper: wait as the maker says after disconnecting the battery",
  "The sensors assist; the driver stays answerable for what is behind the van",
]
[[need]]
role = "reverse-engaged"
evidence = "answers"
max_gap_ms = 250
why = "switches the sensors on"
[[need]]
role = "vehicle-speed"
why = "switches the sensors off above walking pace"
[[need]]
role = "terminal-15"
[[need]]
role = "illumination"
[[need]]
role = "trailer-coupled"
optional = true
why = "silences the rear sensors while towing"
[[match]]
fact = "park.bumper-material"
any_of = ["plastic"]
why = "sensors do not see through steel"
[[supply]]
roles = ["park.rear-left-inner"]
message_id = 0x4A1
[[exercise]]
role = "reverse-engaged"
do = "Foot on the brake, engine off, select reverse for 3 seconds, then neutral"
[[exercise]]
role = "vehicle-speed"
do = "Drive at walking pace, then stop"
[[exercise]]
role = "park.rear-left-inner"
do = "Hold a book box 60 cm behind the left rear corner"
[[step]]
phase = "before"
text = "Check the bumper skin for cross members where the sensors go"
[[step]]
phase = "fit"
text = "Mark the holes from inside, drill from outside with the step drill, deburr and prime"
[[step]]
phase = "fit"
text = "Lay the harness along the factory loom and fuse the supply at terminal 15"
[[step]]
phase = "prove"
text = "Hand over: show the driver the switch, the tones and their limits"
""")
)

WHEEL = Retrofit.model_validate(
    tomllib.loads("""
kind = "retrofit"
format = 1
name = "wheel-buttons"
title = "Multi-function steering wheel"
cautions = [
  "Driver airbag: disconnect the battery, wait as the maker says, only trained and licensed hands",
]
[[need]]
role = "terminal-15"
evidence = "answers"
[[need]]
role = "illumination"
why = "dims the button symbols"
[[need]]
role = "wheel.volume-up"
evidence = "answers"
why = "the radio's volume"
[[exercise]]
role = "terminal-15"
do = "Ignition off for 5 seconds, then on"
[[exercise]]
role = "illumination"
do = "Side lights on for 3 seconds, then off"
[[exercise]]
role = "wheel.volume-up"
do = "Press volume-up three times, one second each"
[[step]]
phase = "fit"
text = "Swap the wheel with the front wheels straight ahead; new centre bolt, torque as the maker says"
""")
)

CRUISE = Retrofit.model_validate(
    tomllib.loads("""
kind = "retrofit"
format = 1
name = "cruise-stalk"
title = "Cruise control stalk"
cautions = [
  "Cruise control moves the van by itself: prove every way of switching it off before the first road test",
]
[[need]]
role = "brake-pedal"
evidence = "answers"
max_gap_ms = 50
why = "switches cruise control off"
[[need]]
role = "clutch-pedal"
evidence = "answers"
why = "switches cruise control off"
[[need]]
role = "vehicle-speed"
[[need]]
role = "cruise.set"
evidence = "answers"
why = "takes over the speed"
[[exercise]]
role = "brake-pedal"
do = "Press the brake pedal three times, one second each"
[[exercise]]
role = "clutch-pedal"
do = "Press the clutch pedal three times, one second each"
[[exercise]]
role = "cruise.set"
do = "Engine off, ignition on: pull the stalk to set three times"
[[step]]
phase = "fit"
text = "Clip the stalk into the column switch carrier and route its plug clear of the rake adjuster"
""")
)


def job(name: str, *items: tuple[Retrofit, str | None], year: int = 2020) -> LoadedJob:
    return LoadedJob(
        file=Path(f"{name}.job.toml"),
        name=f"{name}.job.toml",
        model_year=year,
        vehicle=LoadedVehicle(Path("skerry_240.vehicle.toml"), VEHICLE),
        items=tuple(
            LoadedItem(retrofit, network, f"shipped: {retrofit.name}", f"item[{index}]")
            for index, (retrofit, network) in enumerate(items)
        ),
        captures=(),
        readouts=(),
    )


def need(
    retrofit: Retrofit,
    role: str,
    reason: Reason,
    seen: str,
    *,
    network: str = "comfort",
    evidence: str = "defined",
    todo: str = "",
    also: tuple[str, ...] = (),
) -> NeedResult:
    (asked,) = (entry for entry in retrofit.need if entry.role == role)
    (source,) = (entry for entry in VEHICLE.role[role] if entry.network == network)
    return NeedResult(
        role=role,
        status=STATUS[reason],
        reason=reason,
        evidence=evidence,
        network=network,
        message=source.message,
        signal=source.signal,
        optional=asked.optional,
        asks=asked.evidence,
        max_gap_ms=asked.max_gap_ms,
        why=asked.why,
        seen=seen,
        also=also,
        next=todo,
        text=" ".join(part for part in (f"{seen}.", *also, todo) if part),
    )


def row(module: str, did: str, field: str, status: CodingStatus, **given: object) -> CodingRow:
    values: dict[str, object] = {
        "from_": None,
        "to": "fitted",
        "byte": 3,
        "before": None,
        "after": None,
        "mask": "20",
        **given,
    }
    return CodingRow(module=module, did=did, field=field, status=status, **values)  # type: ignore[arg-type]


def item(
    retrofit: Retrofit,
    network: str | None,
    verdict: Verdict,
    needs: tuple[NeedResult, ...],
    coding: tuple[CodingRow, ...] = (),
    conflicts: tuple[Conflict, ...] = (),
    questions: tuple[Question, ...] = (),
) -> ItemResult:
    return ItemResult(
        retrofit=retrofit.name,
        title=retrofit.title,
        network=network,
        verdict=verdict,
        needs=needs,
        coding=coding,
        conflicts=conflicts,
        questions=questions,
        cautions=retrofit.cautions,
    )


def plan(
    loaded: LoadedJob,
    verdict: Verdict,
    items: tuple[ItemResult, ...],
    writes: tuple[Write, ...],
    captures: tuple[ChannelUse, ...],
    warnings: tuple[str, ...] = (),
    tried: tuple[str, ...] = (),
) -> Plan:
    return Plan(
        job=loaded.name,
        vehicle=VEHICLE.name,
        model_year=loaded.model_year,
        verdict=verdict,
        items=items,
        writes=writes,
        checklist=checklist(loaded, items, writes, captures),
        captures=captures,
        next=next_steps(loaded, items, writes, captures),
        warnings=warnings,
        tried=tried,
    )


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


def go_with_changes() -> Plan:
    """Two items that share a coding block."""
    wheel_row = row(
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
    cruise_rows = (
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
    wheel = (
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
    cruise = (
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
    items = (
        item(WHEEL, "comfort", Verdict.GO_WITH_CHANGES, wheel, (wheel_row,)),
        item(CRUISE, "drive", Verdict.GO_WITH_CHANGES, cruise, cruise_rows),
    )
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
