"""Every finding of a readout has its words, and every number that has a name says it once."""

from __future__ import annotations

import json
import re
import tomllib

import pytest

from netcheck.diagnostics import (
    BlockRead,
    FaultRead,
    FaultsRead,
    Lapse,
    ModuleReading,
    Readout,
    ReadoutFinding,
    ReadoutFindingKind,
    Refusal,
    SeenService,
    SeenWrite,
    TextRead,
)
from netcheck.files import FaultCode, ReadoutsFile
from netcheck.report._diagnostic_words import refusal_name, service_name, session_name, status_words
from netcheck.report._readout_words import LAPSES, WORDS, finding_place, readout_finding_text
from netcheck.report.readout import ReadoutCase, readout_json, readout_text, readouts_file
from tests.diagnostics.talk import VIN


@pytest.mark.parametrize("kind", ReadoutFindingKind)
def test_every_finding_has_its_words(kind):
    finding = ReadoutFinding(
        kind, lapse=Lapse.CUT_OFF, service=0x22, did=0x2210, found=3, due=6, names=("gateway", "column")
    )
    assert kind in WORDS
    text = readout_finding_text(finding)
    assert text
    assert "None" not in text
    assert readout_finding_text(ReadoutFinding(kind, names=("02",)))


def everything() -> ReadoutCase:
    """One module of which all is known, and all that can be said."""
    written = SeenWrite(0x2210, bytes(20), "talk.log", 12.304, False, 0x22, 3)
    faults = (FaultRead(FaultCode("U012187", 0x2F)), FaultRead(FaultCode("P0133"), "stored"))
    module = ModuleReading(
        "gateway", "can0", (0x6A0, False), (0x18DAF140, True), 0x40, 9, 8,
        identification=(TextRead(0xF187, "SK24-GAT-B", "SK24-GAT-C"), TextRead(0xF190, VIN, None)),
        blocks=(BlockRead(0x2210, bytes(20), bytes(range(20))),),
        faults=FaultsRead(faults, ()),
        refusals=(Refusal(0x22, 0x31, 0x2299, 12),),
        writes=(written,),
        services=(SeenService(0x27, 1, 2, 3, 4), SeenService(0x14, None, 1, 0, 0)),
        findings=tuple(
            ReadoutFinding(kind, "talk.log", 12.3, 1204, 0x2210, 0x22, Lapse.CUT_OFF, 3, 6, ("02", "x"), 7)
            for kind in ReadoutFindingKind
        ),
    )  # fmt: skip
    silent = ModuleReading(None, "can0", (0x6A1, False), None, None, 1, 0)
    return ReadoutCase(Readout(("talk.log",), (module, silent), module.findings[:1]))


@pytest.mark.parametrize("width", [40, 80, 200])
def test_the_text_fits_and_says_all_of_it(width):
    text = readout_text(everything(), width=width)
    assert max(map(len, text.splitlines())) <= width
    words = " ".join(text.split())
    for said in (
        "SK24-GAT-B, after the write SK24-GAT-C",
        "conditions not correct (0x22)",
        "out of range (0x31)",
    ):
        assert said in words
    coloured = readout_text(everything(), width=width, colour=True)
    assert re.sub("\x1b\\[[0-9;]*m", "", coloured) == text


def test_the_json_is_json():
    assert json.loads(json.dumps(readout_json(everything())))["schema"] == "netcheck.readout/1"


def test_the_file_is_one_that_is_read():
    table = tomllib.loads(readouts_file(everything()))
    assert ReadoutsFile.model_validate(table).readout[0].module == "gateway"


def test_every_lapse_has_its_words():
    assert LAPSES.keys() == set(Lapse)


def test_places():
    assert finding_place(ReadoutFinding(ReadoutFindingKind.NO_ANSWER, time=12.3, frame=1204, count=4)) == (
        "at 12.300 s, frame 1,204, and 3 more"
    )
    assert finding_place(ReadoutFinding(ReadoutFindingKind.LINE_NOT_READ, line=3)) == "line 3"
    assert finding_place(ReadoutFinding(ReadoutFindingKind.VIN_DIFFERS)) == ""


def test_names_and_their_numbers():
    assert refusal_name(0x33) == "security access denied (0x33)"
    assert refusal_name(0xE1) == "code 0xE1"
    assert service_name(0x2E) == "write (0x2E)"
    assert service_name(0xB1) == "service 0xB1"
    assert (session_name(3), session_name(0x40), session_name(None)) == (
        "extended session",
        "session 0x40",
        "session not seen",
    )
    assert status_words(0x2F) == [
        "failing now", "failed this cycle", "pending", "confirmed", "failed since cleared",
    ]  # fmt: skip
    assert status_words(0x50) == ["not tested since cleared", "not tested this cycle"]


def test_refusals_are_named_as_a_general_library_names_them():
    udsoncan = pytest.importorskip("udsoncan")
    from netcheck.report._diagnostic_words import REFUSALS

    theirs = {
        value
        for name, value in vars(udsoncan.Response.Code).items()
        if isinstance(value, int) and not name.startswith("_") and 0x10 <= value <= 0x94
    }
    unnamed = theirs - REFUSALS.keys() - {0x38, 0x39, 0x3A, 0x50, 0x51, 0x52, 0x53, 0x54, 0x55, 0x56, 0x57}
    assert {code for code in unnamed if not 0x38 <= code <= 0x5D} == set()
