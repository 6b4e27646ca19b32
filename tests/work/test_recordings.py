"""Guided recordings end to end: the written log, its marks file, the job on disk, the plan."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from random import Random

import pytest

from netcheck.catalogue import load_job
from netcheck.files import marks_text, side_file
from netcheck.plan import make_plan
from netcheck.verdict import NeedResult, Reason, Status
from tests.evidence.sessions import (
    NO_VALUE,
    Behaviour,
    Person,
    Session,
    bouncing,
    contradicted,
    periodic,
    right,
    session,
    stuck,
)

ROLES = 3
DBC = "".join(
    f'BO_ {0x100 + role} Role{role}: 1 BOX\n SG_ State : 0|2@1+ (1,0) [0|0] "" X\n\n' for role in range(ROLES)
)
VEHICLE = """
kind = "vehicle"
format = 1
name = "Skerry 240"
model_years = [2017, 2022]
[network.comfort]
bitrate = 500_000
dbc = "comfort.dbc"
""" + "".join(
    f"""
[[role.role-{role}]]
network = "comfort"
message = "Role{role}"
signal = "State"
active = [1]
not_available = [{NO_VALUE}]
"""
    for role in range(ROLES)
)
RETROFIT = 'kind = "retrofit"\nformat = 1\nname = "box"\n' + "".join(
    f'[[need]]\nrole = "role-{role}"\nevidence = "answers"\n' for role in range(ROLES)
)
JOB = """
kind = "job"
format = 1
vehicle = "skerry.vehicle.toml"
model_year = 2020
[[item]]
retrofit = "box.retrofit.toml"
network = "comfort"
[[capture]]
file = "new.log"
channels = { can0 = "comfort" }
"""


def planned(made: Session, folder: Path) -> Sequence[NeedResult]:
    """The recording as ``netcheck record`` leaves it, and the plan that a job with it gives."""
    log = folder / "new.log"
    texts = {
        "comfort.dbc": f'VERSION ""\n\nBU_: BOX X\n\n{DBC}',
        "skerry.vehicle.toml": VEHICLE,
        "box.retrofit.toml": RETROFIT,
        "van.job.toml": JOB,
        side_file(log).name: marks_text([(each.mark, each.origin) for each in made.marks()]),
        log.name: "".join(
            f"({time / 1e9:017.6f}) can0 1{role:02X}#{raw:02X}\n" for time, role, raw in made.frames
        ),
    }
    for name, text in texts.items():
        (folder / name).write_text(text, encoding="utf-8")
    return make_plan(load_job(folder / "van.job.toml"), cache=False).items[0].needs


def test_what_is_right_is_shown(tmp_path: Path) -> None:
    made = session([right(0), right(1, 0.3), bouncing(2, Random(1))], Person(Random(1)))
    assert [need.reason for need in planned(made, tmp_path)] == [Reason.OK] * ROLES


@pytest.mark.parametrize(
    ("behaviour", "reason"),
    [
        (contradicted(right(0), 3), Reason.SOME_ANSWERS),
        (periodic(9, 3, 0), Reason.MOVES_UNASKED),
        (right(1), Reason.NO_ANSWER),  # another's: "done" is pressed, and nothing happened
        (stuck(0), Reason.NO_ANSWER),
        (stuck(1), Reason.NO_MARK),
        (stuck(NO_VALUE), Reason.NOT_AVAILABLE),
        (lambda at, _: int(at >= 8.0), Reason.MOVES_UNASKED),  # hangs
        (lambda at, controls: right(0)(at, controls) if at < 7 else None, Reason.NO_ANSWER),  # goes asleep
    ],
)
def test_what_is_wrong_is_not(behaviour: Behaviour, reason: Reason, tmp_path: Path) -> None:
    made = session([behaviour, right(1), right(2)], Person(Random(3), late=(2.5, 3.0)))
    first, *others = planned(made, tmp_path)
    assert first.reason is reason
    assert first.status is not Status.SHOWN
    assert [need.reason for need in others] == [Reason.OK] * 2
