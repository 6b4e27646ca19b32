"""Resources that parts give each other: what is missing, what is asked, and what waits for another part."""

from __future__ import annotations

from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from netcheck.catalogue import load_job
from netcheck.plan import make_plan
from tests.acceptance.cases import Case, conflicts, questions

ORDER = ("go", "go-with-changes", "unproven", "no-go")


def verdicts(case: Case) -> dict[str, str]:
    return {item.retrofit: str(item.verdict) for item in case.plan().items}


def camera_case(folder: Path) -> Case:
    """A camera that shows its picture on the head unit of the same job."""
    case = Case(folder)
    case.item("head-unit").provide("video-in")
    case.item("camera").use("video-in", why="its picture")
    return case


def test_a_part_takes_what_another_gives(tmp_path):
    case = camera_case(tmp_path)
    assert verdicts(case) == {"head-unit": "go", "camera": "go"}
    [balance] = case.plan().resources
    assert (balance.available, balance.needed, balance.gap) == (1, 1, 0)


def test_a_part_takes_what_the_vehicle_has(tmp_path):
    case = Case(tmp_path).facts(**{"resource.video-in": 1})
    case.item("camera").use("video-in")
    assert verdicts(case) == {"camera": "go"}


def test_what_nobody_states_is_a_question(tmp_path):
    case = Case(tmp_path)
    case.item("camera").use("video-in")
    assert verdicts(case) == {"camera": "unproven"}
    assert questions(case) == {"camera": ["resource"]}
    assert case.plan().items[0].questions[0].subject == "video-in"


def test_what_nobody_states_counts_as_none_once_a_part_gives_it(tmp_path):
    case = camera_case(tmp_path)
    case.item("second").use("video-in")
    assert conflicts(case) == {
        "head-unit": [],
        "camera": ["resource-missing"],
        "second": ["resource-missing"],
    }
    assert questions(case) == {"head-unit": [], "camera": [], "second": []}


def test_a_vehicle_without_it_is_a_conflict(tmp_path):
    case = Case(tmp_path).facts(**{"resource.video-in": 0})
    case.item("camera").use("video-in")
    assert conflicts(case) == {"camera": ["resource-missing"]}


def test_an_optional_use_neither_takes_nor_asks(tmp_path):
    case = camera_case(tmp_path)
    case.item("second").use("video-in", optional=True)
    case.item("third").use("projection", optional=True)
    assert set(verdicts(case).values()) == {"go"}


def test_the_vehicles_own_goes_away_with_what_replaces_it(tmp_path):
    case = Case(tmp_path).facts(**{"resource.video-in": 1})
    case.item("head-unit").replace(resource="video-in")
    case.item("camera").use("video-in")
    assert conflicts(case) == {"head-unit": [], "camera": ["resource-missing"]}
    case.items[0].provide("video-in")
    assert set(verdicts(case).values()) == {"go"}


@pytest.mark.parametrize(("module", "verdict"), [("gone", "no-go"), (None, "unproven")])
def test_a_part_waits_for_the_one_that_gives_it_what_it_takes(tmp_path, module, verdict):
    case = camera_case(tmp_path)
    case.item("recorder").use("camera-picture")
    case.items[1].provide("camera-picture")
    if module:
        case.items[0].require(module)
    else:
        case.items[0].match("screen.size", "9 inch")
    assert verdicts(case) == {"head-unit": verdict, "camera": "unproven", "recorder": "unproven"}
    waits = case.plan().items[1].waits
    assert [(wait.resource, wait.needed, wait.ready) for wait in waits] == [("video-in", 1, 0)]
    assert [(name, str(found)) for name, found in waits[0].givers] == [("head-unit", verdict)]


def test_a_part_does_not_wait_where_the_vehicle_has_enough(tmp_path):
    case = camera_case(tmp_path).facts(**{"resource.video-in": 1})
    case.items[0].require("gone")
    assert verdicts(case) == {"head-unit": "no-go", "camera": "go"}


def test_two_that_want_the_last_one_are_told(tmp_path):
    """Each alone has enough of what is ready: no verdict says so, a note does."""
    case = camera_case(tmp_path).facts(**{"resource.video-in": 1})
    case.item("second").use("video-in")
    case.items[0].require("gone")
    plan = case.plan()
    assert [[type(note).__name__ for note in item.notes] for item in plan.items] == [
        [],
        ["ResourceContested"],
        ["ResourceContested"],
    ]


NAMES = ("video-in", "port", "lin-way")


@st.composite
def jobs(draw: st.DrawFn) -> tuple[dict[str, int], list[tuple[str, dict[str, int], dict[str, int]]]]:
    """Facts, and parts as (verdict without resources, what they give, what they take)."""
    counts = st.dictionaries(st.sampled_from(NAMES), st.integers(1, 3), max_size=2)
    facts = draw(st.dictionaries(st.sampled_from(NAMES), st.integers(0, 3), max_size=3))
    part = st.tuples(st.sampled_from(("go", "unproven", "no-go")), counts, counts)
    return facts, draw(st.lists(part, min_size=1, max_size=5))


@settings(max_examples=60, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(job=jobs())
def test_verdicts_are_as_the_rules_say(tmp_path_factory, job):
    """Against the rules in their own words, as sets and sums."""
    facts, parts = job
    case = Case(tmp_path_factory.mktemp("job")).facts(**{f"resource.{name}": n for name, n in facts.items()})
    for number, (verdict, gives, takes) in enumerate(parts):
        item = case.item(f"part-{number}")
        if verdict == "unproven":
            item.match("never-stated", 1)
        if verdict == "no-go":
            item.require("gone")
        for name, count in gives.items():
            item.provide(name, count)
        for name, count in takes.items():
            item.use(name, count)
    plan = make_plan(load_job(case.write()), cache=False)
    assert [str(item.verdict) for item in plan.items] == ruled(facts, parts)


def ruled(facts: dict[str, int], parts: list[tuple[str, dict[str, int], dict[str, int]]]) -> list[str]:
    found = [verdict for verdict, _, _ in parts]
    for number, (_, _, takes) in enumerate(parts):
        for name in takes:
            given = sum(gives.get(name, 0) for _, gives, _ in parts)
            if name not in facts and not given:
                found[number] = max(found[number], "unproven", key=ORDER.index)
            elif sum(part[2].get(name, 0) for part in parts) > facts.get(name, 0) + given:
                found[number] = "no-go"
    while True:
        ready = {
            name: facts.get(name, 0)
            + sum(
                gives.get(name, 0)
                for (_, gives, _), verdict in zip(parts, found, strict=True)
                if ORDER.index(verdict) < ORDER.index("unproven")
            )
            for name in NAMES
        }
        lowered = [
            max(verdict, "unproven", key=ORDER.index)
            if any(count > ready[name] for name, count in takes.items())
            else verdict
            for (_, _, takes), verdict in zip(parts, found, strict=True)
        ]
        if lowered == found:
            return found
        found = lowered
