"""The demo: files load, captures are the generator's, and each job comes out as its scenario says."""

from __future__ import annotations

import gzip
import tomllib
from pathlib import Path
from typing import Any

import pytest

import netcheck
from netcheck.cli import main
from netcheck.prove import prove
from netcheck.report import need_text, plan_text
from netcheck.verdict import CodingLeft, ItemResult, ModuleLeft
from tests.demo.captures import (
    CONVERSATIONS,
    MARKS_IN_THE_JOB,
    SAMPLE_LOGS,
    SCENES,
    WITHOUT_MARKS,
    Scene,
    marks_name,
)
from tests.demo.strangers import read_block
from tests.demo.van import DBC, database, vehicle

NETWORKS = ("comfort", "conversion", "drive")

# job, verdict, verdict of each item
VERDICTS = [
    ("fulmar_2022_camera_fitted", "go", ("go",)),
    ("fulmar_2022_wheel_and_radio", "go-with-changes", ("go-with-changes", "go-with-changes")),
    ("gannet_2019_bumper_kit", "no-go", ("no-go",)),
    ("gannet_2019_dash_camera_fitted", "go", ("go",)),
    ("gannet_2019_wheel", "unproven", ("unproven",)),
    ("guillemot_2021_camera", "go", ("go",)),
    ("guillemot_2021_camera_fitted", "go", ("go",)),
    ("petrel_2017_cruise", "no-go", ("no-go",)),
    ("puffin_2020_park_and_cruise", "go-with-changes", ("go-with-changes", "go-with-changes")),
    ("razorbill_2021_eight_parts", "go-with-changes", (*["go-with-changes"] * 6, "go", "go")),
    (
        "razorbill_2021_narrow_opening",
        "no-go",
        (*["go-with-changes"] * 4, "no-go", "unproven", "go", "unproven"),
    ),
]
# what the scenario at the head of the job file rests on: job, item, role, status, reason
NEEDS = [
    ("fulmar_2022_wheel_and_radio", 0, "terminal-15", "shown", "ok"),
    ("fulmar_2022_wheel_and_radio", 1, "wheel.volume-up", "after-coding", "locked"),
    ("fulmar_2022_wheel_and_radio", 1, "park-brake", "shown", "ok"),
    ("gannet_2019_bumper_kit", 0, "reverse-engaged", "expected", "no-mark"),
    ("gannet_2019_wheel", 0, "terminal-15", "expected", "not-exercised"),
    ("gannet_2019_wheel", 0, "illumination", "expected", "no-mark"),
    ("guillemot_2021_camera", 0, "reverse-engaged", "shown", "ok"),
    ("guillemot_2021_camera", 0, "steering-angle", "shown", "ok"),
    ("petrel_2017_cruise", 0, "brake-pedal", "shown", "ok"),
    ("petrel_2017_cruise", 0, "clutch-pedal", "missing", "other-network"),
    ("puffin_2020_park_and_cruise", 0, "reverse-engaged", "shown", "ok"),
    ("puffin_2020_park_and_cruise", 0, "park.switch", "after-coding", "locked"),
    ("puffin_2020_park_and_cruise", 1, "brake-pedal", "shown", "ok"),
    ("puffin_2020_park_and_cruise", 1, "clutch-pedal", "shown", "ok"),
    ("puffin_2020_park_and_cruise", 1, "cruise.state", "after-coding", "locked"),
    ("razorbill_2021_eight_parts", 1, "clutch-pedal", "shown", "ok"),
    ("razorbill_2021_eight_parts", 3, "park.lamp", "supplied", "by-item"),
    ("razorbill_2021_eight_parts", 4, "terminal-15", "shown", "ok"),
    ("razorbill_2021_eight_parts", 5, "reverse-engaged", "supplied", "by-wire"),
]


@pytest.fixture(scope="module")
def plans() -> dict[str, netcheck.Plan]:
    return {
        job: netcheck.make_plan(netcheck.load_job(SAMPLE_LOGS / f"{job}.job.toml")) for job, _, _ in VERDICTS
    }


@pytest.fixture(scope="module")
def scenes() -> dict[str, Scene]:
    return {name: make() for name, make in SCENES.items()}


def _text(path: Path) -> str:
    data = path.read_bytes()
    return (gzip.decompress(data) if path.suffix == ".gz" else data).decode("utf-8")


def test_every_job_is_tried_and_the_four_verdicts_are_there() -> None:
    jobs = {path.name.removesuffix(".job.toml") for path in SAMPLE_LOGS.glob("*.job.toml")}
    assert jobs == {job for job, _, _ in VERDICTS}
    assert {verdict for _, verdict, _ in VERDICTS} == {"go", "go-with-changes", "unproven", "no-go"}


@pytest.mark.parametrize(("job", "verdict", "items"), VERDICTS)
def test_verdicts(plans: dict[str, netcheck.Plan], job: str, verdict: str, items: tuple[str, ...]) -> None:
    plan = plans[job]
    assert plan.verdict == verdict
    assert tuple(item.verdict for item in plan.items) == items
    assert plan.warnings == ()


@pytest.mark.parametrize(("job", "item", "role", "status", "reason"), NEEDS)
def test_needs_that_the_stories_rest_on(
    plans: dict[str, netcheck.Plan], job: str, item: int, role: str, status: str, reason: str
) -> None:
    (need,) = [need for need in plans[job].items[item].needs if need.role == role]
    assert (need.status, need.reason) == (status, reason), need_text(need)


# job, verdict after the fitting, changes that nobody planned, whether it is the same vehicle
PROVEN = [
    ("fulmar_2022_camera_fitted", "fail", ["sleep-later"], True),
    ("gannet_2019_dash_camera_fitted", "not-shown", ["other-vehicle"], False),
    ("guillemot_2021_camera_fitted", "pass-with-notes", [], None),
]


@pytest.mark.parametrize(("job", "verdict", "changes", "same"), PROVEN)
def test_after_the_fitting(job: str, verdict: str, changes: list[str], same: bool | None) -> None:
    proof = prove(netcheck.load_job(SAMPLE_LOGS / f"{job}.job.toml"))
    assert (proof.verdict, [change.kind for change in proof.changes]) == (verdict, changes)
    assert proof.sameness.is_same is same
    if same is not False:
        camera = next(need for need in proof.needs if need.result.role == "reverse-engaged")
        assert (camera.result.status, camera.result.evidence) == ("shown", "answers")
        assert proof.compared == proof.unchanged > 20


def test_the_bumper_kit_is_stopped_by_its_identifier_alone(plans: dict[str, netcheck.Plan]) -> None:
    (conflict,) = plans["gannet_2019_bumper_kit"].items[0].conflicts
    assert conflict.kind == "id-in-use"


def test_a_coding_field_that_a_job_leaves_is_asked_for(plans: dict[str, netcheck.Plan]) -> None:
    """Puffin's stalk takes the trip stalk's place, and nobody codes the rocker; Razorbill's wheel does."""
    jobs = ("puffin_2020_park_and_cruise", "fulmar_2022_wheel_and_radio", "razorbill_2021_eight_parts")
    left = {
        job: {(note.module, note.field, note.value) for item in plans[job].items for note in _left(item)}
        for job in jobs
    }
    assert left == {
        "puffin_2020_park_and_cruise": {("column", "trip_rocker", "on the stalk")},
        "fulmar_2022_wheel_and_radio": {("cluster", "park_display", "off")},
        "razorbill_2021_eight_parts": set(),
    }
    text = " ".join(plan_text(plans["puffin_2020_park_and_cruise"]).split())
    assert (
        "column.trip_rocker is on the stalk and stays so: intended? It belongs to trip.up, trip.down" in text
    )


def test_other_fields_of_a_parts_modules_are_listed_once(plans: dict[str, netcheck.Plan]) -> None:
    """What nobody codes and no role of the job claims, at the first part that names the module."""
    notes = [
        (item.retrofit, note.module, tuple(dict(note.fields).items()))
        for item in plans["puffin_2020_park_and_cruise"].items
        for note in item.notes
        if isinstance(note, ModuleLeft)
    ]
    gateway = (
        ("radio_type", "original"),
        ("trailer_module", "fitted"),
        ("reversing_camera_module", "absent"),
        ("amplifier_module", "absent"),
        ("conversion_network", "fitted"),
        ("speed_copy_period", None),
    )
    cluster = (("language", "English"), ("wheel_menus", "off"), ("tyre_circumference", 2134))
    assert notes == [
        ("park-distance", "gateway", gateway),
        ("park-distance", "cluster", cluster),
        ("cruise-stalk", "column", (("wheel_buttons", "absent"), ("wheel_heating", "absent"))),
        ("cruise-stalk", "engine", (("speed_limit", 112),)),
    ]
    text = " ".join(plan_text(plans["puffin_2020_park_and_cruise"]).split())
    assert "other coding of engine stays as it is, intended? speed_limit is 112." in text
    gannet = " ".join(plan_text(plans["gannet_2019_wheel"]).split())
    assert (
        "other coding of column stays as it is, intended? wheel_heating, cruise_stalk (not read)." in gannet
    )


def _left(item: ItemResult) -> list[CodingLeft]:
    return [note for note in item.notes if isinstance(note, CodingLeft)]


def test_bytes_that_puffin_is_coded_to(plans: dict[str, netcheck.Plan]) -> None:
    """Worked out by hand from the bit positions in the vehicle file."""
    writes = {
        write.module: (write.before, write.after) for write in plans["puffin_2020_park_and_cruise"].writes
    }
    assert writes == {
        "body": ("0A0013FF", "4A0013FF"),  # byte 0 bit 6
        "cluster": ("013C400000085600", "013C700000085600"),  # byte 2 bits 4 and 5
        "column": ("21000104", "21100104"),  # byte 1 bit 4
        "engine": ("91002D7003", "95002D7003"),  # byte 0 bit 2
        "gateway": ("4C011F028000", "4C011F228000"),  # byte 3 bit 5
    }


@pytest.mark.parametrize("name", SCENES)
def test_captures_are_what_the_generator_makes(scenes: dict[str, Scene], name: str) -> None:
    """Byte for byte; of a compressed one the text, since compressors differ."""
    assert _text(SAMPLE_LOGS / name) == scenes[name].log
    side = SAMPLE_LOGS / marks_name(name)
    assert side.exists() != (name in MARKS_IN_THE_JOB | WITHOUT_MARKS)
    if side.exists():
        assert side.read_text("utf-8") == scenes[name].marks


def test_conversations_are_what_the_generator_makes_and_the_readouts_files_come_of_them(tmp_path) -> None:
    for number, (name, make) in enumerate(CONVERSATIONS.items(), 1):
        assert _text(SAMPLE_LOGS / name) == make(1_615_275_720_000_000 + number * 3_600_000_000)
        side = "after" if "after" in name else "before"
        kept = name.replace("_diagnostics_", "_").replace(".log", ".readouts.toml")
        target = tmp_path / kept
        words = ["--vehicle", str(DBC / "skerry_240.vehicle.toml"), "--when", side, "-o", str(target)]
        assert main(["readout", str(SAMPLE_LOGS / name), *words]) == 0
        made, there = (
            path.read_text("utf-8").partition("kind =")[2] for path in (target, SAMPLE_LOGS / kept)
        )
        assert made == there


@pytest.mark.parametrize("job", [job for job, _, _ in VERDICTS])
def test_marks_in_a_job_are_those_of_the_scene(scenes: dict[str, Scene], job: str) -> None:
    for entry in tomllib.loads((SAMPLE_LOGS / f"{job}.job.toml").read_text("utf-8"))["capture"]:
        if entry["file"] in MARKS_IN_THE_JOB:
            made = tomllib.loads(scenes[entry["file"]].marks)["mark"]
            assert sorted(entry["mark"], key=str) == sorted(made, key=str)
        else:
            assert "mark" not in entry


def test_a_mark_against_an_independent_decoder(scenes: dict[str, Scene]) -> None:
    """cantools reads VanReverse from the plain log: on inside the marks after half a second, else off."""
    name = "guillemot_2021_conversion.log"
    marks = [m for m in tomllib.loads(scenes[name].marks)["mark"] if m["role"] == "reverse-engaged"]
    message = database("conversion").get_message_by_name("VanMotion")
    lines = [line.split() for line in _text(SAMPLE_LOGS / name).splitlines() if not line.startswith("#")]
    start = float(lines[0][0].strip("()"))
    inside, outside = set(), set()
    for stamp, _, frame in lines:
        can_id, data = frame.split("#")
        if (int(can_id, 16) >> 8) & 0xFFFF == 0xFF21:
            at = float(stamp.strip("()")) - start
            value = str(message.decode(bytes.fromhex(data))["VanReverse"])
            if any(m["from"] + 0.5 <= at <= m["to"] for m in marks):
                inside.add(value)
            elif not any(m["from"] <= at <= m["to"] + 0.5 for m in marks):
                outside.add(value)
    assert (inside, outside) == ({"on"}, {"off"})


def test_parameter_groups_carry_their_senders_address(scenes: dict[str, Scene]) -> None:
    """The DBC leaves the source address open (0xFE); on the wire each sender has its own."""
    lines = scenes["guillemot_2021_conversion.log"].log.splitlines()
    addresses = {line.split()[2][6:8] for line in lines if not line.startswith("#")}
    nodes = database("conversion").nodes
    assert addresses == {f"{int(n.dbc.attributes['NmStationAddress'].value):02X}" for n in nodes}


def test_a_readout_on_the_wire_is_segmented_as_the_standard_says() -> None:
    """The frames of can-isotp 2.0.7 (with udsoncan 1.26.1) for this read of identifier 0xF190."""
    frames = read_block(0x7E0, 0x7E8, 0xF190, b"1M8GDM9AXKP042788", 1.0)
    assert [(f"{frame.can_id:03X}", frame.data.hex(" ").upper()) for frame in frames] == [
        ("7E0", "03 22 F1 90 55 55 55 55"),
        ("7E8", "10 14 62 F1 90 31 4D 38"),
        ("7E0", "30 00 0A 55 55 55 55 55"),
        ("7E8", "21 47 44 4D 39 41 58 4B"),
        ("7E8", "22 50 30 34 32 37 38 38"),
    ]


@pytest.mark.parametrize("network", NETWORKS)
def test_databases_are_of_realistic_size_and_free_of_complaints(network: str) -> None:
    messages = database(network).messages  # strict: signals fit and do not overlap
    assert 25 <= len(messages) <= 60
    assert all(message.cycle_time and message.comment and message.senders for message in messages)
    assert netcheck.load_database(DBC / vehicle()["network"][network]["dbc"]).warnings == ()


def test_roles_and_modules_fit_the_databases() -> None:
    for role, entries in _roles(vehicle()["role"]).items():
        for entry in entries:
            message = database(entry["network"]).get_message_by_name(entry["message"])
            signal = message.get_signal_by_name(entry["signal"])
            labels = {str(label) for label in (signal.choices or {}).values()}
            assert set(entry.get("active", ())) <= labels, role
            if "counter" in entry:
                assert message.get_signal_by_name(entry["counter"]).name.endswith("Counter")
    for name, module in vehicle()["module"].items():
        assert module["node"] in {node.name for node in database(module["network"]).nodes}, name


def test_all_says_that_it_is_invented_and_is_small() -> None:
    files = [path for folder in (DBC, SAMPLE_LOGS) for path in folder.iterdir()]
    assert sum(path.stat().st_size for path in files) < 2_000_000
    drafted = SAMPLE_LOGS / "skerry_found.dbc"  # as the command writes it; its vehicle file says it
    for path in files:
        assert "nvented" in _text(path) or path == drafted, path.name


def _roles(table: dict[str, Any], prefix: str = "") -> dict[str, list[dict[str, Any]]]:
    found: dict[str, list[dict[str, Any]]] = {}
    for key, value in table.items():
        found |= {prefix + key: value} if isinstance(value, list) else _roles(value, f"{prefix}{key}.")
    return found
