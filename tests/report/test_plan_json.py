"""plan's JSON: the keys that scripts rest on, written out by hand."""

import json
import math
from dataclasses import replace

import pytest

from netcheck.coding import CodingRow, CodingStatus, Write
from netcheck.network import Candidate, FrameId
from netcheck.plan import Plan
from netcheck.report import plan_json
from netcheck.verdict import (
    ChannelUse,
    FactUnknown,
    IdleReplacement,
    IdSentTwice,
    ItemResult,
    MarksUnused,
    NeedResult,
    Reason,
    Status,
    Verdict,
)
from netcheck.work import FitAndProve, Mind, Step
from tests.report.examples import EXAMPLES
from tests.report.made import every

FIT = "Fit park-distance by the checklist, then code gateway, then prove every need with its exercise."
FIT_WELL = (Candidate("comfort", 61, 3),)
NEED = NeedResult(
    role="reverse-engaged",
    status=Status.SHOWN,
    reason=Reason.OK,
    evidence="answers",
    network="comfort",
    message="SelectorStatus",
    signal="SelectorLever",
    optional=False,
    asks="answers",
    max_gap_ms=250.0,
    why="switches the sensors on",
    facts=every(100, 92.1, marks=3),
)
ROW = CodingRow(
    module="gateway",
    did="0x0600",
    field="park_distance_module",
    from_="absent",
    to="fitted",
    byte=2,
    before="1F",
    after="3F",
    mask="20",
    status=CodingStatus.TO_DO,
)
ITEM = ItemResult(
    retrofit="park-distance",
    title="Park-distance sensors",
    network="comfort",
    verdict=Verdict.GO_WITH_CHANGES,
    needs=(NEED,),
    coding=(ROW,),
    conflicts=(IdSentTwice(FrameId(0x4A1, False), "comfort", "park-distance", "lift"),),
    questions=(FactUnknown("airbag.driver-stages", (1, 2), "it fires them"),),
    cautions=("Battery.",),
    notes=(IdleReplacement("radio"),),
)
PLAN = Plan(
    job="library.job.toml",
    vehicle="Skerry 240",
    model_year=2020,
    verdict=Verdict.GO_WITH_CHANGES,
    items=(ITEM,),
    writes=(Write("gateway", "0x0600", "03001F00", "03003F00"),),
    checklist=(Step("before", ("park-distance",), Mind("Read the cautions.")),),
    captures=(ChannelUse("comfort.log", "can0", "comfort", 184_211, 92.1, ids=64, candidates=FIT_WELL),),
    next=(FitAndProve(("park-distance",), ("gateway",)),),
    warnings=(MarksUnused("vehicle-speed", "x.log", ("drive",)),),
)


def test_whole_object() -> None:
    assert plan_json(PLAN) == {
        "schema": "netcheck.plan/1",
        "job": "library.job.toml",
        "vehicle": "Skerry 240",
        "model_year": 2020,
        "verdict": "go-with-changes",
        "items": [
            {
                "retrofit": "park-distance",
                "title": "Park-distance sensors",
                "network": "comfort",
                "verdict": "go-with-changes",
                "needs": [
                    {
                        "role": "reverse-engaged",
                        "status": "shown",
                        "reason": "ok",
                        "evidence": "answers",
                        "peers": None,
                        "network": "comfort",
                        "message": "SelectorStatus",
                        "signal": "SelectorLever",
                        "optional": False,
                        "asks": "answers",
                        "max_gap_ms": 250.0,
                        "max_delay_ms": None,
                        "used_by": None,
                        "why": "switches the sensors on",
                        "seen": "3 of 3 marks, every 100 ms, 92 s on can0",
                        "also": [],
                        "next": "",
                        "text": "3 of 3 marks, every 100 ms, 92 s on can0.",
                        "also_reasons": [],
                        "facts": {
                            "seconds": 92.1,
                            "channels": ["can0"],
                            "frames": 921,
                            "carried": 921,
                            "valid": 921,
                            "active": 0,
                            "median_gap_ms": 100.0,
                            "p99_gap_ms": 100.0,
                            "longest_gap_ms": 100.0,
                            "marks": 3,
                            "marks_answered": 3,
                            "changes": 0,
                            "sent_at_changes": False,
                            "suppliers": [],
                            "elsewhere": [],
                            "rules": {},
                            "other_bits": None,
                        },
                    }
                ],
                "coding": [
                    {
                        "module": "gateway",
                        "did": "0x0600",
                        "field": "park_distance_module",
                        "from": "absent",
                        "to": "fitted",
                        "byte": 2,
                        "before": "1F",
                        "after": "3F",
                        "mask": "20",
                        "status": "to-do",
                        "unlock": None,
                        "why": "",
                    }
                ],
                "conflicts": [
                    {
                        "kind": "id-in-use",
                        "text": "Both park-distance and lift send 0x4A1 on comfort",
                        "next": "Give one of them another id or another network.",
                        "facts": {
                            "case": "id-sent-twice",
                            "frame_id": "0x4A1",
                            "network": "comfort",
                            "first": "park-distance",
                            "second": "lift",
                        },
                    }
                ],
                "questions": [
                    {
                        "kind": "fact",
                        "subject": "airbag.driver-stages",
                        "fact": "airbag.driver-stages",
                        "any_of": [1, 2],
                        "why": "it fires them",
                        "text": "The vehicle file does not state airbag.driver-stages; the part needs 1 or 2 "
                        "(it fires them)",
                    }
                ],
                "customer": "Can be fitted: 1 setting in 1 control unit change, and can change back.",
                "cautions": ["Battery."],
                "notes": ["replaces module radio, which this vehicle does not have: that changes nothing"],
                "note_facts": [
                    {
                        "kind": "idle-replacement",
                        "text": "replaces module radio, which this vehicle does not have: that changes "
                        "nothing",
                        "facts": {"module": "radio"},
                    }
                ],
                "waits": [],
            }
        ],
        "writes": [{"module": "gateway", "did": "0x0600", "before": "03001F00", "after": "03003F00"}],
        "next": [FIT],
        "actions": [
            {
                "kind": "fit-and-prove",
                "text": FIT,
                "facts": {"items": ["park-distance"], "modules": ["gateway"], "held": [], "others": []},
            }
        ],
        "checklist": [
            {
                "phase": "before",
                "item": "park-distance",
                "text": "Read the cautions.",
                "caution": True,
                "kind": "mind",
                "facts": {"text": "Read the cautions.", "danger": ""},
                "stage": "before",
                "items": ["park-distance"],
                "gate": False,
            }
        ],
        "captures": [
            {
                "file": "comfort.log",
                "channel": "can0",
                "network": "comfort",
                "frames": 184211,
                "seconds": 92.1,
                "declared": None,
                "text": "61 of 64 ids fit the DBC of comfort",
                "doubtful": False,
                "identity": "identified",
                "explained": 61,
                "ids": 64,
                "rivals": [],
                "has_times": True,
                "vins": [],
            }
        ],
        "warnings": ["marks of vehicle-speed in x.log are not used: no channel there is drive"],
        "warning_facts": [
            {
                "kind": "marks-unused",
                "text": "marks of vehicle-speed in x.log are not used: no channel there is drive",
                "facts": {"role": "vehicle-speed", "capture": "x.log", "networks": ["drive"]},
            }
        ],
        "tried": [
            "comfort.log can0: comfort; 61 of 64 ids fit the DBC of comfort",
            "park-distance: reverse-engaged, asks for answers: SelectorStatus.SelectorLever on comfort: "
            "frames 921, too short 0, carried 921, no value 0, out of range 0, valid 921, active 0, "
            "inactive 0, gaps 921, changes 0, counter steps 0, still 0, jumps 0, marks 3/3, outside 0. "
            "Rules: . Result: ok",
        ],
        "resources": [],
        "identity": {
            "vin": None,
            "registration": "",
            "odometer_km": None,
            "reference": "",
            "technician": "",
        },
        "connections": [],
    }


def test_what_is_unknown_is_null() -> None:
    row = replace(ROW, did=None, from_=None, byte=None, before=None, after=None, mask=None)
    need = replace(NEED, network=None, message=None, signal=None, max_gap_ms=None)
    item = replace(ITEM, network=None, coding=(row,), needs=(need,))
    found = plan_json(replace(PLAN, items=(item,)))["items"][0]
    assert found["network"] is None
    assert found["coding"][0]["from"] is None
    assert found["coding"][0]["did"] is None
    assert found["needs"][0]["message"] is None


def test_a_limit_that_is_none_is_null() -> None:
    """JSON has no infinity (RFC 8259, section 6)."""
    item = replace(ITEM, needs=(replace(NEED, max_gap_ms=math.inf),))
    found = plan_json(replace(PLAN, items=(item,)))
    assert found["items"][0]["needs"][0]["max_gap_ms"] is None
    json.dumps(found, allow_nan=False)


@pytest.mark.parametrize("name", EXAMPLES)
def test_examples_survive_a_round_trip_through_json(name: str) -> None:
    found = plan_json(EXAMPLES[name]())
    assert json.loads(json.dumps(found, allow_nan=False)) == found
    assert json.dumps(found) == json.dumps(plan_json(EXAMPLES[name]()))
