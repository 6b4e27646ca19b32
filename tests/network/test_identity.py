"""Which network a channel is; the J1939 identifiers are those of the published worked examples."""

from __future__ import annotations

import numpy as np
from hypothesis import assume, given
from hypothesis import strategies as st

from netcheck.database import Database, Message
from netcheck.network import FrameId, TrafficTally, explained_ids, identify

SECOND = 1_000_000_000


def message(name: str, can_id: int, *, extended: bool = False, j1939: bool = False) -> Message:
    return Message(name, can_id, extended, False, j1939, 8, (), None, ())


def traffic(*ids: int, extended: bool = False, length: int = 8):
    tally = TrafficTally()
    tally.add_times(np.arange(len(ids)) * SECOND)
    tally.add_frames(
        np.array(ids, np.uint32), np.full(len(ids), extended), np.full(len(ids), length, np.uint8)
    )
    return tally.result()


def database(*messages: Message) -> Database:
    return Database(("hand.dbc",), messages)


def test_a_parameter_group_explains_every_source_address():
    # 0x0CF00400 is PGN 61444 from address 0, 0x18F00503 PGN 61445 from address 3 (SAE J1939-21 examples).
    known = database(message("Engine", 0x0CF004FE, extended=True, j1939=True))
    seen = traffic(0x0CF00400, 0x18F004A3, 0x18F00503, extended=True)
    assert len(explained_ids(seen, known)) == 2


def test_an_id_of_the_other_width_explains_nothing():
    assert len(explained_ids(traffic(0x123, extended=True), database(message("A", 0x123)))) == 0


def test_frames_mostly_shorter_than_declared_explain_nothing():
    assert len(explained_ids(traffic(0x123, length=7), database(message("A", 0x123)))) == 0
    assert len(explained_ids(traffic(0x123, length=8), database(message("A", 0x123)))) == 1


def test_candidates_come_best_first_and_ties_in_the_files_order():
    one = database(message("A", 1), message("B", 2), message("C", 3))
    two = database(message("A", 1), message("B", 2), message("D", 4))
    found = identify(traffic(1, 2), {"two": two, "one": one})
    assert [entry.network for entry in found.candidates] == ["two", "one"]
    assert found.network is None


def test_ids_are_counted_by_length():
    seen = traffic(0x123, 0x123, 0x123)
    assert seen.lengths == {FrameId(0x123, False): {8: 3}}
    assert str(FrameId(0x123, False)) == "0x123"
    assert str(FrameId(0x123, True)) == "0x00000123"


@given(st.integers(0, 30), st.integers(0, 30), st.integers(0, 30))
def test_as_many_more_messages_as_are_missing_make_it_trusted(came, left, strangers):
    """By what ``identify`` itself says of a channel on which that many more of them came, and one fewer."""
    assume(came + strangers and came + left)
    known = database(*(message(f"M{number}", 0x100 + number) for number in range(came + left)))

    def candidate(count):
        ids = [*range(0x100, 0x100 + count), *range(0x500, 0x500 + strangers)]
        return identify(traffic(*ids), {"bus": known}).candidates[0]

    missing = candidate(came).missing
    if came + missing <= came + left:
        assert candidate(came + missing).is_trusted
    if missing:
        assert not candidate(came + missing - 1).is_trusted
