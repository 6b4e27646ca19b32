"""Which vehicle a capture is of, told by whole messages only."""

from __future__ import annotations

import pytest

from netcheck.diagnostics import VinWatch
from tests.captures import hand_made
from tests.diagnostics.test_segments import READ, VIN, frames_of

MODE_09 = """
7DF  02 09 02 55 55 55 55 55
7E8  10 14 49 02 01 31 4D 38
7E0  30 00 0A 55 55 55 55 55
7E8  21 47 44 4D 39 41 58 4B
7E8  22 50 30 34 32 37 38 38
"""
LONG = READ.replace("7E8", "18DAF110").replace("7E0", "18DA10F1")


def told(text: str, *, at_once: bool = True) -> tuple[str, ...]:
    watch = VinWatch()
    frames = frames_of(text)
    for chunk in [frames] if at_once else [[frame] for frame in frames]:
        watch.take(hand_made(chunk))
    return watch.numbers("can0")


@pytest.mark.parametrize("text", [READ, MODE_09, LONG, READ + READ.lstrip()])
@pytest.mark.parametrize("at_once", [True, False])
def test_a_whole_answer_tells_the_number_once(text: str, at_once: bool) -> None:
    assert told(text, at_once=at_once) == (VIN.decode(),)


@pytest.mark.parametrize(
    "text",
    [
        READ.replace("7E8  22 50 30 34 32 37 38 38\n", ""),  # the last frame is missing
        READ.replace("62 F1 90", "62 F1 91"),  # another identifier
        READ.replace("7E8", "123"),  # no id of diagnostics
        READ.replace("31 4D 38", "00 00 00"),  # fewer than 17 characters
        "",
    ],
)
def test_nothing_is_told_that_is_not_sure(text: str) -> None:
    assert told(text) == ()


def test_another_channel_told_nothing() -> None:
    watch = VinWatch()
    watch.take(hand_made(frames_of(READ)))
    assert watch.numbers("can1") == ()
