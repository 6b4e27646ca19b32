"""How often the search is right, over traffic made from open DBCs.

    python -m tests.find.scoring [states|buttons|absent|quantities] [RUNS]
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from netcheck.find import Candidate, FindMark, FoundField, Search, find_states, movements_of
from netcheck.network import FrameId
from tests.find.traffic import (
    Layout,
    Place,
    Traffic,
    layouts,
    noted,
    presses,
    presses_to_steps,
)

ROLE = "reverse-engaged"


@dataclass(frozen=True)
class Truth:
    """Where the role is: its places, copies and what follows it."""

    places: tuple[tuple[FrameId, Place], ...]


@dataclass(frozen=True)
class Made:
    """A run: the search's input, and what would be right."""

    dbc: str
    search: Search
    truth: Truth
    about: str = ""

    def rank(self) -> int:
        """Of the first candidate that is right, from 1; 0 for none."""
        for number, each in enumerate(self.search.candidates, 1):
            if is_right(each, self.truth):
                return number
        return 0


def is_right(candidate: Candidate, truth: Truth) -> bool:
    """Whether the row, with its copies, names bits of the truth and no others."""
    return any(_within(each, truth) for each in (candidate.field, *candidate.copies))


def _within(field: FoundField, truth: Truth) -> bool:
    bits = set(range(8 * field.byte + field.bit, 8 * field.byte + field.bit + field.width))
    return bool(bits) and any(
        field.frame_id == frame_id and bits <= set(place.bits) for frame_id, place in truth.places
    )


def _small(layout: Layout, widths: tuple[int, ...]) -> list[Place]:
    words = ("checksum", "crc", "count", "chk")
    return [
        place
        for place in layout.places
        if len(place.bits) in widths
        and not any(word in place.name.lower() for word in words)
        and max(place.bits) // 8 == min(place.bits) // 8
    ]


def _pick(rng: np.random.Generator, traffic: Traffic, widths: tuple[int, ...]) -> tuple[FrameId, Place] | None:
    places = [
        (frame_id, place)
        for frame_id, wire in traffic.wires.items()
        for place in _small(wire.layout, widths)
    ]
    return places[int(rng.integers(len(places)))] if places else None


def _dbc(rng: np.random.Generator) -> tuple[str, tuple[Layout, ...]]:
    names = sorted(layouts())
    name = names[int(rng.integers(len(names)))]
    return name, layouts()[name]


def states(seed: int, *, is_absent: bool = False) -> Made | None:
    """One state: three presses, a forgotten note in a quarter of the runs; copies and lamps in some."""
    rng = np.random.default_rng([seed, 1])
    dbc, layout = _dbc(rng)
    count = 3
    worked = presses(rng, count, 3.0)
    traffic = Traffic(rng, layout, worked[-1][1] + rng.uniform(5, 30))
    picked = _pick(rng, traffic, (1, 2, 3))
    if picked is None:
        return None
    frame_id, place = picked
    steps = presses_to_steps(worked, *_values(rng, place))
    places = [picked]
    about = []
    if not is_absent:
        if rng.random() < 0.2:
            about.append("at changes")
        traffic.set(frame_id, place.name, steps, at_changes=bool(about))
        if rng.random() < 0.3 and (copy := _pick(rng, traffic, (1, 2, 3))) not in (None, picked):
            assert copy is not None
            about.append("copy")
            delayed = presses_to_steps(worked, *_values(rng, copy[1])).later(rng.uniform(0, 0.02))
            traffic.set(copy[0], copy[1].name, delayed)
            places.append(copy)
        if rng.random() < 0.3 and (lamp := _pick(rng, traffic, (1,))) not in (None, *places):
            assert lamp is not None
            about.append("effect")
            traffic.set(lamp[0], lamp[1].name, presses_to_steps(worked).later(rng.uniform(0.15, 0.6)))
    marks = noted(rng, ROLE, worked)
    if rng.random() < 0.25:
        about.append("forgotten")
        del marks[int(rng.integers(len(marks)))]
    batch = float(rng.choice([0, 0, 0, 0.02, 0.1]))
    quiet = []
    if rng.random() < 0.3:
        about.append("quiet")
        still = Traffic(rng, layout, 20.0)
        quiet.append(movements_of("quiet.log", ("can0", "can1"), [still.capture()]))
    movements = movements_of("made.log", ("can0", "can1"), [traffic.capture(batch=batch)])
    search = find_states(movements, marks, ROLE, quiet=quiet)
    return Made(dbc, search, Truth(tuple(places)), ", ".join(about))


def _values(rng: np.random.Generator, place: Place) -> tuple[int, int]:
    top = (1 << len(place.bits)) - 1
    if top == 1:
        return (0, 1) if rng.random() < 0.1 else (1, 0)
    active = int(rng.integers(1, top, endpoint=True))
    return active, 0


def absent(seed: int) -> Made | None:
    """The role is on none of the wires."""
    made = states(seed + 100_000, is_absent=True)
    return None if made is None else Made(made.dbc, made.search, Truth(()), made.about)


def run(make: Callable[[int], Made | None], runs: int) -> list[Made]:
    found: list[Made] = []
    seed = 0
    while len(found) < runs:
        made = make(seed)
        seed += 1
        if made is not None:
            found.append(made)
    return found


def summary(found: list[Made]) -> dict[str, float]:
    """Shares of runs, and of candidates scored 0.9 or more."""
    ranks = Counter(made.rank() for made in found)
    high = [
        is_right(each, made.truth) for made in found for each in made.search.candidates if each.score >= 0.9
    ]
    shown = sum(any(each.score >= 0.9 for each in made.search.candidates) for made in found)
    return {
        "runs": len(found),
        "first": ranks[1] / len(found),
        "first three": (ranks[1] + ranks[2] + ranks[3]) / len(found),
        "right of those scored 0.9": float(np.mean(high)) if high else 1.0,
        "runs with one scored 0.9": shown / len(found),
    }


def main() -> None:
    kinds = {"states": states, "absent": absent}
    runs = int(sys.argv[2]) if len(sys.argv) > 2 else 200
    for name in [sys.argv[1]] if len(sys.argv) > 1 else list(kinds):
        found = run(kinds[name], runs)
        print(name, summary(found))
        if name == "absent":
            continue
        for number, made in enumerate(found):
            if made.rank() != 1:
                first = made.search.candidates[:3]
                print(number, made.dbc, made.rank(), made.about, [(f"{c.score:.3f}", c.kind.value, str(c.field.frame_id), c.field.byte, c.field.bit, c.field.width, c.active, c.matched, c.edges, len(c.unasked), c.cause is not None) for c in first], [(str(i), p.bits) for i, p in made.truth.places])


if __name__ == "__main__":
    main()
