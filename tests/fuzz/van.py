"""The folder of which TOML targets spoil a file: a vehicle with its DBCs, a part, a job, a capture, marks."""

from __future__ import annotations

from pathlib import Path
from typing import Final

from tests.files.examples import JOB, MARKS, READOUTS, RETROFIT, VEHICLE

COMFORT: Final = """VERSION ""
BU_: COLUMN GATE
BO_ 291 SelectorStatus: 8 GATE
 SG_ SelectorLever : 0|4@1+ (1,0) [0|14] "" COLUMN
 SG_ SelectorCounter : 8|4@1+ (1,0) [0|15] "" COLUMN
BO_ 292 CruiseKeys: 2 COLUMN
 SG_ Set : 0|1@1+ (1,0) [0|1] "" GATE
BO_ 293 Lamps: 2 GATE
 SG_ LampsOn : 0|1@1+ (1,0) [0|1] "" GATE
 SG_ LampsCheck : 8|8@1+ (1,0) [0|255] "" GATE
 SG_ VehicleSpeed m1 : 1|7@1+ (0.5,0) [0|50] "km/h" GATE
 SG_ Page M : 0|1@1+ (1,0) [0|1] "" GATE
BA_DEF_ BO_ "GenMsgCycleTime" INT 0 10000;
BA_DEF_DEF_ "GenMsgCycleTime" 0;
BA_ "GenMsgCycleTime" BO_ 291 100;
VAL_ 291 SelectorLever 15 "none" 7 "R" 1 "D" 0 "P" ;
"""
DRIVE: Final = """VERSION ""
BU_: GATE
BO_ 256 GearStatus: 2 GATE
 SG_ Gear : 7|8@0- (1,-1) [-1|10] "" GATE
BO_ 257 Speed: 2 GATE
 SG_ SpeedValue : 0|16@1+ (0.01,0) [0|250] "km/h" GATE
"""
ENGINE: Final = (
    'VERSION ""\nBU_: GATE\nBO_ 512 Engine: 8 GATE\n SG_ Revs : 0|16@1+ (1,0) [0|8000] "1/min" GATE\n'
)
SCRIPT: Final = """kind = "script"
format = 1
seconds = 2.0
seed = 7
[[set]]
role = "reverse-engaged"
at = 0.5
state = "active"
[[set]]
role = "vehicle-speed"
value = 10.0
[[set]]
role = "vehicle-speed"
at = 0.4
value = 30.0
ramp = 0.2
[[fault]]
kind = "message-missing"
message = "SelectorStatus"
from = 0.2
to = 0.5
share = 0.05
[[fault]]
kind = "asleep"
from = 1.0
to = 1.2
[[cycle]]
message = "Lamps"
period_ms = 200.0
jitter_ms = 5
[[checksum]]
message = "Lamps"
signal = "LampsCheck"
kind = "crc"
polynomial = 0x1D
after = "C3 01"
"""
SPEED: Final = """
[[role.vehicle-speed]]
network = "drive"
message = "Speed"
signal = "SpeedValue"
"""
VAN: Final = {
    "vehicle": VEHICLE.replace("[facts]", f"{SPEED}\n[facts]"),
    "retrofit": RETROFIT,
    "job": JOB.replace("before.log.gz", "before.log")
    .replace("20\nto = 21", "17\nto = 19")
    .split("[measured]")[0],
    "marks": MARKS.replace("30.0", "3.0").replace("33.0", "5.0"),
    "script": SCRIPT,
    "readouts": READOUTS,
}
NAMES: Final = {
    "vehicle": "skerry.vehicle.toml",
    "retrofit": "sensors.retrofit.toml",
    "job": "van.job.toml",
    "marks": "comfort_before.marks.toml",
    "script": "s.script.toml",
    "readouts": "before.readouts.toml",
}


def capture_text() -> str:
    """Twenty seconds of the comfort network: the lever goes to R twice."""
    lines = []
    for step in range(200):
        time = 1_500_000_000 + step / 10
        lever = 7 if 30 <= step < 50 or 120 <= step < 150 else 1
        lines.append(f"({time:.6f}) can0 123#0{lever:X}0{step % 16:X}000000000000")
        lines.append(f"({time + 0.01:.6f}) can0 124#0000")
        if step % 2:
            lines.append(f"({time + 0.02:.6f}) can0 125#{step % 256:02X}00")
    return "\n".join(lines) + "\n"


def put_van(folder: Path) -> None:
    """All files of the van, whole."""
    for name, text in {"comfort": COMFORT, "drive": DRIVE, "engine": ENGINE}.items():
        (folder / f"{name}.dbc").write_text(text, encoding="utf-8")
    for kind, text in VAN.items():
        (folder / NAMES[kind]).write_text(text, encoding="utf-8")
    (folder / "comfort_before.log").write_text(capture_text(), encoding="utf-8")
