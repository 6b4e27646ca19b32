"""The customer's page says what was shown, in plain words, and no more."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

import netcheck
from netcheck.catalogue import load_retrofit, shipped
from netcheck.coding import CodingStatus
from netcheck.files import VehicleIdentity
from netcheck.plan import Plan, make_plan
from netcheck.prove import Proof, ProveVerdict, Sameness, prove
from netcheck.report.viewing import handover
from tests.test_demo import SAMPLE_LOGS

PASSES = "guillemot_2021_camera_fitted"
CODED = "puffin_2020_park_and_cruise"


@cache
def plan_of(job: str) -> Plan:
    return make_plan(netcheck.load_job(SAMPLE_LOGS / f"{job}.job.toml"))


@cache
def proof_of(job: str) -> Proof:
    return prove(netcheck.load_job(SAMPLE_LOGS / f"{job}.job.toml"))


def said(plan: Plan, proof: Proof | None) -> str:
    return str(handover(plan, proof))


def test_a_job_that_passed_says_what_was_shown_and_may_be_handed_over() -> None:
    told = handover(plan_of(PASSES), proof_of(PASSES))
    assert told.is_ready
    assert "was shown to work" in told.state
    (camera,) = told.parts
    assert camera.title == "Reversing camera"
    assert camera.state == "After the fitting, all that it needs of the vehicle was shown."


@pytest.mark.parametrize("verdict", [ProveVerdict.FAIL, ProveVerdict.NOT_SHOWN])
def test_one_that_did_not_is_not_to_be_handed_over(verdict: ProveVerdict) -> None:
    told = handover(plan_of(PASSES), replace(proof_of(PASSES), verdict=verdict))
    assert not told.is_ready
    assert told.state.startswith("Not to be handed over")


def test_without_a_recording_from_after_it_is_a_draft() -> None:
    told = handover(plan_of(PASSES), None)
    assert not told.is_ready
    assert told.state.startswith("A draft")
    assert "After the fitting" not in "".join(part.state for part in told.parts)


def test_the_capture_of_another_vehicle_shows_nothing() -> None:
    other = replace(proof_of(PASSES), sameness=Sameness(False), verdict=ProveVerdict.NOT_SHOWN)
    told = handover(plan_of(PASSES), other)
    assert not told.is_ready
    assert "another vehicle" in told.state
    assert "was shown" not in told.parts[0].state


def test_a_part_that_was_not_shown_is_not_to_be_relied_on() -> None:
    proof = proof_of(CODED)
    told = handover(plan_of(CODED), proof)
    assert not told.is_ready
    assert all("Do not rely on it" in part.state for part in told.parts)


def test_settings_count_as_changed_only_where_a_readout_holds_them() -> None:
    plan, proof = plan_of(CODED), proof_of(CODED)
    assert any(row.status is CodingStatus.TO_DO for item in plan.items for row in item.coding)
    held = replace(proof, promises=tuple(replace(one, is_kept=True) for one in proof.promises))
    unread = replace(proof, promises=tuple(replace(one, is_kept=None) for one in proof.promises))
    assert " were changed for it" in said(plan, held)
    assert " were changed for it" not in said(plan, unread)
    assert " had to be changed for it" in said(plan, unread)


def test_the_number_of_the_vehicle_is_left_out_and_the_rest_of_its_identity_is_not() -> None:
    known = VehicleIdentity(
        vin="ZZZSK240ZL0123456", registration="TARROW 5", odometer_km=48210, reference="J-17"
    )
    text = said(replace(plan_of(PASSES), identity=known), proof_of(PASSES))
    assert "ZZZSK240ZL0123456" not in text
    for part in ("TARROW 5", "48,210 km", "J-17"):
        assert part in text


def test_optional_signals_that_the_vehicle_lacks_are_limits() -> None:
    plan = plan_of("fulmar_2022_camera_fitted")
    (camera,) = handover(plan, None).parts
    assert any("Steering angle" in text for text in camera.limits)


def test_what_cannot_be_used_at_the_same_time_is_named_once_by_the_words_of_the_trade(tmp_path) -> None:
    vehicle = SAMPLE_LOGS.parent / "dbc" / "skerry_240.vehicle.toml"
    job = tmp_path / "x.job.toml"
    items = "".join(
        f'[[item]]\nretrofit = "{name}"\nnetwork = "comfort"\n' for name in ("media-socket", "projection-usb")
    )
    text = f"kind = 'job'\nformat = 1\nvehicle = '{vehicle.as_posix()}'\nmodel_year = 2020\n{items}"
    job.write_text(text, encoding="utf-8")
    told = handover(make_plan(netcheck.load_job(job)), None)
    assert told.exclusive == (
        "HDMI input and Phone projection cannot be used at the same time: the display shows one source at a "
        "time.",
    )


@pytest.mark.parametrize("name", shipped())
def test_what_a_driver_is_warned_of_at_the_handover_stands_in_the_words_for_the_customer(name: str) -> None:
    retrofit, _ = load_retrofit(name)
    words = retrofit.customer
    assert words is not None
    assert words.use
    assert words.limits
    told = " ".join(words.use)
    keys = {"distraction": ("driv", "stationary", "parked", "roads"), "motion": ("look",), "law": ("law",)}
    for caution in retrofit.caution:
        if caution.phase == "handover":
            wanted = keys.get(caution.danger, ())
            assert not wanted or any(key in told for key in wanted), caution.text


def test_a_retrofit_without_words_for_the_customer_says_what_it_warns_of() -> None:
    plan = plan_of(PASSES)
    bare = replace(plan, items=tuple(replace(item, customer=None) for item in plan.items))
    (camera,) = handover(bare, None).parts
    assert any("Driver distraction" in text for text in camera.use)
    assert camera.does == ""
