"""How often the search for a quantity is right, over traffic made from open DBCs.

python -m tests.find.quantity_scoring [track|signal|absent] [RUNS]
"""

from __future__ import annotations

import sys
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Any

import cantools
import numpy as np
from numpy.typing import NDArray

from netcheck.database import Message, Signal
from netcheck.find import (
    FoundField,
    Known,
    Movements,
    QuantityCandidate,
    QuantitySearch,
    find_quantity,
    known_signal,
    movements_of,
    track,
)
from netcheck.network import FrameId
from tests.database.test_opendbc import texts
from tests.find.scoring import run
from tests.find.traffic import Layout, Place, Traffic, layouts, names

SPEED, ANGLE, DISTANCE, SHARE, TURNS = "km/h", "degrees", "cm", "%", "rpm"
UNITS = {
    "km/h": SPEED, "kph": SPEED, "kmh": SPEED, "kilometer per hour": SPEED, "mph": SPEED,
    "deg": ANGLE, "degrees": ANGLE, "degree": ANGLE, "°": ANGLE,
    "cm": DISTANCE, "%": SHARE, "rpm": TURNS, "1/min": TURNS,
}  # fmt: skip
ROLES = {
    SPEED: "vehicle-speed",
    ANGLE: "steering-angle",
    DISTANCE: "park.rear-left-inner",
    SHARE: "illumination-level",
    TURNS: "engine-speed",
}
# rest, least, most, slowest and fastest change in units a second
HABITS = {
    SPEED: (0.0, 0.0, 65.0, 3.0, 9.0),
    ANGLE: (0.0, -360.0, 360.0, 40.0, 160.0),
    DISTANCE: (120.0, 15.0, 200.0, 8.0, 40.0),
    SHARE: (40.0, 0.0, 100.0, 10.0, 40.0),
    TURNS: (800.0, 750.0, 3500.0, 200.0, 1200.0),
}


@dataclass(frozen=True)
class Target:
    """A place and what it means. known: its scale is the DBC's"""

    frame_id: FrameId
    place: Place
    unit: str
    scale: float
    offset: float


@dataclass(frozen=True)
class Made:
    """A run: the search, what would be right, and in what traffic."""

    dbc: str
    search: QuantitySearch
    movements: Movements
    right: tuple[Target, ...]
    about: str

    def rank(self) -> int:
        """Of the first row that names the truth or a copy of it with right borders, from 1; 0 for none."""
        for number, each in enumerate(self.search.candidates, 1):
            if self.is_right(each):
                return number
        return 0

    def is_right(self, row: QuantityCandidate) -> bool:
        """Whether one of its fields has just the bits of the truth that moved, with its order and sign."""
        return any(
            moved_right(self.movements, field, target)
            for field in (row.field, *row.copies)
            for target in self.right
        )

    def is_exact(self) -> bool:
        """Whether the first row has the DBC's borders, bits that never moved included."""
        return any(
            field.frame_id == target.frame_id and field_bits(field) == target.place.bits
            for row in self.search.candidates[:1]
            for field in (row.field, *row.copies)
            for target in self.right
        )

    def is_there(self) -> bool:
        """Whether the first row shares bits with the truth, whatever its borders."""
        return any(
            field.frame_id == target.frame_id and set(field_bits(field)) & set(target.place.bits)
            for row in self.search.candidates[:1]
            for field in (row.field, *row.copies)
            for target in self.right
        )


def field_bits(field: FoundField) -> tuple[int, ...]:
    """From the least significant one on; counted here by hand, not by the package."""
    bits, bit = [], 8 * field.byte + field.bit
    for _ in range(field.width):
        bits.append(bit)
        bit = bit - 15 if field.order == "big" and bit % 8 == 7 else bit + 1
    return tuple(bits)


def moved_right(movements: Movements, field: FoundField, target: Target) -> bool:
    """Bits that never moved cannot be told: they do not count."""
    if field.frame_id != target.frame_id:
        return False
    (message,) = (each for each in movements.messages if each.frame_id == target.frame_id)
    flips = message.flips()
    found = [bit for bit in field_bits(field) if flips[bit]]
    wanted = [bit for bit in target.place.bits if flips[bit]]
    has_sign = target.place.is_signed and bool(flips[target.place.bits[-1]])
    return found == wanted and field.is_signed == has_sign


@cache
def meanings(dbc: str) -> dict[tuple[FrameId, str], tuple[str, float, float]]:
    """Unit, scale and offset of the signals whose unit is one of ours."""
    database: Any = cantools.database.load_string(texts()[dbc], "dbc", strict=False)
    return {
        (FrameId(message.frame_id, message.is_extended_frame), signal.name): (
            UNITS[signal.unit.lower()],
            float(signal.scale),
            float(signal.offset),
        )
        for message in database.messages
        for signal in message.signals
        if signal.unit and signal.unit.lower() in UNITS
    }


def targets(rng: np.random.Generator, dbc: str, traffic: Traffic) -> list[Target]:
    """Fields of five bits or more: those with a unit of ours, else any, with a scale made up."""
    known, found, others = meanings(dbc), [], []
    for frame_id, wire in traffic.wires.items():
        for place in wire.layout.places:
            if not 5 <= len(place.bits) <= 24 or any(
                word in place.name.lower() for word in ("checksum", "crc", "count", "chk")
            ):
                continue
            if (frame_id, place.name) in known:
                unit, scale, offset = known[frame_id, place.name]
                if _holds(place, unit, scale, offset):
                    found.append(Target(frame_id, place, unit, scale, offset))
                    continue
            others.append((frame_id, place))
    for frame_id, place in others[: max(3 - len(found), 0)]:
        unit = ANGLE if place.is_signed else str(rng.choice([SPEED, DISTANCE, SHARE, TURNS]))
        _, low, high, _, _ = HABITS[unit]
        part = rng.uniform(0.15, 0.9)
        scale = (high - low) / (part * (1 << len(place.bits)))
        found.append(Target(frame_id, place, unit, scale, 0.0))
    return found


def _holds(place: Place, unit: str, scale: float, offset: float) -> bool:
    """Whether the usual values fit into it, in 12 steps or more."""
    _, low, high, _, _ = HABITS[unit]
    least, most = _limits(place)
    ends = sorted((least * scale + offset, most * scale + offset))
    return (
        ends[0] <= low + 0.02 * (high - low)
        and ends[1] >= low + 0.5 * (high - low)
        and (high - low) / abs(scale) >= 12
    )


def _limits(place: Place) -> tuple[int, int]:
    width = len(place.bits)
    return (-(1 << width - 1), (1 << width - 1) - 1) if place.is_signed else (0, (1 << width) - 1)


@dataclass(frozen=True)
class Profile:
    """What a person did: corners of value over time."""

    times: NDArray[np.float64]
    values: NDArray[np.float64]

    def at(self, times: NDArray[np.float64], wobble: NDArray[np.float64]) -> NDArray[np.float64]:
        """Smooth, with what a foot or hand adds. wobble: two phases"""
        grid = np.arange(self.times[0] - 3, self.times[-1] + 40, 0.05)
        raw = np.interp(grid, self.times, self.values)
        smooth = np.convolve(raw, np.ones(21) / 21, "same")
        span = np.ptp(self.values)
        moving = np.abs(np.gradient(smooth, 0.05)) > 0.001 * span
        hum = np.sin(grid * 0.9 + wobble[0]) + np.sin(grid * 0.37 + wobble[1])
        smooth += 0.012 * span * hum * (moving | (np.abs(raw - self.values[0]) > 0.05 * span))
        found: NDArray[np.float64] = np.interp(times, grid, smooth)
        return found


def profile(rng: np.random.Generator, unit: str) -> Profile:
    """Two to four turns up and down, with holds."""
    rest, low, high, slow, fast = HABITS[unit]
    times, values = [0.0, rng.uniform(2, 6)], [rest, rest]
    side = 1
    for _ in range(int(rng.integers(3, 6))):
        span = high - low
        aim = rng.uniform(0.3, 1.0)
        value = (
            (aim * high if side > 0 else aim * low)
            if low < 0
            else (low + aim * span if side > 0 else low + rng.uniform(0, 0.3) * span)
        )
        side = -side
        seconds = abs(value - values[-1]) / rng.uniform(slow, fast) + 0.5
        times.append(times[-1] + seconds)
        values.append(value)
        times.append(times[-1] + rng.uniform(1.5, 6))
        values.append(value)
    return Profile(np.array(times), np.array(values))


def noted_track(rng: np.random.Generator, made: Profile, unit: str, late: float = 0.5) -> Known:
    """A person's track: each corner off by up to ``late`` s and a few units; in a quarter one is left out."""
    _, low, high, _, _ = HABITS[unit]
    points = []
    last = len(made.times) - 1
    left_out = int(rng.integers(1, last)) if rng.random() < 0.25 else last + 1
    for number, (time, value) in enumerate(zip(made.times.tolist(), made.values.tolist(), strict=True)):
        if number == left_out:
            continue
        off = 0.0 if number in (0, last) else rng.uniform(-late, late)
        points.append(
            (
                max(time + off, 0.0),
                value + rng.uniform(-0.04, 0.04) * (high - low) * (value != made.values[0]),
            )
        )
    return track(sorted(dict(points).items()), unit)


def put(
    rng: np.random.Generator,
    traffic: Traffic,
    target: Target,
    physical: Callable[[NDArray[np.float64]], NDArray[np.float64]],
) -> None:
    """Values of a field, rounded, with the noise of a sensor, within its limits."""
    wire = traffic.wires[target.frame_id]
    raw = (physical(wire.times) - target.offset) / target.scale
    raw += rng.normal(0, rng.choice([0, 0.3, 1.0]), len(raw))
    low, high = _limits(target.place)
    wire.values[target.place.name] = np.clip(np.round(raw), low, high).astype(np.int64)


def track_run(seed: int, *, is_absent: bool = False, by_signal: bool = False) -> Made | None:
    """One quantity, with copies in some runs, and others that move a little like it."""
    rng = np.random.default_rng([seed, 3])
    while not layouts(dbc := names()[int(rng.integers(len(names())))]):
        pass
    probe = Traffic(rng, layouts(dbc), 10.0)
    choice = targets(rng, dbc, probe)
    if not choice:
        return None
    target = choice[int(rng.integers(len(choice)))]
    made = profile(rng, target.unit)
    traffic = Traffic(
        rng, [wire.layout for wire in probe.wires.values()], float(made.times[-1]) + rng.uniform(0, 20)
    )
    wobble = rng.uniform(0, 6, 2)
    physical = lambda times: made.at(times, wobble)  # noqa: E731
    right, about = [target], []
    if not is_absent:
        put(rng, traffic, target, physical)
        free = [each for each in choice if each.place is not target.place]
        rng.shuffle(free)  # type: ignore[arg-type]
        if free and rng.random() < 0.35:
            about.append("copy")
            copy = _fitted(free.pop(), target)
            late = rng.uniform(0, 0.05)
            put(rng, traffic, copy, lambda times: physical(times - late))
            right.append(copy)
        if free and rng.random() < 0.4:
            about.append("related")
            other = _fitted(free.pop(), target)
            stray = Profile(made.times, rng.permutation(made.values))
            share = rng.uniform(0.4, 0.75)
            put(
                rng,
                traffic,
                other,
                lambda times: share * physical(times) + (1 - share) * stray.at(times, wobble),
            )
    known: Known | None = noted_track(rng, made, target.unit)
    movements = movements_of("made.log", ("can0", "can1"), [traffic.capture()])
    if by_signal:
        known = _other_signal(rng, made, wobble, movements)
    search = find_quantity(movements, known, ROLES[target.unit], unit=target.unit)
    return Made(dbc, search, movements, () if is_absent else tuple(right), ", ".join([target.unit, *about]))


def _fitted(place: Target, like: Target) -> Target:
    """The same quantity in another field."""
    _, low, high, _, _ = HABITS[like.unit]
    least, most = _limits(place.place)
    room = most if low < 0 and place.place.is_signed else most - least
    scale = (high - low) / (0.7 * room)
    return Target(
        place.frame_id, place.place, like.unit, scale, low if low < 0 and not place.place.is_signed else 0.0
    )


def _other_signal(
    rng: np.random.Generator, made: Profile, wobble: NDArray[np.float64], movements: Movements
) -> Known | None:
    """A described signal of the same quantity: late, noisy, a few per cent off; in a capture of its own."""
    period = float(rng.choice([0.02, 0.1, 0.2]))
    times = np.arange(0, movements.seconds, period)
    factor, late = rng.uniform(0.95, 1.05), rng.uniform(0, 0.2)
    values = factor * made.at(times - late, wobble) + rng.normal(0, 0.005 * np.ptp(made.values), len(times))
    place = Place("KNOWN", tuple(range(16)), is_signed=True)
    traffic = Traffic(rng, [Layout("KNOWN", FrameId(0x7A0, False), 8, (place,))], float(times[-1]) + 1)
    wire = traffic.wires[FrameId(0x7A0, False)]
    wire.times, scale = times, 2 * max(np.abs(made.values).max(), 1) / 32000
    wire.values["KNOWN"] = np.clip(np.round(values / scale), -32768, 32767).astype(np.int64)
    signal = Signal("KNOWN", 0, 16, False, True, False, scale, 0.0, None, None)
    message = Message(
        "KNOWN",
        0x7A0,
        False,
        False,
        is_j1939=False,
        length=8,
        senders=(),
        cycle_time_ms=None,
        signals=(signal,),
    )
    source = movements_of("known.log", ("can0",), [traffic.capture()])
    return known_signal(source, message, signal, later_ns=movements.start_ns - source.start_ns)


def signal_run(seed: int) -> Made | None:
    """Found by a second known signal."""
    return track_run(seed + 50_000, by_signal=True)


def absent_run(seed: int) -> Made | None:
    """The quantity is on none of the wires; in every second run a second signal is known."""
    return track_run(seed + 100_000, is_absent=True, by_signal=seed % 2 == 1)


def summary(found: Sequence[Made]) -> dict[str, float]:
    """Shares of runs, and of rows scored 0.9 or more."""
    ranks = [made.rank() for made in found]
    high = [made.is_right(row) for made in found for row in made.search.candidates if row.score >= 0.9]
    shown = sum(any(row.score >= 0.9 for row in made.search.candidates) for made in found)
    return {
        "runs": len(found),
        "first, right borders": sum(rank == 1 for rank in ranks) / len(found),
        "first three": sum(1 <= rank <= 3 for rank in ranks) / len(found),
        "first, borders of the DBC": sum(made.is_exact() for made in found) / len(found),
        "right of those scored 0.9": float(np.mean(high)) if high else 1.0,
        "runs with one scored 0.9": shown / len(found),
    }


def causes(found: Sequence[Made]) -> Counter[str]:
    """Why a run missed."""
    return Counter(cause(made) for made in found if made.rank() != 1)


def cause(made: Made) -> str:
    if not made.search.candidates:
        return "nothing found"
    if not made.is_there():
        return "another field first"
    row = made.search.candidates[0]
    for target in made.right:
        for field in (row.field, *row.copies):
            bits, wanted = field_bits(field), target.place.bits
            if field.frame_id != target.frame_id or not set(bits) & set(wanted):
                continue
            flips = next(m for m in made.movements.messages if m.frame_id == field.frame_id).flips()
            moved, asked = [b for b in bits if flips[b]], [b for b in wanted if flips[b]]
            if moved == asked:
                return "sign"
            if moved[0] != asked[0]:
                return "lowest bit: too few" if moved[0] in asked else "lowest bit: too many"
            return "highest bit: too few" if set(moved) <= set(asked) else "highest bit: too many"
    return "another field first"


def misses(found: Sequence[Made]) -> list[str]:
    """Each run that did not have the truth first: its DBC, what was special, and what came first."""
    return [
        f"{cause(made)}: {made.dbc}, {made.about}; rank {made.rank()}; {_row(made)}"
        for made in found
        if made.rank() != 1
    ]


def _row(made: Made) -> str:
    wanted = [
        f"{t.frame_id} {t.place.bits[0]}+{len(t.place.bits)}{'b' if t.place.is_big else 'l'}"
        for t in made.right
    ]
    first = made.search.candidates[:1]
    rows = [
        f"{c.field.frame_id} {c.field.bits[0]}+{c.field.width}{c.field.order[0]} {c.score:.2f} {c.fit:.4f}"
        for c in first
    ]
    return f"{' '.join(rows) or 'none'} for {', '.join(wanted)}"


def main() -> None:
    kinds = {"track": track_run, "signal": signal_run, "absent": absent_run}
    runs = int(sys.argv[2]) if len(sys.argv) > 2 else 100
    for name in [sys.argv[1]] if len(sys.argv) > 1 else list(kinds):
        found = run(kinds[name], runs)
        lines = [f"{name}: {summary(found)}"]
        if name != "absent":
            lines += [f"{causes(found)}", *misses(found)]
        sys.stdout.write("\n".join(lines) + "\n")


if __name__ == "__main__":
    main()
