"""What a survey points out: each case with its nearest miss."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from netcheck.network import LoadRates, RemarkKind, SurveyPlan
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


def test_frames_lost_once_are_lost_once(tmp_path):
    lines = [*steady(0x100), Line(700, ERROR_FLAG | 4, "0001000000000000")]
    assert "lost frames once" in one_remark(channel_of(tmp_path, lines), RemarkKind.FRAMES_LOST).text
    lines.append(Line(701, ERROR_FLAG | 4, "0001000000000000"))
    assert "lost frames 2 times" in one_remark(channel_of(tmp_path, lines), RemarkKind.FRAMES_LOST).text


def test_a_handful_of_frames_is_nearly_silence(tmp_path):
    assert kinds(channel_of(tmp_path, steady(0x100, rounds=9))) == [RemarkKind.NEARLY_SILENT]
    assert kinds(channel_of(tmp_path, steady(0x100, rounds=10))) == []


def test_only_a_recording_of_some_seconds_can_say_that_a_network_is_asleep(tmp_path):
    long = one_remark(channel_of(tmp_path, steady(0x100, rounds=9, every=1000)), RemarkKind.NEARLY_SILENT)
    assert long.text == "only 9 frames in 8 s: the network is asleep"
    short = one_remark(channel_of(tmp_path, steady(0x100, rounds=1)), RemarkKind.NEARLY_SILENT)
    assert short.text == "only 1 frame: too short to say more"
    assert "minute" in short.next_step


def test_remote_frames_alone_are_questions_that_nobody_answers(tmp_path):
    channel = channel_of(tmp_path, [Line(100 * n, 0x123, "R") for n in range(30)])
    assert "nobody answers" in one_remark(channel, RemarkKind.NEARLY_SILENT).text
    answered = [Line(100 * n, 0x123, "R") for n in range(30)] + steady(0x123, rounds=10)
    assert kinds(channel_of(tmp_path, answered)) == []


def test_frames_that_all_have_one_time_say_nothing_of_times(tmp_path):
    channel = channel_of(tmp_path, [Line(0, 0x100, bytes([n])) for n in range(20)])
    assert kinds(channel) == [RemarkKind.NO_TIMES]
    assert "candump -l" in channel.remarks[0].next_step


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


def test_a_network_whose_dbc_fits_any_ids_as_well_is_doubtful(tmp_path):
    """A DBC of 300 messages has 15 % of all ids: 9 of any 60, with a deviation of 3."""
    vast = database(*(message(f"V{n}", 3 * n) for n in range(300)))
    plan = SurveyPlan({"vast": vast}, {"vast": LoadRates(500_000)})
    by_chance = channel_of(tmp_path, steady(*range(600, 660), rounds=10), plan)
    assert by_chance.network == "vast"  # 20 ids, and no other DBC: the rule
    assert "20 of 60 ids" in one_remark(by_chance, RemarkKind.DOUBTFUL).text
    assert by_chance.rates is None
    clear = channel_of(tmp_path, steady(*range(600, 690, 3), rounds=10), plan)
    assert kinds(clear) == []
    assert clear.rates == LoadRates(500_000)


def test_two_dbcs_that_fit_any_ids_as_well_are_no_mixed_networks(tmp_path):
    vast = {f"vast{k}": database(*(message(f"V{n}", 3 * n + k) for n in range(300))) for k in (0, 1)}
    channel = channel_of(tmp_path, steady(*range(600, 660), rounds=10), SurveyPlan(vast))
    assert kinds(channel) == [RemarkKind.NOT_CLEAR]


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
    assert kinds(channel_of(tmp_path, lines, SurveyPlan(stated=LoadRates(bitrate)))) == expected


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


@pytest.mark.parametrize(("away_ms", "said"), [(1000, False), (1020, True), (15_000, True)])
def test_a_message_that_stays_away_while_others_come(tmp_path, away_ms, said):
    """Every 20 ms, then nothing for a while, then again; a second message keeps the network awake."""
    until = 600 + away_ms
    lines = [Line(ms, 0x101, bytes(8)) for ms in range(0, until + 600, 20)]
    lines += [Line(ms + 1, 0x100, bytes(8)) for ms in (*range(0, 601, 20), *range(until, until + 600, 20))]
    channel = channel_of(tmp_path, sorted(lines, key=lambda line: line.ms))
    assert kinds(channel) == [RemarkKind.PAUSED] * said
    for remark in channel.remarks:
        assert remark.text == f"away for up to {away_ms / 1000:.3g} s while others were there: 0x100"
        assert "of what sends 0x100" in remark.next_step


def test_messages_of_the_dbc_that_never_came_are_named(tmp_path):
    assert channel_of(tmp_path, steady(0x100, 0x102, 0x103), PLAN).unseen == ("A1", "A4", "A5")
    assert channel_of(tmp_path, steady(0x300, 0x301, 0x302), PLAN).unseen == ()
    assert channel_of(tmp_path, steady(0x100, 0x102, 0x103)).unseen == ()


def test_a_counter_that_jumps(tmp_path):
    lines = [Line(10 * n, 0x100, bytes([n % 16, 1])) for n in range(600) if n % 30]
    remark = one_remark(channel_of(tmp_path, lines), RemarkKind.COUNTER_JUMPS)
    assert "0x100" in remark.text
    assert "second module" in remark.next_step


def test_a_checksum_that_fails_is_no_lost_frame(tmp_path):
    """Lost frames leave every checksum right."""
    noise = random.Random(5)
    lines = []
    for n in range(400):
        data = noise.randbytes(7)
        wrong = n % 12 == 0  # one of twelve
        lines.append(Line(10 * n, 0x100, data + bytes([(sum(data) + 7 * wrong) & 0xFF])))
    channel = channel_of(tmp_path, lines)
    remark = one_remark(channel, RemarkKind.CHECK_FAILS)
    assert "checksum is wrong" in remark.text
    assert "lost" not in remark.next_step
    assert kinds(channel) == [RemarkKind.CHECK_FAILS]
