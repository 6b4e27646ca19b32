"""What the items bring and take away: supplied needs, ids in use, two sources, lost sources."""

from __future__ import annotations

import pytest

from netcheck.report import note_text
from tests.acceptance.cases import (
    BACKGROUND,
    ENGINE,
    LEVER,
    MENU,
    SPEED,
    TEMP,
    Case,
    conflicts,
    during,
    every,
    missing,
)

BY_ITEM = ("supplied", "by-item")
PAGES = ["01070000", "02080000"]
MENU_FRAMES = [*PAGES * 50, PAGES[0]]


def radio_case(folder, year=2020):
    """The radio sends the volume, the radio and the climate module the heat, the latter alone nothing."""
    case = Case(folder, year).module("radio", network="body", node="RADIO")
    case.module("climate", network="body", node="CLIMATE").module("abs", network="body", node="ABS")
    case.role("volume", "body MenuStatus Volume").role("heat", "body ClimateStatus Heat")
    return case


# Supplied by an item ------------------------------------------------------------------------------


def test_a_need_is_supplied_by_another_item_on_its_network(tmp_path):
    case = radio_case(tmp_path)
    case.item("taker").need("volume")
    case.item("giver").supply("volume")
    assert case.outcome() == BY_ITEM


def test_supply_comes_before_all_else(tmp_path):
    case = Case(tmp_path)
    case.item("taker").need("unheard-of", evidence="answers")
    assert case.outcome() == missing("undefined-role")
    case.item("giver").supply("unheard-of")
    assert case.outcome() == BY_ITEM


def test_supply_on_another_network_does_not_serve(tmp_path):
    case = Case(tmp_path)
    case.item("taker", network="body").need("unheard-of")
    case.item("giver", network="drive").supply("unheard-of")
    assert case.outcome() == missing("undefined-role")


def test_what_an_item_supplies_does_not_serve_its_own_needs(tmp_path):
    case = Case(tmp_path)
    case.item("both").need("unheard-of").supply("unheard-of")
    assert case.outcome() == missing("undefined-role")


# An id in use -------------------------------------------------------------------------------------


def sender(folder, can_id=0x4A1, **more):
    case = radio_case(folder)
    case.item().supply("park.left", message_id=can_id, **more)
    return case


def test_an_id_seen_on_the_network_is_in_use(tmp_path):
    case = sender(tmp_path)
    case.log()
    assert conflicts(case) == {"part": []}
    case.logs[0].send(0x4A1, [3.0], "00")
    assert conflicts(case) == {"part": ["id-in-use"]}


def test_an_id_seen_on_another_network_is_free(tmp_path):
    case = sender(tmp_path)
    case.log("drive").send(0x4A1, every(0.1), "00")
    assert conflicts(case) == {"part": []}


def test_an_id_seen_only_after_the_fitting_is_free(tmp_path):
    case = sender(tmp_path)
    case.log()
    case.log(when="after").send(0x4A1, every(0.1), "00")
    assert conflicts(case) == {"part": []}


def test_an_id_that_the_dbc_has_and_nobody_sent_is_free(tmp_path):
    case = sender(tmp_path, SPEED)
    case.log()
    assert conflicts(case) == {"part": []}
    case.logs[0].send(SPEED, every(0.1), "00000000")
    assert conflicts(case) == {"part": ["id-in-use"]}


@pytest.mark.parametrize(
    ("can_id", "more", "seen_extended", "found"),
    [
        (0x4A1, {}, True, []),
        (0x4A1, {"extended": True}, False, []),
        (0x4A1, {"extended": True}, True, ["id-in-use"]),
        (0x1234567, {}, True, ["id-in-use"]),
    ],
)
def test_11_and_29_bit_ids_are_different_ids(tmp_path, can_id, more, seen_extended, found):
    case = sender(tmp_path, can_id, **more)
    case.log().send(can_id, every(0.1), "00", extended=seen_extended)
    assert conflicts(case) == {"part": found}


def test_remote_and_error_frames_use_no_id(tmp_path):
    case = sender(tmp_path)
    log = case.log()
    log.rows += [(time, "can0", "4A1#R") for time in every(0.1)]
    log.rows += [(time, "can0", "200004A1#0000000000000000") for time in every(0.1)]
    assert conflicts(case) == {"part": []}


def test_the_id_of_a_replaced_module_is_free(tmp_path):
    case = sender(tmp_path, MENU)
    case.log().send(MENU, every(0.1), MENU_FRAMES)
    assert conflicts(case) == {"part": ["id-in-use"]}
    case.items[0].replace(module="abs")
    assert conflicts(case) == {"part": ["id-in-use"]}
    case.items[0].replace(module="radio")
    assert conflicts(case) == {"part": []}


def test_the_id_of_a_replaced_role_is_free(tmp_path):
    case = sender(tmp_path, MENU)
    case.log().send(MENU, every(0.1), MENU_FRAMES)
    case.items[0].replace(role="heat")
    assert conflicts(case) == {"part": ["id-in-use"]}
    case.items[0].replace(role="volume")
    assert conflicts(case) == {"part": []}


def test_two_items_that_send_one_id_on_one_network_conflict_both(tmp_path):
    case = Case(tmp_path)
    case.item("one").supply("park.left", message_id=0x4A1)
    case.item("two").supply("park.right", message_id=0x4A1)
    case.item("three").supply("park.rear", message_id=0x4A2)
    assert conflicts(case) == {"one": ["id-in-use"], "two": ["id-in-use"], "three": []}


def test_two_items_that_send_one_id_on_two_networks_do_not(tmp_path):
    case = Case(tmp_path)
    case.item("one", network="body").supply("park.left", message_id=0x4A1)
    case.item("two", network="drive").supply("park.right", message_id=0x4A1)
    assert conflicts(case) == {"one": [], "two": []}


def test_two_items_that_send_an_11_and_a_29_bit_id_do_not(tmp_path):
    case = Case(tmp_path)
    case.item("one").supply("park.left", message_id=0x4A1)
    case.item("two").supply("park.right", message_id=0x4A1, extended=True)
    assert conflicts(case) == {"one": [], "two": []}


# Two sources --------------------------------------------------------------------------------------


def second_source(folder, role="volume"):
    case = radio_case(folder).role("lever", "body LeverStatus Gear", not_available=[15])
    case.role("vehicle-speed", "body SpeedStatus Speed")
    case.item().supply(role)
    return case


def test_a_supplied_role_that_is_there_already_has_two_sources(tmp_path):
    case = second_source(tmp_path)
    assert conflicts(case) == {"part": []}
    case.log().send(MENU, every(0.1), MENU_FRAMES)
    assert conflicts(case) == {"part": ["two-sources"]}


@pytest.mark.parametrize(
    ("role", "can_id", "frames"),
    [
        ("lever", LEVER, "0F000000"),
        ("vehicle-speed", SPEED, "00"),
        ("volume", MENU, "02070000"),
        ("volume", SPEED, "00000000"),
    ],
    ids=["only no value", "too short", "another page", "another message"],
)
def test_a_role_without_values_is_no_second_source(tmp_path, role, can_id, frames):
    case = second_source(tmp_path, role)
    case.log().send(can_id, every(0.1), frames)
    assert conflicts(case) == {"part": []}


def test_a_role_present_on_another_network_is_no_second_source(tmp_path):
    case = Case(tmp_path).role("revs", "drive EngineStatus Revs")
    case.item(network="body").supply("revs")
    case.log("drive").send(ENGINE, every(0.1), "01000000")
    assert conflicts(case) == {"part": []}
    case.items[0].network = "drive"
    assert conflicts(case) == {"part": ["two-sources"]}


@pytest.mark.parametrize(
    ("replaced", "found"),
    [
        ({"role": "volume"}, []),
        ({"module": "radio"}, []),
        ({"role": "heat"}, ["two-sources"]),
        ({"module": "abs"}, ["two-sources"]),
        ({"module": "unheard-of"}, ["two-sources"]),
    ],
)
def test_a_replaced_source_is_none(tmp_path, replaced, found):
    case = second_source(tmp_path)
    case.items[0].replace(**replaced)
    case.log().send(MENU, every(0.1), MENU_FRAMES)
    assert conflicts(case) == {"part": found}


def test_another_item_may_replace_the_source(tmp_path):
    case = second_source(tmp_path)
    case.item("remover").replace(role="volume")
    case.log().send(MENU, every(0.1), MENU_FRAMES)
    assert conflicts(case) == {"part": [], "remover": []}


def test_two_items_that_supply_one_role_on_one_network_conflict_both(tmp_path):
    case = Case(tmp_path)
    case.item("one").supply("park.left")
    case.item("two").supply("park.left")
    case.item("three", network="drive").supply("park.left")
    assert conflicts(case) == {"one": ["two-sources"], "two": ["two-sources"], "three": []}


# A lost source ------------------------------------------------------------------------------------


def loser(folder, role="volume", year=2020, **need):
    """An item that needs a role, and one that takes something away."""
    case = radio_case(folder, year)
    case.item("taker").need(role, evidence="present", **need)
    case.log().send(MENU, every(0.1), MENU_FRAMES).send(TEMP, every(0.1), "30000000")
    return case, case.item("remover")


LOST = {"taker": ["lost-source"], "remover": []}
KEPT = {"taker": [], "remover": []}


def test_a_needed_role_that_another_item_replaces_is_a_lost_source(tmp_path):
    case, remover = loser(tmp_path)
    assert conflicts(case) == KEPT
    remover.replace(role="heat")
    assert conflicts(case) == KEPT
    remover.replace(role="volume")
    assert conflicts(case) == LOST


def test_an_item_may_lose_its_source_to_itself(tmp_path):
    case, _ = loser(tmp_path)
    case.items[0].replace(role="volume")
    assert conflicts(case) == LOST


def test_an_optional_need_loses_nothing(tmp_path):
    case, remover = loser(tmp_path, optional=True)
    remover.replace(role="volume")
    assert conflicts(case) == KEPT


def test_a_source_that_the_remover_supplies_again_is_not_lost(tmp_path):
    case, remover = loser(tmp_path)
    remover.replace(role="volume").supply("volume")
    assert conflicts(case) == KEPT
    assert case.outcome() == BY_ITEM


def test_a_source_that_a_third_item_supplies_is_not_lost(tmp_path):
    case, remover = loser(tmp_path)
    remover.replace(role="volume")
    case.item("third").supply("volume")
    assert conflicts(case) == {**KEPT, "third": []}


def test_the_module_that_alone_sends_a_needed_message_is_a_lost_source(tmp_path):
    case, remover = loser(tmp_path)
    remover.replace(module="abs")
    assert conflicts(case) == KEPT
    remover.replace(module="radio")
    assert conflicts(case) == LOST


def test_a_message_that_another_module_sends_too_is_not_lost(tmp_path):
    case, remover = loser(tmp_path, "heat")
    remover.replace(module="radio")
    assert conflicts(case) == KEPT


def test_a_role_is_replaced_on_every_network_wherever_the_item_is_wired(tmp_path):
    case = Case(tmp_path).role("any", "body LeverStatus Gear").role("any", "drive EngineStatus Revs")
    case.item("taker", network="drive").need("any", evidence="present")
    case.item("remover", network="body").replace(role="any")
    case.log("drive").send(ENGINE, every(0.1), "01000000")
    for network in ("body", "drive"):
        case.items[1].network = network
        assert conflicts(case) == LOST


def test_replacing_a_module_that_the_vehicle_does_not_have_changes_nothing_and_is_said(tmp_path):
    case, remover = loser(tmp_path)
    remover.replace(module="old-radio")
    plan = case.plan()
    assert [str(item.verdict) for item in plan.items] == ["go", "go"]
    assert any("old-radio" in note_text(note) for note in plan.items[1].notes)


@pytest.mark.parametrize(("year", "found"), [(2018, LOST), (2019, KEPT)])
def test_a_module_that_this_year_does_not_have_is_none(tmp_path, year, found):
    case = Case(tmp_path, year).module("radio", network="body", node="RADIO", years=[2017, 2018])
    case.role("volume", "body MenuStatus Volume")
    case.item("taker").need("volume")
    case.item("remover").replace(module="radio")
    case.log().send(MENU, every(0.1), during(2.0, 5.0, "01070000", "01080000"))
    assert conflicts(case) == found


def test_background_ids_are_the_networks_own(tmp_path):
    case = radio_case(tmp_path)
    case.item().supply("park.left", message_id=BACKGROUND["body"][0])
    case.log()
    assert conflicts(case) == {"part": ["id-in-use"]}
