"""Small invented jobs on disk for the command line's tests."""

from __future__ import annotations

from pathlib import Path

DBC = """VERSION ""

NS_ :

BS_:

BU_: SELECTOR GATEWAY COLUMN

BO_ 291 SelectorStatus: 8 SELECTOR
 SG_ SelectorLever : 0|4@1+ (1,0) [0|15] "" Vector__XXX

VAL_ 291 SelectorLever 0 "P" 1 "R" 2 "N" 3 "D" 15 "none";
"""

VEHICLE = """kind = "vehicle"
format = 1
name = "Skerry 240"
model_years = [2017, 2022]

[network.comfort]
bitrate = 125_000
dbc = "comfort.dbc"

[module.gateway]
title = "Gateway"
network = "comfort"
coding_order = "last"
coding_why = "it asks every module it lists at the next ignition-on"

[module.gateway.coding.0x0600]
length = 4
[module.gateway.coding.0x0600.field]
park_distance_module = { byte = 2, bit = 5, width = 1, values = { 0 = "absent", 1 = "fitted" } }
camera_module = { byte = 2, bit = 6, width = 1, values = { 0 = "absent", 1 = "fitted" } }
market = { byte = 0, values = { 1 = "island", 3 = "mainland" } }

[module.cluster]
title = "Instrument cluster"
network = "comfort"

[module.cluster.coding.0x2240]
length = 20
[module.cluster.coding.0x2240.field]
park_display = { byte = 17, bit = 3, width = 2, values = { 0 = "off", 1 = "bars", 2 = "picture" } }
speed_limit = { byte = 2, width = 16 }

[[role.reverse-engaged]]
network = "comfort"
message = "SelectorStatus"
signal = "SelectorLever"
active = ["R"]
not_available = [15]
"""

RETROFIT = """kind = "retrofit"
format = 1
name = "park-sensors"
title = "Rear park-distance sensors"

[[need]]
role = "reverse-engaged"
evidence = "defined"

[[code]]
module = "gateway"
field = "park_distance_module"
value = "fitted"
why = "the gateway lists the new module"

[[code]]
module = "cluster"
field = "park_display"
value = "bars"
"""

JOB = """kind = "job"
format = 1
vehicle = "skerry.vehicle.toml"
model_year = 2020

[[item]]
retrofit = "sensors.retrofit.toml"
network = "comfort"
"""

GATEWAY = '\n[[readout]]\nmodule = "gateway"\ndid = 0x0600\ndata = "03 00 1F 00"\n'
CLUSTER_BYTES = "00 01 02 03 04 05 06 07 08 09 0A 0B 0C 0D 0E 0F 10 11 12 13"
CLUSTER = f'\n[[readout]]\nmodule = "cluster"\ndid = 0x2240\ndata = "{CLUSTER_BYTES}"\n'
AFTER_GATEWAY = GATEWAY.replace("1F", "3F")
AFTER_CLUSTER = CLUSTER.replace("10 11", "10 09")
READOUTS = 'kind = "readouts"\nformat = 1\n'


def write_job(folder: Path, readouts: str = "", **files: str) -> Path:
    """A job with its vehicle, DBC and retrofit in a folder; more files by name, dots as two underscores."""
    (folder / "comfort.dbc").write_text(DBC, encoding="utf-8")
    (folder / "skerry.vehicle.toml").write_text(VEHICLE, encoding="utf-8")
    (folder / "sensors.retrofit.toml").write_text(RETROFIT, encoding="utf-8")
    (folder / "van.job.toml").write_text(JOB + readouts, encoding="utf-8")
    for name, text in files.items():
        (folder / name.replace("__", ".")).write_text(text, encoding="utf-8")
    return folder / "van.job.toml"
