"""What a later readout holds, from hand-worked blocks."""

from __future__ import annotations

from collections.abc import Mapping

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.coding import BlockCheck, Change, FieldCheck, Held, Readback, compare_readback, plan_coding
from tests.coding.vehicles import vehicle, want

BEFORE = {("gateway", 0x0600): bytes.fromhex("03001F00")}
WANTED = [want("park_distance_module", "fitted"), want("amplifier_module", "absent", item=1)]


def compare(
    after: Mapping[tuple[str, int], bytes], before: Mapping[tuple[str, int], bytes] = BEFORE
) -> Readback:
    plan = plan_coding(vehicle(), 2020, before, WANTED)
    return compare_readback(vehicle(), 2020, plan.rows, plan.writes, before, after)


def test_what_was_written_holds() -> None:
    back = compare({("gateway", 0x0600): bytes.fromhex("03003F00")})
    assert back.fields == (
        FieldCheck("gateway", "0x0600", "park_distance_module", "fitted", "fitted", Held.HOLDS),
        FieldCheck("gateway", "0x0600", "amplifier_module", "absent", "absent", Held.HOLDS),
    )
    assert back.blocks == (BlockCheck("gateway", "0x0600", "03003F00", "03003F00", ()),)
    assert (back.is_wrong, back.is_unsure) == (False, False)


def test_a_value_that_did_not_take() -> None:
    back = compare(BEFORE)
    assert [(check.status, check.found) for check in back.fields] == [
        ("differs", "absent"),
        ("holds", "absent"),
    ]
    assert back.blocks[0].foreign == ()  # the wanted field itself is no foreign change
    assert (back.is_wrong, back.is_unsure) == (True, False)


def test_other_bits_that_changed_are_named() -> None:
    back = compare({("gateway", 0x0600): bytes.fromhex("01003F80")})
    assert [check.status for check in back.fields] == ["holds", "holds"]
    assert back.blocks[0].foreign == (
        Change(0, 1, 0, 8, 3, 1, "market", 3, "island"),
        Change(3, 1, 7, 1, 0, 1),
    )
    assert (back.is_wrong, back.is_unsure) == (True, False)


def test_a_block_that_was_not_read_again() -> None:
    back = compare({})
    assert [(check.status, check.found) for check in back.fields] == [("unread", None), ("unread", None)]
    assert back.blocks == ()
    assert (back.is_wrong, back.is_unsure) == (False, True)


def test_without_an_earlier_readout_the_rest_of_the_block_is_unknown() -> None:
    back = compare({("gateway", 0x0600): bytes.fromhex("03003F00")}, before={})
    assert [check.status for check in back.fields] == ["holds", "holds"]
    assert back.blocks == (BlockCheck("gateway", "0x0600", None, "03003F00", ()),)
    assert (back.is_wrong, back.is_unsure) == (False, True)


def test_a_block_that_nothing_was_written_to_must_be_as_it_was() -> None:
    before = {**BEFORE, ("gateway", 0x0610): bytes(6)}
    same = {("gateway", 0x0600): bytes.fromhex("03003F00"), ("gateway", 0x0610): bytes(6)}
    assert not compare(same, before).is_wrong
    back = compare({**same, ("gateway", 0x0610): bytes(5) + b"\x01"}, before)
    assert [change.field for change in back.blocks[1].foreign] == ["little"]
    assert back.is_wrong


def test_a_field_that_the_vehicle_file_does_not_have() -> None:
    plan = plan_coding(vehicle(), 2020, BEFORE, [want("horn", "loud")])
    back = compare_readback(vehicle(), 2020, plan.rows, plan.writes, BEFORE, BEFORE)
    assert [(check.status, check.wanted, check.did) for check in back.fields] == [("undefined", "loud", None)]
    assert back.is_unsure


def test_values_in_a_clash_cannot_both_hold_and_are_nobody_else_s_bits() -> None:
    wanted = [
        want("amplifier_module", 0),
        want("amplifier_module", 1, item=1),
        want("amplifier_module", 1, item=2),
    ]
    plan = plan_coding(vehicle(), 2020, BEFORE, wanted)
    after = {("gateway", 0x0600): bytes.fromhex("03005F00")}
    back = compare_readback(vehicle(), 2020, plan.rows, plan.writes, BEFORE, after)
    assert [(check.wanted, check.status) for check in back.fields] == [
        ("absent", "differs"),
        ("fitted", "holds"),
    ]
    assert back.blocks[0].foreign == ()


FIELDS = ["park_distance_module", "amplifier_module", "market"]


@given(
    st.binary(min_size=4, max_size=4),
    st.dictionaries(st.sampled_from(FIELDS), st.integers(0, 1)),
    st.integers(0, 31),
)
def test_a_flipped_bit_is_always_found(block: bytes, wishes: dict[str, int], bit: int) -> None:
    before = {("gateway", 0x0600): block}
    plan = plan_coding(vehicle(), 2020, before, [want(field, value) for field, value in wishes.items()])
    written = bytes.fromhex(plan.writes[0].after) if plan.writes else block
    good = compare_readback(vehicle(), 2020, plan.rows, plan.writes, before, {("gateway", 0x0600): written})
    assert not good.is_wrong
    flipped = bytearray(written)
    flipped[bit // 8] ^= 1 << bit % 8
    after = {("gateway", 0x0600): bytes(flipped)}
    assert compare_readback(vehicle(), 2020, plan.rows, plan.writes, before, after).is_wrong


@pytest.mark.parametrize("year", [2018, 2020])
def test_a_readout_of_what_the_year_lacks_is_left_out(year: int) -> None:
    after = {("cluster", 0x0600): b"\x00"}
    back = compare_readback(vehicle(), year, (), (), {}, after)
    assert len(back.blocks) == (1 if year == 2020 else 0)
