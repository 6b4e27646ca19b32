"""Which DBC it is: the networks of opendbc (an open data set, MIT), simulated with gaps and strangers.

A third of each DBC's messages are missing and as many unknown ids are there. Payloads are random inside the
signals' limits.
"""

from __future__ import annotations

import math
import random
from functools import cache
from pathlib import Path

import pytest

from netcheck.bits import last_byte_needed, set_bits
from netcheck.database import Database, Message, Signal, load_database
from netcheck.network import FrameId, Timing, Traffic, identify
from netcheck.network._ranking import Evidence, rank
from tests.database.test_opendbc import REFUSED, texts

PAYLOADS = 12
CONFUSED = {"subaru_outback_2019_generated": "subaru_outback_2015_generated"}  # same ids and layouts


@pytest.fixture(scope="module")
def networks(tmp_path_factory) -> dict[str, Database]:
    folder = tmp_path_factory.mktemp("dbc")
    found = {}
    for name, text in texts().items():
        if name not in REFUSED:
            path = Path(folder) / f"{name}.dbc"
            path.write_text(text, encoding="utf-8")
            found[name] = load_database(path, cache=False)
    return found


def raw_value(signal: Signal, chance: random.Random) -> int:
    low = -(1 << signal.width - 1) if signal.is_signed else 0
    high = low + (1 << signal.width) - 1
    if signal.scale and signal.minimum is not None and signal.maximum is not None:
        ends = sorted((limit - signal.offset) / signal.scale for limit in (signal.minimum, signal.maximum))
        inner = max(low, math.ceil(ends[0] - 1e-9)), min(high, math.floor(ends[1] + 1e-9))
        low, high = inner if inner[0] <= inner[1] else (low, high)
    return 0 if signal.is_float else chance.randint(low, high) & ((1 << signal.width) - 1)


def payload(message: Message, chance: random.Random) -> bytes:
    data = bytes(message.length)
    for signal in message.signals:
        field = signal.start, signal.width, signal.is_big_endian
        if last_byte_needed(*field) < message.length:
            data = set_bits(data, *field, raw_value(signal, chance))
    return data


def evidence(period: float, payloads: list[bytes]) -> Evidence:
    return Evidence(Timing(period, (period, period), period, True, 99), payloads)


def simulated(name: str, database: Database) -> tuple[Traffic, dict[FrameId, Evidence]]:
    chance = random.Random(name)
    messages = chance.sample(database.messages, len(database.messages))
    missing = len(messages) // 3
    lengths, seen = {}, {}
    for message in messages[missing:]:
        frame_id = FrameId(message.can_id, message.is_extended)
        period = message.cycle_time_ms or chance.choice([10, 20, 50, 100, 200, 500, 1000])
        lengths[frame_id] = {message.length: 100}
        seen[frame_id] = evidence(period, [payload(message, chance) for _ in range(PAYLOADS)])
    known = {FrameId(message.can_id, message.is_extended) for message in messages}
    while missing:
        frame_id = FrameId(chance.randrange(2048), False)
        if frame_id not in known | lengths.keys():
            lengths[frame_id] = {8: 100}
            seen[frame_id] = evidence(100, [chance.randbytes(8) for _ in range(PAYLOADS)])
            missing -= 1
    return Traffic(100 * len(lengths), 0, 10**10, lengths), seen


def test_the_true_dbc_comes_first_in_all_but_the_listed_cases(networks):
    assert len(networks) > 50
    confused, named = {}, 0
    for name, database in networks.items():
        traffic, seen = simulated(name, database)
        identity = identify(traffic, networks)
        first = rank(traffic, seen, networks, identity)[0].network
        if first != name:
            confused[name] = first
        # The rule that decides names the true one or none: it never names a wrong one.
        assert identity.network in (name, None)
        named += identity.network == name
    assert confused == CONFUSED
    assert named >= 30


@cache
def one_signal(**changes) -> Database:
    layout = {"start": 0, "width": 8, "is_big_endian": False, "is_signed": False, "is_float": False,
              "scale": 1.0, "offset": 0.0, "minimum": None, "maximum": None} | changes  # fmt: skip
    messages = tuple(
        Message(f"M{n}", 0x100 + n, False, False, False, 2, (), 100.0, (Signal("S", **layout),))
        for n in range(4)
    )
    return Database(("hand.dbc",), messages)


def ranked(
    networks: dict[str, Database], period: float = 100.0, payloads: tuple[bytes, ...] = (b"\0\0", b"\xc8\0")
):
    ids = [FrameId(0x100 + n, False) for n in range(4)]
    traffic = Traffic(400, 0, 10**10, {frame_id: {2: 100} for frame_id in ids})
    seen = {frame_id: evidence(period, list(payloads)) for frame_id in ids}
    return rank(traffic, seen, networks, identify(traffic, networks))


def test_values_outside_their_limits_speak_against_a_dbc():
    first, second = ranked({"tight": one_signal(minimum=0.0, maximum=100.0), "wide": one_signal()})
    assert (first.network, second.network) == ("wide", "tight")
    assert (second.plausible, first.plausible) == (0.5, None)


def test_changing_bits_outside_every_signal_speak_against_a_dbc():
    first, second = ranked({"elsewhere": one_signal(start=8), "there": one_signal()})
    assert first.network == "there"
    assert (first.covered, second.covered) == (1.0, 0.0)


def test_big_endian_signals_cover_their_own_bits():
    first, _ = ranked(
        {"big": one_signal(start=7, is_big_endian=True), "other": one_signal(start=15, is_big_endian=True)}
    )
    assert first.network == "big"
    assert first.covered == 1.0


def test_cycle_times_count():
    (entry,) = ranked({"one": one_signal()}, period=120.0)
    assert (entry.timed, entry.on_time) == (4, 4)
    (entry,) = ranked({"one": one_signal()}, period=130.0)
    assert (entry.timed, entry.on_time) == (4, 0)
    assert entry.score < 4


def test_the_rules_network_comes_first_whatever_the_score():
    few = Database(("few.dbc",), one_signal().messages[:2])
    networks = {"few": few, "all": one_signal(start=8)}
    found = ranked(networks)
    assert found[0].network == "all"
    assert found[0].explained == 4
