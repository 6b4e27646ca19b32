"""Slips in names and numbers of the files: the plan says what is there instead."""

from __future__ import annotations

import pytest

from netcheck.report import advice, finding_next, finding_text, seen_text, warning_text
from tests.acceptance.cases import BODY_DBC, Case


def warnings(case: Case) -> tuple[str, ...]:
    return tuple(map(warning_text, case.plan().warnings))


@pytest.mark.parametrize(
    ("place", "more", "seen"),
    [
        ("body LeverStatu Gear", {}, "no message LeverStatu (it has LeverStatus)"),
        ("body LeverStatus Gaer", {}, "no signal Gaer in LeverStatus (it has Gear)"),
        ("body LeverStatus Gear", {"counter": "Trun"}, "no counter Trun in LeverStatus (it has Turn)"),
        ("body LeverStatus Clutch", {}, "no signal Clutch in LeverStatus"),
    ],
)
def test_what_the_dbc_has_instead_is_named(tmp_path, place, more, seen):
    case = Case(tmp_path).role("reverse", place, **more)
    case.item().need("reverse")
    need = case.need()
    assert seen_text(need) == f"the DBC of body has {seen}"
    assert str(advice(need)) == "Correct role.reverse in the vehicle file, or give a DBC of body that has it."


def test_a_role_much_like_it_is_named(tmp_path):
    case = Case(tmp_path).role("reverse-engaged", "body LeverStatus Gear")
    case.item().need("reverse-engagd")
    need = case.need()
    assert seen_text(need).endswith("maps no reverse-engagd for this model year (it has reverse-engaged)")
    assert "(or correct the name in the retrofit file)" in str(advice(need))


def test_a_role_beside_it_is_not_taken_for_it(tmp_path):
    case = Case(tmp_path).role("park.rear-left-outer", "body LeverStatus Gear")
    case.item().need("park.rear-left-inner")
    assert seen_text(case.need()).endswith("for this model year")


def test_modules_and_fields_that_are_there_are_named(tmp_path):
    case = Case(tmp_path).module("hub").block("hub", 0x3001, 1, bell={"byte": 0})
    case.item().require("gateway").code("hub", "bel", 1).code("hubb", "bell", 1)
    absent, *undefined = case.plan().items[0].conflicts
    assert finding_next(absent)[0].startswith("Fit module gateway first")
    assert "(it has hub)" in " ".join(finding_next(absent))
    assert ["(it has bell)" in finding_text(entry) for entry in undefined] == [True, False]
    assert "no module hubb (it has hub)" in finding_text(undefined[1])


@pytest.mark.parametrize("key", ["active", "not_available"])
@pytest.mark.parametrize(("number", "fits"), [(16, False), (15, True), (0, True), (-1, False)])
def test_a_number_that_no_frame_can_hold_is_told(tmp_path, key, number, fits):
    case = Case(tmp_path).role("turn", "body LeverStatus Turn", **{key: [number]})
    case.item().need("turn")
    told = f"van.vehicle.toml: role.turn: {key}: {number} does not fit the 4 bit of LeverStatus.Turn, 0 to 15"
    assert [warning.startswith(told) for warning in warnings(case)] == ([] if fits else [True])


def test_a_signed_signal_holds_negative_numbers(tmp_path):
    case = Case(tmp_path).role("turn", "body LeverStatus Turn", active=[-8, -9, 7, 8])
    case.dbc["body"] = BODY_DBC.replace("Turn : 8|4@1+", "Turn : 8|4@1-")
    case.item().need("turn")
    assert [warning.split("active: ")[1] for warning in warnings(case)] == [
        "-9 does not fit the 4 signed bit of LeverStatus.Turn, -8 to 7, so it never counts",
        "8 does not fit the 4 signed bit of LeverStatus.Turn, -8 to 7, so it never counts",
    ]


def test_two_entries_for_one_network_and_year_are_told(tmp_path):
    case = Case(tmp_path, year=2019).role("reverse", "body LeverStatus Gear", years=[2017, 2019])
    case.role("reverse", "body DoorStatus Open", years=[2019, 2022])
    case.role("reverse", "drive BrakeStatus Pressed")
    case.item().need("reverse")
    assert warnings(case) == (
        "van.vehicle.toml: role.reverse: 2 entries on body in model year 2019: the first counts, "
        "LeverStatus.Gear",
    )
    case.year = 2020
    assert warnings(case) == ()


@pytest.mark.parametrize(
    ("module", "told"),
    [
        ({"node": "RADIO"}, None),
        ({"node": "RADOI"}, "module.radio.node: no message of the DBC files is sent by RADOI"),
        ({}, "module.radio has no node"),
    ],
)
def test_a_replaced_module_whose_messages_are_not_known_is_told(tmp_path, module, told):
    case = Case(tmp_path).module("radio", **module).module("column", node="NOBODY")
    case.item().replace(module="radio")
    found = warnings(case)
    assert [warning.startswith(f"van.vehicle.toml: {told}") for warning in found] == ([True] if told else [])


@pytest.mark.parametrize(("bit", "told"), [(0, True), (1, True), (2, False)])
def test_fields_that_share_bits_with_one_to_be_coded_are_told(tmp_path, bit, told):
    one, other = {"byte": 0, "bit": 0, "width": 2}, {"byte": 0, "bit": bit, "width": 1}
    case = Case(tmp_path).module("hub").block("hub", 0x3001, 1, bell=one, lamp=other)
    case.item().code("hub", "bell", 1)
    line = (
        "van.vehicle.toml: module.hub.coding.0x3001: bell has bits in common with lamp: "
        "coding it changes that too"
    )
    assert warnings(case) == ((line,) if told else ())


def test_fields_that_nobody_codes_may_share_bits(tmp_path):
    field = {"byte": 0, "bit": 0, "width": 2}
    case = Case(tmp_path).module("hub").block("hub", 0x3001, 1, bell=field, lamp=field)
    case.item().need("reverse", optional=True)
    assert warnings(case) == ()
