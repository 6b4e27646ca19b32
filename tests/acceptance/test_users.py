"""Who uses a signal and from where: wires, a module instead of the part, conditions, and open questions."""

from __future__ import annotations

import pytest

import netcheck
from tests.acceptance.cases import (
    BRAKE,
    LEVER,
    SHOWN,
    Case,
    conflicts,
    during,
    every,
    expected,
    lever_case,
    missing,
    questions,
)

P, R = "00000000", "01000000"
GEARS = during(2.0, 5.0, R, P)
PRESSED = during(2.0, 5.0, "01", "00")
BY_WIRE = ("supplied", "by-wire")
BY_ITEM = ("supplied", "by-item")


# Wires --------------------------------------------------------------------------------------------


def test_a_wire_comes_before_all_else(tmp_path):
    case = Case(tmp_path)
    part = case.item().need("unheard-of", evidence="answers", max_gap_ms=1)
    assert case.outcome() == missing("undefined-role")
    case.item("giver").supply("unheard-of", message_id=0x4A1)
    assert case.outcome() == BY_ITEM
    part.wire("unheard-of")
    assert case.outcome() == BY_WIRE
    assert str(case.plan().items[0].verdict) == "go-with-changes"


def test_a_wire_serves_its_own_item_and_role_only(tmp_path):
    case = lever_case(tmp_path)
    case.items[0].need("speed").wire("speed")
    case.item("other").need("speed")
    plan = case.plan()
    assert [str(need.reason) for need in plan.items[0].needs] == ["no-capture", "by-wire"]
    assert [str(need.reason) for need in plan.items[1].needs] == ["undefined-role"]


def test_a_wire_does_not_serve_a_module(tmp_path):
    case = Case(tmp_path).module("motor", network="drive")
    case.item().need("unheard-of", used_by="motor").wire("unheard-of")
    assert case.outcome() == missing("undefined-role")


def test_a_need_that_a_wire_serves_raises_no_conflict_and_no_question(tmp_path):
    case = lever_case(tmp_path)
    case.item("remover").replace(role="reverse").supply("turning")
    case.items[0].need("turning")
    case.log().send(LEVER, every(0.1), GEARS)
    assert conflicts(case)["part"] == ["lost-source"]
    assert questions(case) == {"part": ["supply-id"], "remover": ["supply-id"]}
    case.items[0].wire("reverse").wire("turning")
    assert conflicts(case) == {"part": [], "remover": []}
    assert questions(case) == {"part": [], "remover": []}


def test_a_wire_for_a_role_that_the_part_does_not_need_is_an_error(tmp_path):
    case = lever_case(tmp_path)
    case.items[0].wire("vehicle-speed")
    with pytest.raises(netcheck.InputError, match="vehicle-speed"):
        case.plan()


# Used by a module ---------------------------------------------------------------------------------


def stalk(folder, networks="drive", year=2020, **need):
    """A stalk wired to ``body``; the motor, on ``drive``, must see the brake."""
    case = Case(folder, year).role("brake", "drive BrakeStatus Pressed", active=[1])
    case.module("motor", network=networks, years=[2019, 2022])
    case.item("stalk", "body").need("brake", used_by="motor", **need)
    return case


def test_a_need_of_a_module_is_judged_on_the_modules_network(tmp_path):
    case = stalk(tmp_path)
    case.log("body")
    assert case.outcome() == expected("no-capture")
    assert case.need().network == "drive"
    case.log("drive").send(BRAKE, every(0.1), PRESSED)
    assert case.outcome() == SHOWN


def test_a_role_that_is_not_on_the_modules_network_is_on_another(tmp_path):
    case = stalk(tmp_path, "body")
    case.log("drive").send(BRAKE, every(0.1), PRESSED)
    assert case.outcome() == missing("other-network")


def test_of_a_modules_networks_the_first_entry_that_carries_the_signal_is_taken(tmp_path):
    case = stalk(tmp_path, ["body", "drive"]).role("brake", "body LeverStatus Gear", active=["R"])
    assert case.need().network == "drive"  # the first entry
    case.log("body")
    assert case.need().network == "body"  # captured
    case.log("drive").send(BRAKE, every(0.1), PRESSED)
    assert case.need().network == "drive"  # carried
    case.logs[0].send(LEVER, every(0.1), GEARS)
    assert case.need().network == "drive"  # both are: the first entry
    assert case.outcome() == SHOWN


def test_an_item_on_the_modules_network_supplies_the_module(tmp_path):
    case = stalk(tmp_path)
    giver = case.item("giver", "body").supply("brake", message_id=0x4A1)
    assert case.outcome() == expected("no-capture")
    giver.network = "drive"
    assert case.outcome() == BY_ITEM


@pytest.mark.parametrize("optional", [False, True])
@pytest.mark.parametrize(("year", "asked"), [(2018, ["used-by"]), (2019, [])])
def test_a_module_that_the_year_does_not_have_is_a_question(tmp_path, year, asked, optional):
    case = stalk(tmp_path, year=year, optional=optional)
    case.log("drive").send(BRAKE, every(0.1), PRESSED)
    assert questions(case) == {"stalk": asked}


def test_without_the_module_the_need_is_judged_on_the_items_network(tmp_path):
    case = stalk(tmp_path, year=2018)
    case.log("drive").send(BRAKE, every(0.1), PRESSED)
    assert case.outcome() == missing("other-network")
    case.items[0].network = "drive"
    assert case.outcome() == SHOWN
    assert questions(case) == {"stalk": ["used-by"]}
    assert str(case.plan().items[0].verdict) == "unproven"


def test_a_module_that_the_vehicle_file_lacks_is_a_question(tmp_path):
    case = lever_case(tmp_path, used_by="warp-drive")
    case.log().send(LEVER, every(0.1), GEARS)
    assert case.outcome() == SHOWN
    assert questions(case) == {"part": ["used-by"]}


# Only if ------------------------------------------------------------------------------------------

MANUAL = {"fact": "gearbox", "any_of": ["manual"]}


def clutch(folder, **facts):
    case = Case(folder).facts(**facts)
    case.item().need("clutch", only_if=MANUAL).need("speed", optional=True)
    return case


@pytest.mark.parametrize(
    ("model", "own", "roles", "asked"),
    [
        ({"gearbox": "manual"}, {}, ["clutch", "speed"], []),
        ({"gearbox": "automatic"}, {}, ["speed"], []),
        ({}, {}, ["clutch", "speed"], ["fact"]),
        ({}, {"gearbox": "manual"}, ["clutch", "speed"], []),
        ({}, {"gearbox": "automatic"}, ["speed"], []),
        ({"gearbox": "manual"}, {"gearbox": "automatic"}, ["speed"], []),
        ({"gearbox": "automatic"}, {"gearbox": "manual"}, ["clutch", "speed"], []),
    ],
)
def test_a_need_applies_by_the_facts_of_the_job_over_those_of_the_vehicle(tmp_path, model, own, roles, asked):
    case = clutch(tmp_path, **model)
    case.own_facts = own
    assert [need.role for need in case.plan().items[0].needs] == roles
    assert questions(case) == {"part": asked}
    assert str(case.plan().verdict) == ("no-go" if "clutch" in roles else "go")


def test_a_fact_that_nobody_states_names_itself(tmp_path):
    (question,) = clutch(tmp_path).plan().items[0].questions
    assert (str(question.kind), question.subject, question.fact) == ("fact", "gearbox", "gearbox")


def test_a_need_that_does_not_apply_loses_nothing_and_asks_nothing(tmp_path):
    case = lever_case(tmp_path, only_if=MANUAL, used_by="warp-drive")
    case.item("remover").replace(role="reverse")
    case.log().send(LEVER, every(0.1), GEARS)
    assert conflicts(case)["part"] == ["lost-source"]
    case.own_facts = {"gearbox": "automatic"}
    assert conflicts(case)["part"] == []
    assert questions(case)["part"] == []


@pytest.mark.parametrize(
    ("own", "fields", "asked"),
    [({"gearbox": "manual"}, ["stalk"], []), ({"gearbox": "none"}, [], []), ({}, ["stalk"], ["fact"])],
)
def test_coding_applies_by_facts_too(tmp_path, own, fields, asked):
    case = Case(tmp_path).module("gateway")
    case.block("gateway", 0x0600, 1, stalk={"byte": 0, "width": 1, "values": {0: "absent", 1: "fitted"}})
    case.item().code("gateway", "stalk", "fitted", only_if=MANUAL)
    case.own_facts = own
    assert [row.field for row in case.plan().items[0].coding] == fields
    assert questions(case) == {"part": asked}


@pytest.mark.parametrize("table", ["step", "exercise"])
def test_the_condition_of_hand_work_is_a_question_too(tmp_path, table):
    case = Case(tmp_path)
    getattr(case.item(), table)("reverse", only_if=MANUAL)
    assert questions(case) == {"part": ["fact"]}
    case.own_facts = {"gearbox": "automatic"}
    assert questions(case) == {"part": []}


def test_a_fact_of_the_job_meets_the_match(tmp_path):
    case = Case(tmp_path).facts(link="ladder")
    case.item().match("link", "LIN")
    assert conflicts(case) == {"part": ["fact-mismatch"]}
    case.own_facts = {"link": "LIN"}
    assert conflicts(case) == {"part": []}


# A gateway that would have to pass it on --------------------------------------------------------------


def moved(folder, **need):
    """The brake is taken away from ``drive``, where it is needed, and supplied again on ``body``."""
    case = Case(folder).role("brake", "drive BrakeStatus Pressed", active=[1])
    case.item("taker", "drive").need("brake", **need)
    case.item("remover", "body").replace(role="brake")
    case.log("drive").send(BRAKE, every(0.1), PRESSED)
    return case


def test_a_role_that_comes_back_on_another_network_only_is_a_question(tmp_path):
    case = moved(tmp_path)
    assert (conflicts(case)["taker"], questions(case)["taker"]) == (["lost-source"], [])
    case.items[1].supply("brake", message_id=0x4A1)
    assert (conflicts(case)["taker"], questions(case)["taker"]) == ([], ["gateway"])
    assert str(case.plan().items[0].verdict) == "unproven"
    case.items[1].network = "drive"
    assert (conflicts(case)["taker"], questions(case)["taker"]) == ([], [])
    assert case.outcome() == BY_ITEM


def test_an_optional_need_asks_no_gateway(tmp_path):
    case = moved(tmp_path, optional=True)
    case.items[1].supply("brake", message_id=0x4A1)
    assert (conflicts(case)["taker"], questions(case)["taker"]) == ([], [])


def test_what_the_item_itself_supplies_does_not_save_its_source(tmp_path):
    case = moved(tmp_path)
    case.items[0].supply("brake", message_id=0x4A1)
    assert conflicts(case)["taker"] == ["lost-source"]


def test_a_replaced_module_takes_its_role_to_another_network(tmp_path):
    case = Case(tmp_path).module("abs", network="drive", node="ABS")
    case.role("brake", "drive BrakeStatus Pressed", active=[1])
    case.item("taker", "drive").need("brake")
    remover = case.item("remover", "body").replace(module="abs")
    case.log("drive").send(BRAKE, every(0.1), PRESSED)
    assert conflicts(case)["taker"] == ["lost-source"]
    remover.supply("brake", message_id=0x4A1)
    assert (conflicts(case)["taker"], questions(case)["taker"]) == ([], ["gateway"])


# An id that nobody says -------------------------------------------------------------------------------


def test_a_role_supplied_without_an_id_and_needed_stands_on_both(tmp_path):
    case = Case(tmp_path)
    case.item("taker").need("park.left")
    case.item("giver").supply("park.left")
    case.item("third").supply("park.right")
    assert questions(case) == {"taker": ["supply-id"], "giver": ["supply-id"], "third": []}
    assert [str(item.verdict) for item in case.plan().items] == ["unproven", "unproven", "go"]


def test_a_role_supplied_with_an_id_is_no_question(tmp_path):
    case = Case(tmp_path)
    case.item("taker").need("park.left")
    case.item("giver").supply("park.left", message_id=0x4A1)
    assert questions(case) == {"taker": [], "giver": []}
    assert [str(item.verdict) for item in case.plan().items] == ["go-with-changes", "go"]


def test_what_an_item_needs_of_itself_is_no_question(tmp_path):
    case = Case(tmp_path)
    case.item("both").need("park.left").supply("park.left")
    assert questions(case) == {"both": []}
