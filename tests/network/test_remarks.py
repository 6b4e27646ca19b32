"""What a survey points out: each case with its nearest miss."""

from __future__ import annotations

from dataclasses import replace

import pytest

from netcheck.network import Rates, RemarkKind, SurveyPlan
from tests.network.logs import ERROR_FLAG, Line, channel_of
from tests.network.test_identity import database, message

ONE = database(*(message(f"A{n}", 0x100 + n) for n in range(6)))
TWO = database(*(message(f"B{n}", 0x200 + n) for n in range(6)))
PLAN = SurveyPlan({"one": ONE, "two": TWO})
STUFFING = "0000040000000000"


def steady(*ids: int, rounds: int = 30, every: float = 20, data: bytes = bytes(8)) -> list[Line]:
    return [Line(n * every + k, can_id, data) for n in range(rounds) for k, can_id in enumerate(ids)]


def kinds(channel) -> list[RemarkKind]:
    return [remark.kind for remark in channel.remarks]


def one_remark(channel, kind: RemarkKind):
    (remark,) = [remark for remark in channel.remarks if remark.kind is kind]
    assert remark.next_step
    return remark


def test_error_frames_only_mean_a_wrong_bit_rate(tmp_path):
    lines = [Line(n, ERROR_FLAG | 8, STUFFING) for n in range(50)]
    remark = one_remark(channel_of(tmp_path, lines), RemarkKind.ONLY_ERRORS)
    assert "bit rate is wrong" in remark.text
    assert "500000" in remark.next_step


def test_error_frames_that_say_nobody_acknowledges_mean_a_lonely_tap(tmp_path):
    lines = [Line(n, ERROR_FLAG | 0x20, bytes(8)) for n in range(50)]
    remark = one_remark(channel_of(tmp_path, lines), RemarkKind.ONLY_ERRORS)
    assert "nobody acknowledges" in remark.text
    assert "bit rate" not in remark.text


def test_some_error_frames_are_another_thing(tmp_path):
    lines = [*steady(0x100, 0x101), *(Line(700 + n, ERROR_FLAG | 8, STUFFING) for n in range(5))]
    channel = channel_of(tmp_path, lines)
    assert RemarkKind.ONLY_ERRORS not in kinds(channel)
    assert "60 Ω" in one_remark(channel, RemarkKind.ERRORS).next_step


def test_frames_the_recorder_lost_are_said(tmp_path):
    lines = [*steady(0x100), Line(700, ERROR_FLAG | 4, "0001000000000000")]
    assert "do not trust" in one_remark(channel_of(tmp_path, lines), RemarkKind.FRAMES_LOST).text


def test_a_handful_of_frames_is_nearly_silence(tmp_path):
    assert kinds(channel_of(tmp_path, steady(0x100, rounds=9))) == [RemarkKind.NEARLY_SILENT]
    assert kinds(channel_of(tmp_path, steady(0x100, rounds=10))) == []


def test_two_networks_on_one_channel(tmp_path):
    channel = channel_of(tmp_path, steady(0x100, 0x101, 0x102, 0x103, 0x200, 0x201, 0x202), PLAN)
    remark = one_remark(channel, RemarkKind.TWO_NETWORKS)
    assert "one (4)" in remark.text
    assert "two (3)" in remark.text
    assert RemarkKind.NOT_CLEAR not in kinds(channel)


def test_two_strangers_are_no_second_network(tmp_path):
    channel = channel_of(tmp_path, steady(0x100, 0x101, 0x102, 0x103, 0x200, 0x201), PLAN)
    assert channel.network == "one"
    assert kinds(channel) == []


def test_none_of_these_is_an_answer(tmp_path):
    channel = channel_of(tmp_path, steady(0x100, 0x101, 0x300, 0x301, 0x302), PLAN)
    assert channel.network is None
    remark = one_remark(channel, RemarkKind.NO_NETWORK)
    assert remark.text.startswith("none of one, two: one explains 2 of 5 ids")


def test_dbcs_that_share_their_ids_are_not_clear(tmp_path):
    near = database(*(message(f"C{n}", 0x100 + n) for n in range(5)))
    channel = channel_of(tmp_path, steady(*range(0x100, 0x106)), SurveyPlan({"one": ONE, "near": near}))
    assert channel.network is None
    assert "near" in one_remark(channel, RemarkKind.NOT_CLEAR).text


def test_without_candidates_nothing_is_said_about_the_network(tmp_path):
    channel = channel_of(tmp_path, steady(0x100, 0x101, 0x102))
    assert channel.remarks == ()
    assert channel.candidates == ()


@pytest.mark.parametrize(
    ("bitrate", "expected"),
    [(125_000, []), (12_000, [RemarkKind.OVERLOAD]), (9_000, [RemarkKind.RATE_IMPOSSIBLE])],
)
def test_load(tmp_path, bitrate, expected):
    """100 frames a second of 112 bits are 11,200 bit/s."""
    lines = steady(0x555, rounds=300, every=10, data=b"\x55" * 8)
    assert kinds(channel_of(tmp_path, lines, SurveyPlan(stated=Rates(bitrate)))) == expected


def test_messages_that_differ_from_their_dbc(tmp_path):
    slow = database(*(replace(one, cycle_time_ms=10.0) for one in ONE.messages[:3]))
    lines = steady(0x100, 0x101, 0x102)
    assert "A0, A1, A2" in one_remark(
        channel_of(tmp_path, lines, SurveyPlan({"one": slow})), RemarkKind.LATE
    ).text  # fmt: skip
    right = database(*(replace(one, cycle_time_ms=20.0) for one in ONE.messages[:3]))
    assert kinds(channel_of(tmp_path, lines, SurveyPlan({"one": right}))) == []
    short = [*lines, *(Line(n * 20 + 7, 0x103, bytes(4)) for n in range(30))]
    channel = channel_of(tmp_path, short, PLAN)
    assert "A3" in one_remark(channel, RemarkKind.TOO_SHORT).text


def test_a_counter_that_jumps(tmp_path):
    lines = [Line(10 * n, 0x100, bytes([n % 16, 1])) for n in range(600) if n % 30]
    assert "0x100" in one_remark(channel_of(tmp_path, lines), RemarkKind.CHECK_FAILS).text
