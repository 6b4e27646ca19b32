"""AUTOSAR end-to-end protection against published examples.

Profile 1: AUTOSAR PRS_E2EProtocol, 8 bytes of zeros, data id 0x123 (the examples of the library
autosar-e2e, too, in its test_p01.py); profile 2: its test_p02.py.
"""

from __future__ import annotations

import numpy as np
import pytest

from netcheck.errors import UsageError
from netcheck.network import DataIdProblemKind, FrameId, SurveyPlan
from netcheck.network._profiles import check_data_ids, profile_1, profile_2
from tests.network.logs import Line, channel_of, survey_of

PROFILE_1 = {
    "both": ["CC00", "9101", "7602", "2A0D", "CD0E"],
    "alternating": ["CE00", "0201", "7402", "B90D", "CF0E"],
    "low": ["CE00", "9301", "7402", "280D", "CF0E"],
    "nibble": ["2A10", "7711", "9012", "CC1D", "2B1E"],
}
PROFILE_2 = [
    ((0,) * 16, "4501000000000000"),
    (tuple(range(16)), "BC02020304050607"),
    (tuple(range(16)), "6101020304050607"),
    ((0,) * 16, "2100000000000000"),
]
WRONG = {"both": "CC10", "alternating": "CE10", "low": "9311", "nibble": "7721"}


def payload(head: str) -> bytes:
    return bytes.fromhex(head).ljust(8, b"\0")


def rows(*payloads: bytes) -> np.ndarray:
    return np.frombuffer(b"".join(payloads), np.uint8).reshape(len(payloads), -1)


@pytest.mark.parametrize("mode", PROFILE_1)
def test_profile_1(mode):
    examples = [payload(head) for head in PROFILE_1[mode]]
    assert profile_1(rows(*examples), 0x123, mode).tolist() == [one[0] for one in examples]
    wrong = payload(WRONG[mode])
    assert profile_1(rows(wrong), 0x123, mode)[0] != wrong[0]


@pytest.mark.parametrize(("data_ids", "digits"), PROFILE_2)
def test_profile_2(data_ids, digits):
    example = bytes.fromhex(digits)
    assert profile_2(rows(example), data_ids).tolist() == [example[0]]


def protected(mode: str, data_id: int, count: int) -> list[bytes]:
    found = []
    for number in range(count):
        body = bytes([0, number % 15 | (0x10 if mode == "nibble" else 0), number * 7 & 0xFF, 3])
        found.append(bytes([profile_1(rows(body), data_id, mode)[0]]) + body[1:])
    return found


@pytest.mark.parametrize("mode", PROFILE_1)
def test_a_message_with_a_data_id_is_verified(tmp_path, mode):
    lines = [Line(10 * n, 0x1F0, data) for n, data in enumerate(protected(mode, 0x123, 60))]
    plan = SurveyPlan(data_ids={FrameId(0x1F0, False): (0x123,)})
    (message,) = channel_of(tmp_path, lines, plan, 300).messages
    checksum = message.checksum
    assert (checksum.kind, checksum.mode, checksum.byte, checksum.share, checksum.frames) == (
        "autosar-e2e-profile-1", mode, 0, 1.0, 60,
    )  # fmt: skip
    assert (message.counter.bit, message.counter.modulo) == (8, 15)
    other = SurveyPlan(data_ids={FrameId(0x1F0, False): (0x2BC,)})
    (message,) = channel_of(tmp_path, lines, other).messages
    assert message.checksum is None or "profile" not in message.checksum.kind


def test_a_data_id_that_shows_nothing_is_said(tmp_path):
    """The wrong one, one of an id that never came, one of an id whose payload never changes."""
    lines = [Line(10 * n, 0x1F0, data) for n, data in enumerate(protected("both", 0x123, 60))]
    lines += [Line(10 * n + 5, 0x200, bytes(4)) for n in range(60)]
    ids = {0x1F0: (0x2BC,), 0x200: (1,), 0x300: (1,)}
    plan = SurveyPlan(data_ids={FrameId(can_id, False): values for can_id, values in ids.items()})
    found = survey_of(tmp_path, sorted(lines, key=lambda line: line.ms), plan)
    wrong, still, absent = found.data_id_problems
    assert (wrong.kind, wrong.frames) == (DataIdProblemKind.WRONG, 60)
    assert wrong.share < 0.5
    assert (still.kind, str(still.frame_id)) == (DataIdProblemKind.FEW_CHANGES, "0x200")
    assert (absent.kind, str(absent.frame_id)) == (DataIdProblemKind.ABSENT, "0x300")
    right = SurveyPlan(data_ids={FrameId(0x1F0, False): (0x123,)})
    assert survey_of(tmp_path, lines, right).data_id_problems == ()
    elsewhere = [*lines[:60], *(Line(10 * n, 0x1F0, bytes([n, 1]), "can1") for n in range(60))]
    assert survey_of(tmp_path, elsewhere, right).data_id_problems == ()


def test_a_profile_that_often_fails_shows_how_often(tmp_path):
    """One frame in four is that of a second sender."""
    good = protected("both", 0x123, 80)
    lines = [Line(10 * n, 0x1F0, bytes([data[0] ^ (n % 4 == 0)]) + data[1:]) for n, data in enumerate(good)]
    plan = SurveyPlan(data_ids={FrameId(0x1F0, False): (0x123,)})
    found = survey_of(tmp_path, lines, plan)
    (message,) = found.channels[0].messages
    assert (message.checksum.kind, message.checksum.share) == ("autosar-e2e-profile-1", 0.75)
    assert found.data_id_problems == ()


def test_profile_2_is_verified(tmp_path):
    data_ids = tuple(range(3, 19))
    lines = []
    for number in range(40):
        body = bytes([0, number % 16, number, 9])
        crc = int(profile_2(rows(body), data_ids)[0])
        lines.append(Line(10 * number, 0x1F0, bytes([crc]) + body[1:]))
    plan = SurveyPlan(data_ids={FrameId(0x1F0, False): data_ids})
    (message,) = channel_of(tmp_path, lines, plan).messages
    assert (message.checksum.kind, message.checksum.share) == ("autosar-e2e-profile-2", 1.0)


@pytest.mark.parametrize("values", [(), (1, 2), (0x10000,), (256,) * 16, (-1,)])
def test_other_data_ids_are_refused(values):
    with pytest.raises(UsageError, match="of no profile"):
        check_data_ids({FrameId(1, False): values})
