"""Worst-case response times.

The three messages are the example of Davis, Burns, Bril and Lukkien 2007, as known from memory; its numbers
were worked out independently. The property test plays the worst case through, frame by frame.
"""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.network import FrameId, Response, Timed, response_times
from tests.naive import naive_response

MS = 1_000_000
EXAMPLE = (  # 125 bits at 125 kbit/s take 1 ms
    Timed(FrameId(0x101, False), 2_500_000, 125, deadline_ns=2_500_000),
    Timed(FrameId(0x102, False), 3_500_000, 125, deadline_ns=3_250_000),
    Timed(FrameId(0x103, False), 3_500_000, 125, deadline_ns=3_250_000),
)


def by_id(found: tuple[Response, ...]) -> dict[int, Response]:
    return {response.message.frame_id.can_id: response for response in found}


def test_the_example_that_the_analysis_of_1994_gets_wrong():
    found = by_id(response_times(EXAMPLE, 125_000))
    assert [found[number].worst_s for number in (0x101, 0x102, 0x103)] == [0.002, 0.003, 0.0035]
    assert [found[number].instances for number in (0x101, 0x102, 0x103)] == [1, 2, 2]
    assert [found[number].meets for number in (0x101, 0x102, 0x103)] == [True, True, False]


def test_the_order_of_the_messages_given_does_not_matter():
    assert response_times(EXAMPLE[::-1], 125_000) == response_times(EXAMPLE, 125_000)


def test_a_first_instance_that_waits_for_nothing_else_is_not_all():
    # Without the one bit time, the lowest message of the example would seem to need 2.5 ms.
    assert by_id(response_times(EXAMPLE, 125_000))[0x103].worst_s != 0.0025


def test_a_message_alone_takes_its_own_frame():
    (found,) = response_times([Timed(FrameId(1, False), 10 * MS, 135)], 500_000)
    assert found.worst_s == pytest.approx(270e-6)  # 135 bits at 500 kbit/s, as published
    assert found.meets


def test_a_less_urgent_frame_is_waited_for_even_if_it_has_no_deadline():
    messages = [Timed(FrameId(1, False), 10 * MS, 100), Timed(FrameId(2, False), 1000 * MS, 135)]
    found = by_id(response_times(messages, 500_000))
    assert found[1].worst_s == pytest.approx(470e-6)
    assert found[2].worst_s == pytest.approx(470e-6)


def test_a_full_wire_gives_no_bound_and_shows_no_deadline():
    messages = [
        Timed(FrameId(1, False), MS, 500, deadline_ns=MS),
        Timed(FrameId(2, False), 10 * MS, 135, deadline_ns=10 * MS),
        Timed(FrameId(3, False), 10 * MS, 135),
    ]
    found = by_id(response_times(messages, 500_000))
    assert (found[2].worst_s, found[2].meets) == (None, False)
    assert (found[3].worst_s, found[3].meets) == (None, True)  # it has none to miss


def test_arbitration_decides_the_order():
    # 0x123 with 11 bits beats every 29-bit id that begins with 0x123, and loses to one that begins lower.
    ids = [FrameId(0x123 << 18, True), FrameId(0x124, False), FrameId(0x123, False),
           FrameId(0x123 << 18 | 1, True), FrameId(0x122 << 18 | 0x3FFFF, True)]  # fmt: skip
    found = response_times([Timed(frame_id, 100 * MS, 100) for frame_id in ids], 500_000)
    assert [response.message.frame_id for response in found] == [ids[4], ids[2], ids[0], ids[3], ids[1]]


def test_the_data_phase_of_can_fd_runs_at_its_own_rate():
    message = Timed(FrameId(1, False), 10 * MS, 30, fast_bits=600)
    assert response_times([message], 500_000, 2_000_000)[0].worst_s == pytest.approx(60e-6 + 300e-6)
    assert response_times([message], 500_000)[0].worst_s == pytest.approx(60e-6 + 1200e-6)


@given(st.lists(st.tuples(st.integers(1, 4), st.integers(4, 40)), min_size=1, max_size=5))
def test_a_walk_through_the_worst_case_gives_the_same(drawn):
    # In units of 100 bits at 1 Mbit/s, so that the one bit that arbitration takes tips no balance.
    total = sum(length / period for length, period in drawn)
    messages = [
        Timed(FrameId(number, False), period * 100_000, length * 100)
        for number, (length, period) in enumerate(drawn)
    ]
    for number, response in enumerate(response_times(messages, 1_000_000)):
        if response.worst_s is None:
            assert total > 0.99
            continue
        blocking = max((length for length, _ in drawn[number + 1 :]), default=0)
        expected = naive_response(drawn[: number + 1], blocking, response.instances)
        assert round(response.worst_s * 1e6) == expected * 100
