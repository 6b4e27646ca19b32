"""What a survey points out, as facts: each case with its nearest miss. Words are in ``tests/report``."""

from __future__ import annotations

import random
from dataclasses import replace

import pytest

from netcheck.network import FrameId, IdentityLevel, LoadRates, NetworkFit, RemarkKind, SurveyPlan
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
    return remark


def names(remark) -> list[str]:
    return [str(message) for message in remark.messages]


def test_error_frames_only_mean_a_wrong_bit_rate(tmp_path):
    lines = [Line(n, ERROR_FLAG | 8, STUFFING) for n in range(50)]
    remark = one_remark(channel_of(tmp_path, lines), RemarkKind.ONLY_ERRORS)
    assert (remark.errors, remark.frames, remark.is_unacknowledged) == (50, 50, False)
    assert remark.kinds == {"bit-stuffing": 50}


def test_error_frames_that_say_nobody_acknowledges_mean_a_lonely_tap(tmp_path):
    lines = [Line(n, ERROR_FLAG | 0x20, bytes(8)) for n in range(50)]
    remark = one_remark(channel_of(tmp_path, lines), RemarkKind.ONLY_ERRORS)
    assert remark.is_unacknowledged


def test_some_error_frames_are_another_thing(tmp_path):
    lines = [*steady(0x100, 0x101), *(Line(700 + n, ERROR_FLAG | 8, STUFFING) for n in range(5))]
    channel = channel_of(tmp_path, lines)
    assert RemarkKind.ONLY_ERRORS not in kinds(channel)
    remark = one_remark(channel, RemarkKind.ERRORS)
    assert (remark.errors, remark.frames) == (5, 65)


def test_how_often_the_recorder_reports_lost_frames_is_counted(tmp_path):
    lines = [*steady(0x100), Line(700, ERROR_FLAG | 4, "0001000000000000")]
    assert one_remark(channel_of(tmp_path, lines), RemarkKind.FRAMES_LOST).times == 1
    lines.append(Line(701, ERROR_FLAG | 4, "0001000000000000"))
    assert one_remark(channel_of(tmp_path, lines), RemarkKind.FRAMES_LOST).times == 2


def test_a_handful_of_frames_is_nearly_silence(tmp_path):
    assert kinds(channel_of(tmp_path, steady(0x100, rounds=9))) == [RemarkKind.NEARLY_SILENT]
    assert kinds(channel_of(tmp_path, steady(0x100, rounds=10))) == []


def test_only_a_recording_of_some_seconds_can_say_that_a_network_is_asleep(tmp_path):
    long = one_remark(channel_of(tmp_path, steady(0x100, rounds=9, every=1000)), RemarkKind.NEARLY_SILENT)
    assert (long.frames, long.seconds, long.is_short) == (9, 8.0, False)
    short = one_remark(channel_of(tmp_path, steady(0x100, rounds=1)), RemarkKind.NEARLY_SILENT)
    assert (short.frames, short.seconds, short.is_short) == (1, 0.0, True)


def test_remote_frames_alone_are_questions_that_nobody_answers(tmp_path):
    channel = channel_of(tmp_path, [Line(100 * n, 0x123, "R") for n in range(30)])
    remark = one_remark(channel, RemarkKind.NEARLY_SILENT)
    assert (remark.frames, remark.remote_frames) == (0, 30)
    answered = [Line(100 * n, 0x123, "R") for n in range(30)] + steady(0x123, rounds=10)
    assert kinds(channel_of(tmp_path, answered)) == []


def test_frames_that_all_have_one_time_say_nothing_of_times(tmp_path):
    channel = channel_of(tmp_path, [Line(0, 0x100, bytes([n])) for n in range(20)])
    assert kinds(channel) == [RemarkKind.NO_TIMES]
    assert channel.remarks[0].frames == 20


def test_two_networks_on_one_channel(tmp_path):
    channel = channel_of(tmp_path, steady(0x100, 0x101, 0x102, 0x103, 0x200, 0x201, 0x202), PLAN)
    remark = one_remark(channel, RemarkKind.TWO_NETWORKS)
    assert (remark.first, remark.second) == (NetworkFit("one", 4, 7), NetworkFit("two", 3, 7))
    assert RemarkKind.NOT_CLEAR not in kinds(channel)


def test_two_strangers_are_no_second_network(tmp_path):
    channel = channel_of(tmp_path, steady(0x100, 0x101, 0x102, 0x103, 0x200, 0x201), PLAN)
    assert channel.network == "one"
    assert kinds(channel) == []


def test_none_of_these_is_an_answer(tmp_path):
    channel = channel_of(tmp_path, steady(0x100, 0x101, 0x300, 0x301, 0x302), PLAN)
    assert channel.network is None
    remark = one_remark(channel, RemarkKind.NO_NETWORK)
    assert (remark.networks, remark.best) == (("one", "two"), NetworkFit("one", 2, 5))


@pytest.mark.parametrize(
    ("known", "strangers", "identity", "kind"),
    [
        (9, 11, IdentityLevel.DOUBTFUL, RemarkKind.DOUBTFUL),  # under half of the ids, and of 20 messages
        (10, 11, IdentityLevel.IDENTIFIED, RemarkKind.OTHER_EDITION),
        (10, 6, IdentityLevel.IDENTIFIED, RemarkKind.OTHER_EDITION),  # under two thirds of the ids
        (10, 5, IdentityLevel.IDENTIFIED, None),
    ],
)
def test_how_far_a_dbc_fits(tmp_path, known, strangers, identity, kind):
    twenty = database(*(message(f"A{n}", 0x100 + n) for n in range(20)))
    ids = [*range(0x100, 0x100 + known), *range(0x600, 0x600 + strangers)]
    plan = SurveyPlan({"one": twenty}, {"one": LoadRates(500_000)})
    channel = channel_of(tmp_path, steady(*ids), plan)
    assert (channel.network, channel.identity) == ("one", identity)
    assert kinds(channel) == ([kind] if kind else [])
    assert (channel.rates is None) == (identity is IdentityLevel.DOUBTFUL)
    fit = channel.fit
    assert (fit.explained, fit.ids, fit.messages, fit.exact) == (known, known + strangers, 20, known)
    if kind is RemarkKind.DOUBTFUL:
        assert not channel.remarks[0].may_be_chance


def test_a_dbc_of_fewer_ids_may_fit_better(tmp_path):
    """Both are shorter than the frames in one of them: the lengths of the other edition are right."""
    old = database(*(replace(message(f"A{n}", 0x100 + n), length=2) for n in range(12)))
    new = database(*(message(f"A{n}", 0x100 + n) for n in range(8)))
    ids = [*range(0x100, 0x10C), *range(0x600, 0x608)]
    channel = channel_of(tmp_path, steady(*ids), SurveyPlan({"old": old, "new": new}))
    assert channel.network == "old"
    fit = one_remark(channel, RemarkKind.OTHER_EDITION).fit
    assert (fit.exact, fit.better) == (0, (NetworkFit("new", 8, 20),))


def test_ids_of_diagnostics_count_nowhere(tmp_path):
    asked = [FrameId(0x6A1, False), FrameId(0x6A9, False)]
    ids = [0x100, 0x101, 0x102, 0x6A1, 0x6A9, 0x7E0, 0x18DA10F1]
    plan = SurveyPlan({"one": ONE}, addresses=asked)
    channel = channel_of(tmp_path, steady(*ids), plan)
    assert (channel.fit.explained, channel.fit.ids) == (3, 3)
    assert kinds(channel) == []
    only = channel_of(tmp_path, steady(*ids[3:]), plan)
    assert (only.network, only.identity) == (None, IdentityLevel.NONE)
    assert one_remark(only, RemarkKind.DIAGNOSTICS_ONLY).ids == 4
    assert RemarkKind.NO_NETWORK not in kinds(only)


def test_dbcs_that_share_their_ids_are_not_clear(tmp_path):
    near = database(*(message(f"C{n}", 0x100 + n) for n in range(5)))
    channel = channel_of(tmp_path, steady(*range(0x100, 0x106)), SurveyPlan({"one": ONE, "near": near}))
    assert channel.network is None
    remark = one_remark(channel, RemarkKind.NOT_CLEAR)
    assert (remark.best, remark.rivals) == (NetworkFit("one", 6, 6), ("near",))


@pytest.mark.parametrize(
    ("own", "rounds", "more_may_help"),
    [
        (True, 30, True),  # each DBC has an id of its own that did not come, and the log is short
        (True, 2700, True),
        (True, 2800, False),  # a minute by a person's watch: what did not come is not to be waited for
        (False, 30, False),  # the same ids: no recording will tell them apart
    ],
)
def test_a_longer_recording_is_asked_for_only_where_it_may_help(tmp_path, own, rounds, more_may_help):
    shared = [message(f"S{n}", 0x100 + n) for n in range(5)]
    plan = SurveyPlan(
        {name: database(*shared, *([message(name, 0x300 + n)] if own else [])) for n, name in enumerate("ab")}
    )
    channel = channel_of(tmp_path, steady(*range(0x100, 0x105), rounds=rounds), plan)
    assert one_remark(channel, RemarkKind.NOT_CLEAR).more_may_help is more_may_help


def test_a_network_whose_dbc_fits_any_ids_as_well_is_doubtful(tmp_path):
    """A DBC of 300 messages has 15 % of all ids: 9 of any 60, with a deviation of 3."""
    vast = database(*(message(f"V{n}", 3 * n) for n in range(300)))
    plan = SurveyPlan({"vast": vast}, {"vast": LoadRates(500_000)})
    by_chance = channel_of(tmp_path, steady(*range(600, 660), rounds=10), plan)
    assert by_chance.network == "vast"  # 20 ids, and no other DBC: the rule
    remark = one_remark(by_chance, RemarkKind.DOUBTFUL)
    assert (remark.fit, remark.messages) == (NetworkFit("vast", 20, 60), 300)
    assert by_chance.rates is None
    clear = channel_of(tmp_path, steady(*range(600, 690, 3), rounds=10), plan)
    assert kinds(clear) == []
    assert clear.rates == LoadRates(500_000)


def test_two_dbcs_that_fit_any_ids_as_well_are_no_mixed_networks(tmp_path):
    vast = {f"vast{k}": database(*(message(f"V{n}", 3 * n + k) for n in range(300))) for k in (0, 1)}
    channel = channel_of(tmp_path, steady(*range(600, 660), rounds=10), SurveyPlan(vast))
    assert kinds(channel) == [RemarkKind.NO_NETWORK]


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
    late = one_remark(channel_of(tmp_path, lines, SurveyPlan({"one": slow})), RemarkKind.LATE)
    assert names(late) == ["A0", "A1", "A2"]
    right = database(*(replace(one, cycle_time_ms=20.0) for one in ONE.messages[:3]))
    assert kinds(channel_of(tmp_path, lines, SurveyPlan({"one": right}))) == []
    short = [*lines, *(Line(n * 20 + 7, 0x103, bytes(4)) for n in range(30))]
    channel = channel_of(tmp_path, short, PLAN)
    assert names(one_remark(channel, RemarkKind.TOO_SHORT)) == ["A3"]


@pytest.mark.parametrize(("away_ms", "said"), [(1000, False), (1020, True), (15_000, True)])
def test_a_message_that_stays_away_while_others_come(tmp_path, away_ms, said):
    """Every 20 ms, then nothing for a while, then again; a second message keeps the network awake."""
    until = 600 + away_ms
    lines = [Line(ms, 0x101, bytes(8)) for ms in range(0, until + 600, 20)]
    lines += [Line(ms + 1, 0x100, bytes(8)) for ms in (*range(0, 601, 20), *range(until, until + 600, 20))]
    channel = channel_of(tmp_path, sorted(lines, key=lambda line: line.ms))
    assert kinds(channel) == [RemarkKind.PAUSED] * said
    for remark in channel.remarks:
        assert (names(remark), remark.longest_s) == (["0x100"], away_ms / 1000)


def test_messages_of_the_dbc_that_never_came_are_named(tmp_path):
    assert channel_of(tmp_path, steady(0x100, 0x102, 0x103), PLAN).unseen == ("A1", "A4", "A5")
    assert channel_of(tmp_path, steady(0x300, 0x301, 0x302), PLAN).unseen == ()
    assert channel_of(tmp_path, steady(0x100, 0x102, 0x103)).unseen == ()


def test_a_counter_that_jumps(tmp_path):
    """Every thirtieth value is left out, and no time goes by for it."""
    counts = [n % 16 for n in range(600) if n % 30]
    lines = [Line(10 * n, 0x100, bytes([count, 1])) for n, count in enumerate(counts)]
    channel = channel_of(tmp_path, lines)
    assert kinds(channel) == [RemarkKind.COUNTER_JUMPS]
    assert names(channel.remarks[0]) == ["0x100"]


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
    assert names(remark) == ["0x100"]
    assert kinds(channel) == [RemarkKind.CHECK_FAILS]
