"""A small invented van for the bench: two networks, one part that needs its signals."""

from __future__ import annotations

from pathlib import Path

import netcheck
from netcheck.bench import Bench, candump_lines, load_bench, seen_from
from netcheck.edit import marks_text

BODY = """VERSION ""
BU_: GATE LEVER DOORS TOW
BO_ 256 Lever: 4 LEVER
 SG_ LeverPosition : 0|4@1+ (1,0) [0|15] "" GATE
 SG_ LeverTurns : 15|8@0- (0.5,10) [-50|70] "deg" GATE
 SG_ LeverCounter : 16|4@1+ (1,0) [0|14] "" GATE
 SG_ LeverCheck : 24|8@1+ (1,0) [0|255] "" GATE
BO_ 512 Doors: 2 DOORS
 SG_ DoorPage M : 0|4@1+ (1,0) [0|1] "" GATE
 SG_ DoorLeft m0 : 8|2@1+ (1,0) [0|3] "" GATE
 SG_ DoorRight m1 : 8|2@1+ (1,0) [0|3] "" GATE
BO_ 768 Speed: 8 GATE
 SG_ SpeedValue : 7|16@0+ (0.01,0) [0|250] "km/h" LEVER
 SG_ SpeedSpare : 16|16@1+ (1,0) [5|9] "" LEVER
BO_ 1024 Tow: 1 TOW
 SG_ TowLamp : 0|2@1+ (1,0) [0|3] "" GATE
BA_DEF_ BO_ "GenMsgCycleTime" INT 0 10000;
BA_DEF_DEF_ "GenMsgCycleTime" 0;
BA_ "GenMsgCycleTime" BO_ 256 50;
BA_ "GenMsgCycleTime" BO_ 512 50;
BA_ "GenMsgCycleTime" BO_ 768 20;
VAL_ 256 LeverPosition 15 "no value" 2 "R" 1 "D" 0 "P" ;
VAL_ 512 DoorLeft 3 "no value" 1 "open" 0 "shut" ;
VAL_ 512 DoorRight 3 "no value" 1 "open" 0 "shut" ;
"""
REAR = """VERSION ""
BU_: GATE
BO_ 272 LeverCopy: 1 GATE
 SG_ CopyReverse : 0|2@1+ (1,0) [0|3] "" GATE
BO_ 273 Speed: 2 GATE
 SG_ SpeedValue : 0|8@1+ (1,0) [0|250] "km/h" GATE
BO_ 274 Other: 2 GATE
 SG_ OtherOne : 0|8@1+ (1,0) [0|255] "" GATE
VAL_ 272 CopyReverse 3 "no value" 1 "on" 0 "off" ;
"""
VEHICLE = """kind = "vehicle"
format = 1
name = "Gull 3"
model_years = [2019, 2021]
[network.body]
bitrate = 250_000
dbc = "body.dbc"
[network.rear]
bitrate = 125_000
dbc = "rear.dbc"
[module.tow]
network = "body"
node = "TOW"
years = [2020, 2021]
[[role.reverse-engaged]]
network = "body"
message = "Lever"
signal = "LeverPosition"
active = ["R"]
not_available = [15]
counter = "LeverCounter"
[[role.reverse-engaged]]
network = "rear"
message = "LeverCopy"
signal = "CopyReverse"
active = ["on"]
not_available = [3]
[[role."door.left-open"]]
network = "body"
message = "Doors"
signal = "DoorLeft"
active = ["open"]
not_available = [3]
[[role.vehicle-speed]]
network = "body"
message = "Speed"
signal = "SpeedValue"
not_available = [65535]
[[role.vehicle-speed]]
network = "rear"
message = "Speed"
signal = "SpeedValue"
[[role.tow-lamp]]
network = "body"
message = "Tow"
signal = "TowLamp"
active = [1]
years = [2020, 2021]
[[role.horn]]
network = "body"
message = "Horn"
signal = "HornOn"
active = [1]
"""
RETROFIT = """kind = "retrofit"
format = 1
name = "beeper"
[[need]]
role = "reverse-engaged"
evidence = "answers"
max_gap_ms = 120
[[need]]
role = "door.left-open"
evidence = "answers"
[[need]]
role = "vehicle-speed"
evidence = "answers"
"""
EXERCISES = """
[[set]]
role = "vehicle-speed"
value = 0.0
[[set]]
role = "reverse-engaged"
at = 4.0
state = "active"
[[set]]
role = "reverse-engaged"
at = 7.0
state = "inactive"
[[set]]
role = "door.left-open"
at = 8.0
state = "open"
[[set]]
role = "door.left-open"
at = 9.5
state = "shut"
[[set]]
role = "vehicle-speed"
at = 10.0
value = 30.0
ramp = 2.0
"""


def script_text(body: str = EXERCISES, seconds: float = 16.0, seed: int = 3) -> str:
    """A script with this body."""
    return f'kind = "script"\nformat = 1\nseconds = {seconds}\nseed = {seed}\n{body}'


def put(folder: Path, body: str = EXERCISES, **head: float) -> Path:
    """The van's files, and a script ``s.script.toml`` beside them; the path of the vehicle file."""
    (folder / "body.dbc").write_text(BODY)
    (folder / "rear.dbc").write_text(REAR)
    (folder / "gull.vehicle.toml").write_text(VEHICLE)
    (folder / "beeper.retrofit.toml").write_text(RETROFIT)
    (folder / "s.script.toml").write_text(script_text(body, **head), "utf-8")
    return folder / "gull.vehicle.toml"


def stage(folder: Path, body: str = EXERCISES, **how) -> Bench:
    """The van on the bench; ``how`` is for ``load_bench``."""
    return load_bench(put(folder, body), folder / "s.script.toml", **how)


def needs(folder: Path, body: str, network: str = "body") -> dict[str, netcheck.Plan]:
    """What the plan says of each need, over a simulated capture with its marks."""
    bench = stage(folder, body)
    frames = list(bench.frames())
    (folder / "s.log").write_text("".join(candump_lines(frames)))
    marks = seen_from(bench.marks, frames[0].time_us / 1e6, frames[-1].time_us / 1e6)
    (folder / "s.marks.toml").write_text(marks_text(marks))
    job = netcheck.assemble_job(
        folder / "gull.vehicle.toml",
        [str(folder / "beeper.retrofit.toml")],
        network=network,
        captures=[folder / "s.log"],
        year=2021,
    )
    return {need.role: need for need in netcheck.make_plan(job).items[0].needs}
