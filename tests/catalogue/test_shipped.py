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
    "parking-switch",
    "projection-usb",
    "reversing-camera",
    "sound-deadening",
    "speakers",
    "wheel-buttons",
)
DANGERS = {
    *("airbag", "battery", "distraction", "fire", "hearing", "heat", "high-voltage", "jack", "law"),
    *("motion", "solvents", "supply", "tools"),
}
RETROFITS = {name: load_retrofit(name)[0] for name in NAMES}

each = pytest.mark.parametrize("retrofit", RETROFITS.values(), ids=RETROFITS)


def needed(retrofit: Retrofit, *, optional: bool = False) -> set[str]:
    return {need.role for need in retrofit.need if need.optional == optional}


def dangers(retrofit: Retrofit, danger: str) -> str:
    """All that is said of a danger."""
    return " ".join(entry.text for entry in retrofit.caution if entry.danger == danger)


def test_the_twelve_are_shipped() -> None:
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
    order = ["before", "fit", "code", "prove", "handover"]
    assert phases == sorted(phases, key=order.index)
    assert {"before", "fit", "prove", "handover"} <= set(phases)
    assert len(retrofit.step) == len({(step.text, step.only_if) for step in retrofit.step})


@each
def test_the_cautions_that_every_one_has(retrofit: Retrofit) -> None:
    assert retrofit.cautions == ()  # each danger at the step that it guards, no wall at the top
    for danger in ("airbag", "battery", "high-voltage", "supply", "motion", "law"):
        assert dangers(retrofit, danger), danger
    assert "trained and licensed for airbags" in dangers(retrofit, "airbag")
    assert "Local rules come first" in dangers(retrofit, "law")
    assert "licence" in dangers(retrofit, "law")
    assert "Isolate each one" in dangers(retrofit, "supply")
    assert "orange leads" in dangers(retrofit, "high-voltage")


def test_dangers_have_one_name_each() -> None:
    """Cautions of one danger stand together, so a second name would tear them apart."""
    named = {entry.danger for retrofit in RETROFITS.values() for entry in retrofit.caution}
    assert named == DANGERS


@each
def test_where_it_drills_glues_or_lifts_it_says_how(retrofit: Retrofit) -> None:
    """By the words of its steps: each kind of work brings its danger."""
    text = " ".join(step.text for step in retrofit.step if step.phase == "fit").lower()
    for words, danger in ((r"\bdrill", "tools"), (r"\bcure\b", "solvents"), (r"heat-shrink", "heat")):
        if re.search(words, text):
            assert dangers(retrofit, danger), danger
    if re.search(r"under (a|the) seat", text):
        assert "occupant sensing" in dangers(retrofit, "airbag")


@each
def test_what_drives_is_said_to_drive(retrofit: Retrofit) -> None:
    """The order of work puts the caution for yard and road before such steps, in every retrofit.

    The yard is for walking pace, with a second person outside: nothing faster may stand there.
    """
    for exercise in retrofit.exercise:
        assert (exercise.where == "road") == ("km/h" in exercise.do), exercise.do
    for step in retrofit.step:
        if step.phase != "prove":
            continue
        words = step.text.lower()
        if re.search(r"km/h|ready and holding|\bdriving[:,]|\bover a rough road", words):
            assert step.where == "road", step.text
        if "walking pace" in words:
            assert step.where == "yard", step.text
        if step.where == "yard":
            assert "walking pace" in words, step.text
        if re.search(r"engine idling|blower and engine running|\bstart the engine\b", words):
            assert step.where == "engine", step.text
            assert "exhaust extraction" in words or "outdoors" in words, step.text


@each
def test_wiring_is_done_with_the_power_off(retrofit: Retrofit) -> None:
    """So that the order of work cuts the power at all."""
    assert any(step.power == "off" for step in retrofit.step if step.phase == "fit")


@pytest.mark.parametrize("name", ["wheel-buttons", "cruise-stalk"])
def test_work_on_the_steering_wheel_is_for_licensed_people(name: str) -> None:
    text = dangers(RETROFITS[name], "airbag")
    assert "licensed for airbags" in text
    assert "wait as long as the vehicle maker says" in text


@pytest.mark.parametrize(
    "name",
    ["head-unit", "media-socket", "reversing-camera", "wheel-buttons", "dash-camera", "projection-usb"],
)
def test_screens_and_menus_warn_of_distraction(name: str) -> None:
    assert dangers(RETROFITS[name], "distraction").startswith("Driver distraction")


def test_cruise_control_warns_of_motion() -> None:
    assert dangers(RETROFITS["cruise-stalk"], "motion").startswith("Motion control")


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
    assert needed(RETROFITS["park-distance"]) == {
        "reverse-engaged",
        "vehicle-speed",
        "trailer-coupled",  # with a tow bar
    }
    assert needed(RETROFITS["reversing-camera"]) == {"reverse-engaged"}
    assert needed(RETROFITS["wheel-buttons"]) == {"terminal-15", "illumination"}
    assert needed(RETROFITS["head-unit"]) == {
        "terminal-15",
        "vehicle-speed",
        "park-brake",  # with a manual gearbox
        "selector-park",  # with an automatic one
        "reverse-engaged",
        "illumination",
    }
    assert needed(RETROFITS["media-socket"]) == {"vehicle-speed", "park-brake", "selector-park"}
    assert needed(RETROFITS["dash-camera"]) == needed(RETROFITS["amplifier"]) == set()
    for name in ("parking-switch", "projection-usb", "sound-deadening", "speakers"):
        assert needed(RETROFITS[name]) == set()
    assert "steering-angle" in needed(RETROFITS["reversing-camera"], optional=True)
    assert "s-contact" in needed(RETROFITS["head-unit"], optional=True)


def test_what_ends_cruise_control_must_reach_the_engine_module_within_a_tenth_of_a_second() -> None:
    for need in RETROFITS["cruise-stalk"].need:
        if need.role in {"brake-pedal", "clutch-pedal"}:
            assert (need.evidence, need.max_delay_ms, need.used_by) == ("answers", 100, "engine")
            assert need.max_gap_ms is not None
        if need.role in {"vehicle-speed", "stability-intervening"}:
            assert (need.max_delay_ms, need.used_by) == (100, "engine")


def test_nothing_tells_to_relax_a_release_signal() -> None:
    text = dangers(RETROFITS["cruise-stalk"], "motion")
    assert "Never bridge, delay or simulate a brake, clutch or stability signal" in text
    assert "revert the coding" in text


@pytest.mark.parametrize(
    ("name", "role", "fact", "with_it", "without"),
    [
        ("cruise-stalk", "clutch-pedal", "gearbox", "manual", "automatic"),
        ("head-unit", "park-brake", "gearbox", "manual", "automatic"),
        ("head-unit", "selector-park", "gearbox", "automatic", "manual"),
        ("media-socket", "park-brake", "gearbox", "manual", "automatic"),
        ("media-socket", "selector-park", "gearbox", "automatic", "manual"),
        ("park-distance", "trailer-coupled", "tow-bar", "yes", "no"),
    ],
)
def test_what_only_some_vehicles_have(name: str, role: str, fact: str, with_it: str, without: str) -> None:
    """An automatic has no clutch, a van without a tow bar couples no trailer; unsaid, it is asked."""

    def roles_of(facts: dict[str, Fact]) -> list[set[str]]:
        found = applying(RETROFITS[name], facts)
        return [{need.role for need in found.needs}, {exercise.role for exercise in found.exercises}]

    assert all(role in names for names in roles_of({fact: with_it}))
    assert all(role not in names for names in roles_of({fact: without}))
    assert all(role in names for names in roles_of({}))


@each
def test_a_gearbox_is_manual_or_automatic(retrofit: Retrofit) -> None:
    """Two spellings of one fact's value would leave a need out silently."""
    known = {
        "gearbox": {"manual", "automatic"},
        "tow-bar": {"yes"},
        "wheel.airbag": {"kept", "exchanged"},
        "wheel.heated-rim": {"yes"},
        "camera.video": {"PAL", "NTSC", "HD analogue"},
        "camera.answers-on-network": {"yes"},
        "amplifier.input": {"line", "loudspeaker"},
        "amplifier.answers-on-network": {"yes"},
        "speakers.subwoofer": {"under the seat", "elsewhere"},
    }
    entries = (*retrofit.need, *retrofit.code, *retrofit.exercise, *retrofit.step, *retrofit.use)
    for entry in entries:
        if entry.only_if is not None:
            assert set(entry.only_if.any_of) <= known[entry.only_if.fact], entry


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
