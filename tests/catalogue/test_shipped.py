"""What ships: every retrofit complete, safe to work by, and in the vocabulary."""

from __future__ import annotations

import re

import pytest

from netcheck.catalogue import load_retrofit, modules, resources, roles, shipped, shipped_retrofit_path
from netcheck.files import Fact, Retrofit, applying

NAMES = (
    "amplifier",
    "cruise-stalk",
    "dash-camera",
    "head-unit",
    "media-socket",
    "park-distance",
    "reversing-camera",
    "wheel-buttons",
)
RETROFITS = {name: load_retrofit(name)[0] for name in NAMES}

each = pytest.mark.parametrize("retrofit", RETROFITS.values(), ids=RETROFITS)


def needed(retrofit: Retrofit, *, optional: bool = False) -> set[str]:
    return {need.role for need in retrofit.need if need.optional == optional}


def test_the_eight_are_shipped() -> None:
    assert shipped() == NAMES


@each
def test_the_name_is_that_of_the_file(retrofit: Retrofit) -> None:
    assert shipped_retrofit_path(retrofit.name).name == f"{retrofit.name}.retrofit.toml"
    assert retrofit.title


@each
def test_every_role_is_of_the_vocabulary(retrofit: Retrofit) -> None:
    supplied = {role for supply in retrofit.supply for role in supply.roles}
    replaced = {entry.role for entry in retrofit.replace if entry.role}
    shown = {exercise.role for exercise in retrofit.exercise}
    assert needed(retrofit) | needed(retrofit, optional=True) | supplied | replaced | shown <= set(roles())


@each
def test_every_module_is_of_the_vocabulary(retrofit: Retrofit) -> None:
    named = {
        *(entry.module for entry in retrofit.replace if entry.module),
        *(entry.module for entry in retrofit.require),
        *(entry.module for entry in retrofit.code),
        *(need.used_by for need in retrofit.need if need.used_by),
    }
    assert named <= set(modules())


@each
def test_every_need_has_a_reason_and_an_exercise(retrofit: Retrofit) -> None:
    shown = {exercise.role for exercise in retrofit.exercise}
    for need in retrofit.need:
        assert need.why, need.role
        assert need.role in shown, need.role
    assert len(retrofit.exercise) == len({(exercise.role, exercise.state) for exercise in retrofit.exercise})


@each
def test_what_it_supplies_can_be_shown(retrofit: Retrofit) -> None:
    shown = {exercise.role for exercise in retrofit.exercise}
    assert {role for supply in retrofit.supply for role in supply.roles} <= shown


@each
def test_the_trade_cannot_say_the_ids_of_a_part(retrofit: Retrofit) -> None:
    assert [supply.message_id for supply in retrofit.supply if supply.message_id is not None] == []


@each
def test_matches_requirements_and_coding_say_why(retrofit: Retrofit) -> None:
    for entry in (*retrofit.match, *retrofit.require, *retrofit.code):
        assert entry.why


@each
def test_hand_work_in_phases(retrofit: Retrofit) -> None:
    phases = [step.phase for step in retrofit.step]
    order = ["before", "fit", "code", "prove"]
    assert phases == sorted(phases, key=order.index)
    assert {"before", "fit", "prove"} <= set(phases)


@each
def test_the_cautions_that_every_one_has(retrofit: Retrofit) -> None:
    text = " ".join(retrofit.cautions).lower()
    for words in ("airbag", "battery", "local rules", "licence"):
        assert words in text, words


@pytest.mark.parametrize("name", ["wheel-buttons", "cruise-stalk"])
def test_work_on_the_steering_wheel_is_for_licensed_people(name: str) -> None:
    text = " ".join(RETROFITS[name].cautions)
    assert "licensed for airbags" in text
    assert "wait as long as the vehicle maker says" in text


@pytest.mark.parametrize(
    "name", ["head-unit", "media-socket", "reversing-camera", "wheel-buttons", "dash-camera"]
)
def test_screens_and_menus_warn_of_distraction(name: str) -> None:
    assert any(caution.startswith("Driver distraction") for caution in RETROFITS[name].cautions)


def test_cruise_control_warns_of_motion() -> None:
    assert RETROFITS["cruise-stalk"].cautions[0].startswith("Motion control")


@each
def test_exercises_that_could_move_the_vehicle_say_how_not_to(retrofit: Retrofit) -> None:
    for exercise in retrofit.exercise:
        words = exercise.do.lower()
        if re.search(r"\bstart\b(?!ing)", words):
            assert "exhaust" in words, exercise.do
            assert "nobody" in words, exercise.do
        if re.search(r"select(ed)? reverse|reverse selected|clutch pedal", words):
            assert "wheels chocked" in words, exercise.do
            assert "engine off" in words, exercise.do
        if "km/h" in words and exercise.role != "cruise.set-speed":
            assert "two people" in words, exercise.do
            assert "allowed" in words, exercise.do
        if "park brake off" in words:
            assert "wheels chocked" in words, exercise.do
        if "board" in words:
            assert "second person" in words, exercise.do


def test_the_same_exercise_has_the_same_words_everywhere() -> None:
    """Items of one job share a capture; two wordings of one exercise would be done twice."""
    words: dict[str, set[str]] = {}
    for retrofit in RETROFITS.values():
        for exercise in retrofit.exercise:
            words.setdefault(exercise.role, set()).add(exercise.do)
    assert [role for role, texts in words.items() if len(texts) > 1] == []


def test_what_decides_each() -> None:
    """Needs that no part of the kind can do without; what only some vehicles have is optional."""
    assert needed(RETROFITS["cruise-stalk"]) == {
        "brake-pedal",
        "clutch-pedal",
        "vehicle-speed",
        "engine-running",
    }
    assert needed(RETROFITS["park-distance"]) == {"reverse-engaged", "vehicle-speed"}
    assert needed(RETROFITS["reversing-camera"]) == {"reverse-engaged"}
    assert needed(RETROFITS["wheel-buttons"]) == {"terminal-15", "illumination"}
    assert needed(RETROFITS["head-unit"]) == {
        "terminal-15",
        "vehicle-speed",
        "park-brake",
        "reverse-engaged",
        "illumination",
    }
    assert needed(RETROFITS["media-socket"]) == {"vehicle-speed"}
    assert needed(RETROFITS["dash-camera"]) == needed(RETROFITS["amplifier"]) == set()
    assert "trailer-coupled" in needed(RETROFITS["park-distance"], optional=True)
    assert "steering-angle" in needed(RETROFITS["reversing-camera"], optional=True)
    assert "s-contact" in needed(RETROFITS["head-unit"], optional=True)


def test_what_ends_cruise_control_must_reach_the_engine_module_within_a_tenth_of_a_second() -> None:
    for need in RETROFITS["cruise-stalk"].need:
        if need.role in {"brake-pedal", "clutch-pedal"}:
            assert (need.evidence, need.max_delay_ms, need.used_by) == ("answers", 100, "engine")
            assert need.max_gap_ms is not None


def test_an_automatic_vehicle_needs_no_clutch() -> None:
    def roles_of(facts: dict[str, Fact]) -> set[str]:
        found = applying(RETROFITS["cruise-stalk"], facts)
        return {entry.role for entry in (*found.needs, *found.exercises)}

    assert "clutch-pedal" not in roles_of({"gearbox": "automatic"})
    assert "clutch-pedal" in roles_of({"gearbox": "manual"})
    assert "clutch-pedal" in roles_of({})


@each
def test_a_signal_is_not_taken_for_lost_before_a_change_of_it_is_late(retrofit: Retrofit) -> None:
    for need in retrofit.need:
        if need.max_gap_ms is not None:
            assert need.max_delay_ms is not None, need.role
            assert need.max_gap_ms > need.max_delay_ms, need.role


def test_the_camera_picture_has_two_seconds() -> None:
    """49 CFR 571.111 S5.5.3: image within 2.0 s of the start of the backing event."""
    (reverse,) = (need for need in RETROFITS["reversing-camera"].need if need.role == "reverse-engaged")
    assert reverse.evidence == "answers"
    assert reverse.max_delay_ms is not None
    assert reverse.max_delay_ms < 2000
    assert any("2.0 s" in step.text for step in RETROFITS["reversing-camera"].step if step.phase == "prove")


def test_what_goes_away() -> None:
    assert [entry.role for entry in RETROFITS["wheel-buttons"].replace] == [
        "trip.up",
        "trip.down",
        "trip.reset",
    ]
    assert [entry.module for entry in RETROFITS["head-unit"].replace if entry.module] == ["radio"]


@each
def test_every_resource_is_of_the_vocabulary(retrofit: Retrofit) -> None:
    named = {
        *(entry.resource for entry in (*retrofit.provide, *retrofit.use)),
        *(entry.resource for entry in retrofit.replace if entry.resource),
        *(resource for entry in retrofit.exclude for resource in entry.resources),
    }
    assert named <= set(resources())
    assert all(entry.why for entry in (*retrofit.use, *retrofit.exclude))


def test_what_goes_away_with_the_radio_comes_again_with_the_head_unit() -> None:
    head_unit = RETROFITS["head-unit"]
    gone = {entry.resource for entry in head_unit.replace if entry.resource}
    assert gone
    assert gone <= {entry.resource for entry in head_unit.provide}
