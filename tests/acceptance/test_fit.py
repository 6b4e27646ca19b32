"""Does the part match the vehicle: facts and modules."""

from __future__ import annotations

import pytest

from tests.acceptance.cases import Case, conflicts


@pytest.mark.parametrize(
    ("any_of", "found"),
    [(["LIN"], []), (["wire", "LIN"], []), (["wire"], ["fact-mismatch"]), (["lin"], ["fact-mismatch"])],
)
def test_a_fact_must_be_one_of_what_the_part_takes(tmp_path, any_of, found):
    case = Case(tmp_path).facts(link="LIN")
    case.item().match("link", *any_of)
    plan = case.plan()
    assert conflicts(case) == {"part": found}
    assert plan.items[0].questions == ()
    assert plan.verdict == ("no-go" if found else "go")


def test_a_fact_may_be_a_number(tmp_path):
    case = Case(tmp_path).facts(stages=2)
    case.item("fits").match("stages", 1, 2)
    case.item("fails").match("stages", 1)
    assert conflicts(case) == {"fits": [], "fails": ["fact-mismatch"]}


def test_a_fact_that_the_vehicle_file_does_not_state_is_a_question(tmp_path):
    case = Case(tmp_path).facts(link="LIN")
    case.item().match("stages", 2)
    (item,) = case.plan().items
    assert item.conflicts == ()
    assert [question.fact for question in item.questions] == ["stages"]
    assert item.verdict == "unproven"


@pytest.mark.parametrize(
    ("year", "found"),
    [(2018, ["module-absent"]), (2019, []), (2020, []), (2021, ["module-absent"])],
)
def test_a_required_module_must_be_on_this_years_vehicle(tmp_path, year, found):
    case = Case(tmp_path, year).module("gateway", years=[2019, 2020])
    case.item().require("gateway")
    assert conflicts(case) == {"part": found}


def test_a_required_module_must_be_in_the_vehicle_file(tmp_path):
    case = Case(tmp_path).module("gateway")
    case.item("fits").require("gateway")
    case.item("fails").require("radio")
    assert conflicts(case) == {"fits": [], "fails": ["module-absent"]}
