"""The guide of a search on a van in memory: hours of recording without a clock."""

from __future__ import annotations

import random
from collections.abc import Callable
from itertools import combinations, pairwise

from netcheck.find import Asking, AskKind, Pace, SearchGuide, rhythm
from tests.captures import Frame, hand_made

TURN = 0.1  # s


class Person:
    """Works a control when asked, a little late; deaf for some presses."""

    def __init__(self, late: float = 0.3, deaf: tuple[int, ...] = ()) -> None:
        self.late, self.deaf = late, deaf
        self.spans: list[list[float]] = []
        self.role = ""
        self.asked = 0
        self.others: list[tuple[float, float]] = []

    def hear(self, told: Asking, now: float) -> None:
        if told.kind is AskKind.WORK:
            self.asked += 1
            self.role = told.role
            if self.asked not in self.deaf:
                self.spans.append([now + self.late, float("inf")])
        elif told.kind is AskKind.LET_GO and self.spans and self.spans[-1][1] == float("inf"):
            self.spans[-1][1] = now + self.late
        elif told.kind in {AskKind.WORK_OTHERS, AskKind.APART}:
            self.others.append((now + 1, now + 4))

    def works(self, now: float) -> bool:
        return any(begin <= now < end for begin, end in self.spans)

    def works_others(self, now: float) -> bool:
        return any(begin <= now < end for begin, end in self.others)


Van = Callable[[Person, float], dict[int, bytes]]


def drive(guide: SearchGuide, person: Person, van: Van, longest: float = 600.0) -> list[Asking]:
    """Until it is over. Times of the log begin at 100 s."""
    told = guide.begin(100_000_000_000, 100_000_000_000)
    now = 0.0
    while not guide.is_over and now < longest:
        now += TURN
        stamp = round((100 + now) * 1e9)
        guide.take(hand_made([Frame(key, data, time_ns=stamp) for key, data in van(person, now).items()]))
        for each in guide.advance(stamp):
            person.hear(each, now)
            told.append(each)
    assert guide.is_over
    return told


def plain(person: Person, now: float) -> dict[int, bytes]:
    """A control in 0x123, a counter, and a bit that comes on every 7 s."""
    return {0x123: bytes([0x20 * person.works(now), int(now / TURN) & 0xFF, now % 7 < 2])}


def kinds(told: list[Asking]) -> list[AskKind]:
    return [each.kind for each in told]


def test_three_presses_and_it_stands_clear():
    guide = SearchGuide(["reverse-engaged"], Pace(), seed=1)
    told = drive(guide, Person(), plain)
    press = [AskKind.WORK, AskKind.LET_GO, AskKind.RANKED]
    assert kinds(told) == [
        AskKind.TOUCH_NOTHING,
        AskKind.ROLE,
        *press * 3,
        AskKind.CLEAR,
        AskKind.OVER,
    ]
    (search,) = guide.searches("x.log")
    best = search.candidates[0]
    assert (best.field.frame_id.can_id, best.field.byte, best.field.bit) == (0x123, 0, 5)
    assert best.followed == 3
    assert 0 < best.lag < 0.4


def test_the_same_seed_asks_in_the_same_rhythm():
    runs = [drive(SearchGuide(["a"], Pace(), seed), Person(), plain) for seed in (1, 1, 2)]
    seconds = [[each.seconds for each in told] for told in runs]
    assert seconds[0] == seconds[1] != seconds[2]


def test_no_two_intervals_of_a_rhythm_are_alike():
    for seed in range(20):
        steps = rhythm(random.Random(seed), 3, 1.0)
        edges, now = [], 0.0
        for pause, hold in steps:
            edges += [now + pause, now + pause + hold]
            now += pause + hold
        apart = sorted(b - a for a, b in combinations(edges, 2))
        assert min(b - a for a, b in pairwise(apart)) > 0.2
        holds = sorted(hold for _, hold in steps)
        assert holds[0] >= 0.9
        assert holds[1] / holds[0] > 1.3
        assert holds[2] / holds[1] > 1.3


def test_a_twin_is_told_apart_by_other_controls():
    """0x200 follows the control, and other controls as well: such as 'any button pressed'."""

    def van(person: Person, now: float) -> dict[int, bytes]:
        both = person.works(now) or person.works_others(now)
        return {0x123: bytes([person.works(now)]), 0x200: bytes([both, 0])}

    guide = SearchGuide(["wheel.mute"], Pace(), seed=3)
    told = drive(guide, Person(), van)
    best = guide.searches("x.log")[0].candidates[0]
    assert (best.field.frame_id.can_id, best.copies) == (0x123, ())
    assert kinds(told).index(AskKind.WORK_OTHERS) < kinds(told).index(AskKind.CLEAR)


def test_nobody_does_what_is_asked():
    deaf = Person(deaf=tuple(range(1, 100)))
    guide = SearchGuide(["reverse-engaged"], Pace(), seed=1)
    told = drive(guide, deaf, plain)
    assert kinds(told).count(AskKind.WORK) == 7
    assert AskKind.GIVEN_UP in kinds(told)
    assert AskKind.CLEAR not in kinds(told)
    assert not guide.searches("x.log")[0].separated


def test_a_missed_press_is_taken_back_and_asked_for_again():
    guide = SearchGuide(["a"], Pace(quiet=0), seed=1)
    guide.begin(0, 0)
    now = 0
    while guide.phase is not AskKind.LET_GO:
        now += 50_000_000
        guide.take(hand_made([Frame(0x1, b"\0", time_ns=now)]))
        guide.advance(now)
    assert len(guide.marks()) == guide.presses == 1
    guide.again(now)
    assert guide.marks() == []
    assert guide.phase is AskKind.ROLE
    guide.again(now)  # a stray key, with nothing to take back
    assert guide.marks() == []


def test_keys_make_no_mark_and_no_answer():
    """Whatever keys are pressed, and however often: only what was asked for and moved is clear."""
    guide = SearchGuide(["a", "b"], Pace(), seed=1)
    guide.begin(0, 0)
    for step in range(1000):
        now = step * 200_000_000
        guide.take(hand_made([Frame(0x1, bytes([step % 13 < 3]), time_ns=now)]))
        told = guide.advance(now)
        assert AskKind.CLEAR not in kinds(told)
        if step % 37 == 5:
            guide.again(now)
    guide.skip(now)
    assert not any(search.separated for search in guide.searches("x.log"))


def test_roles_one_after_another_with_the_marks_of_all():
    """Two buttons with codes in one field."""

    def van(person: Person, now: float) -> dict[int, bytes]:
        code = {"wheel.next": 1, "wheel.previous": 2}.get(person.role, 0)
        return {0x123: bytes([code * person.works(now)]), 0x7FF: bytes([int(now) & 3])}

    guide = SearchGuide(["wheel.next", "wheel.previous"], Pace(), seed=5)
    drive(guide, Person(), van)
    found = guide.searches("x.log")
    assert [search.separated for search in found] == [True, True]
    assert {mark.role for mark in guide.marks()} == {"wheel.next", "wheel.previous"}


def test_skipping_all_leaves_no_marks():
    guide = SearchGuide(["a", "b"], Pace(quiet=0), seed=1)
    guide.begin(0, 0)
    guide.advance(0)
    assert [each.kind for each in guide.skip(0)] == [AskKind.GIVEN_UP, AskKind.ROLE]
    assert [each.kind for each in guide.skip(0)] == [AskKind.GIVEN_UP, AskKind.OVER]
    assert guide.is_over
    assert guide.skip(0) == []
    assert guide.searches("x.log") == []
