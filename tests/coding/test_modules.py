"""Modules after the coding against before it, and writes that were seen against those planned."""

from __future__ import annotations

from netcheck.coding import (
    FaultChange,
    ModuleOfOtherVin,
    NumberChange,
    Write,
    WriteContent,
    compare_modules,
    match_writes,
)
from netcheck.diagnostics import ModuleReading, SeenWrite
from netcheck.files import FaultCode, ModuleReadout

VIN, OTHER = "ZZZSK240ZL0123456", "ZZZSK240ZL0999999"


def told(when, faults=None, module="body", **identification) -> ModuleReadout:
    numbers = {int(key[1:], 16): text for key, text in identification.items()}
    codes = None if faults is None else tuple(FaultCode(*fault) for fault in faults)
    return ModuleReadout(module, when, numbers, codes)


def changes(*readouts) -> dict[str, str]:
    return {check.fault.code: check.change.value for check in compare_modules(readouts, readouts).faults}


def test_faults_are_new_gone_or_still_there():
    before = told("before", [("P0123", 0x09), ("P0124", 0x2F)])
    after = told("after", [("P0124", 0x08), ("P0125", None)])
    assert changes(before, after) == {"P0123": "gone", "P0124": "still", "P0125": "new"}
    checks = compare_modules([before], [after])
    assert checks.is_wrong
    assert [check.fault.status for check in checks.of(FaultChange.STILL)] == [0x08]


def test_codes_that_stand_for_no_fault_do_not_count():
    assert changes(told("before", []), told("after", [("P0123", 0x50)])) == {}
    assert changes(told("before", [("P0123", 0x50)]), told("after", [("P0123", 0x08)])) == {"P0123": "new"}
    assert changes(told("before", [("P0123", 0x08)]), told("after", [("P0123", 0x50)])) == {"P0123": "gone"}


def test_faults_that_were_read_on_one_side_only():
    assert changes(told("after", [("P0123", 0x08)])) == {"P0123": "uncompared"}
    checks = compare_modules([told("before", [("P0123", 0x08)])], [told("after", None, FF187="A")])
    assert (checks.faults, checks.unread, checks.is_wrong, checks.is_unsure) == ((), ("body",), False, True)
    assert not compare_modules([told("before", [])], []).is_unsure


def test_numbers_that_changed():
    before = told("before", FF187="SK24-BOD-A", FF189="0207", FF186="01")
    after = told("after", FF187="SK24-BOD-A", FF189="0208", FF186="03")
    checks = compare_modules([before], [after])
    assert checks.numbers == (NumberChange("body", 0xF189, "0207", "0208"),)
    assert not checks.is_wrong


def test_a_module_of_another_vehicle():
    checks = compare_modules([], [told("after", FF190=OTHER)], VIN)
    assert (checks.vins, checks.is_wrong) == ((ModuleOfOtherVin("body", OTHER, VIN),), True)
    assert compare_modules([], [told("after", FF190=VIN)], VIN).vins == ()
    assert compare_modules([], [told("after", FF190=OTHER)], None).vins == ()


def test_writes_against_the_plan():
    plan = [Write("body", "0x2215", "0A0013FF", "4A0013FF")]

    def seen(did: int, data: str, accepted=True, code=None) -> SeenWrite:
        return SeenWrite(did, bytes.fromhex(data), "x.log", 1.5, accepted, code, 3)

    module = ModuleReading("body", "can0", None, None, None, 1, 1, writes=(
        seen(0x2215, "4A0013FF"), seen(0x2215, "0A0013FF"), seen(0x2215, "4A0013FE"),
        seen(0x2216, "00", accepted=False, code=0x33),
    ))  # fmt: skip
    nobody = ModuleReading(None, "can0", None, None, None, 1, 1, writes=(seen(0x2215, "4A0013FF"),))
    found = match_writes(plan, [module, nobody])
    assert [(check.did, check.what, check.accepted, check.code) for check in found] == [
        ("0x2215", WriteContent.PLANNED, True, None),
        ("0x2215", WriteContent.OLD, True, None),
        ("0x2215", WriteContent.OTHER, True, None),
        ("0x2216", WriteContent.UNPLANNED, False, 0x33),
    ]
