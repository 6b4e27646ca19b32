"""Every finding of a readout has its words, and every number that has a name says it once."""

from __future__ import annotations

import pytest

from netcheck.diagnostics import Lapse, ReadoutFinding, ReadoutFindingKind
from netcheck.report._diagnostic_words import refusal_name, service_name, session_name, status_words
from netcheck.report._readout_words import LAPSES, WORDS, finding_place, readout_finding_text


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


def test_every_lapse_has_its_words():
    assert LAPSES.keys() == set(Lapse)


def test_places():
    assert finding_place(ReadoutFinding(ReadoutFindingKind.NO_ANSWER, time=12.3, frame=1204, count=4)) == (
        "at 12.300 s, frame 1,204, and 3 more"
    )
    assert finding_place(ReadoutFinding(ReadoutFindingKind.LINE_NOT_READ, frame=3)) == "line 3"
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
