"""Which entry of a role is judged: by model year, then by the item's network."""

from __future__ import annotations

import pytest

from netcheck.report import need_text
from tests.acceptance.cases import (
    ENGINE,
    LEVER,
    SHOWN,
    SPEED,
    Case,
    during,
    every,
    expected,
    missing,
)

MOVES = during(2.0, 5.0, "01000000", "00000000")


def test_a_role_outside_its_years_is_undefined(tmp_path):
    gone = missing("undefined-role")
    for year, outcome in ((2018, gone), (2019, SHOWN), (2021, SHOWN), (2022, gone)):
        case = Case(tmp_path, year).role("lever", "body LeverStatus Gear", years=[2019, 2021])
        case.item().need("lever")
        case.log().send(LEVER, every(0.1), MOVES)
        assert case.outcome() == outcome


@pytest.mark.parametrize(
    "place", ["body LeverStatus Nope", "body Nope Gear"], ids=["no such signal", "no such message"]
)
def test_a_place_that_the_dbc_lacks_is_undefined_signal(tmp_path, place):
    case = Case(tmp_path).role("lever", place)
    case.item().need("lever")
    case.log().send(LEVER, every(0.1), MOVES)
    assert case.outcome() == missing("undefined-signal")


def test_a_role_on_another_network_is_told_with_that_network(tmp_path):
    case = Case(tmp_path).role("revs", "drive EngineStatus Revs")
    case.item(network="body").need("revs", evidence="defined")
    assert case.outcome() == missing("other-network")
    assert "drive" in need_text(case.need())


def test_a_role_on_the_items_network_is_not_on_another(tmp_path):
    case = Case(tmp_path).role("revs", "drive EngineStatus Revs")
    case.item(network="drive").need("revs", evidence="defined")
    assert case.outcome() == SHOWN
    assert case.need().network == "drive"


def test_another_network_is_told_even_where_the_dbc_lacks_the_signal(tmp_path):
    case = Case(tmp_path).role("revs", "drive EngineStatus Nope")
    case.item(network="body").need("revs")
    assert case.outcome() == missing("other-network")


def test_of_two_entries_that_of_the_items_network_is_judged(tmp_path):
    case = Case(tmp_path).role("any", "drive EngineStatus Revs").role("any", "body LeverStatus Gear")
    case.item(network="body").need("any", evidence="defined")
    need = case.need()
    assert (need.network, need.message, need.signal) == ("body", "LeverStatus", "Gear")


def test_the_year_chooses_before_the_network(tmp_path):
    for year, outcome in ((2018, missing("other-network")), (2020, SHOWN)):
        case = Case(tmp_path, year).role("any", "drive EngineStatus Revs", years=[2017, 2018])
        case.role("any", "body LeverStatus Gear", years=[2019, 2022])
        case.item(network="body").need("any", evidence="defined")
        assert case.outcome() == outcome


@pytest.mark.parametrize(("year", "message"), [(2018, "LeverStatus"), (2019, "SpeedStatus")])
def test_of_two_entries_of_one_network_that_of_the_year_is_judged(tmp_path, year, message):
    case = Case(tmp_path, year).role("any", "body LeverStatus Gear", years=[2017, 2018])
    case.role("any", "body SpeedStatus Speed", years=[2019, 2022])
    case.item().need("any")
    case.log().send(LEVER if year == 2018 else SPEED, every(0.1), MOVES)
    assert case.outcome() == SHOWN
    assert case.need().message == message


def undecided(folder):
    """An item with no network; its role has an entry on ``drive`` and one on ``body``."""
    case = Case(folder).role("any", "drive EngineStatus Revs").role("any", "body LeverStatus Gear")
    case.item(network=None).need("any")
    return case


def test_an_item_without_a_network_takes_the_network_that_carries_the_role(tmp_path):
    case = undecided(tmp_path)
    case.log("body").send(LEVER, every(0.1), MOVES)
    assert case.outcome() == SHOWN
    assert case.need().network == "body"


def test_a_network_that_is_captured_without_the_message_does_not_carry_it(tmp_path):
    case = undecided(tmp_path)
    case.log("drive")
    case.log("body").send(LEVER, every(0.1), MOVES)
    assert case.outcome() == SHOWN
    assert case.need().network == "body"


def test_of_several_networks_that_carry_it_the_first_entry_is_taken(tmp_path):
    case = undecided(tmp_path)
    case.log("body").send(LEVER, every(0.1), MOVES)
    case.log("drive").send(ENGINE, every(0.1), MOVES)
    assert case.outcome() == SHOWN
    assert case.need().network == "drive"


def test_an_item_without_a_network_is_never_on_the_wrong_one(tmp_path):
    case = Case(tmp_path).role("revs", "drive EngineStatus Revs")
    case.item(network=None).need("revs")
    assert case.outcome() == expected("no-capture")


def test_each_need_of_an_undecided_item_takes_its_own_network(tmp_path):
    case = Case(tmp_path).role("revs", "drive EngineStatus Revs").role("lever", "body LeverStatus Gear")
    case.item(network=None).need("revs").need("lever")
    case.log("body").send(LEVER, every(0.1), MOVES)
    case.log("drive").send(ENGINE, every(0.1), MOVES)
    needs = case.plan().items[0].needs
    assert [(str(need.status), need.network) for need in needs] == [("shown", "drive"), ("shown", "body")]
