"""What modules tell: faults, silence, vehicle numbers, from the job's readouts and from its captures."""

from __future__ import annotations

from pathlib import Path

from netcheck.prove import FaultNew, ModuleSilent, Proof
from tests.network.logs import Line
from tests.prove.small import OTHER_VIN, USUAL, VIN, SmallJob, kinds, log_of, note_kinds, without

FAULTS = """[[readout]]
module = "unit"
faults = [{codes}]
when = "{when}"
"""
NUMBER = """[[readout]]
module = "unit"
identification = {{ 0xF190 = "{vin}" }}
when = "{when}"
"""
UNTOLD = without(USUAL, "Vin")


def faults(before: str | None, after: str | None) -> str:
    sides = (("before", before), ("after", after))
    return "".join(FAULTS.format(codes=codes, when=when) for when, codes in sides if codes is not None)


def told(folder: Path, readouts: str) -> Proof:
    return SmallJob(folder, log_of(UNTOLD), log_of(UNTOLD), readouts=readouts).proof()


def test_a_new_fault_is_a_failure_and_an_old_one_is_none(tmp_path: Path) -> None:
    proof = told(tmp_path, faults('"U012187", "B100011"', '"U012187/2F", "C003104/08"'))
    (change,) = proof.changes
    assert (change, proof.verdict) == (FaultNew("unit", "C003104", 0x08), "fail")


def test_a_fault_that_is_not_stored_is_none(tmp_path: Path) -> None:
    assert kinds(told(tmp_path, faults("", '"C003104/50"'))) == []


def test_faults_read_on_one_side_are_noted(tmp_path: Path) -> None:
    assert "FaultsUncompared" in note_kinds(told(tmp_path, faults(None, '"C003104/08"')))
    readouts = faults('"C003104/08"', None) + NUMBER.format(vin=VIN, when="after")
    assert "FaultsUnread" in note_kinds(told(tmp_path, readouts))


def test_the_vehicle_by_what_a_module_says(tmp_path: Path) -> None:
    same = NUMBER.format(vin=VIN, when="before") + NUMBER.format(vin=VIN, when="after")
    assert told(tmp_path, same).sameness.is_same is True
    other = NUMBER.format(vin=VIN, when="before") + NUMBER.format(vin=OTHER_VIN, when="after")
    assert kinds(told(tmp_path, other)) == ["other-vehicle"]


def asked(*data: str, answered: bool = True) -> list[Line]:
    """A tester reads block 0x2210 every second."""
    lines = []
    for number, block in enumerate(data):
        at = 5000 + 1000 * number
        lines.append(Line(at, 0x7E0, "0322221055555555"))
        if answered:
            lines.append(Line(at + 20, 0x7E8, f"07622210{block}"))
    return lines


def talk(folder: Path, before: list[Line], after: list[Line], readouts: str = "") -> Proof:
    return SmallJob(folder, log_of(UNTOLD, before), log_of(UNTOLD, after), readouts=readouts).proof()


def test_a_module_that_answers_no_more(tmp_path: Path) -> None:
    proof = talk(tmp_path, asked("00000000"), asked("", "", answered=False))
    assert proof.changes == (ModuleSilent("unit", 2),)
    unasked = talk(tmp_path, asked("00000000"), [])
    assert (kinds(unasked), "ModulesUnread" in note_kinds(unasked)) == ([], True)


def test_a_module_that_a_readout_knows_and_that_answers_no_more(tmp_path: Path) -> None:
    """Before: a readout of the job. After: a capture in which it is asked in vain. Nobody asked is a note."""
    before = NUMBER.format(vin=VIN, when="before")
    assert talk(tmp_path, [], asked("", "", answered=False), before).changes == (ModuleSilent("unit", 2),)
    unread = told(tmp_path, before)
    assert (kinds(unread), unread.verdict) == ([], "pass-with-notes")
    assert "ModulesUnread" in note_kinds(unread)
    assert "ModulesUnread" not in note_kinds(told(tmp_path, before + NUMBER.format(vin=VIN, when="after")))


def test_coding_that_captures_show(tmp_path: Path) -> None:
    """Byte 0 bit 2 is the menu."""
    proof = talk(tmp_path, asked("00000000"), asked("04000000"))
    assert kinds(proof) == ["coding-changed"]


def test_readouts_of_the_job_come_before_its_captures(tmp_path: Path) -> None:
    block = '[[readout]]\nmodule = "unit"\ndid = 0x2210\ndata = "00000000"\nwhen = "after"\n'
    proof = talk(tmp_path, asked("00000000"), asked("04000000"), block)
    assert kinds(proof) == []
    assert "ReadoutsDiffer" in note_kinds(proof)
