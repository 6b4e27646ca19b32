"""One van around a real body DBC: an open data file, its layouts untouched, our own traffic in it.

Source: the DBCs of the Python package ``opendbc`` (open data, MIT), the body and the powertrain network of
one model. The frames are encoded by cantools, so the layouts are read by two programs. The story is invented.
"""

from __future__ import annotations

from importlib.resources import files

import cantools
import pytest

from tests.acceptance.cases import Case, during, every

BODY = "ford_cgea1_2_bodycan_2011.dbc"
POWERTRAIN = "ford_cgea1_2_ptcan_2011.dbc"


def text_of(name):
    return (files("opendbc") / "dbc" / name).read_text(encoding="cp1252")


@pytest.fixture(scope="module")
def encoder():
    """Function from a message name and some of its signals (the rest 0) to hex data."""
    database = cantools.database.load_string(text_of(BODY), "dbc", strict=False)

    def encode(name, **signals):
        message = database.get_message_by_name(name)
        raw = {signal.name: signals.get(signal.name, 0) for signal in message.signals}
        return message.frame_id, message.encode(raw, scaling=False, strict=False).hex()

    return encode


@pytest.fixture
def van(tmp_path, encoder):
    """Ten seconds on the body network: driver's door open 2 to 4 s, volume pressed at 6 s, no reverse."""
    case = Case(tmp_path)
    case.dbc = {"body": text_of(BODY), "powertrain": text_of(POWERTRAIN)}
    case.role("door.driver", "body BodyInformation_2_MS DrStatDrv_B_Actl", active=[1])
    case.role("wheel.volume-up", "body MS_Steering_Data SteWhlCtl_Volume_Up", active=[1])
    case.role("reverse-engaged", "body BCM_m_FrP01 GearRvrseActv_D_Actl", active=[2])
    case.role("vehicle-speed", "body Engine_Data_2_MS Veh_V_ActlEng")
    log = case.log(None)

    def send(period, message, signal, start, end, inside):
        can_id, quiet = encoder(message)
        _, active = encoder(message, **{signal: inside})
        log.send(can_id, every(period), during(start, end, active, quiet))

    send(0.1, "BodyInformation_2_MS", "DrStatDrv_B_Actl", 2.0, 4.0, 1)
    send(0.05, "MS_Steering_Data", "SteWhlCtl_Volume_Up", 6.0, 6.2, 1)
    send(0.1, "BCM_m_FrP01", "GearRvrseActv_D_Actl", 99.0, 99.0, 2)
    send(0.2, "Engine_Data_2_MS", "Veh_V_ActlEng", 7.0, 9.0, 1000)
    log.mark("door.driver", 2.0, 4.0).mark("wheel.volume-up", 6.0, 6.2)
    return case


def judged(item):
    return {need.role: (str(need.status), str(need.reason), need.evidence) for need in item.needs}


def test_a_part_that_needs_what_was_shown_is_go(van):
    van.item("radio").need("door.driver", evidence="answers").need("wheel.volume-up", evidence="answers")
    plan = van.plan()
    assert judged(plan.items[0]) == {
        "door.driver": ("shown", "ok", "answers"),
        "wheel.volume-up": ("shown", "ok", "answers"),
    }
    assert plan.verdict == "go"
    assert [use.network for use in plan.captures] == ["body"]


def test_a_part_that_needs_more_is_told_what(van):
    part = van.item("camera").need("reverse-engaged", max_gap_ms=100)
    assert van.plan().verdict == "unproven"
    part.need("vehicle-speed", max_gap_ms=150)
    plan = van.plan()
    assert {role: found[:2] for role, found in judged(plan.items[0]).items()} == {
        "reverse-engaged": ("expected", "not-exercised"),
        "vehicle-speed": ("missing", "too-slow"),
    }
    assert plan.verdict == "no-go"


def test_the_tap_on_the_powertrain_pair_is_found_wrong(van):
    van.logs[0].entry["channels"] = {"can0": "powertrain"}
    van.role("engine-speed", "powertrain EngVehicleSpThrottle_CG1 EngAout_N_Actl")
    van.item("tachometer", network="powertrain").need("engine-speed")
    assert van.outcome() == ("expected", "wrong-tap")
