"""What cannot be planned is an error of one line that names the file, the place and what would be right."""

from __future__ import annotations

import pytest

import netcheck
from tests.acceptance.cases import LEVER, Case, during, every, lever_case

GEARS = during(2.0, 5.0, "01000000", "00000000")


def refused(case):
    """The one line of the error that planning ends with."""
    with pytest.raises(netcheck.InputError) as caught:
        case.plan()
    text = str(caught.value)
    assert "\n" not in text
    return text


@pytest.mark.parametrize("year", [2016, 2023])
def test_a_model_year_outside_the_vehicles_span(tmp_path, year):
    case = lever_case(tmp_path)
    case.year = year
    text = refused(case)
    assert "van.job.toml" in text
    assert str(year) in text


@pytest.mark.parametrize("year", [2017, 2022])
def test_the_first_and_the_last_year_are_inside(tmp_path, year):
    case = lever_case(tmp_path)
    case.year = year
    assert case.plan().model_year == year


def test_a_declared_channel_that_the_capture_does_not_have(tmp_path):
    case = lever_case(tmp_path)
    case.log(channels={"can7": "body"}).send(LEVER, every(0.1), GEARS)
    text = refused(case)
    assert "can7" in text
    assert "can0" in text


def test_a_channel_declared_as_an_unknown_network(tmp_path):
    case = lever_case(tmp_path)
    case.log(channels={"can0": "bodies"})
    text = refused(case)
    assert "bodies" in text
    assert "body" in text.replace("bodies", "")


def test_an_item_on_an_unknown_network(tmp_path):
    case = Case(tmp_path)
    case.item(network="bodies")
    assert "bodies" in refused(case)


def test_an_item_that_supplies_something_needs_a_network(tmp_path):
    case = Case(tmp_path)
    case.item(network=None).supply("park.left")
    assert "network" in refused(case)
    case.items[0].network = "body"
    assert case.plan().verdict == "go"


@pytest.mark.parametrize("span", [(10.5, 11.0), (60.0, 63.0)])
def test_a_mark_wholly_outside_its_capture(tmp_path, span):
    case = lever_case(tmp_path)
    case.log().send(LEVER, every(0.1), GEARS).mark("reverse", *span)
    assert "mark" in refused(case)


def test_a_mark_with_a_label_that_the_signal_does_not_have(tmp_path):
    case = lever_case(tmp_path)
    case.log().send(LEVER, every(0.1), GEARS).mark("reverse", 2.0, 5.0, "backwards")
    assert "backwards" in refused(case)


def test_a_coding_value_with_a_label_that_the_field_does_not_have(tmp_path):
    case = Case(tmp_path).module("gateway")
    case.block("gateway", 0x0600, 1, park={"byte": 0, "width": 1, "values": {0: "absent", 1: "fitted"}})
    case.item().code("gateway", "park", "installed")
    assert "installed" in refused(case)


def test_a_capture_that_is_gone(tmp_path):
    case = lever_case(tmp_path)
    log = case.log()
    log.entry["file"] = "gone.log"
    assert "gone.log" in refused(case)


def test_a_key_that_no_file_has(tmp_path):
    case = lever_case(tmp_path)
    case.role("other", "body LeverStatus Gear", actives=["R"])
    text = refused(case)
    assert "van.vehicle.toml" in text
    assert "actives" in text
