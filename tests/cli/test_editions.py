"""Editions of a module: unproven while nobody knows which one is fitted; fields that are left are told."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from netcheck.cli import main
from tests.cli.jobs import CLUSTER, GATEWAY, VEHICLE, write_job

EDITION = (
    '[[module.gateway.edition]]\npart = "SK24-GAT"\nsoftware = ["0100..0199", "03"]\n\n[module.cluster]\n'
)


def read(numbers: str, when: str = "before") -> str:
    return f'\n[[readout]]\nmodule = "gateway"\nidentification = {{ {numbers} }}\nwhen = "{when}"\n'


def plan(folder: Path, capsys: pytest.CaptureFixture[str], readouts: str, vehicle: str = VEHICLE) -> tuple:
    job = write_job(folder, GATEWAY + CLUSTER + readouts, skerry__vehicle__toml=vehicle)
    status = main(["plan", str(job), "--format", "json"])
    (item,) = json.loads(capsys.readouterr().out)["items"]
    return status, item


@pytest.mark.parametrize(
    ("numbers", "status", "is_other"),
    [
        ("", 3, False),
        ('0xF187 = "SK24-GAT-B"', 3, False),
        ('0xF187 = "SK24-GAT-B", 0xF189 = "0310"', 0, None),
        ('0xF187 = "SK24-GAT-B", 0xF195 = "0150"', 0, None),
        ('0xF187 = "SK24-GAT-B", 0xF189 = "0200"', 3, True),
        ('0xF187 = "SK25-GAT-A"', 3, True),
    ],
)
def test_an_edition_that_is_not_known_is_a_question(tmp_path, capsys, numbers, status, is_other):
    vehicle = VEHICLE.replace("[module.cluster]\n", EDITION)
    found, item = plan(tmp_path, capsys, read(numbers) if numbers else "", vehicle)
    assert found == status
    questions = [question for question in item["questions"] if question["kind"] == "edition"]
    assert [(q["subject"], q["is_other"]) for q in questions] == (
        [] if is_other is None else [("gateway", is_other)]
    )
    assert (item["verdict"] == "unproven") == bool(questions)


def test_only_what_was_read_before_counts(tmp_path, capsys):
    vehicle = VEHICLE.replace("[module.cluster]\n", EDITION)
    numbers = '0xF187 = "SK24-GAT-B", 0xF189 = "0310"'
    assert plan(tmp_path, capsys, read(numbers, "after"), vehicle)[0] == 3


def test_the_question_says_what_to_read(tmp_path, capsys):
    vehicle = VEHICLE.replace("[module.cluster]\n", EDITION)
    job = write_job(tmp_path, GATEWAY + CLUSTER, skerry__vehicle__toml=vehicle)
    assert main(["plan", str(job)]) == 3
    text = " ".join(capsys.readouterr().out.split())
    assert "with part SK24-GAT, software 0100..0199 or 03; nobody has read which one is fitted" in text
    assert "Read 0xF187, 0xF188, 0xF189, 0xF194 or 0xF195 of gateway" in text
    write_job(tmp_path, GATEWAY + CLUSTER + read('0xF187 = "SK25"'), skerry__vehicle__toml=vehicle)
    main(["plan", str(job)])
    text = " ".join(capsys.readouterr().out.split())
    assert "the one that is fitted tells spare part number SK25" in text
    assert "Do not code gateway by this vehicle file." in text


def test_a_module_that_sends_what_is_needed_counts_too(tmp_path, capsys):
    selector = '[module.selector]\nnode = "SELECTOR"\n[module.selector.edition]\npart = "SK24-SEL"\n\n'
    vehicle = VEHICLE.replace("[module.gateway]\n", selector + "[module.gateway]\n")
    status, item = plan(tmp_path, capsys, "", vehicle)
    (question,) = item["questions"]
    assert (status, question["subject"], question["is_coded"]) == (3, "selector", False)


@pytest.mark.parametrize(
    ("field", "notes"),
    [("camera_module", [("camera_module", "absent")]), ("park_distance_module", [])],
)
def test_a_field_of_a_role_that_the_job_leaves_is_told(tmp_path, capsys, field, notes):
    vehicle = VEHICLE.replace(f"{field} = {{ byte", f'{field} = {{ roles = ["reverse-engaged"], byte')
    _, item = plan(tmp_path, capsys, "", vehicle)
    told = [note["facts"] for note in item["note_facts"] if note["kind"] == "coding-left"]
    assert [(fact["field"], fact["value"]) for fact in told] == notes


def test_order_and_dependencies_are_told_in_plan_and_coding(tmp_path, capsys):
    vehicle = VEHICLE.replace(
        "park_distance_module = { byte", 'park_distance_module = { after = "cluster.park_display", byte'
    ).replace('coding_order = "last"', "coding_order = 10")
    job = write_job(tmp_path, GATEWAY + CLUSTER, skerry__vehicle__toml=vehicle)
    main(["coding", str(job)])
    text = capsys.readouterr().out
    assert text.index("1. cluster") < text.index("2. gateway")
    words = " ".join(text.split())
    assert "Place 10 in the order: it asks every module it lists at the next ignition-on." in words
    assert "Only after cluster.park_display." in words
