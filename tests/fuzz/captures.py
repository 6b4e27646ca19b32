"""Captures: candump text against its plain twin, other formats, and surveys of what could be read."""

from __future__ import annotations

import json
import random
from pathlib import Path

from netcheck.capture import Capture, open_capture, read_capture
from netcheck.database import load_database
from netcheck.network import SurveyPlan, survey
from netcheck.report.onsite import survey_json, survey_text
from tests.capture.test_foreign import CLASSIC, write
from tests.capture.test_long_frames import ASC, TRC
from tests.capture.test_properties import check
from tests.fuzz.harness import refused, target
from tests.fuzz.mutate import BYTES, NUMBERS, mutated_bytes, mutated_text
from tests.fuzz.van import COMFORT, capture_text
from tests.naive import naive_candump

LINES = """(1436509052.249713) can0 123#0011
(1436509052.249913) can1 12345678#00112233445566
(1436509052.300000) can0 123##30011223344556677AABBCCDD T
(1436509052.400000) can0 123#R4
 (000.001000)  can0  123   [2]  11 22   '."'
 can0  RX B -  123  [08]  11 22 33 44 55 66 77 88
(2020-01-02 03:04:05.678) vcan0 20000040#0000000000000000
# a comment
"""
TOKENS = (
    *BYTES, b"#", b"##", b"(", b")", b"(1436509052.", b"can0", b"R", b"R8_9", b"[64]", b"ERRORFRAME", b"'",
    b"20000000", b"-1", b"T", b"9999999999.999999999", b"_B", b"0" * 70, b"F" * 130,
)  # fmt: skip
FORMS = ("x.asc", "x.csv", "x.trc", "x.txt", "x.blf", "x.log")
SERIAL = "t1238001122334455667\nT000001232AABB\nr1230\nt1232112200FF\n"


@target("candump")
def candump(chance: random.Random, folder: Path) -> None:
    """The kernel reads what its plain twin reads, whatever the pieces and the threads."""
    text = "".join(chance.choices(LINES.splitlines(keepends=True), k=chance.randrange(1, 12))).encode()
    text = mutated_bytes(chance, text, TOKENS)
    if naive_candump(text, 0).frames and b"\x1b" not in text:  # colours, of which the twin knows nothing
        check(text, chance.choice((1, 7, 60, 1 << 20)), chance.choice((1, 2)))
    else:  # other forms of text may still be in it
        path = folder / "x.log"
        path.write_bytes(text)
        refused(lambda: read_capture(path))


@target("captures")
def captures(chance: random.Random, folder: Path) -> None:
    """Every other format is read, counted or refused, and in pieces as in one."""
    name = chance.choice(FORMS)
    path = folder / name
    if name == "x.txt":
        path.write_text(SERIAL)
    else:
        write(path, CLASSIC)
    if name in ("x.asc", "x.trc") and chance.randrange(2):
        row = " 0.1 1 123 Rx d 1 11\n" if name == "x.asc" else "1 1.0 DT 1 0123 Rx - 1 11\n"
        path.write_text((ASC if name == "x.asc" else TRC) + row * 3)
    if name == "x.blf" or chance.randrange(3):
        path.write_bytes(mutated_bytes(chance, path.read_bytes(), TOKENS))
    else:
        path.write_text(mutated_text(chance, path.read_text(), NUMBERS))
    capture = refused(lambda: read_capture(path))
    if capture is not None:
        stream = open_capture(path, chunk_bytes=chance.choice((100, 1 << 20)))
        assert sum(len(chunk) for chunk in stream) == len(capture)
        assert (stream.skipped, stream.channels) == (capture.skipped, capture.channels)
        _look_over(capture)


def _look_over(capture: Capture) -> None:
    """What every capture keeps to."""
    assert (capture.length <= 64).all()
    assert (capture.can_id <= 0x1FFFFFFF).all()
    assert capture.can_id[~capture.is_extended].max(initial=0) <= 0x7FF
    assert all(len(capture.payload(i)) in (0, capture.length[i]) for i in range(len(capture)))


@target("survey")
def surveys(chance: random.Random, folder: Path) -> None:
    """A survey of a spoilt capture has a text of any width, and JSON."""
    path, dbc = folder / "x.log", folder / "x.dbc"
    path.write_bytes(mutated_bytes(chance, capture_text().encode(), TOKENS))
    dbc.write_text(COMFORT)
    networks = {"comfort": load_database(dbc)} if chance.randrange(2) else {}
    found = refused(lambda: survey(open_capture(path), SurveyPlan(networks)))
    if found is not None:
        is_wordy = bool(chance.randrange(2))
        survey_text(found, width=chance.randrange(1, 201), colour=is_wordy, verbose=is_wordy).encode()
        json.dumps(survey_json(found), allow_nan=False)
