"""Any part of the demo vans' traffic, mixed and cut, against any job: a wrong pair is never the right one."""

from __future__ import annotations

from contextlib import closing
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from random import Random

import numpy as np
import pytest

from netcheck import read_capture
from netcheck.capture import open_capture
from netcheck.catalogue import load_job
from netcheck.files import LoadedItem, LoadedJob
from netcheck.network import SurveyPlan, survey
from netcheck.roles import load_networks
from netcheck.tap import Recorded, State, check_tap

LOGS = Path(__file__).parents[2] / "sample_logs"
PLACES = (
    ("fulmar_2022_comfort.log.gz", "can0", "comfort"),
    ("guillemot_2021_conversion.log", "can0", "conversion"),
    ("petrel_2017_drive.log.gz", "can0", "drive"),
    ("puffin_2020_comfort_drive.log.gz", "can0", "comfort"),
    ("puffin_2020_comfort_drive.log.gz", "can1", "drive"),
)
JOBS = ("gannet_2019_wheel", "guillemot_2021_camera", "petrel_2017_cruise", "puffin_2020_park_and_cruise")
LEAST = 3  # ids that make a network
Frames = list[tuple[int, int, bytes]]  # ns from the first one, id, payload


@cache
def frames(number: int) -> tuple[tuple[int, int, bytes], ...]:
    file, channel, _ = PLACES[number]
    capture = read_capture(LOGS / file)
    rows = np.flatnonzero(capture.channel == capture.channels.index(channel))
    first = int(capture.time_ns[rows[0]])
    return tuple(
        (int(capture.time_ns[row]) - first, int(capture.can_id[row]), capture.payload(row)) for row in rows
    )


@cache
def items() -> tuple[tuple[LoadedJob, LoadedItem], ...]:
    jobs = [load_job(LOGS / f"{name}.job.toml") for name in JOBS]
    return tuple((job, item) for job in jobs for item in job.items)


@dataclass(frozen=True)
class Pair:
    """A pair of wires: frames, and how many ids of each network they have."""

    rows: Frames
    ids: dict[str, int]

    def write(self, path: Path) -> Path:
        text = "".join(
            f"({1000 + time / 1e9:.6f}) can0 {can_id:03X}#{data.hex()}\n"
            for time, can_id, data in sorted(self.rows)
        )
        path.write_text(text, encoding="ascii")
        return path


def part(rng: Random, number: int, ids: int | None, seconds: float | None) -> Frames:
    """Some ids of a place for some time."""
    every = frames(number)
    known = sorted({can_id for _, can_id, _ in every})
    kept = set(known if ids is None else rng.sample(known, min(ids, len(known))))
    begin, end = 0, every[-1][0]
    if seconds is not None:
        begin = rng.randrange(max(end - round(seconds * 1e9), 1))
        end = begin + round(seconds * 1e9)
    return [(time - begin, name, data) for time, name, data in every if name in kept and begin <= time <= end]


def any_pair(rng: Random, *, mixed: bool) -> tuple[str, Pair]:
    """Traffic of one network, with its name; mixed: and ids of another."""
    number = rng.randrange(len(PLACES))
    network = PLACES[number][2]
    rows = part(rng, number, rng.choice([None, 1, 2, 3, 5, 10, 20]), rng.choice([None, 1, 3, 10]))
    counts = {network: len({can_id for _, can_id, _ in rows})}
    if mixed:
        other = rng.choice([at for at, place in enumerate(PLACES) if place[2] != network])
        more = part(rng, other, rng.choice([1, 3, 6, 15]), 3)
        counts[PLACES[other][2]] = len({can_id for _, can_id, _ in more})
        rows += more
    return network, Pair(rows, counts)


@pytest.mark.parametrize("mixed", [False, True])
def test_a_wrong_pair_is_never_right(tmp_path: Path, mixed: bool) -> None:
    right = 0
    for seed in range(45):
        rng = Random(seed)
        network, pair = any_pair(rng, mixed=mixed)
        if not pair.rows:
            continue
        job, item = rng.choice(items())
        found = check_tap(job, item, Recorded(pair.write(tmp_path / "x.log"), "x.log"))
        states = {finding.kind: finding.state for finding in found.findings}
        where = f"seed {seed}: {pair.ids}, wanted {item.network}: {found.findings[0]}"
        mine = pair.ids.get(item.network or "", 0)
        others = sum(pair.ids.values()) - mine
        if states.get("network") is State.RIGHT:
            assert mine >= LEAST, where
            assert mine > others, where
            right += 1
        if not mixed and network != item.network:
            assert found.verdict in {State.WRONG, State.UNKNOWN}, where
            assert not any(role.state is State.RIGHT for role in found.roles), where
        if found.verdict is State.RIGHT:
            assert states.get("network") is State.RIGHT, where
    assert right, "no pair was right: the test shows nothing"


def test_the_whole_traffic_is_told_and_half_of_it_and_strangers_do_not_mislead(tmp_path: Path) -> None:
    databases = load_networks(items()[0][0].vehicle)
    for seed in range(25):
        rng = Random(seed)
        number = seed % len(PLACES)
        network = PLACES[number][2]
        known = len({can_id for _, can_id, _ in frames(number)})
        share = rng.choice([1.0, 0.5, 0.2, 0.0])
        rows = part(rng, number, round(share * known), 10 if seed >= len(PLACES) else None)
        strangers = rng.sample(range(0x700, 0x7FF), 12) if share < 1 else []
        rows += [(at * 100_000_000, name, bytes(8)) for name in strangers for at in range(20)]
        log = Pair(rows, {}).write(tmp_path / "x.log")
        with closing(open_capture(log)) as stream:
            channel = survey(stream, SurveyPlan(databases, {})).channels[0]
        assert channel.network in {network, None}, seed
        if share >= 0.5:
            assert channel.network == network, seed
        if share == 0:
            assert channel.network is None, seed
