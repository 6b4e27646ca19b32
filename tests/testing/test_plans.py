"""Plans in tests: roles that must be shown, and what a failure says."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import pytest

from netcheck.catalogue import load_job
from netcheck.errors import UsageError
from netcheck.plan import Plan, make_plan
from netcheck.testing import assert_shown, job_fault, plan_of

SAMPLES = Path(__file__).parents[2] / "sample_logs"
WHEEL = SAMPLES / "gannet_2019_wheel.job.toml"


def failure(plan: Plan, role: str, **named: str) -> list[str]:
    with pytest.raises(AssertionError) as caught:
        assert_shown(plan, role, **named)
    return str(caught.value).splitlines()


def test_a_role_that_is_shown():
    plan = plan_of(SAMPLES / "guillemot_2021_camera.job.toml")
    assert_shown(plan, "reverse-engaged")
    assert_shown(plan, "reverse-engaged", item="reversing-camera")


def test_a_role_that_is_not_shown_with_its_signal_and_marks():
    lines = failure(plan_of(WHEEL), "terminal-15")
    assert lines[0] == "terminal-15 is not shown for wheel-buttons: expected (not-exercised)"
    assert lines[1] == "  there, every 100 ms, 45 s on can0, but it never moved: on (1) throughout"
    assert lines[2].startswith("  to do: Exercise it during a capture")
    assert lines[3].endswith(" on can0 of gannet_2019_comfort.log.gz")
    assert lines[5] == "    " + "O" * 64
    assert lines[6] == "    O = on"
    assert lines[7].startswith("    450 × on, 0.0")
    assert len(lines) == 8


def test_a_plan_without_its_job_says_it_in_words_only():
    plan = make_plan(load_job(WHEEL))
    assert len(failure(plan, "terminal-15")) == 3
    assert len(failure(replace(plan_of(WHEEL), loaded=None), "terminal-15")) == 3


def test_a_role_and_an_item_that_the_job_does_not_have():
    plan = plan_of(WHEEL)
    assert failure(plan, "terminal-16")[0].startswith(
        "no item of gannet_2019_wheel needs 'terminal-16' – one of terminal-15, "
    )
    assert failure(plan, "terminal-15", item="wheel") == [
        "gannet_2019_wheel has no item 'wheel' – there is only wheel-buttons"
    ]


def test_a_signal_of_another_network_has_no_picture():
    lines = failure(plan_of(SAMPLES / "petrel_2017_cruise.job.toml"), "clutch-pedal")
    assert lines[0] == "clutch-pedal is not shown for cruise-stalk: missing (other-network)"
    assert not [line for line in lines if "▁" in line or " = " in line]


@pytest.mark.parametrize("path", sorted(SAMPLES.glob("*.job.toml")), ids=lambda path: path.name)
def test_the_sample_jobs_come_to_what_they_expect(path):
    assert load_job(path).expect is not None
    assert job_fault(path) == ""


@pytest.mark.parametrize(
    ("given", "says"),
    [
        (
            {"plan": "x.job.toml"},
            "plan is 'x.job.toml' (str), not a Plan – make_plan(load_job(file)) gives one",
        ),
        ({"role": None}, "role is None (NoneType), not a str – such as "),
        ({"item": 1}, "item is 1 (int), not a text – the name of its retrofit"),
    ],
)
def test_wrong_arguments_are_one_line(given, says):
    arguments = {"plan": plan_of(WHEEL), "role": "terminal-15", **given}
    with pytest.raises(UsageError) as caught:
        assert_shown(**arguments)
    assert says in str(caught.value)
    assert "\n" not in str(caught.value)
