"""The page of a job says what plan, sheet and proof say."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

import netcheck
from netcheck.plan import make_plan
from netcheck.prove import prove
from netcheck.report import step_text
from netcheck.report.viewing import due_steps, plan_json, prove_json
from tests.page.checked import read
from tests.page.made import demo_page
from tests.page.tree import Element
from tests.test_demo import SAMPLE_LOGS


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    return tmp_path_factory.mktemp("pages")


def page_of(folder: Path, job: str) -> Element:
    return read(demo_page(folder, job))


def plan_of(job: str):
    return make_plan(netcheck.load_job(SAMPLE_LOGS / f"{job}.job.toml"))


def one_line(text: str) -> str:
    return " ".join(text.split())


@pytest.mark.parametrize(
    "job", ["puffin_2020_park_and_cruise", "gannet_2019_bumper_kit", "petrel_2017_cruise"]
)
def test_the_first_part_says_what_the_plan_says(folder: Path, job: str) -> None:
    page, told = page_of(folder, job), plan_json(plan_of(job))
    verdict = page.one("section", id="verdict").whole_text
    for item in told["items"]:
        assert one_line(item["title"]) in verdict
        for entry in (*item["conflicts"], *item["questions"]):
            assert one_line(entry["text"]) in verdict
    following = page.one("section", id="next").whole_text
    assert all(one_line(text) in following for text in told["next"])
    needs = page.one("section", id="needs").whole_text
    for item in told["items"]:
        for need in item["needs"]:
            assert need["role"] in needs
            assert one_line(need["seen"]) in needs


def test_the_networks_are_drawn(folder: Path) -> None:
    drawing = page_of(folder, "puffin_2020_park_and_cruise").one("section", id="networks").one("svg")
    text = drawing.whole_text
    assert "Front and rear park-distance sensors" in text
    assert "comfort" in text


def test_every_step_that_is_due_has_its_box_and_no_other(folder: Path) -> None:
    plan = plan_of("puffin_2020_park_and_cruise")
    due, _ = due_steps(plan)
    work = page_of(folder, "puffin_2020_park_and_cruise").one("section", id="work")
    steps = [one for one in work.all("li") if (one.attributes["class"] or "").startswith("step")]
    assert len(steps) == len(due)
    for step, element in zip(due, steps, strict=True):
        text = element.whole_text
        for word in step_text(step.action).replace("_", " ").replace("[ ]", " ").split():
            assert word.strip(".,;:") in text
        box = [one for one in element.children if one.tag == "input"]
        assert bool(box) is not step.caution
    keys = [one.attributes["data-keep"] for one in work.all("input")]
    assert len(keys) == len(set(keys))


def test_coding_shows_old_and_new_bits(folder: Path) -> None:
    plan = plan_of("puffin_2020_park_and_cruise")
    coding = page_of(folder, "puffin_2020_park_and_cruise").one("section", id="coding")
    tables = [one for one in coding.all("table") if one.attributes["class"] == "bytes"]
    assert len(tables) == len(plan.writes)
    for write, table in zip(plan.writes, tables, strict=True):
        old, new = (row for row in table.one("tbody").all("tr"))
        assert "".join(cell.text for cell in old.all("td")) == write.before
        shown = "".join(cell.text + "".join(bold.text for bold in cell.all("b")) for cell in new.all("td"))
        assert shown == write.after
    changed = sum(
        write.before[at : at + 2] != write.after[at : at + 2]
        for write in plan.writes
        for at in range(0, len(write.before), 2)
    )
    bits = [one for one in coding.all("table") if one.attributes["class"] == "bits"]
    assert len(bits) == changed
    for table in bits:
        old, new = (row.all("td") for row in table.one("tbody").all("tr"))
        flips = [one.attributes.get("class") == "changed" for one in new]
        before = [cell.text for cell in old]
        after = [cell.text or cell.all("b")[0].text for cell in new]
        assert flips == [a != b for a, b in zip(before, after, strict=True)]
        assert any(flips)


def test_after_the_fitting_the_proof_stands_beside_the_plan(folder: Path) -> None:
    job = "guillemot_2021_camera_fitted"
    page, told = page_of(folder, job), prove_json(prove(netcheck.load_job(SAMPLE_LOGS / f"{job}.job.toml")))
    assert "PASS WITH NOTES" in page.one("section", id="verdict").whole_text
    after = page.one("section", id="after").whole_text
    for entry in (*told["changes"], *told["planned"], *told["notes"]):
        assert one_line(entry["text"]) in after
    needs = page.one("section", id="needs").whole_text
    assert told["needs"][0]["latencies"][0]["text"] in needs
    strips = page.one("section", id="needs").all("svg")
    assert len(strips) == 8
    assert "before fitting, 64 s of guillemot_2021_conversion.log: 6 changes, 3 marks" in [
        strip.attributes["aria-label"] for strip in strips
    ]


def test_a_failed_proof_stands_before_the_plan(folder: Path) -> None:
    page = page_of(folder, "fulmar_2022_camera_fitted")
    verdict = page.one("section", id="verdict").whole_text
    assert verdict.index("FAIL – do not hand over") < verdict.index("Before fitting: GO")
    assert "2 of 4 needs shown." in verdict
    after = page.one("section", id="after").whole_text
    assert "later: see above" in after  # the time to sleep: it did not end, and was compared all the same
    assert "1 of 1 mark answered" in after
    following = [one.whole_text for one in page.one("section", id="next").all("li")]
    assert following[0].startswith("comfort: Measure the current with the vehicle asleep")
    assert following[-1] == "Then compare again: netcheck prove."
    assert not any("Fit reversing-camera" in text for text in following)


def test_a_passed_proof_asks_to_hand_over(folder: Path) -> None:
    page = page_of(folder, "guillemot_2021_camera_fitted")
    (text,) = [one.whole_text for one in page.one("section", id="next").all("li")]
    assert text == "Hand the vehicle over, by the last stage of the work order. Read the notes first."


def test_another_van_is_told_first_and_nothing_is_called_proven(folder: Path) -> None:
    page = page_of(folder, "gannet_2019_dash_camera_fitted")
    assert "ANOTHER VEHICLE" in page.one("section", id="verdict").whole_text
    after = page.one("section", id="after").whole_text
    assert "other-vehicle" in after
    assert "shown" not in after


def test_without_captures_from_after_nothing_is_compared(folder: Path) -> None:
    page = page_of(folder, "puffin_2020_park_and_cruise")
    assert page.all("section", id="after") == []
    assert "Nothing is proven yet" in page.one("section", id="verdict").whole_text


def test_the_charts_have_rows_marks_and_frames(folder: Path) -> None:
    page = page_of(folder, "guillemot_2021_camera_fitted")
    data = json.loads(page.one("script", type="application/json").text)
    buttons = [one for one in page.all("button") if "data-signal" in one.attributes]
    assert {one.attributes["data-signal"] for one in buttons} == set(data["signals"])
    signal = data["signals"]["reverse-engaged@conversion"]
    assert [run["when"] for run in signal["runs"]] == ["before", "after"]
    run = signal["runs"][0]
    assert run["marks"] == [[5.0, 8.0, "active"], [11.0, 14.0, "active"], [17.0, 20.0, "active"]]
    assert len(run["t"]) == len(run["v"]) == 8
    assert sum(run["t"]) / 10_000 == pytest.approx(run["seconds"], abs=0.2)
    assert len(run["frames"]) == 14
    assert [entry["network"] for entry in data["load"]] == ["conversion"]
