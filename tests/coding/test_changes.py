"""Differences between two states of a block."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.coding import Change, changes_between
from netcheck.errors import UsageError
from tests.coding.vehicles import vehicle

BLOCK = vehicle().module["gateway"].coding[0x0600]


def test_fields_are_named_and_other_bits_numbered() -> None:
    changes = changes_between(BLOCK, bytes.fromhex("03001F00"), bytes.fromhex("0100DF06"))
    assert changes == (
        Change(0, 1, 0, 8, 3, 1, "market", 3, "island"),
        Change(2, 1, 5, 2, 0, 2, "fit_pattern", 0, 2),
        Change(2, 1, 6, 1, 0, 1, "amplifier_module", "absent", "fitted"),
        Change(2, 1, 7, 1, 0, 1),
        Change(3, 1, 1, 2, 0b00, 0b11),
    )


def test_nothing_changed() -> None:
    assert changes_between(BLOCK, b"abcd", b"abcd") == ()


def test_lengths_must_be_the_block_s() -> None:
    with pytest.raises(UsageError):
        changes_between(BLOCK, b"abcd", b"abc")


@given(st.binary(min_size=4, max_size=4), st.binary(min_size=4, max_size=4))
def test_every_differing_bit_is_in_some_change(before: bytes, after: bytes) -> None:
    covered = 0
    for change in changes_between(BLOCK, before, after):
        assert change.before != change.after
        covered |= ((1 << change.width) - 1) << (8 * (3 - change.byte) + change.bit)
    differing = int.from_bytes(before, "big") ^ int.from_bytes(after, "big")
    assert differing & ~covered == 0
