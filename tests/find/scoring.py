"""How often the search is right, over traffic made from open DBCs.

python -m tests.find.scoring [states|buttons|absent|quantities] [RUNS]
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from typing import TypeVar

import numpy as np

from netcheck.find import FieldCandidate, FoundField, Search, find_states, movements_of
from netcheck.network import FrameId
from tests.find.traffic import (
    MOST,
    Layout,
    Place,
    Steps,
    Traffic,
    layouts,
    names,
    noted,
    presses,
    presses_to_steps,
)

ROLE = "reverse-engaged"


MadeRun = TypeVar("MadeRun")


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


def is_right(candidate: FieldCandidate, truth: Truth) -> bool:
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


def _pick(
    rng: np.random.Generator, traffic: Traffic, widths: tuple[int, ...]
) -> tuple[FrameId, Place] | None:
    places = [
        (frame_id, place) for frame_id, wire in traffic.wires.items() for place in _small(wire.layout, widths)
    ]
    return places[int(rng.integers(len(places)))] if places else None


def _dbc(rng: np.random.Generator) -> tuple[str, tuple[Layout, ...]]:
    while True:
        name = names()[int(rng.integers(len(names())))]
        if layouts(name):
            return name, layouts(name)


def states(seed: int, most: int = MOST, *, is_absent: bool = False) -> Made | None:
    """One state: three presses, a forgotten note in a quarter of the runs; copies and lamps in some.

    most: messages of the capture
    """
    rng = np.random.default_rng([seed, 1])
    dbc, layout = _dbc(rng)
    count = 3
    worked = presses(rng, count, 3.0)
    traffic = Traffic(rng, layout, worked[-1][1] + rng.uniform(5, 30), most)
    picked = _pick(rng, traffic, (1, 2, 3))
    if picked is None:
        return None
    frame_id, place = picked
    steps = presses_to_steps(worked, *_values(rng, place))
    places = [picked]
    worked_fields: list[tuple[FrameId, str, Steps]] = []
    about = []
    if not is_absent:
        if rng.random() < 0.2:
            about.append("at changes")
        traffic.set(frame_id, place.name, steps, at_changes=bool(about))
        worked_fields.append((frame_id, place.name, steps))
        if rng.random() < 0.3 and (copy := _pick(rng, traffic, (1, 2, 3))) not in (None, picked):
            assert copy is not None
            about.append("copy")
            delayed = presses_to_steps(worked, *_values(rng, copy[1])).later(rng.uniform(0, 0.02))
            traffic.set(copy[0], copy[1].name, delayed)
            worked_fields.append((copy[0], copy[1].name, delayed))
            places.append(copy)
        if rng.random() < 0.3 and (lamp := _pick(rng, traffic, (1,))) not in (None, *places):
            assert lamp is not None
            about.append("effect")
            late = presses_to_steps(worked).later(rng.uniform(0.15, 0.6))
            traffic.set(lamp[0], lamp[1].name, late)
            worked_fields.append((lamp[0], lamp[1].name, late))
    marks = noted(rng, ROLE, worked)
    if rng.random() < 0.25:
        about.append("forgotten")
        del marks[int(rng.integers(len(marks)))]
    batch = float(rng.choice([0, 0, 0, 0.02, 0.1]))
    quiet = []
    if rng.random() < 0.3:
        about.append("quiet")
        still = Traffic(rng, layout, 20.0, most)
        for worked_id, name, steps in worked_fields:  # nobody touched anything
            if worked_id in still.wires:
                still.set(worked_id, name, Steps((), steps.values[:1]))
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


def absent(seed: int, most: int = MOST) -> Made | None:
    """The role is on none of the wires."""
    made = states(seed + 100_000, most, is_absent=True)
    return None if made is None else Made(made.dbc, made.search, Truth(()), made.about)


BUTTONS = ("wheel.volume-up", "wheel.volume-down", "wheel.next", "wheel.previous")


def buttons(seed: int, most: int = MOST) -> Made | None:
    """Four buttons with their codes in one field, each pressed three times; one of them is looked for.

    It is right if the row is the field, or part of it, with the code's bits there.
    """
    rng = np.random.default_rng([seed, 2])
    dbc, layout = _dbc(rng)
    worked = presses(rng, 12, 3.0)
    traffic = Traffic(rng, layout, worked[-1][1] + rng.uniform(5, 15), most)
    picked = _pick(rng, traffic, (3, 4, 5, 6, 7, 8))
    if picked is None:
        return None
    frame_id, place = picked
    codes = rng.permutation(np.arange(1, min(1 << len(place.bits), 16)))[:4].tolist()
    order = rng.permutation(12)
    times: list[float] = []
    values = [0]
    marks = []
    for number, span in enumerate(worked):
        which = int(order[number]) % 4
        times += span
        values += [codes[which], 0]
        marks += noted(rng, BUTTONS[which], [span])
    traffic.set(frame_id, place.name, Steps(tuple(times), tuple(values)))
    movements = movements_of("made.log", ("can0", "can1"), [traffic.capture()])
    searches = [find_states(movements, marks, role) for role in BUTTONS]
    wrong = [
        search
        for search, code in zip(searches, codes, strict=True)
        if not search.candidates or not _has_code(search.candidates[0], frame_id, place, code)
    ]
    truth = Truth(((frame_id, place),)) if not wrong else Truth(())
    return Made(dbc, (wrong or searches)[0], truth, f"codes {codes}, {len(wrong)} wrong")


def _has_code(candidate: FieldCandidate, frame_id: FrameId, place: Place, code: int) -> bool:
    field = candidate.field
    if not _within(field, Truth(((frame_id, place),))):
        return False
    low = place.bits.index(8 * field.byte + field.bit)
    return candidate.active == (code >> low & (1 << field.width) - 1,)


def run(make: Callable[[int], MadeRun | None], runs: int) -> list[MadeRun]:
    """So many runs that could be made, by ascending seeds."""
    found: list[MadeRun] = []
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


def misses(found: list[Made]) -> list[str]:
    """Each run that did not have the truth first: its DBC, what was special, and the rows above."""
    return [
        f"{made.dbc}: rank {made.rank()}, {made.about or 'plain'}; first {_row(made)}"
        for made in found
        if made.rank() != 1
    ]


def _row(made: Made) -> str:
    first = made.search.candidates[:1]
    return "".join(f"{c.field.frame_id} {c.score:.2f} {c.matched}/{c.edges}" for c in first) or "none"


def main() -> None:
    kinds = {"states": states, "buttons": buttons, "absent": absent}
    runs = int(sys.argv[2]) if len(sys.argv) > 2 else 200
    for name in [sys.argv[1]] if len(sys.argv) > 1 else list(kinds):
        found = run(kinds[name], runs)
        lines = [f"{name}: {summary(found)}", *(misses(found) if name != "absent" else [])]
        sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
