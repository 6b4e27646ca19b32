"""TOML files: one file of a job is spoilt; then the plan and its reports, or the bench, work or refuse."""

from __future__ import annotations

import json
import random
import tomllib
from itertools import islice
from pathlib import Path

from netcheck import load_job, make_plan
from netcheck.bench import load_bench
from netcheck.report import CodingCase, coding_json, coding_text, plan_json, plan_text
from netcheck.report.bench import simulation_warnings
from tests.fuzz.harness import command, refused, target
from tests.fuzz.mutate import BYTES, mutated_bytes, mutated_table, mutated_text, toml_text
from tests.fuzz.van import COMFORT, NAMES, VAN, put_van

TABLES = {kind: tomllib.loads(text) for kind, text in VAN.items()}
FRAMES = 500  # of a script


def spoil(chance: random.Random, folder: Path, kind: str) -> None:
    """The van's files, with one of this kind changed: mostly as a table, else as bytes."""
    put_van(folder)
    path = folder / NAMES[kind]
    if chance.randrange(8):
        path.write_text(toml_text(mutated_table(chance, TABLES[kind])), encoding="utf-8")
    else:
        path.write_bytes(mutated_bytes(chance, VAN[kind].encode(), BYTES))


def report(chance: random.Random, folder: Path) -> None:
    """The plan of the job with all its reports at some width."""
    plan = refused(lambda: make_plan(load_job(folder / NAMES["job"]), cache=False))
    if plan is None:
        return
    is_wordy = bool(chance.randrange(2))
    width = chance.randrange(1, 201)
    plan_text(plan, width=width, colour=is_wordy, verbose=is_wordy).encode()
    json.dumps(plan_json(plan), allow_nan=False)
    case = CodingCase(load_job(folder / NAMES["job"]), plan)
    coding_text(case, width=width, colour=is_wordy).encode()
    json.dumps(coding_json(case), allow_nan=False)


def _plan_target(kind: str) -> None:
    @target(kind)
    def spoilt(chance: random.Random, folder: Path) -> None:
        spoil(chance, folder, kind)
        report(chance, folder)


for _kind in ("vehicle", "retrofit", "job", "marks"):
    _plan_target(_kind)


@target("dbc-plan")
def dbc_plan(chance: random.Random, folder: Path) -> None:
    """A plan, and a bench, with a spoilt DBC."""
    put_van(folder)
    path = folder / "comfort.dbc"
    path.write_text(mutated_text(chance, COMFORT), encoding="utf-8")
    report(chance, folder)
    play(folder)


@target("readouts")
def readouts(chance: random.Random, folder: Path) -> None:
    """A spoilt file of later readouts, compared with what was planned."""
    spoil(chance, folder, "readouts")
    asked = ["coding", folder / NAMES["job"], "--readback", folder / NAMES["readouts"]]
    command(*asked, "--format", chance.choice(("text", "json")))


@target("script")
def script(chance: random.Random, folder: Path) -> None:
    """A bench with a spoilt script sends frames, or none."""
    spoil(chance, folder, "script")
    play(folder)


def play(folder: Path) -> None:
    """The first frames of the van on the bench."""
    bench = refused(lambda: load_bench(folder / NAMES["vehicle"], folder / NAMES["script"]))
    if bench is not None:
        assert all("\n" not in text for text in simulation_warnings(bench))
        times = [frame.time_us for frame in islice(bench.frames(), FRAMES)]
        assert times == sorted(times)
