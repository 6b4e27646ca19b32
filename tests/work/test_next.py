"""What to do next: desk, one trip, the plan again, then fitting."""

from __future__ import annotations

import re

import pytest

from netcheck.coding import Write
from netcheck.files import LoadedJob
from netcheck.network import FrameId, IdentityLevel
from netcheck.report import next_texts
from netcheck.report._numbers import minutes
from netcheck.verdict import (
    ChannelUse,
    Elsewhere,
    FactUnknown,
    IdInUse,
    ItemResult,
    NeedFacts,
    Reason,
    Verdict,
)
from netcheck.work import RECAPTURE, captures_to_take, desk_work, in_write, next_actions
from tests.work.jobs import item, job, need, retrofit, row, unread

PARK = (retrofit("park-distance"), "comfort")
WHEEL = (retrofit("wheel-buttons"), "comfort")
TAKEN = IdInUse(FrameId(0x4A1, False), "comfort", 10)
ASK = "Ask the part's maker for another id, or put it behind its own gateway."

THERE = NeedFacts(wired="comfort", elsewhere=(Elsewhere("drive", "Message.Signal"),))


def desk_texts(loaded: LoadedJob, items: tuple[ItemResult, ...]) -> tuple[str, ...]:
    return tuple(next_texts(desk_work(loaded, items)))


def steps(
    *items: ItemResult, writes: tuple[Write, ...] = (), captures: tuple[ChannelUse, ...] = ()
) -> tuple[str, ...]:
    loaded = (PARK, WHEEL)[: len(items)]
    return tuple(next_texts(next_actions(job(*loaded), items, writes, captures)))


def test_a_go_is_fitted_and_proven() -> None:
    assert steps(item(PARK, Verdict.GO, need("reverse-engaged"))) == (
        "Fit park-distance by the checklist, then prove every need with its exercise.",
    )


def test_coding_is_named_in_its_order() -> None:
    rows = (row("gateway", "0x2210"), row("engine", "0x2281"))
    writes = (
        Write("engine", "0x2281", "00" * 12, "01" + "00" * 11),
        Write("gateway", "0x2210", "00" * 6, "010000000000"),
    )
    assert steps(item(PARK, Verdict.GO_WITH_CHANGES, coding=rows), writes=writes) == (
        "Fit park-distance by the checklist, then code engine and then gateway, then prove every need with "
        "its exercise.",
    )


def test_desk_then_trip_then_plan_again_then_fitting() -> None:
    needs = (need("reverse-engaged", Reason.NO_ANSWER), need("brake-pedal", Reason.NO_CAPTURE))
    stopped = item(PARK, Verdict.NO_GO, *needs, conflicts=(TAKEN,), coding=(unread("gateway", "0x2210"),))
    asked = item(WHEEL, Verdict.UNPROVEN, questions=(FactUnknown("wheel.button-link", ("LIN",)),))
    assert steps(stopped, asked) == (
        f"park-distance: {ASK}",
        "park-distance: Check the marks of reverse-engaged against what was done and correct wrong times.",
        "Look up wheel.button-link and add it to [facts] in skerry.vehicle.toml; what cannot be looked up, "
        "check on the vehicle on the same trip.",
        "Run netcheck plan van.job.toml again before the trip: what is changed above may change what to "
        "capture.",
        "At the vehicle, clip on to comfort (behind the glovebox, pins 4 and 14), ignition on, record once, "
        "about 1 minute, and do the exercise of the checklist meanwhile (reverse-engaged), noting from when "
        "to when.",
        "On the same trip, clip on to drive, ignition on, record once, about 1 minute, and do the exercise "
        "of the checklist meanwhile (brake-pedal), noting from when to when.",
        "On the same trip, read coding block gateway 0x2210 with your own diagnostic equipment and keep the "
        "bytes.",
        "Back at the desk: add the captures, times and readouts to van.job.toml, the facts to "
        "skerry.vehicle.toml, and run netcheck plan van.job.toml again.",
        "Do not fit park-distance while the verdict is no-go. If a new capture still lacks reverse-engaged, "
        "the part needs another source, or is not for this vehicle.",
        "Do not fit wheel-buttons while the verdict is unproven.",
    )


def test_one_network_is_captured_once_for_all_items() -> None:
    found = steps(
        item(PARK, Verdict.UNPROVEN, need("reverse-engaged", Reason.NO_MARK)),
        item(
            WHEEL,
            Verdict.UNPROVEN,
            need("reverse-engaged", Reason.NO_MARK),
            need("wheel.next", Reason.NOT_EXERCISED),
        ),
    )
    trips = [text for text in found if "clip on" in text]
    assert len(trips) == 1
    assert "(reverse-engaged and wheel.next)" in trips[0]


def test_a_reading_alone_is_a_trip_too() -> None:
    found = steps(item(PARK, Verdict.UNPROVEN, coding=(unread("gateway", "0x2210"),)))
    assert found[0].startswith("At the vehicle, read coding block gateway 0x2210")


def test_desk_work_alone_needs_no_trip() -> None:
    found = steps(item(PARK, Verdict.NO_GO, conflicts=(TAKEN,)))
    assert found == (
        ASK,
        "Then run netcheck plan van.job.toml again.",
        "Do not fit park-distance while the verdict is no-go.",
    )


def test_without_a_job_file_no_file_is_named() -> None:
    items = (item(PARK, Verdict.UNPROVEN, need("reverse-engaged", Reason.NO_CAPTURE)),)
    found = next_texts(next_actions(job(PARK, file=None), items, (), ()))
    assert found[1] == (
        "Back at the desk: write a job file with this job's items, the captures, times and readouts, and run "
        "netcheck plan on it."
    )


def test_a_silent_sender_is_looked_at_on_the_vehicle() -> None:
    (trip, *_) = steps(item(PARK, Verdict.NO_GO, need("reverse-engaged", Reason.MESSAGE_ABSENT)))
    assert trip.endswith("Check whether the vehicle has, and uses, what sends reverse-engaged.")


def test_a_doubtful_capture_is_looked_at_before_all_else() -> None:
    use = ChannelUse("x.log", "can0", "comfort", 10, 1.0, level=IdentityLevel.DOUBTFUL)
    found = steps(item(PARK, Verdict.GO), captures=(use,))
    assert found[:2] == (
        "Make sure first that x.log was taken from this vehicle, and can0 from the pair of comfort: "
        "too few ids fit to be sure.",
        "Then run netcheck plan van.job.toml again.",
    )


def test_a_wrong_tap_sends_to_other_pins() -> None:
    use = ChannelUse("x.log", "can0", None, 10, 1.0, declared="comfort")
    found = steps(item(PARK, Verdict.UNPROVEN, need("reverse-engaged", Reason.WRONG_TAP)), captures=(use,))
    assert found[0].startswith("Check which pair the channel named comfort in the job file was:")
    assert "Check the pins: last time it was another pair." in found[2]


def test_times_that_somebody_noted_save_the_trip() -> None:
    moved = need("reverse-engaged", Reason.NO_MARK, evidence="moves")
    assert "mark those times: no new capture is needed" in steps(item(PARK, Verdict.UNPROVEN, moved))[0]
    still = need("reverse-engaged", Reason.NO_MARK, evidence="present")
    assert steps(item(PARK, Verdict.UNPROVEN, still))[0].startswith("At the vehicle")


def test_the_same_action_is_said_once_with_all_its_items() -> None:
    found = steps(
        item(PARK, Verdict.NO_GO, conflicts=(TAKEN,)), item(WHEEL, Verdict.NO_GO, conflicts=(TAKEN,))
    )
    assert found[0] == f"park-distance and wheel-buttons: {ASK}"
    assert sum("another id" in text for text in found) == 1


@pytest.mark.parametrize("reason", [reason for reason in Reason if reason is not Reason.OK])
def test_every_open_reason_leads_to_something_to_do(reason: Reason) -> None:
    """A need that stops or holds an item is never without an action that names it."""
    entry = need("reverse-engaged", reason)
    found = steps(item(PARK, Verdict.NO_GO, entry))
    settled = reason in {Reason.BY_ITEM, Reason.BY_WIRE, Reason.LOCKED}
    assert any(re.search("reverse-engaged|comfort", text) for text in found) != settled


@pytest.mark.parametrize("reason", [r for r in Reason if r not in RECAPTURE])
def test_optional_needs_make_no_desk_work(reason: Reason) -> None:
    entry = need("reverse-engaged", reason, optional=True)
    assert desk_work(job(PARK), (item(PARK, Verdict.GO, entry),)) == ()


def test_roles_with_the_same_trouble_are_named_together() -> None:
    needs = (need("wheel.next", Reason.UNDEFINED_ROLE), need("wheel.mute", Reason.UNDEFINED_ROLE))
    assert desk_texts(job(WHEEL), (item(WHEEL, Verdict.NO_GO, *needs),)) == (
        "Find out which message carries wheel.next and wheel.mute in model year 2020 and add it to "
        "skerry.vehicle.toml; if the vehicle has no such signal, choose a part that does without.",
    )


def test_another_network_is_named_from_the_vehicle_file() -> None:
    needs = (need("brake-pedal", Reason.OTHER_NETWORK, network="comfort"),)
    (text,) = desk_texts(job(PARK), (item(PARK, Verdict.NO_GO, *needs),))
    assert text.startswith("The part is wired to comfort, but brake-pedal is on drive.")


def test_what_the_part_would_lack_on_the_other_network_is_named() -> None:
    there = need("brake-pedal", Reason.OTHER_NETWORK, network="comfort", facts=THERE)
    required, optional = need("reverse-engaged", Reason.NO_CAPTURE), need("wheel.next", optional=True)
    (text,) = desk_texts(job(PARK), (item(PARK, Verdict.NO_GO, there, required, optional),))
    assert text.endswith("from comfort. By the vehicle file reverse-engaged is not on drive.")
    (text,) = desk_texts(job(PARK), (item(PARK, Verdict.NO_GO, there, need("vehicle-speed"), optional),))
    assert text.endswith("takes what it needs from comfort.")


def test_a_block_that_a_stopped_item_wants_changed_too_is_not_to_be_coded() -> None:
    write = Write("gateway", "0x2210", "00" * 6, "010000000000")
    fitted = item(PARK, Verdict.GO_WITH_CHANGES, coding=(row("gateway", "0x2210"),))
    other = (row("gateway", "0x2210", field="another"),)
    fit, stop = steps(fitted, item(WHEEL, Verdict.NO_GO, coding=other), writes=(write,))
    assert fit == (
        "Fit park-distance by the checklist, then prove every need with its exercise. Do not code gateway "
        "0x2210 from this plan: it also holds a change for wheel-buttons. Run it without wheel-buttons first."
    )
    assert stop == "Do not fit wheel-buttons while the verdict is no-go."


def test_a_change_that_a_stopped_item_and_one_that_is_ready_both_want_is_coded() -> None:
    write = Write("gateway", "0x2210", "00" * 6, "010000000000")
    same = (row("gateway", "0x2210"),)
    stopped = item(WHEEL, Verdict.NO_GO, coding=same)
    fit, _ = steps(item(PARK, Verdict.GO_WITH_CHANGES, coding=same), stopped, writes=(write,))
    assert fit == (
        "Fit park-distance by the checklist, then code gateway, then prove every need with its exercise."
    )


@pytest.mark.parametrize(("count", "seconds"), [(1, 60), (2, 60), (3, 90), (10, 180)])
def test_a_capture_is_long_enough_for_its_exercises(count: int, seconds: int) -> None:
    buttons = [f"button-{number}" for number in range(count)]
    needs = [need(role, Reason.NO_MARK, network="comfort") for role in buttons]
    (task,) = captures_to_take(job(PARK), (item(PARK, Verdict.UNPROVEN, *needs),), ())
    assert len(task.showings) == count
    assert task.seconds == seconds


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(60, "about 1 minute"), (90, "about 1½ minutes"), (180, "about 3 minutes")],
)
def test_minutes(seconds: int, words: str) -> None:
    assert minutes(seconds) == words


def test_a_change_is_in_a_write_when_the_block_ends_with_its_bits() -> None:
    change = row("gateway", "0x2210", byte=1, before="00", after="20", mask="20")
    assert in_write(change, Write("gateway", "0x2210", "0000", "01FF"))
    assert not in_write(change, Write("gateway", "0x2210", "0000", "01DF"))
    assert not in_write(change, Write("gateway", "0x2211", "0000", "01FF"))
    assert not in_write(change, Write("column", "0x2210", "0000", "01FF"))
