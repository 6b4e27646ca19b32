"""What is said of captures that were cut: every kind has its words."""

from __future__ import annotations

import pytest

from netcheck.edit import EditRemark, EditRemarkKind, FrameKind
from netcheck.report._trim_words import FRAME_WORDS, REMARK_WORDS, remark_text


def test_every_kind_has_its_words() -> None:
    assert set(REMARK_WORDS) == set(EditRemarkKind)
    assert set(FRAME_WORDS) == set(FrameKind)


@pytest.mark.parametrize("kind", EditRemarkKind)
def test_the_words_carry_the_facts(kind: EditRemarkKind) -> None:
    remark = EditRemark(kind, "a.log", "asc", 4321, FrameKind.REMOTE, "left", ("one", "two"), "said")
    text = remark_text(remark)
    assert text[-1] != "."  # a line of a list
    assert not any(word in text for word in ("None", "()", "''"))


@pytest.mark.parametrize(
    ("remark", "says"),
    [
        (
            EditRemark(EditRemarkKind.FRAMES_LEFT_OUT, form="trc", count=2, frames=FrameKind.ERROR),
            "2 error frames left out: trc has no place for them",
        ),
        (
            EditRemark(EditRemarkKind.TIME_DIGITS_LOST, form="blf", count=1),
            "the digits below 1 µs are lost in the times of 1 frame: blf does not keep them",
        ),
        (EditRemark(EditRemarkKind.SOURCE, "a.log", text="1 line is cut off"), "a.log: 1 line is cut off"),
    ],
)
def test_some_of_them_whole(remark: EditRemark, says: str) -> None:
    assert remark_text(remark) == says
