"""Three seconds of a real drive, planned with open DBCs: of its maker, of an older model, of another maker.

The capture is from the open data set comma2k19 (MIT, licence beside it in ``tests/data``), the DBCs are those
of the Python package ``opendbc`` (MIT). The vehicle files are ours; nothing in netcheck knows the vehicle.
"""

from __future__ import annotations

from pathlib import Path

import pytest

import netcheck
from netcheck.network import IdentityLevel
from tests.database.test_opendbc import texts

DRIVE = Path(__file__).parents[1] / "data" / "rav4_2016_3s.log.gz"
PAIR = ("toyota_nodsu_pt_generated", "toyota_adas")
RETROFIT = """kind = "retrofit"
format = 1
name = "part"
title = "A part"
[[need]]
role = "vehicle-speed"
max_delay_ms = 100
why = "speed"
"""


@pytest.fixture
def planned(tmp_path):
    """Function from the DBCs of the two networks, and more of the vehicle file, to the plan."""

    def plan(drive, sensor, role=("SPEED", "SPEED")):
        for name, dbc in (("drive", drive), ("sensor", sensor)):
            (tmp_path / f"{name}.dbc").write_text(texts()[dbc], encoding="utf-8")
        networks = "".join(
            f'[network.{name}]\nbitrate = 500_000\ndbc = "{name}.dbc"\n' for name in ("drive", "sensor")
        )
        (tmp_path / "van.vehicle.toml").write_text(
            f'kind = "vehicle"\nformat = 1\nname = "Open"\nmodel_years = [2016, 2016]\n{networks}'
            f'[[role.vehicle-speed]]\nnetwork = "drive"\nmessage = "{role[0]}"\nsignal = "{role[1]}"\n',
            encoding="utf-8",
        )
        (tmp_path / "part.retrofit.toml").write_text(RETROFIT, encoding="utf-8")
        (tmp_path / "van.job.toml").write_text(
            'kind = "job"\nformat = 1\nvehicle = "van.vehicle.toml"\nmodel_year = 2016\n'
            '[[item]]\nretrofit = "part.retrofit.toml"\nnetwork = "drive"\n'
            f'[[capture]]\nfile = "{DRIVE.as_posix()}"\n',
            encoding="utf-8",
        )
        return netcheck.make_plan(netcheck.load_job(tmp_path / "van.job.toml"))

    return plan


def levels(plan):
    return [(use.channel, use.network, use.level) for use in plan.captures]


def head(plan):
    return " ".join(" ".join(netcheck.plan_text(plan, width=120).splitlines()[:5]).split())


def test_the_dbc_of_its_maker_fits_and_leaves_out_most(planned):
    plan = planned(*PAIR)
    assert levels(plan) == [
        ("can0", "drive", IdentityLevel.IDENTIFIED),
        ("can1", "sensor", IdentityLevel.IDENTIFIED),
    ]
    need = plan.items[0].needs[0]
    assert (str(need.status), str(need.reason), need.evidence) == ("shown", "ok", "moves")
    assert "ids, ANOTHER EDITION?; sensor 32 of" in head(plan)
    assert "ids, THE REST UNKNOWN." in head(plan)


def test_an_older_model_of_that_maker_is_asked_about_in_the_second_line(planned):
    plan = planned("toyota_prius_2010_pt", PAIR[1])
    assert "DBC fit: drive 15 of 102 ids, ANOTHER EDITION?" in head(plan)
    assert (
        "Whether the DBC of drive is of this edition (15 of 102 ids are in it): compare decoded values with "
        "the vehicle (netcheck decode)."
    ) in " ".join(netcheck.plan_text(plan).split())


@pytest.mark.parametrize(
    ("drive", "sensor", "role"),
    [
        (
            "ford_cgea1_2_ptcan_2011",
            "ford_cgea1_2_bodycan_2011",
            ("EngVehicleSpThrottle_CG1", "EngAout_N_Actl"),
        ),
        ("gm_global_a_powertrain_generated", "gm_global_a_object", ("ECMVehicleSpeed", "VehicleSpeed")),
    ],
)
def test_another_makers_dbc_is_never_identified_and_nothing_is_shown(planned, drive, sensor, role):
    plan = planned(drive, sensor, role)
    assert IdentityLevel.IDENTIFIED not in {use.level for use in plan.captures}
    assert str(plan.verdict) == "unproven"
    text = head(plan)
    assert "DOUBTFUL" in text or "NONE OF THEM" in text
    assert "is this capture of this vehicle?" in text
