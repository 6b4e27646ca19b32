"""What is seen does not depend on how frames are bundled, nor on what else is watched."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import fields, replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from netcheck.capture import EXTENDED, Capture
from netcheck.database import Message
from netcheck.evidence import Gaps, Observation, Window, _bundle, observe
from netcheck.roles import Watch
from tests.captures import Frame, hand_made
from tests.evidence.test_observe import MESSAGE, TURN, WATCH, Chunks, captures, field, windows

STATUS = replace(MESSAGE, name="Status", signals=(field("First", 0, 8),), length=1)
WATCHES = (
    WATCH,
    Watch("turn", "body", MESSAGE, TURN),  # carried by frames whose page is another
    Watch("first", "body", STATUS, STATUS.signals[0]),  # carried by short frames, too
    Watch("strange", "body", replace(STATUS, can_id=0x124, name="Strange"), STATUS.signals[0], active=(0,)),
    replace(WATCH, role="again", active=(0,)),
)


def plain(seen: Observation) -> dict[str, object]:
    found = {entry.name: getattr(seen, entry.name) for entry in fields(seen)}
    for name, gaps in found.items():
        if isinstance(gaps, Gaps):
            found[name] = list(zip(gaps.values.tolist(), gaps.counts.tolist(), strict=True))
    return found


def watched(
    capture: Capture, size: int, watches: Sequence[Watch], marks: tuple[Window, ...]
) -> Iterator[list[dict[str, object]]]:
    for channel in observe(Chunks(capture, size), watches, [marks] * len(watches)).channels:
        yield [plain(seen) for seen in channel.observations]


@given(captures(), windows(), st.integers(1, 41), st.integers(1, 20))
def test_bundles_add_up(capture: Capture, marks: tuple[Window, ...], size: int, rows: int) -> None:
    whole = list(watched(capture, len(capture), WATCHES, marks))
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(_bundle, "LEAST_ROWS", rows)
        assert list(watched(capture, size, WATCHES, marks)) == whole
    for number, watch in enumerate(WATCHES):
        alone = list(watched(capture, size, [watch], marks))
        assert alone == [[channel[number]] for channel in whole]


def test_one_frame_may_be_several_messages() -> None:
    """An exact 29-bit id inside a J1939 group of another DBC, and the same id in two DBCs."""
    exact = replace(STATUS, can_id=0x18FF2103, is_extended=True)
    group = replace(exact, can_id=0x18FF21FE, is_j1939=True, name="Group", file="other.dbc")
    messages: list[Message] = [exact, group, replace(exact, file="third.dbc")]
    watches = [Watch("r", "n", message, message.signals[0]) for message in messages]
    capture = hand_made(
        Frame(can_id, bytes([number, 0][: 1 + number % 2]), EXTENDED)
        for number, can_id in enumerate([0x18FF2103, 0x18FF2105, 0x0CFF2103, 0x18FF2203, 0x18FF2103])
    )
    (channel,) = observe(Chunks(capture, 2), watches, [()] * 3).channels
    assert [seen.frames for seen in channel.observations] == [2, 4, 2]
    assert [(seen.raw.low, seen.raw.high) for seen in channel.observations] == [(0, 4), (0, 4), (0, 4)]
