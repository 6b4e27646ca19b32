"""plan's JSON: the keys that scripts rest on, written out by hand."""

import json
import math
from dataclasses import replace

import pytest

from netcheck.coding import CodingRow, CodingStatus, Write
from netcheck.report import plan_json
from netcheck.verdict import (
    ChannelUse,
    Conflict,
    ConflictKind,
    ItemResult,
    NeedResult,
    Plan,
    Question,
    Reason,
    Status,
    Step,
    Verdict,
)
from tests.report.examples import EXAMPLES

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
    seen="3 of 3 marks",
    also=(),
    next="",
    text="3 of 3 marks.",
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
    conflicts=(Conflict(ConflictKind.ID_IN_USE, "0x4A1 is taken", "Choose another."),),
    questions=(Question("airbag.driver-stages", "not stated"),),
    cautions=("Battery.",),
    notes=("a note",),
)
PLAN = Plan(
    job="library.job.toml",
    vehicle="Skerry 240",
    model_year=2020,
    verdict=Verdict.GO_WITH_CHANGES,
    items=(ITEM,),
    writes=(Write("gateway", "0x0600", "03001F00", "03003F00"),),
    checklist=(Step("before", "park-distance", "Read the cautions.", caution=True),),
    captures=(ChannelUse("comfort.log", "can0", "comfort", 184_211, 92.1),),
    next=("Fit it.",),
    warnings=("a warning",),
    tried=("a rule",),
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
                        "network": "comfort",
                        "message": "SelectorStatus",
                        "signal": "SelectorLever",
                        "optional": False,
                        "asks": "answers",
                        "max_gap_ms": 250.0,
                        "why": "switches the sensors on",
                        "seen": "3 of 3 marks",
                        "also": [],
                        "next": "",
                        "text": "3 of 3 marks.",
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
                "conflicts": [{"kind": "id-in-use", "text": "0x4A1 is taken", "next": "Choose another."}],
                "questions": [{"fact": "airbag.driver-stages", "text": "not stated"}],
                "cautions": ["Battery."],
                "notes": ["a note"],
            }
        ],
        "writes": [{"module": "gateway", "did": "0x0600", "before": "03001F00", "after": "03003F00"}],
        "next": ["Fit it."],
        "checklist": [
            {"phase": "before", "item": "park-distance", "text": "Read the cautions.", "caution": True}
        ],
        "captures": [
            {
                "file": "comfort.log",
                "channel": "can0",
                "network": "comfort",
                "frames": 184211,
                "seconds": 92.1,
                "declared": None,
                "text": "",
                "doubtful": False,
            }
        ],
        "warnings": ["a warning"],
        "tried": ["a rule"],
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
