"""A plan over simulated captures: what a script exercises is shown, and each fault is found as such."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.bench.vans import EXERCISES, needs

ROLES = {
    "body": ["reverse-engaged", "door.left-open", "vehicle-speed"],
    "rear": ["reverse-engaged", "vehicle-speed"],
}


@pytest.mark.parametrize("network", ROLES)
def test_what_the_script_exercises_is_shown(tmp_path: Path, network: str) -> None:
    told = needs(tmp_path, EXERCISES, network)
    for role in ROLES[network]:
        need = told[role]
        assert (need.status, need.reason, need.evidence) == ("shown", "ok", "answers"), need.text
    assert told["door.left-open"].reason == ("ok" if network == "body" else "other-network")


FAULTS = [
    ('kind = "message-missing"', "message-absent", 0.0, 16.0),
    ('kind = "frozen-counter"', "counter-frozen", 2.0, 14.0),
    ('kind = "wrong-length"', "short-frame", 2.0, 14.0),
    ('kind = "stuck-signal"\nsignal = "LeverPosition"', "no-answer", 2.0, 14.0),
    ('kind = "stuck-signal"', "no-answer", 2.0, 14.0),
    ('kind = "lost-frames"', "counter-jumps", 0.0, 16.0),
    ('kind = "late-frames"', "too-slow", 0.0, 16.0),
    ('kind = "second-sender"', "counter-jumps", 8.0, 10.0),
]


@pytest.mark.parametrize(("fault", "reason", "begin", "end"), FAULTS)
def test_each_fault_is_found(tmp_path: Path, fault: str, reason: str, begin: float, end: float) -> None:
    body = f'{EXERCISES}[[fault]]\n{fault}\nmessage = "Lever"\nfrom = {begin}\nto = {end}\n'
    told = needs(tmp_path, body)
    assert told["reverse-engaged"].reason == reason, told["reverse-engaged"].text
    assert told["door.left-open"].reason == "ok"
    assert told["vehicle-speed"].reason == "ok"


def test_a_second_sender_without_counter_moves_the_role_unasked(tmp_path: Path) -> None:
    body = EXERCISES + '[[fault]]\nkind = "second-sender"\nmessage = "LeverCopy"\nfrom = 10.0\nto = 12.0\n'
    assert needs(tmp_path, body, "rear")["reverse-engaged"].reason == "moves-unasked"


@pytest.mark.parametrize(("begin", "reason"), [(4.0, "no-answer"), (12.5, "ok")])
def test_asleep_during_a_mark_it_does_not_answer_else_it_is_no_fault(
    tmp_path: Path, begin: float, reason: str
) -> None:
    body = f'{EXERCISES}[[fault]]\nkind = "asleep"\nfrom = {begin}\nto = {begin + 3.0}\n'
    assert needs(tmp_path, body)["reverse-engaged"].reason == reason


def test_few_lost_frames_are_borne(tmp_path: Path) -> None:
    """The nearest miss: one percent of a counter's steps may be wrong."""
    body = (
        EXERCISES + '[[fault]]\nkind = "lost-frames"\nmessage = "Lever"\nfrom = 1.0\nto = 2.0\nshare = 0.05\n'
    )
    assert needs(tmp_path, body)["reverse-engaged"].reason == "ok"
