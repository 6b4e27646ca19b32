"""The coding an item wants: rows, unlocks, conflicts, and the writes of the whole job."""

from __future__ import annotations

import pytest

import netcheck
from tests.acceptance.cases import (
    LEVER,
    SHOWN,
    Case,
    conflicts,
    during,
    every,
    expected,
    missing,
)

FITTED = {0: "absent", 1: "fitted"}
LOCKED = ("after-coding", "locked")
P, R, NONE = "00000000", "01000000", "0F000000"


def gateway(folder, year=2020, **module):
    """A module with two blocks: bits, a nibble that overlaps them, a byte, a word either way round."""
    case = Case(folder, year).module("gateway", **module)
    case.block(
        "gateway",
        0x0600,
        4,
        park={"byte": 2, "bit": 5, "width": 1, "values": FITTED},
        camera={"byte": 2, "bit": 0, "width": 1, "values": FITTED},
        tuning={"byte": 2, "bit": 4, "width": 4},
        region={"byte": 0},
        word={"byte": 0, "width": 16},
        little={"byte": 0, "width": 16, "order": "little"},
    )
    case.block("gateway", 0x0601, 1, horn={"byte": 0, "bit": 7, "width": 1, "values": FITTED})
    return case


def rows(case):
    """Each coding row of the first item as field, from, to, before, after, status."""
    return [
        (row.field, row.from_, row.to, row.before, row.after, str(row.status))
        for row in case.plan().items[0].coding
    ]


def writes(case):
    return [(write.module, write.did, write.before, write.after) for write in case.plan().writes]


# Rows ---------------------------------------------------------------------------------------------


def test_a_field_at_another_value_is_to_do(tmp_path):
    case = gateway(tmp_path).readout("gateway", 0x0600, "03 00 1F 00")
    case.item().code("gateway", "park", "fitted")
    (row,) = case.plan().items[0].coding
    assert (row.module, row.did, row.field, row.byte) == ("gateway", "0x0600", "park", 2)
    assert rows(case) == [("park", "absent", "fitted", "1F", "3F", "to-do")]
    assert writes(case) == [("gateway", "0x0600", "03001F00", "03003F00")]


def test_a_field_at_the_value_is_already_done(tmp_path):
    case = gateway(tmp_path).readout("gateway", 0x0600, "03003F00")
    case.item().code("gateway", "park", "fitted")
    (row,) = case.plan().items[0].coding
    assert (row.from_, row.to, str(row.status)) == ("fitted", "fitted", "already")
    assert writes(case) == []


@pytest.mark.parametrize("read", ["nothing", "another block", "after the fitting"])
def test_a_field_that_was_not_read_before_the_fitting_is_unknown(tmp_path, read):
    case = gateway(tmp_path)
    if read == "another block":
        case.readout("gateway", 0x0601, "00")
    elif read == "after the fitting":
        case.readout("gateway", 0x0600, "03001F00", when="after")
    case.item().code("gateway", "park", "fitted")
    assert rows(case) == [("park", None, "fitted", None, None, "unknown")]
    assert writes(case) == []


@pytest.mark.parametrize(("module", "field"), [("gateway", "horns"), ("gate", "park")])
def test_a_field_that_the_vehicle_file_lacks_is_undefined(tmp_path, module, field):
    case = gateway(tmp_path).readout("gateway", 0x0600, "03001F00")
    case.item().code(module, field, "fitted")
    (row,) = case.plan().items[0].coding
    assert (row.module, row.field, row.from_, str(row.status)) == (module, field, None, "undefined")
    assert conflicts(case) == {"part": ["coding-undefined"]}
    assert writes(case) == []


@pytest.mark.parametrize(("module", "field"), [("gateway", "parc"), ("gatway", "park")])
def test_an_optional_field_that_the_vehicle_lacks_is_neither_a_row_nor_a_conflict(tmp_path, module, field):
    case = gateway(tmp_path)
    case.item().code(module, field, "fitted", optional=True)
    (item,) = case.plan().items
    assert (str(item.verdict), item.coding, item.conflicts) == ("go", (), ())


def test_an_optional_field_that_the_vehicle_has_is_coded_as_any_other(tmp_path):
    case = gateway(tmp_path).readout("gateway", 0x0600, "03 00 1F 00")
    case.item().code("gateway", "park", "fitted", optional=True)
    assert rows(case) == [("park", "absent", "fitted", "1F", "3F", "to-do")]
    unread = gateway(tmp_path)
    unread.item().code("gateway", "park", "fitted", optional=True)
    assert str(unread.plan().verdict) == "unproven"


@pytest.mark.parametrize(("year", "found"), [(2018, []), (2019, ["coding-undefined"])])
def test_a_module_that_this_year_does_not_have_has_no_coding(tmp_path, year, found):
    case = gateway(tmp_path, year, years=[2017, 2018])
    case.item().code("gateway", "park", "fitted")
    assert conflicts(case) == {"part": found}


def test_a_value_may_be_a_number_and_is_told_by_its_label(tmp_path):
    case = gateway(tmp_path).readout("gateway", 0x0600, "03001F00")
    case.item().code("gateway", "park", 1)
    assert rows(case) == [("park", "absent", "fitted", "1F", "3F", "to-do")]


def test_a_value_without_a_label_is_its_number(tmp_path):
    case = gateway(tmp_path).readout("gateway", 0x0600, "07001F00")
    case.item().code("gateway", "region", 0x2A)
    assert rows(case) == [("region", 7, 42, "07", "2A", "to-do")]


@pytest.mark.parametrize(("field", "from_", "after"), [("word", 0x0102, "ABCD"), ("little", 0x0201, "CDAB")])
def test_a_field_of_two_bytes_shows_both(tmp_path, field, from_, after):
    case = gateway(tmp_path).readout("gateway", 0x0600, "01020000")
    case.item().code("gateway", field, 0xABCD)
    assert rows(case) == [(field, from_, 0xABCD, "0102", after, "to-do")]
    assert writes(case) == [("gateway", "0x0600", "01020000", after + "0000")]


# Writes -------------------------------------------------------------------------------------------


def test_rows_show_their_own_change_and_writes_all_changes(tmp_path):
    case = gateway(tmp_path).readout("gateway", 0x0600, "03001E00")
    case.item().code("gateway", "park", "fitted").code("gateway", "camera", "fitted")
    assert [row[3:5] for row in rows(case)] == [("1E", "3E"), ("1E", "1F")]
    assert writes(case) == [("gateway", "0x0600", "03001E00", "03003F00")]


def test_writes_merge_the_changes_of_all_items_by_block(tmp_path):
    case = gateway(tmp_path).readout("gateway", 0x0600, "03001E00").readout("gateway", 0x0601, "01")
    case.item("one").code("gateway", "park", "fitted")
    case.item("two").code("gateway", "camera", "fitted").code("gateway", "horn", "fitted")
    assert sorted(writes(case)) == [
        ("gateway", "0x0600", "03001E00", "03003F00"),
        ("gateway", "0x0601", "01", "81"),
    ]


def test_writes_do_not_ask_for_the_verdict(tmp_path):
    case = gateway(tmp_path).readout("gateway", 0x0600, "03001E00")
    case.item().code("gateway", "park", "fitted").require("nothing-like-it")
    assert case.plan().verdict == "no-go"
    assert writes(case) == [("gateway", "0x0600", "03001E00", "03003E00")]


def test_a_field_already_done_stays_as_it_is(tmp_path):
    case = gateway(tmp_path).readout("gateway", 0x0600, "03003E00")
    case.item().code("gateway", "park", "fitted").code("gateway", "camera", "fitted")
    assert writes(case) == [("gateway", "0x0600", "03003E00", "03003F00")]


# Conflicts ----------------------------------------------------------------------------------------


def two_items(folder, first, second, block="03001E00"):
    case = gateway(folder).readout("gateway", 0x0600, block)
    case.item("one").code("gateway", *first)
    case.item("two").code("gateway", *second)
    return case


BOTH = {"one": ["coding-conflict"], "two": ["coding-conflict"]}
NEITHER = {"one": [], "two": []}


@pytest.mark.parametrize("block", ["03001E00", "03003E00"])
def test_two_values_of_one_field_conflict_both_and_are_not_written(tmp_path, block):
    case = two_items(tmp_path, ("park", "fitted"), ("park", "absent"), block)
    assert conflicts(case) == BOTH
    assert writes(case) == []
    case.item("three").code("gateway", "camera", "fitted")
    assert conflicts(case) == {**BOTH, "three": []}
    camera = f"{int(block, 16) | 0x0100:08X}"
    assert writes(case) == [("gateway", "0x0600", block, camera)]


def test_two_values_conflict_also_where_nothing_was_read(tmp_path):
    case = two_items(tmp_path, ("park", "fitted"), ("park", "absent"))
    case.readouts.clear()
    assert conflicts(case) == BOTH


@pytest.mark.parametrize("value", ["fitted", 1])
def test_one_value_wanted_twice_is_written_once(tmp_path, value):
    case = two_items(tmp_path, ("park", "fitted"), ("park", value))
    assert conflicts(case) == NEITHER
    assert writes(case) == [("gateway", "0x0600", "03001E00", "03003E00")]


@pytest.mark.parametrize(
    ("tuning", "found"), [(0b0010, NEITHER), (0b1110, NEITHER), (0b0001, BOTH), (0b1101, BOTH)]
)
def test_overlapping_fields_conflict_where_their_bits_differ(tmp_path, tuning, found):
    # the park bit is bit 1 of the tuning nibble
    case = two_items(tmp_path, ("park", "fitted"), ("tuning", tuning))
    assert conflicts(case) == found
    after = f"0300{tuning << 4 | 0x0E:02X}00"
    assert writes(case) == ([] if found == BOTH else [("gateway", "0x0600", "03001E00", after)])


# Locked roles -------------------------------------------------------------------------------------


def locked(folder, value="fitted", **need):
    case = gateway(folder)
    unlock = {"module": "gateway", "field": "park", "value": value}
    case.role("reverse", "body LeverStatus Gear", active=["R"], not_available=[15], unlocked_by=unlock)
    case.item().need("reverse", **need)
    return case


@pytest.mark.parametrize("frames", [None, NONE], ids=["no message", "only no value"])
@pytest.mark.parametrize("value", ["fitted", 1])
def test_a_role_that_coding_will_unlock_is_locked(tmp_path, frames, value):
    case = locked(tmp_path, value).readout("gateway", 0x0600, "03001E00")
    log = case.log()
    if frames:
        log.send(LEVER, every(0.1), frames)
    assert case.outcome() == LOCKED
    assert rows(case) == [("park", "absent", "fitted", "1E", "3E", "to-do")]
    assert writes(case) == [("gateway", "0x0600", "03001E00", "03003E00")]
    assert case.plan().verdict == "go-with-changes"


@pytest.mark.parametrize("asked", ["fitted", 1])
def test_an_unlock_that_the_item_asks_for_itself_is_one_change(tmp_path, asked):
    case = locked(tmp_path).readout("gateway", 0x0600, "03001E00")
    case.items[0].code("gateway", "park", asked)
    case.log()
    assert rows(case) == [("park", "absent", "fitted", "1E", "3E", "to-do")]


def test_a_role_whose_coding_was_not_read_is_locked_and_unproven(tmp_path):
    case = locked(tmp_path)
    case.log()
    assert case.outcome() == LOCKED
    assert rows(case) == [("park", None, "fitted", None, None, "unknown")]
    assert case.plan().verdict == "unproven"


def test_a_role_whose_coding_is_done_already_is_not_locked(tmp_path):
    case = locked(tmp_path).readout("gateway", 0x0600, "03003E00")
    log = case.log().mark("reverse", 2.0, 5.0)
    assert case.outcome() == missing("message-absent")
    log.send(LEVER, every(0.1), NONE)
    assert case.outcome() == missing("not-available")
    assert rows(case) == []


def test_a_role_that_is_there_is_not_locked_whatever_the_coding(tmp_path):
    case = locked(tmp_path).readout("gateway", 0x0600, "03001E00")
    case.log().send(LEVER, every(0.1), during(2.0, 5.0, R, P))
    assert case.outcome() == SHOWN
    assert rows(case) == []


def test_without_a_capture_nothing_is_locked(tmp_path):
    assert locked(tmp_path).outcome() == expected("no-capture")


def test_an_absent_role_that_nothing_unlocks_is_absent(tmp_path):
    case = gateway(tmp_path).role("reverse", "body LeverStatus Gear")
    case.item().need("reverse")
    case.log().mark("reverse", 2.0, 5.0, 1)
    assert case.outcome() == missing("message-absent")


def test_an_unlock_joins_the_coding_also_for_an_optional_need(tmp_path):
    case = locked(tmp_path, optional=True).readout("gateway", 0x0600, "03001E00")
    case.log()
    assert rows(case) == [("park", "absent", "fitted", "1E", "3E", "to-do")]
    assert case.plan().verdict == "go-with-changes"


def test_an_unlock_conflicts_with_what_another_item_wants(tmp_path):
    case = locked(tmp_path).readout("gateway", 0x0600, "03001E00")
    case.log()
    case.item("other").code("gateway", "park", "absent")
    assert conflicts(case) == {"part": ["coding-conflict"], "other": ["coding-conflict"]}
    assert writes(case) == []


# Readouts -----------------------------------------------------------------------------------------


def test_two_readouts_that_agree_are_one(tmp_path):
    case = gateway(tmp_path).readout("gateway", 0x0600, "03 00 1E 00")
    case.readout("gateway", 0x0600, "03001e00").readout("gateway", 0x0600, "FFFFFFFF", when="after")
    case.item().code("gateway", "park", "fitted")
    assert writes(case) == [("gateway", "0x0600", "03001E00", "03003E00")]


@pytest.mark.parametrize("data", [["03001E00", "03001E01"], ["03001E"], ["03001E0000"]])
def test_readouts_that_differ_or_have_the_wrong_length_are_an_error(tmp_path, data):
    case = gateway(tmp_path)
    for text in data:
        case.readout("gateway", 0x0600, text)
    case.item().code("gateway", "park", "fitted")
    with pytest.raises(netcheck.InputError, match="readout"):
        case.plan()
