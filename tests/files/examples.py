"""One good file of each kind, and a folder of them, to be changed at one place by a test."""

from __future__ import annotations

from pathlib import Path

VEHICLE = """\
kind = "vehicle"
format = 1
name = "Skerry 240"
model_years = [2017, 2022]

[network.comfort]
bitrate = 500_000
dbc = "comfort.dbc"
tap = "connector behind the glovebox"

[network.drive]
bitrate = 500_000
fd_bitrate = 2_000_000
dbc = ["drive.dbc", "engine.dbc"]

[module.column]
title = "Steering column module"
network = "comfort"
node = "COLUMN"
request_id = 0x70C
response_id = 0x776
coding_order = 10

[[module.column.edition]]
part = "SK-COL"
software = ["0100..0199", "02"]
hardware = "H3"
years = [2017, 2022]

[module.gateway.edition]
software = "0310"

[module.column.coding.0x0600]
length = 4
[module.column.coding.0x0600.field.cruise_stalk]
after = "gateway.park_distance_module"
roles = ["cruise.set"]
byte = 1
bit = 4
width = 1
values = { 0 = "absent", 1 = "fitted" }
[module.column.coding.0x0600.field.circumference]
byte = 2
width = 16
order = "little"

[module.gateway]
network = ["comfort", "drive"]
coding_order = "last"
coding_why = "it lists the others"
[module.gateway.coding.0x0601]
length = 2
[module.gateway.coding.0x0601.field.park_distance_module]
byte = 0
bit = 5
width = 1
values = { 0 = "absent", 1 = "fitted" }

[module.trailer]
years = [2019, 2022]
[module.trailer.coding.0x0700]
length = 1

[[role.reverse-engaged]]
network = "comfort"
message = "SelectorStatus"
signal = "SelectorLever"
active = ["R"]
not_available = [15]
counter = "SelectorCounter"
years = [2017, 2020]

[[role.reverse-engaged]]
network = "drive"
message = "GearStatus"
signal = "Gear"
active = [7]

[[role.cruise.set]]
network = "comfort"
message = "CruiseKeys"
signal = "Set"
unlocked_by = { module = "column", field = "cruise_stalk", value = "fitted" }

[facts]
"wheel.button-link" = "LIN"
airbag.driver-stages = 2
"""

RETROFIT = """\
kind = "retrofit"
format = 1
name = "sensors"
title = "Sensors"
cautions = ["Do not drill before every need is shown."]

[[need]]
role = "reverse-engaged"
evidence = "answers"
max_delay_ms = 250
max_gap_ms = 2000
optional = false
why = "switches the sensors on"

[[need]]
role = "clutch-pedal"
used_by = "engine"
only_if = { fact = "gearbox", any_of = ["manual"] }

[[supply]]
roles = ["park.rear-left-inner", "park.rear-right-inner"]
message_id = 0x4A1
period_ms = 100
length = 8

[[replace]]
role = "trip.up"

[[replace]]
module = "radio"

[[match]]
fact = "wheel.button-link"
any_of = ["LIN", 5, true, 1.5]
why = "it speaks LIN"

[[replace]]
resource = "video-in"

[[require]]
module = "gateway"

[[provide]]
resource = "video-in"
count = 2

[[use]]
resource = "distance-display"
optional = true
why = "shows the distances"
only_if = { fact = "gearbox", any_of = ["manual"] }

[[exclude]]
resources = ["video-in", "projection"]
why = "one picture at a time"

[[caution]]
danger = "tools"
phase = "fit"
text = "Wear goggles when drilling"

[[code]]
module = "gateway"
field = "park_distance_module"
value = "fitted"
only_if = { fact = "wheel.button-link", any_of = ["LIN"] }

[[exercise]]
role = "reverse-engaged"
do = "Select reverse for 3 seconds, then neutral"
state = "active"
where = "yard"
only_if = { fact = "gearbox", any_of = ["manual"] }

[[reaction]]
role = "reverse-engaged"
cause = "terminal-15"
on_within_ms = 500
off_within_ms = 3000
why = "the picture stays"

[[step]]
phase = "before"
text = "Look behind the bumper"
only_if = { fact = "gearbox", any_of = ["manual"] }

[[step]]
phase = "fit"
text = "Connect the plug"
power = "off"

[[step]]
phase = "prove"
text = "Drive 10 m"
where = "yard"

[[step]]
phase = "handover"
text = "Show the driver the tone"
"""

JOB = """\
kind = "job"
format = 1
vehicle = "skerry.vehicle.toml"
model_year = 2020
expect = "no-go"

[identity]
vin = "ZZZSK240ZL0123456"
registration = "AB 12 CDE"
odometer_km = 48210
reference = "W-118"
technician = "R. Osei"

[facts]
gearbox = "manual"
airbag.driver-stages = 1

[[item]]
retrofit = "sensors.retrofit.toml"
network = "comfort"

[[item.wire]]
role = "reverse-engaged"
from = "reversing lamp feed, tail-lamp plug pin 3"
expect = "12 V in reverse, 0 V else"
fuse = "F18, 10 A"

[[capture]]
file = "comfort_before.log.gz"
when = "before"
channels = { can0 = "comfort" }
[[capture.mark]]
role = "reverse-engaged"
state = "active"
from = 12.0
to = 15.0
[[capture.mark]]
role = "reverse-engaged"
between = [0, 1.5]
from = 20
to = 21

[[readout]]
module = "column"
did = 0x0600
data = "03 00 1F 00"
when = "before"

[measured]
network = "comfort"
termination = 60.4
high-idle = 2.51
low-idle = 2.49
high-shorted = "no"
stub = 1
"""

MARKS = """\
kind = "marks"
format = 1

[[mark]]
role = "reverse-engaged"
state = "R"
from = 30.0
to = 33.0
"""

SCRIPT = """\
kind = "script"
format = 1
seconds = 60.0
seed = 7

[[set]]
role = "reverse-engaged"
at = 12.0
state = "active"

[[set]]
role = "vehicle-speed"
value = 30.0
ramp = 2.0

[[fault]]
kind = "message-missing"
message = "SelectorStatus"
from = 20.0
to = 25.0
share = 0.05

[[cycle]]
message = "Lamps"
period_ms = 200.0

[[checksum]]
message = "Lamps"
signal = "LampsCheck"
kind = "crc"
polynomial = 0x1D
after = "C3 01"
"""

READOUTS = """\
kind = "readouts"
format = 1

[[readout]]
module = "column"
did = 0x0600
data = "03 10 1F 00"
when = "after"
identification = { 0xF190 = "ZZZSK240ZL0123456" }
faults = []
"""

EXAMPLES = {
    "vehicle": VEHICLE,
    "retrofit": RETROFIT,
    "job": JOB,
    "marks": MARKS,
    "script": SCRIPT,
    "readouts": READOUTS,
}

NAMES = {
    "vehicle": "skerry.vehicle.toml",
    "retrofit": "sensors.retrofit.toml",
    "job": "van.job.toml",
    "marks": "comfort_before.marks.toml",
    "script": "drive.script.toml",
    "readouts": "later.readouts.toml",
}


def changed(text: str, old: str, new: str) -> str:
    """The text with one place changed; the place must be there once."""
    assert text.count(old) == 1, f"{old!r} is there {text.count(old)} times"
    return text.replace(old, new)


def folder(root: Path, **texts: str) -> dict[str, Path]:
    """A good file of each kind in ``root``, but for those given; the DBC files and the capture are stubs."""
    for name in ("comfort.dbc", "drive.dbc", "engine.dbc", "comfort_before.log.gz"):
        (root / name).write_text("stub")
    paths = {}
    for kind, text in {**EXAMPLES, **texts}.items():
        paths[kind] = root / NAMES[kind]
        paths[kind].write_text(text, encoding="utf-8")
    return paths
