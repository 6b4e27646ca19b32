"""What the needs, conflicts, questions and coding of an item come to, and the items of a job."""

from __future__ import annotations

import pytest

from tests.acceptance.cases import LEVER, Case, during, every


def van(folder):
    """``moving`` is shown, ``still`` only expected, ``gone`` missing, ``hidden`` after coding."""
    case = Case(folder).module("gateway").facts(link="LIN")
    field = {"byte": 0, "bit": 0, "width": 1, "values": {0: "absent", 1: "fitted"}}
    case.block("gateway", 0x0600, 1, park=field, camera={**field, "bit": 1}, horn={**field, "bit": 2})
    case.block("gateway", 0x0601, 1, unread=field)
    case.readout("gateway", 0x0600, "02")
    case.role("moving", "body LeverStatus Gear").role("still", "body LeverStatus Turn")
    case.role("gone", "body SpeedStatus Speed")
    unlock = {"module": "gateway", "field": "horn", "value": "fitted"}
    case.role("hidden", "body MenuStatus Volume", unlocked_by=unlock)
    log = case.log().send(LEVER, every(0.1), during(2.0, 5.0, "01000000", "00000000"))
    log.mark("gone", 2.0, 5.0, between=[1, 9])
    return case


PARTS = {
    "nothing": lambda item: item,
    "shown": lambda item: item.need("moving"),
    "missing": lambda item: item.need("gone"),
    "expected": lambda item: item.need("still"),
    "after-coding": lambda item: item.need("hidden"),
    "supplied": lambda item: item.need("given"),
    "optional supplied": lambda item: item.need("given", optional=True),
    "by wire": lambda item: item.need("still").wire("still"),
    "optional missing": lambda item: item.need("gone", optional=True),
    "optional expected": lambda item: item.need("still", optional=True),
    "conflict": lambda item: item.match("link", "wire"),
    "question": lambda item: item.match("stages", 2),
    "to do": lambda item: item.code("gateway", "park", "fitted"),
    "already": lambda item: item.code("gateway", "camera", "fitted"),
    "unknown": lambda item: item.code("gateway", "unread", "fitted"),
    "undefined": lambda item: item.code("gateway", "nowhere", "fitted"),
}


def verdict(folder, *parts):
    case = van(folder)
    item = case.item()
    for part in parts:
        PARTS[part](item)
    if {"supplied", "optional supplied"}.intersection(parts):
        case.item("giver").supply("given", message_id=0x4A1)
    return str(case.plan().items[0].verdict)


@pytest.mark.parametrize(
    ("part", "found"),
    [
        ("nothing", "go"),
        ("shown", "go"),
        ("already", "go"),
        ("optional missing", "go"),
        ("optional expected", "go"),
        ("after-coding", "go-with-changes"),
        ("supplied", "go-with-changes"),
        ("optional supplied", "go-with-changes"),
        ("by wire", "go-with-changes"),
        ("to do", "go-with-changes"),
        ("expected", "unproven"),
        ("question", "unproven"),
        ("unknown", "unproven"),
        ("missing", "no-go"),
        ("conflict", "no-go"),
        ("undefined", "no-go"),
    ],
)
def test_one_thing_alone_decides(tmp_path, part, found):
    assert verdict(tmp_path, part) == found


@pytest.mark.parametrize("worse", ["missing", "conflict"])
@pytest.mark.parametrize("better", ["expected", "question", "unknown", "to do", "supplied", "shown"])
def test_no_go_comes_before_all_else(tmp_path, better, worse):
    assert verdict(tmp_path, better, worse) == "no-go"


@pytest.mark.parametrize("worse", ["expected", "question", "unknown"])
@pytest.mark.parametrize("better", ["after-coding", "to do", "supplied", "shown", "optional missing"])
def test_unproven_comes_before_go_with_changes(tmp_path, better, worse):
    assert verdict(tmp_path, better, worse) == "unproven"


@pytest.mark.parametrize("worse", ["after-coding", "to do", "supplied"])
@pytest.mark.parametrize("better", ["shown", "already", "optional missing", "optional expected"])
def test_go_with_changes_comes_before_go(tmp_path, better, worse):
    assert verdict(tmp_path, better, worse) == "go-with-changes"


@pytest.mark.parametrize(
    ("parts", "found"),
    [
        (["shown", "shown"], "go"),
        (["shown", "to do"], "go-with-changes"),
        (["to do", "expected", "shown"], "unproven"),
        (["missing", "expected", "shown"], "no-go"),
        (["shown", "conflict"], "no-go"),
    ],
)
def test_the_job_is_as_good_as_its_worst_item(tmp_path, parts, found):
    case = van(tmp_path)
    for number, part in enumerate(parts):
        PARTS[part](case.item(f"part{number}"))
    assert case.plan().verdict == found
