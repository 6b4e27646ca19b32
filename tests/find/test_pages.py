"""Multiplexers told from counters, quantities and noise."""

from __future__ import annotations

import math

import numpy as np
import pytest

from netcheck.find import BehindReason, FindMark, find_states, movements_of
from tests.captures import Frame, hand_made

PAGES = {0: 0x1A2B3C, 1: 0xC0FFEE, 2: 0x070809, 5: 0x998877}
MARKS = [FindMark("reverse-engaged", "active", begin, begin + 2) for begin in (4.0, 11.0, 17.0)]


def reasons(content, seconds: float = 25.0, period: float = 0.02) -> dict[int, BehindReason]:
    """Of each byte of a message, why its bits were put behind."""
    rows = [
        Frame(0x123, content(step * period, step), time_ns=round(step * period * 1e9))
        for step in range(round(seconds / period))
    ]
    found = find_states(movements_of("x.log", ("can0",), [hand_made(rows)]), MARKS, "reverse-engaged")
    return {each.byte: each.reason for each in found.behind}


@pytest.mark.parametrize("shift", [0, 4])
def test_a_page_number_and_what_it_selects(shift):
    numbers = list(PAGES)

    def content(time: float, step: int) -> bytes:
        number = numbers[step % 4]
        return (
            bytes([number << shift])
            + PAGES[number].to_bytes(3, "big")
            + bytes([round(20 + 9 * math.sin(time))])
        )

    found = reasons(content)
    assert found[0] is BehindReason.PAGE_NUMBER
    assert {found[byte] for byte in (1, 2, 3)} == {BehindReason.PAGED}
    assert found[4] not in {BehindReason.PAGED, BehindReason.PAGE_NUMBER}


def test_a_counter_and_a_checksum_are_no_pages():
    values = np.random.default_rng(1).integers(0, 256, 5000)
    found = reasons(lambda t, n: bytes([n & 15, int(values[n]), round(120 + 90 * math.sin(t))]))
    assert found[0] is BehindReason.COUNTER
    assert found[1] is BehindReason.CHECKSUM
    assert BehindReason.PAGED not in found.values()


def test_a_quantity_beside_a_state_is_no_page():
    found = reasons(
        lambda t, n: bytes([int(n // 7 % 2), *round(9000 + 4000 * math.sin(t / 2)).to_bytes(2, "big")])
    )
    assert not {BehindReason.PAGED, BehindReason.PAGE_NUMBER} & set(found.values())
