"""Recording sessions at a simulated vehicle: roles, a person, and the guide between them, seeded.

Each role has a message of its own every 50 ms. The guide is advanced every tenth of a second, as the command
does, and no clock runs. What came of it is judged as a plan judges: by the recorded frames and the marks.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field
from random import Random
from typing import Final

import numpy as np

from netcheck.capture import Capture
from netcheck.database import Message, Signal
from netcheck.evidence import ExerciseStep, Guide, GuidePhase, Observation, ProposedMark, observe, window
from netcheck.roles import Watch

S: Final = 1_000_000_000
STEP: Final = S // 10
PERIOD: Final = S // 20
BEGIN: Final = 1000 * S
NO_VALUE: Final = 3

# What a role sends at a time: a raw value, or None for no frame. controls: what is pressed, by role number.
Behaviour = Callable[[float, "Controls"], "int | None"]


class Controls:
    """What the person presses: per role, stretches of time in s; the last may be open."""

    def __init__(self, count: int) -> None:
        self.pressed: list[list[tuple[float, float]]] = [[] for _ in range(count)]

    def is_on(self, role: int, at: float) -> bool:
        return any(begin <= at < end for begin, end in self.pressed[role])


def right(role: int, delay: float = 0.0) -> Behaviour:
    return lambda at, controls: int(controls.is_on(role, at - delay))


def periodic(period: float, on: float, phase: float) -> Behaviour:
    return lambda at, _: int((at + phase) % period < on)


def stuck(value: int | None) -> Behaviour:
    return lambda _, __: value


def at_random(rng: Random, off: float, on: float) -> Behaviour:
    """Changes by itself; off and on: mean seconds in each state."""
    borders, at, active = [], 0.0, False
    while at < 600:
        at += rng.expovariate(1 / (on if active else off))
        active = not active
        borders.append(at)
    return lambda at, _: int(np.searchsorted(borders, at) % 2)


def bouncing(role: int, rng: Random) -> Behaviour:
    """Right, with a few frames of the other state within 0.2 s of each change."""

    def value(at: float, controls: Controls) -> int:
        now, before = controls.is_on(role, at), controls.is_on(role, at - 0.2)
        return int(now) if now == before or rng.random() < 0.6 else int(before)

    return value


def with_gaps(inner: Behaviour, holes: Sequence[tuple[float, float]], instead: int | None) -> Behaviour:
    """Silent, or without a value, in the holes."""

    def value(at: float, controls: Controls) -> int | None:
        found = inner(at, controls)
        return instead if any(begin <= at < end for begin, end in holes) else found

    return value


def contradicted(inner: Behaviour, every: int) -> Behaviour:
    """A second sender that always says inactive: each ``every``-th frame is its."""
    count = 0

    def value(at: float, controls: Controls) -> int | None:
        nonlocal count
        count += 1
        found = inner(at, controls)
        return 0 if found is not None and count % every == 0 else found

    return value


@dataclass
class Person:
    """Who does the exercises. Times in s after the prompt."""

    rng: Random
    forgets: float = 0.0  # share of exercises not done
    late: tuple[float, float] = (0.7, 3.0)
    holds: tuple[float, float] = (1.0, 4.0)
    patience: float = 12.0  # then "done" is pressed, or "skip"
    skips: float = 0.0
    early: float = 0.0  # share of exercises in which "done" is pressed at any time


@dataclass
class Session:
    """A session that is over."""

    steps: tuple[ExerciseStep, ...]
    guide: Guide
    frames: list[tuple[int, int, int]] = field(default_factory=list)  # time, role, raw
    chunks: list[int] = field(default_factory=list)  # frames taken up to each step

    @property
    def first_ns(self) -> int:
        return self.frames[0][0]

    @property
    def last_ns(self) -> int:
        return max(time for time, _, _ in self.frames)

    def marks(self) -> tuple[ProposedMark, ...]:
        return self.guide.marks(self.first_ns, self.last_ns)

    def seen(self) -> tuple[Observation, ...]:
        """What the plan sees of each role."""

        class Stream(list[Capture]):
            file, channels, skipped, warnings, has_times = "a.log", ("can0",), 0, (), True

        watches = [step.watch for step in self.steps if step.watch is not None]
        windows = [
            tuple(
                found
                for number, made in enumerate(self.marks())
                if made.mark.role == watch.role
                and (found := window(made.mark, f"{number}", watch)) is not None
            )
            for watch in watches
        ]
        stream = Stream([as_capture(self.frames)])
        return observe(stream, watches, windows).channels[0].observations  # type: ignore[arg-type]

    def is_shown(self, role: int) -> bool:
        return is_shown(self.seen()[role])


def is_shown(seen: Observation) -> bool:
    """The rules for a need of answers, as far as they are about marks and movement."""
    moved = seen.has_moved(has_active_states=True)
    return (
        bool(seen.marks)
        and moved
        and not seen.outside.frames
        and all(mark.is_answered for mark in seen.marks)
    )


def step_of(role: int) -> ExerciseStep:
    signal = Signal("State", 0, 2, False, False, False, 1.0, 0.0, None, None, "", {})
    message = Message(f"Role{role}", 0x100 + role, False, False, False, 1, (), 50.0, (signal,))
    watch = Watch(f"role-{role}", "comfort", message, signal, (1,), (NO_VALUE,))
    return ExerciseStep(f"role-{role}", f"do {role}", "active", "state", False, watch)


def as_capture(frames: Sequence[tuple[int, int, int]]) -> Capture:
    times, roles, raw = (np.array(column) for column in zip(*frames, strict=True))
    count = len(frames)
    return Capture(
        file="a.log",
        channels=("can0",),
        time_ns=times.astype(np.int64),
        can_id=(0x100 + roles).astype(np.uint32),
        flags=np.zeros(count, np.uint8),
        channel=np.zeros(count, np.uint8),
        length=np.ones(count, np.uint8),
        start=np.arange(count, dtype=np.int64),
        data=raw.astype(np.uint8),
    )


def session(
    behaviours: Sequence[Behaviour],
    person: Person,
    *,
    quiet: float = 5.0,
    timeout: float | None = None,
    longest: float = 240.0,
    stamps: Callable[[float], float] = lambda at: at,
    pieces: Callable[[int], Sequence[int]] = lambda count: [count],
) -> Session:
    """One session. stamps: what the clock says at a time; pieces: the sizes that a chunk is cut into."""
    count = len(behaviours)
    steps = tuple(step_of(role) for role in range(count))
    guide = Guide(
        steps, quiet_ns=round(quiet * S), timeout_ns=None if timeout is None else round(timeout * S)
    )
    made, controls, rng = Session(steps, guide), Controls(count), person.rng

    def ns(at: float) -> int:
        return BEGIN + round(stamps(at) * 1e6) * 1000

    guide.begin(ns(0.0))
    prompted, key_at, key = -1, 0.0, ""
    for step in range(round(longest * 10)):
        at = step / 10
        chunk = [
            (ns(time), role, raw)
            for time in (at + 0.001, at + 0.051)
            for role, behaviour in enumerate(behaviours)
            if (raw := behaviour(time + role / 1e4, controls)) is not None
        ]
        made.frames += chunk
        begin = 0
        for size in pieces(len(chunk)):
            if size:
                guide.take(as_capture(chunk[begin : begin + size]))
            begin += size
        now = ns(at + 0.1)
        guide.advance(now)
        if guide.phase is GuidePhase.OVER:
            if not guide.stillness_left_ns(now):
                break
            continue
        if guide.current is not None and len(guide.outcomes) != prompted:
            prompted = len(guide.outcomes)
            key_at = at + person.patience
            key = "skip" if rng.random() < person.skips else "done"
            if rng.random() >= person.forgets:
                begins = at + rng.uniform(*person.late)
                controls.pressed[prompted].append((begins, begins + rng.uniform(*person.holds)))
            if rng.random() < person.early:
                key_at = at + rng.uniform(0, 6)
        elif guide.current is not None and at >= key_at:
            _ = guide.skip(now) if key == "skip" else guide.done(now)
            if guide.phase is GuidePhase.UNANSWERED:  # they are sure that they did it
                guide.insist(now)
            key_at = at + 2.0
    guide.stop(max(made.last_ns, BEGIN))
    return made
