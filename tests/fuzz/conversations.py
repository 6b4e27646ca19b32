"""A spoilt conversation, export, capture or marks file through the command that reads it."""

from __future__ import annotations

import json
import random
from pathlib import Path

from netcheck.diagnostics import read_diagnostics
from netcheck.files import load_vehicle
from netcheck.report.readout import ReadoutCase, readout_json, readout_text
from tests.demo import diagnostics
from tests.fuzz.captures import TOKENS
from tests.fuzz.harness import command, refused, target
from tests.fuzz.mutate import NUMBERS, mutated_bytes, mutated_text
from tests.fuzz.van import capture_text, put_van

VEHICLE = Path(__file__).parent.parent.parent / "dbc" / "skerry_240.vehicle.toml"
CONVERSATION = diagnostics.after(1_615_275_720_000_000)
EXPORT = """[gateway]
2210 4C011F028000
0xF190 "ZZZSK240ZL0123456"
column;2230;21 00 01 04
gateway faults U012187/2F, P0123
"""
HEX = ("10", "21", "22", "2F", "30", "37", "62", "6E", "7F", "FF", "1FFF", "100000000000")


@target("readout")
def readouts(chance: random.Random, folder: Path) -> None:
    """A spoilt conversation has a readout of any width, a JSON, and bounded work."""
    path = folder / "x.log"
    lines = CONVERSATION.splitlines(keepends=True)
    begin = chance.randrange(len(lines))
    text = "".join(lines[begin : begin + chance.choice((20, 60, 400))])
    if chance.randrange(2):
        text = mutated_text(chance, text.replace("#", " # "), HEX).replace(" # ", "#")
    path.write_bytes(mutated_bytes(chance, text.encode(), TOKENS))
    vehicle = load_vehicle(VEHICLE).model if chance.randrange(2) else None
    found = refused(lambda: read_diagnostics([path], vehicle, when=chance.choice(("before", "after"))))
    if found is not None:
        case = ReadoutCase(found, vehicle)
        readout_text(case, width=chance.randrange(1, 201), colour=bool(chance.randrange(2))).encode()
        json.dumps(readout_json(case), allow_nan=False)


@target("export")
def exports(chance: random.Random, folder: Path) -> None:
    """A spoilt text with modules, identifiers and hex."""
    path = folder / "x.txt"
    path.write_text(mutated_text(chance, EXPORT * chance.choice((1, 3)), NUMBERS + HEX), encoding="utf-8")
    asked = ["readout", path, "--vehicle", VEHICLE, "-o", folder / "x.readouts.toml"]
    command(*asked, "--format", chance.choice(("text", "json")))


@target("find")
def finds(chance: random.Random, folder: Path) -> None:
    """A spoilt capture, or spoilt marks: a ranking, or one line that says what to record instead."""
    put_van(folder)
    path, marks = folder / "comfort_before.log", folder / "comfort_before.marks.toml"
    if chance.randrange(2):
        path.write_bytes(mutated_bytes(chance, capture_text().encode(), TOKENS))
    else:
        marks.write_text(mutated_text(chance, marks.read_text(encoding="utf-8")), encoding="utf-8")
    asked = ["find", path, "--role", "reverse-engaged", "--marks", marks]
    command(*asked, "--format", chance.choice(("text", "json")))


@target("prove")
def proves(chance: random.Random, folder: Path) -> None:
    """The after capture of a job is spoilt."""
    put_van(folder)
    after = folder / "comfort_after.log"
    after.write_bytes(mutated_bytes(chance, capture_text().encode(), TOKENS))
    job = folder / "van.job.toml"
    entry = '\n[[capture]]\nfile = "comfort_after.log"\nwhen = "after"\nchannels = { can0 = "comfort" }\n'
    job.write_text(job.read_text(encoding="utf-8") + entry, encoding="utf-8")
    command("prove", job, "--format", chance.choice(("text", "json")))
