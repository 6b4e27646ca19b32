"""A job whose names and texts are written to break out of a page."""

from __future__ import annotations

import json
from pathlib import Path

from tests.prove.small import DBC, USUAL, VEHICLE, changed, lever, log_of

ATTACKS = (
    "<script>document.title='owned'</script>",
    "</script><img src=x onerror=\"document.title='owned'\">",
    "' onmouseover='document.title=1' x=\"",
    "{{ 7 * 7 }} ${document.title}",
    "<!-- <svg onload=document.title='owned'> -->",
    "\u202egnitide\u2028",
)
ALL = " ".join(ATTACKS)


TEXT = json.dumps(ALL)
FILE = "be<b>fore&.log"
RETROFIT = f"""kind = "retrofit"
format = 1
name = {TEXT}
title = {TEXT}
cautions = [{TEXT}]
[[need]]
role = "reverse-engaged"
max_delay_ms = 200
why = {TEXT}
[[need]]
role = "old-source"
optional = true
[[exercise]]
role = "reverse-engaged"
do = {TEXT}
[[caution]]
danger = {TEXT}
phase = "fit"
text = {TEXT}
[[step]]
phase = "fit"
text = {TEXT}
[[code]]
module = "unit"
field = "part"
value = {TEXT}
[[match]]
fact = "x"
any_of = [{TEXT}]
why = {TEXT}
"""


def hostile_job(folder: Path) -> Path:
    """The small van before and after, with attacks wherever a text of others reaches the page."""
    job = f"""kind = "job"
format = 1
vehicle = "van.vehicle.toml"
model_year = 2020
[identity]
registration = {TEXT}
reference = {TEXT}
technician = {TEXT}
[facts]
x = {TEXT}
[[item]]
retrofit = "part.retrofit.toml"
network = "body"
[[capture]]
file = {json.dumps(FILE)}
[[capture.mark]]
role = "reverse-engaged"
state = {json.dumps(label())}
from = 10.0
to = 14.0
[[capture]]
file = "after.log"
when = "after"
[[readout]]
module = "unit"
did = 0x2210
data = "00 00 00 00"
"""
    vehicle = VEHICLE.replace('name = "Dunlin 1"', f"name = {TEXT}").replace('"fitted"', TEXT)
    vehicle = vehicle.replace("[module.unit]", f"[module.unit]\ntitle = {TEXT}")
    vehicle = vehicle.replace('dbc = "van.dbc"', f'dbc = "van.dbc"\ntap = {TEXT}')
    dbc = DBC.replace(
        'SG_ OldValue : 0|8@1+ (1,0) [0|255] ""', f'SG_ OldValue : 0|8@1+ (1,0) [0|255] "{UNIT}"'
    )
    dbc += f'VAL_ 259 LeverReverse 0 "{label("off")}" 1 "{label()}" ;\n'
    for name, text in {
        FILE: log_of(USUAL),
        "after.log": log_of(changed(USUAL, "Lever", data=lever((30.0, 33.0)))),
        "part.retrofit.toml": RETROFIT,
        "van.vehicle.toml": vehicle,
        "van.dbc": dbc,
        "van.job.toml": job,
    }.items():
        (folder / name).write_text(text, encoding="utf-8")
    return folder / "van.job.toml"


def label(word: str = "on") -> str:
    """A label of a value table, where a DBC has no quotation marks."""
    return f"{word}</script><script>document.title='owned'</script>"


UNIT = "<img src=x onerror=document.title=1>"
