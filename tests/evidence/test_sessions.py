"""Simulated recording sessions, seeded: no recording proves what was not shown.

A role that moves by itself may do so just when it is asked for. Every 40 s or more often, it is found out
before the recording ends. A rarer one may slip through: of sessions with one that is active for about 3 s in
20 s, at random, a tenth show it (a person who waits 12 s for an answer, and does not wonder when it comes).
"""

from __future__ import annotations

from collections import Counter
from random import Random

import pytest

from netcheck.evidence import MarkOrigin, Result
from tests.evidence.mark_rule import Role
from tests.evidence.sessions import (
    NO_VALUE,
    Behaviour,
    Person,
    Session,
    at_random,
    bouncing,
    contradicted,
    periodic,
    right,
    session,
    stuck,
    with_gaps,
)

FITS = (
    Result.ANSWERED,
    Result.CONTRADICTED,
    Result.NO_ANSWER,
    Result.STOOD,
    Result.SKIPPED,
    Result.TIMED_OUT,
)


def any_role(role: int, count: int, rng: Random) -> tuple[str, Behaviour]:
    """What a role does, with the name of it."""
    other = (role + 1) % count
    period = rng.uniform(0.3, 40)
    holes = [(begin, begin + rng.uniform(0.3, 8)) for begin in (rng.uniform(0, 60) for _ in range(3))]
    kinds: dict[str, Behaviour] = {
        "right": right(role),
        "late": right(role, rng.uniform(0.1, 6)),
        "bouncing": bouncing(role, rng),
        "periodic": periodic(period, rng.uniform(0.1, 0.9) * period, rng.uniform(0, period)),
        "at random": at_random(rng, rng.uniform(0.5, 60), rng.uniform(0.2, 30)),
        "stuck": stuck(rng.choice([0, 1, NO_VALUE])),
        "asleep": with_gaps(right(role), holes, None),
        "no value": with_gaps(right(role), holes, NO_VALUE),
        "contradicted": contradicted(right(role), rng.choice([2, 3, 5])),
        "of another": right(other),
    }
    name = rng.choice([*kinds])
    return name, kinds[name]


def any_person(rng: Random) -> Person:
    return Person(
        rng,
        forgets=rng.choice([0, 0.3, 1]),
        holds=rng.choice([(0.2, 0.8), (1.0, 4.0), (6.0, 20.0)]),
        patience=rng.choice([4.0, 12.0]),
        skips=rng.choice([0, 0.5]),
        early=rng.choice([0, 0.5]),
    )


def any_session(seed: int, **how: object) -> tuple[list[str], Session]:
    rng = Random(seed)
    count = rng.choice([1, 2, 3])
    roles = [any_role(role, count, rng) for role in range(count)]
    made = session(
        [behaviour for _, behaviour in roles],
        any_person(rng),
        quiet=rng.choice([0.0, 1.0, 5.0]),
        timeout=rng.choice([None, None, 8.0]),
        **how,  # type: ignore[arg-type]
    )
    return [name for name, _ in roles], made


@pytest.mark.parametrize("first", range(0, 60, 10))
def test_marks_lie_in_the_log_and_the_plan_finds_in_them_what_the_guide_saw(first: int) -> None:
    for seed in range(first, first + 10):
        names, made = any_session(seed)
        length = (made.last_ns - made.first_ns) / 1e9
        last: dict[str, float] = {}
        for each in made.marks():
            mark = each.mark
            assert 0 <= mark.from_ < mark.to <= length + 0.001, seed
            assert mark.from_ >= last.get(mark.role, 0), f"{seed}: marks of {mark.role} overlap"
            last[mark.role] = mark.to
        unprompted = {entry.step.role for entry in made.guide.unprompted()}
        for role, (name, outcome, seen) in enumerate(
            zip(names, made.guide.outcomes, made.seen(), strict=True)
        ):
            where = f"seed {seed}, role {role}, {name}, {outcome.result}"
            if outcome.result is Result.ANSWERED:
                assert seen.marks, where
                assert all(mark.is_answered for mark in seen.marks), where
            elif outcome.result in {Result.NO_ANSWER, Result.CONTRADICTED}:
                assert not any(mark.is_answered for mark in seen.marks), where
            else:
                assert not seen.marks, where
            assert (seen.outside.frames > 0) == (f"role-{role}" in unprompted) or not seen.marks, where


@pytest.mark.parametrize("first", range(0, 60, 10))
def test_marks_are_answered_by_the_rule_to_come_or_are_not_as_the_guide_said(first: int) -> None:
    """From half a second and a period after the begin to half a second before the end, sleep included."""
    judged: Counter[Result] = Counter()
    for seed in range(first, first + 10):
        names, made = any_session(seed)
        traffic = sorted(time for time, _, _ in made.frames)
        for number, outcome in enumerate(made.guide.outcomes):
            own = [
                (time, None if raw == NO_VALUE else raw) for time, role, raw in made.frames if role == number
            ]
            role = Role(own, traffic)
            for each in made.marks():
                if each.mark.role == outcome.step.role:
                    where = f"seed {seed}, {each.mark}, {names[number]}, {outcome.result}"
                    answers = role.answers(each.mark, 1, made.first_ns)
                    assert answers == (each.origin is MarkOrigin.ANSWERED), where
                    judged[outcome.result] += 1
    assert judged[Result.ANSWERED] > 5


def test_marks_do_not_depend_on_how_the_frames_are_cut_into_chunks() -> None:
    for seed in range(6):
        _, whole = any_session(seed)
        _, single = any_session(seed, pieces=lambda count: [1] * count)
        cutter = Random(seed)

        def cut(count: int, cutter: Random = cutter) -> list[int]:
            middle = cutter.randint(0, count)
            return [middle, count - middle]

        _, cut_ = any_session(seed, pieces=cut)
        assert whole.marks() == single.marks() == cut_.marks()
        assert whole.guide.outcomes == single.guide.outcomes == cut_.guide.outcomes


@pytest.mark.parametrize(
    ("name", "most"),
    [("every 2 s", 0), ("every 7 s", 0), ("every 15 s", 0), ("every 35 s", 0), ("now and then", 0.35)],
)
def test_what_moves_by_itself_is_hardly_ever_shown(name: str, most: float) -> None:
    shown: Counter[bool] = Counter()
    for seed in range(25):
        rng = Random(seed)
        word = name.split()[1]
        period = float(word) if word.isdigit() else 0.0
        on = rng.uniform(0.1, 0.9) * period
        moving = periodic(period, on, rng.uniform(0, period)) if period else at_random(rng, 20, 3)
        shown[session([moving], Person(rng)).is_shown(0)] += 1
    assert shown[True] <= most * shown.total()


def test_what_is_contradicted_stuck_or_another_roles_is_never_shown() -> None:
    """Another's: the lamp of the brake for reverse, with both exercised."""
    for seed in range(12):
        rng = Random(seed)
        for behaviour in (
            contradicted(right(0), rng.choice([2, 3, 5])),
            stuck(rng.choice([0, 1, NO_VALUE])),
            right(1),
        ):
            made = session([behaviour, right(1)], Person(rng))
            assert not made.is_shown(0), seed
            assert made.is_shown(1), seed


def test_what_is_right_is_shown_even_late_bouncing_or_with_holes() -> None:
    for seed in range(8):
        rng = Random(seed)
        holes = [(begin, begin + 0.3) for begin in (2.0, 20.0, 30.0)]
        roles = [
            right(0),
            right(1, 0.4),
            bouncing(2, rng),
            with_gaps(right(3), holes, None),
            with_gaps(right(4), holes, NO_VALUE),
        ]
        made = session(roles, Person(rng, patience=20))
        assert [made.is_shown(role) for role in range(5)] == [True] * 5, seed


def test_a_person_who_does_nothing_shows_nothing() -> None:
    for seed in range(6):
        made = session([right(0), right(1)], Person(Random(seed), forgets=1, skips=0.5))
        assert not made.is_shown(0)
        assert not made.is_shown(1)
