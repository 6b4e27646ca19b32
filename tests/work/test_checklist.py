"""The checklist: phases, order, what is merged, and what is held back."""

from __future__ import annotations

from netcheck.coding import CodingStatus, Write
from netcheck.network import FrameId
from netcheck.report import step_text
from netcheck.verdict import ChannelUse, FactUnknown, IdInUse, ItemResult, Reason, Status, Verdict
from netcheck.work import Step, checklist
from tests.work.jobs import item, job, need, retrofit, row, unread

PARK = retrofit(
    "park-distance",
    """
cautions = ["Do not drill yet", "Battery off first."]
[[exercise]]
role = "reverse-engaged"
do = "Select reverse"
[[exercise]]
role = "park.rear"
do = "Hold a box"
[[step]]
phase = "before"
text = "Measure the bumper"
[[step]]
phase = "fit"
text = "Drill"
[[step]]
phase = "code"
text = "Let it sleep"
[[step]]
phase = "prove"
text = "Walk round"
""",
)
WHEEL = retrofit(
    "wheel-buttons",
    """
cautions = ["Battery off first"]
[[supply]]
roles = ["wheel.next"]
[[match]]
fact = "wheel.button-link"
any_of = ["LIN", "CAN"]
why = "the buttons talk to it"
[[exercise]]
role = "wheel.next"
do = "Press the next button"
[[exercise]]
role = "wheel.mute"
do = "Press the mute button"
""",
)
TAKEN = IdInUse(FrameId(0x4A1, False), "comfort", 10)
P, W = (PARK, "comfort"), (WHEEL, "comfort")
BLOCK = Write("gateway", "0x2210", "000000000000", "010000000000")


def steps(
    items: tuple[ItemResult, ...],
    *loaded: tuple[object, str | None],
    writes: tuple[Write, ...] = (),
    captures: tuple[ChannelUse, ...] = (),
) -> tuple[Step, ...]:
    return checklist(job(*loaded), items, writes, captures)  # type: ignore[arg-type]


def told(step: Step) -> str:
    return step_text(step.action)


def texts(found: tuple[Step, ...], phase: str) -> list[str]:
    return [told(step) for step in found if step.phase == phase]


def test_a_go_has_cautions_hand_work_and_proofs_and_nothing_to_capture_or_code() -> None:
    found = steps((item(P, Verdict.GO, need("reverse-engaged", why="wakes it")),), P)
    assert [(step.stage, step.item, told(step), step.caution) for step in found] == [
        ("before", "park-distance", "Do not drill yet.", True),
        ("before", "park-distance", "Battery off first.", True),
        ("before", "", "Note the VIN that stands on the vehicle: ____________", False),
        (
            "before",
            "",
            "Read the fault memories of all modules and keep the list. Explain every fault in it first.",
            False,
        ),
        ("before", "park-distance", "Measure the bumper.", False),
        (
            "before",
            "",
            "The plan says go or go with changes for each part to be fitted, all of the above is ticked: "
            "only then fit.",
            False,
        ),
        (
            "fit",
            "park-distance",
            "Where a part joins a network's pair: stub of 2.4 m at most to comfort (125 kbit/s; behind the "
            "glovebox, pins 4 and 14), twisted to the end, no extra terminator.",
            True,
        ),
        ("fit", "park-distance", "Drill.", False),
        (
            "fit",
            "",
            "Every plug, fuse and cover is in place and no tool is left, the supply voltage is steady, "
            "nothing gets warm or smells: only then code.",
            False,
        ),
        ("code", "park-distance", "Let it sleep.", False),
        (
            "standing",
            "",
            "Ignition on: lamps of airbag, stability control and brakes light up, then go out. If one stays "
            "on, stop; airbags are for licensed people.",
            False,
        ),
        (
            "standing",
            "",
            "Read all fault memories again and compare with the list. New: ____________",
            False,
        ),
        (
            "standing",
            "",
            'Record comfort again meanwhile, as the proof (in the job file: when = "after"), '
            "and compare: netcheck prove.",
            False,
        ),
        (
            "standing",
            "park-distance",
            "reverse-engaged: Select reverse. Shows the signal for: wakes it.",
            False,
        ),
        ("standing", "park-distance", "park.rear: Hold a box.", False),
        (
            "standing",
            "",
            "Ignition on, touch nothing for a minute: nothing new warns, moves or lights up.",
            False,
        ),
        ("standing", "park-distance", "Walk round.", False),
        (
            "standing",
            "",
            "Airbag lamp out, stability lamp out, no new fault: only then hand over.",
            False,
        ),
        (
            "handover",
            "",
            "Give the owner this sheet, the parts' manuals and the papers that local rules ask for. Show "
            "each part.",
            False,
        ),
    ]


def test_captures_are_one_a_network_with_every_exercise_in_it() -> None:
    open_needs = (
        need("reverse-engaged", Reason.NO_MARK),
        need("brake-pedal", Reason.NO_CAPTURE),
        need("vehicle-speed", Reason.NO_CAPTURE, asks="present"),
    )
    wheel = (need("reverse-engaged", Reason.NO_MARK),)
    items = (item(P, Verdict.UNPROVEN, *open_needs), item(W, Verdict.UNPROVEN, *wheel))
    before = [text for text in texts(steps(items, P, W), "before") if "Record" in text or "from ____" in text]
    assert before == [
        "Record comfort (125 kbit/s; behind the glovebox, pins 4 and 14): ignition on, about 1 minute, one "
        "file. In it, 10 s apart:",
        "reverse-engaged: Select reverse. Active from ____ to ____ s",
        "Record drive (500 kbit/s, data phase 2000 kbit/s; the pair's place is not in the vehicle file: see "
        "the wiring diagram): ignition on, about 1 minute, one file. It has to hold vehicle-speed. In it, "
        "10 s apart:",
        "brake-pedal: no exercise is given: put it into its other state for 3 seconds, then back. "
        "Active from ____ to ____ s",
    ]


def test_buttons_are_shown_in_turn_with_their_times() -> None:
    needs = (need("wheel.next", Reason.NO_MARK), need("wheel.mute", Reason.NO_MARK))
    before = texts(steps((item(W, Verdict.UNPROVEN, *needs),), W), "before")
    line = (
        "wheel.next, mute: Press the (each in turn) button. "
        "Active from – to, in s: next ____ – ____, mute ____ – ____"
    )
    assert line in before


def test_a_mark_of_another_state_names_it() -> None:
    wanted = retrofit("camera", '[[exercise]]\nrole = "reverse-engaged"\ndo = "Neutral"\nstate = "N"')
    loaded = (wanted, "comfort")
    found = steps((item(loaded, Verdict.UNPROVEN, need("reverse-engaged", Reason.NO_MARK)),), loaded)
    assert "reverse-engaged = N: Neutral. At N from ____ to ____ s" in texts(found, "before")


def test_a_role_without_active_states_gets_no_times() -> None:
    speed = need("vehicle-speed", Reason.NOT_EXERCISED, asks="moves")
    before = texts(steps((item(P, Verdict.UNPROVEN, speed),), P), "before")
    (line,) = (text for text in before if text.startswith("vehicle-speed"))
    assert "____" not in line


def test_recording_brings_its_caution() -> None:
    open_, shown = need("reverse-engaged", Reason.NO_MARK), need("reverse-engaged")
    cautions = [
        [text for text in map(told, steps((item(P, verdict, entry),), P)) if "listen" in text]
        for verdict, entry in ((Verdict.UNPROVEN, open_), (Verdict.GO, shown))
    ]
    assert cautions == [["Only listen: the logger sends nothing. Whoever drives does nothing else."], []]


def test_a_role_without_active_states_that_must_answer_is_marked_with_its_values() -> None:
    speed = need("vehicle-speed", Reason.NO_MARK)
    (line,) = (
        text
        for text in texts(steps((item(P, Verdict.UNPROVEN, speed),), P), "before")
        if text.startswith("vehicle-speed")
    )
    assert line.endswith("Between ____ and ____ from ____ to ____ s")


def test_optional_needs_ride_along_but_start_no_trip() -> None:
    optional = need("brake-pedal", Reason.NO_CAPTURE, optional=True)
    alone = steps((item(P, Verdict.GO, need("reverse-engaged"), optional),), P)
    assert not any("Record drive" in text for text in texts(alone, "before"))
    with_trip = steps((item(P, Verdict.UNPROVEN, need("reverse-engaged", Reason.NO_MARK), optional),), P)
    assert any(text.startswith("Record drive") for text in texts(with_trip, "before"))
    assert any(text.startswith("brake-pedal (optional)") for text in texts(with_trip, "before"))


def test_a_desk_matter_is_not_captured_again() -> None:
    slow = need("reverse-engaged", Reason.TOO_SLOW)
    before = texts(steps((item(P, Verdict.NO_GO, slow),), P), "before")
    assert not any(text.startswith("Record") for text in before)


def test_the_other_network_is_captured_on_the_same_trip_unless_it_was() -> None:
    elsewhere = need("brake-pedal", Reason.OTHER_NETWORK, network="comfort")
    items = (item(P, Verdict.NO_GO, elsewhere),)
    drive = ChannelUse("x.log", "can0", "drive", 10, 1.0)
    optional = need("brake-pedal", Reason.OTHER_NETWORK, network="comfort", optional=True)
    with_trip = (item(P, Verdict.UNPROVEN, optional, need("reverse-engaged", Reason.NO_MARK)),)
    assert not any(text.startswith("Record drive") for text in texts(steps(with_trip, P), "before"))
    assert any(text.startswith("Record drive") for text in texts(steps(items, P), "before"))
    assert not any("Record" in text for text in texts(steps(items, P, captures=(drive,)), "before"))


def test_a_wrong_tap_is_named_where_it_is_captured_again() -> None:
    use = ChannelUse("x.log", "can0", None, 10, 1.0, declared="comfort")
    items = (item(P, Verdict.UNPROVEN, need("reverse-engaged", Reason.WRONG_TAP)),)
    before = texts(steps(items, P, captures=(use,)), "before")
    assert any("Check the pins first: can0 of x.log was declared comfort" in text for text in before)


def test_readouts_to_take_are_one_a_block() -> None:
    rows = (
        unread("gateway", "0x2210", field="radio"),
        unread("gateway", "0x2210", field="parking"),
        unread("engine", "0x2281"),
    )
    items = (item(P, Verdict.UNPROVEN, coding=rows), item(W, Verdict.UNPROVEN, coding=rows[:1]))
    assert [text for text in texts(steps(items, P, W), "before") if text.startswith("Read coding")] == [
        "Read coding block 0x2210 of gateway (request id 0x6A0, response id 0x6B0) for radio and parking: "
        "__ __ __ __ __ __",
        "Read coding block 0x2281 of engine for switch: 12 bytes ____________",
    ]


def test_questions_say_what_the_part_needs_and_leave_room() -> None:
    asked = (FactUnknown("wheel.button-link", ("LIN", "CAN"), "the buttons talk to it"),)
    found = steps((item(W, Verdict.UNPROVEN, questions=asked),), W)
    assert (
        "Find out wheel.button-link: ____________ wheel-buttons needs LIN or CAN (the buttons talk to it)."
        in texts(found, "before")
    )


def test_cautions_come_first_and_once() -> None:
    items = (item(P, Verdict.UNPROVEN, need("reverse-engaged", Reason.NO_MARK)), item(W, Verdict.GO))
    before = [step for step in steps(items, P, W) if step.phase == "before"]
    flags = [step.caution for step in before]
    assert flags == sorted(flags, reverse=True)
    shared = [step for step in before if told(step) == "Battery off first."]
    assert [(step.item, step.caution) for step in shared] == [("", True)]


def test_a_no_go_has_only_what_could_turn_it() -> None:
    needs = (need("reverse-engaged", Reason.NO_ANSWER),)
    rows = (row("gateway", "0x2210"),)
    items = (item(P, Verdict.NO_GO, *needs, conflicts=(TAKEN,), coding=rows),)
    found = steps(items, P, writes=(BLOCK,))
    assert {step.phase for step in found} == {"before"}
    before = texts(found, "before")
    assert before[0] == "Do not fit park-distance: no-go. The steps here are only those that could change it."
    assert found[0].caution
    assert "Ask the part's maker for another id, or put it behind its own gateway." in before
    assert any(text.startswith("reverse-engaged: Select reverse") for text in before)
    assert "Measure the bumper." not in before


def test_an_unproven_item_has_every_phase_behind_a_caution() -> None:
    rows = (row("gateway", "0x2210"),)
    items = (item(P, Verdict.UNPROVEN, need("reverse-engaged", Reason.NO_MARK), coding=rows),)
    found = steps(items, P, writes=(BLOCK,))
    for phase in ("fit", "code", "prove"):
        here = [step for step in found if step.phase == phase]
        waiting = [step for step in here if step.caution and "unproven" in told(step)]
        assert len(waiting) == 1
        work = [index for index, step in enumerate(here) if not step.caution]
        assert work
        assert here.index(waiting[0]) < work[0]


def test_coding_goes_first_modules_then_file_order_then_last_and_says_why() -> None:
    rows = (row("gateway", "0x2210"), row("column", "0x2230"), row("engine", "0x2281"))
    writes = (
        BLOCK,
        Write("column", "0x2230", "00000000", "01000000"),
        Write("engine", "0x2281", "00" * 12, "01" + "00" * 11),
    )
    found = steps((item(P, Verdict.GO_WITH_CHANGES, coding=rows),), P, writes=writes)
    written = [text for text in texts(found, "code") if text.startswith("Write")]
    assert [text.split()[1] for text in written] == ["engine", "column", "gateway"]
    assert written[0].endswith("First: the vehicle file says so.")
    assert written[1] == (
        "Write column (Steering column module) 0x2230: 00 00 00 00 → 01 00 00 00 (switch off → on). "
        "To revert: 00 00 00 00."
    )
    assert written[2].endswith("Last: it looks for every module it lists.")


def test_one_module_alone_is_neither_first_nor_last() -> None:
    found = steps((item(P, Verdict.GO_WITH_CHANGES, coding=(row("gateway", "0x2210"),)),), P, writes=(BLOCK,))
    (written,) = (text for text in texts(found, "code") if text.startswith("Write"))
    assert "Last" not in written


def test_coding_says_who_writes_and_ends_with_reading_back() -> None:
    found = steps((item(P, Verdict.GO_WITH_CHANGES, coding=(row("gateway", "0x2210"),)),), P, writes=(BLOCK,))
    code = [step for step in found if step.phase == "code"]
    assert code[0].caution
    assert told(code[0]).startswith("netcheck writes nothing to a vehicle: code with your own authorised")
    assert told(code[-2]).endswith("netcheck coding van.job.toml --readback FILE")
    assert told(code[-1]) == "Every block reads back as written: only then begin the checks."


def test_two_items_that_share_a_block_get_one_write() -> None:
    rows = (
        row("column", "0x2230", field="buttons"),
        row("column", "0x2230", field="stalk", after="10", mask="10"),
    )
    items = (
        item(P, Verdict.GO_WITH_CHANGES, coding=rows[:1]),
        item(W, Verdict.GO_WITH_CHANGES, coding=rows[1:]),
    )
    found = steps(items, P, W, writes=(Write("column", "0x2230", "00000000", "11000000"),))
    (written,) = (step for step in found if told(step).startswith("Write"))
    assert written.item == ""
    assert "(buttons off → on and stalk off → on)" in told(written)


def test_a_block_with_a_change_of_a_no_go_item_is_not_written() -> None:
    rows = (
        row("column", "0x2230", field="buttons"),
        row("column", "0x2230", field="stalk", after="10", mask="10"),
    )
    items = (
        item(P, Verdict.GO_WITH_CHANGES, coding=rows[:1]),
        item(W, Verdict.NO_GO, coding=rows[1:], conflicts=(TAKEN,)),
    )
    found = steps(items, P, W, writes=(Write("column", "0x2230", "00000000", "11000000"),))
    assert not any(told(step).startswith("Write") for step in found)
    (held,) = (step for step in found if told(step).startswith("Do not write"))
    assert held.caution
    assert "wheel-buttons" in told(held)
    # Near miss: the change of the no-go item is in conflict and therefore not in the write.
    found = steps(items, P, W, writes=(Write("column", "0x2230", "00000000", "01000000"),))
    assert any(told(step).startswith("Write column") for step in found)


def test_an_unread_block_is_coded_once_it_is_read() -> None:
    found = steps((item(P, Verdict.UNPROVEN, coding=(unread("gateway", "0x2210"),)),), P)
    assert any(
        text.startswith("Code gateway 0x2210: switch = on; the bytes follow") for text in texts(found, "code")
    )


def test_what_is_set_already_is_not_coded() -> None:
    already = row("gateway", "0x2210", CodingStatus.ALREADY)
    assert texts(steps((item(W, Verdict.GO, coding=(already,)),), W), "code") == []


def test_an_item_that_lives_on_another_waits_for_it() -> None:
    radio = retrofit("head-unit")
    supplied = need("wheel.next", Reason.BY_ITEM)
    loaded = (radio, "comfort")
    fitted = (item(W, Verdict.GO), item(loaded, Verdict.GO_WITH_CHANGES, supplied))
    assert not any("without" in text for text in texts(steps(fitted, W, loaded), "fit"))
    stopped = (
        item(W, Verdict.NO_GO, conflicts=(TAKEN,)),
        item(loaded, Verdict.GO_WITH_CHANGES, supplied),
    )
    assert texts(steps(stopped, W, loaded), "fit")[0] == (
        "Do not fit without wheel-buttons (no-go): it supplies what this needs."
    )


def test_supplied_and_after_coding_needs_are_proven_too() -> None:
    radio = retrofit(
        "head-unit",
        '[[exercise]]\nrole = "wheel.next"\ndo = "Press next"\n'
        '[[exercise]]\nrole = "wheel.mute"\ndo = "Press mute"',
    )
    loaded = (radio, "comfort")
    needs = (
        need("wheel.next", Reason.BY_ITEM, status=Status.SUPPLIED),
        need("wheel.mute", Reason.LOCKED),
        need("reverse-engaged"),
    )
    items = (item(W, Verdict.GO), item(loaded, Verdict.GO_WITH_CHANGES, *needs))
    found = steps(items, W, loaded)
    mine = [step for step in found if step.phase == "prove" and "head-unit" in step.items]
    assert [told(step) for step in mine] == [
        "wheel.next: Press the next button. Comes from wheel-buttons.",
        "wheel.mute: Press the mute button. First seen now: it appears only with the coding.",
        "Show that the part reacts to reverse-engaged (no exercise is given).",
    ]


def test_an_optional_need_that_is_missing_is_not_proven() -> None:
    needs = (need("reverse-engaged", Reason.MESSAGE_ABSENT, optional=True), need("brake-pedal"))
    prove = texts(steps((item(P, Verdict.GO, *needs),), P), "prove")
    assert not any("reverse-engaged" in text for text in prove)
    assert any("brake-pedal" in text for text in prove)


def test_phases_stand_in_their_order() -> None:
    rows = (row("gateway", "0x2210"),)
    items = (
        item(P, Verdict.UNPROVEN, need("reverse-engaged", Reason.NO_MARK), coding=rows),
        item(W, Verdict.GO_WITH_CHANGES, coding=(row("column", "0x2230"),)),
    )
    phases = [step.phase for step in steps(items, P, W, writes=(BLOCK,))]
    order = ["before", "fit", "code", "prove", "handover"]
    assert set(phases) == set(order)
    assert phases == sorted(phases, key=order.index)
