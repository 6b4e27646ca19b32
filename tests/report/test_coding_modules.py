"""Every change of a fault and every kind of write has its words."""

from __future__ import annotations

from netcheck.coding import FaultChange, WriteCheck, WriteContent
from netcheck.report._coding_modules import FAULT_WORDS, OUTCOMES, WRITTEN_WORDS, write_text


def test_every_kind_has_its_words():
    assert FAULT_WORDS.keys() == set(FaultChange)
    assert WRITTEN_WORDS.keys() == set(WriteContent)
    assert OUTCOMES.keys() == {True, False, None}


def test_a_write_says_when_and_why_it_was_refused():
    check = WriteCheck("cluster", "0x2240", "013C", WriteContent.PLANNED, False, 0x22, 3, "x.log", 0.2234)
    assert write_text(check) == (
        "cluster 0x2240 at 0.223 s: 01 3C, conditions not correct (0x22), extended session; as planned"
    )
