"""Every kind of remark, finding, role and reading has its words; they run on a made example of each."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import replace

import pytest

from netcheck.network import (
    AddressConflict,
    BatchedStamps,
    BusLoad,
    ChecksumKind,
    DataIdMode,
    DataIdProblem,
    DataIdProblemKind,
    DbcFit,
    DiagnosticsOnly,
    DoubtfulNetwork,
    ErrorFrames,
    FewFrames,
    FrameId,
    FramesMissing,
    IdsBeyond,
    LostByRecorder,
    MessagesRemark,
    MixedNetworks,
    NamedFrame,
    NetworkFit,
    NoNetwork,
    NotClear,
    OtherEdition,
    PausedMessages,
    RemarkKind,
    SameTimes,
    Stalled,
)
from netcheck.report._checksum_words import (
    CHECKSUM_WORDS,
    DATA_ID_PROBLEM_WORDS,
    DATA_ID_WORDS,
    problem_text,
    tried_checksums,
)
from netcheck.report._facts import facts_of
from netcheck.report._survey_words import REMARK_WORDS, remark_words
from netcheck.report._tap_keys import KEY_WORDS, expected_text, measured_text
from netcheck.report._tap_readings import READING_WORDS, assessment_words
from netcheck.report._tap_words import (
    CAUTION_WORDS,
    FINDING_WORDS,
    KIND_WORDS,
    ROLE_WORDS,
    STATE_WORDS,
    finding_words,
    role_words,
)
from netcheck.roles import Lack
from netcheck.tap import (
    Absence,
    AgainstLimits,
    Assessment,
    Finding,
    FindingKind,
    FindingReason,
    FitFinding,
    LacksSignal,
    LiveValues,
    LockedBy,
    MeterReading,
    NetworkFinding,
    OfWire,
    OnNetworks,
    OtherVolts,
    RateFinding,
    ReadingKey,
    ReadingReason,
    RoleFound,
    RoleReason,
    ShortTo,
    SignalValue,
    State,
    StubLength,
    SuppliedBy,
    SurveyFinding,
    TapCaution,
)

U = State.UNKNOWN
FITS = NetworkFit("comfort", 12, 40), NetworkFit("drive", 11, 40)
FRAMES = NamedFrame(FrameId(0x123, False), "SelectorStatus"), NamedFrame(FrameId(0x124, False), "")
FIT = DbcFit("comfort", 12, 40, 50, 11, 0.04, 0.25, (FITS[1],))
K = RemarkKind
REMARKS = {
    remark.kind: remark
    for remark in (
        ErrorFrames(K.ONLY_ERRORS, 95, 100, {"bit-stuffing": 95}, is_unacknowledged=False),
        ErrorFrames(K.ERRORS, 1, 2000, {"crc": 1}, is_unacknowledged=False),
        LostByRecorder(K.FRAMES_LOST, 2),
        FewFrames(K.NEARLY_SILENT, 3, 0, 61.5, is_short=False),
        MixedNetworks(K.TWO_NETWORKS, *FITS),
        NoNetwork(K.NO_NETWORK, ("comfort", "drive"), FITS[0]),
        NotClear(K.NOT_CLEAR, FITS[0], ("drive",), is_better_fit=True, more_may_help=True),
        DoubtfulNetwork(K.DOUBTFUL, FITS[0], 300),
        DiagnosticsOnly(K.DIAGNOSTICS_ONLY, 2),
        OtherEdition(K.OTHER_EDITION, FIT),
        SameTimes(K.NO_TIMES, 20),
        BusLoad(K.RATE_IMPOSSIBLE, 2.66, 125_000),
        BusLoad(K.OVERLOAD, 0.86, 125_000),
        MessagesRemark(K.TOO_SHORT, FRAMES),
        MessagesRemark(K.LATE, FRAMES),
        PausedMessages(K.PAUSED, FRAMES, 3.9),
        MessagesRemark(K.COUNTER_JUMPS, FRAMES),
        MessagesRemark(K.CHECK_FAILS, FRAMES),
        AddressConflict(K.ADDRESS_CONFLICT, 33, ("0x200C81045A20021B", "0x8007060504030201")),
        IdsBeyond(K.IDS_BEYOND, 8192, 7),
        FramesMissing(K.FRAMES_MISSING, FRAMES, 1200, 3, 0.43, is_shared=True, complete=0),
        Stalled(K.RECORDER_STALLED, 2, 140.0, is_late=True, counters=4),
        Stalled(K.BUS_STOPPED, 1, 140.0, is_late=False, counters=4),
        BatchedStamps(K.STAMPS_BATCHED, 0.61, 10.0),
    )
}
F, A = FindingReason, FindingKind
NETWORK = {
    F.SILENT, F.NOT_LISTENED, F.RIGHT_NETWORK, F.OTHER_NETWORK, F.SHARED_IDS, F.NO_ID_MATCHES, F.NOT_CLEAR,
}  # fmt: skip
RATE = {F.RATE_DIFFERS, F.RATE_UNKNOWN, F.RATE_OF_FILE, F.RATE_CONFIRMED}
PLAIN = {F.NO_FRAME, F.THROUGH_SOFTWARE, F.NO_ERROR_FRAMES}
OF_FIT = {F.DBC_FITS, F.OTHER_EDITION}
OF_ERRORS = {F.FEW_ERROR_FRAMES, F.MANY_ERROR_FRAMES}


def finding(reason: FindingReason) -> Finding:
    if reason in NETWORK:
        facts = "comfort", "drive", FITS, 40, "pins 4 and 14", True
        return NetworkFinding(A.NETWORK, U, reason, *facts)
    if reason in RATE:
        return RateFinding(A.BIT_RATE, U, reason, "comfort", 125_000, 500_000)
    if reason in OF_FIT:
        return FitFinding(A.FIT, U, reason, FIT)
    if reason in PLAIN:
        return Finding(A.ERRORS, U, reason)
    remark = REMARKS[K.ERRORS if reason in OF_ERRORS else K(reason.value)]
    return SurveyFinding(A.ERRORS, U, reason, remark, "comfort", 125_000)


LEVER = SignalValue(0, 0.0, "P", "")
ROLE_FACTS = {
    RoleReason.SUPPLIED: SuppliedBy(("camera",)),
    RoleReason.OTHER_NETWORK: OnNetworks(("drive", "body")),
    RoleReason.UNDEFINED_SIGNAL: LacksSignal("comfort", Lack("signal", "Horn", "Lamps", ("Horns",))),
    RoleReason.LOCKED: LockedBy("gateway", "camera", "fitted"),
    RoleReason.MESSAGE_ABSENT: Absence(12.0),
    RoleReason.SEEN: LiveValues(100_000_000, LEVER, LEVER),
}
V = ReadingReason
WITH_FACTS = {
    V.TOO_MUCH_LOAD: AgainstLimits(U, V.TOO_MUCH_LOAD, (50.0, 65.0)),
    V.NEAR_BATTERY: OfWire(U, V.NEAR_BATTERY, "high"),
    V.NEAR_ZERO: OfWire(U, V.NEAR_ZERO, "low"),
    V.SHORTED: ShortTo(U, V.SHORTED, "ground"),
    V.NEARLY_RECESSIVE: AgainstLimits(U, V.NEARLY_RECESSIVE, (0.5,)),
    V.IDLE_UNDEFINED: AgainstLimits(U, V.IDLE_UNDEFINED, (0.5, 0.9)),
    V.ODD_SUM: OtherVolts(U, V.ODD_SUM, 4.02),
    V.DRIVEN_HIGH: AgainstLimits(U, V.DRIVEN_HIGH, (3.0,)),
    V.DRIVEN_WEAKLY: AgainstLimits(U, V.DRIVEN_WEAKLY, (0.9, 1.5)),
    V.DOMINANT_UNDEFINED: AgainstLimits(U, V.DOMINANT_UNDEFINED, (0.5, 0.9)),
    V.STUB_SAFE: StubLength(U, V.STUB_SAFE, 0.6, 5.5),
    V.STUB_LONG: StubLength(U, V.STUB_LONG, 0.6, 5.5),
    V.STUB_TOO_LONG: StubLength(U, V.STUB_TOO_LONG, 0.6, 5.5),
    V.DIFFERS_FROM_WIRES: OtherVolts(U, V.DIFFERS_FROM_WIRES, 0.8),
}


def check_sentences(texts: Iterable[str]) -> None:
    """Each begins with a capital letter or is nothing, and ends as sentences do."""
    for text in texts:
        assert not text or (text[0].isupper() and text.endswith((".", "?"))), text


@pytest.mark.parametrize(
    ("table", "kinds"),
    [
        (REMARK_WORDS, RemarkKind),
        (CHECKSUM_WORDS, ChecksumKind),
        (DATA_ID_WORDS, DataIdMode),
        (DATA_ID_PROBLEM_WORDS, DataIdProblemKind),
        (FINDING_WORDS, FindingReason),
        (KIND_WORDS, FindingKind),
        (ROLE_WORDS, RoleReason),
        (STATE_WORDS, State),
        (CAUTION_WORDS, TapCaution),
        (KEY_WORDS, ReadingKey),
        (READING_WORDS, ReadingReason),
    ],
    ids=lambda value: getattr(value, "__name__", ""),
)
def test_every_kind_has_its_words(table, kinds):
    assert set(table) == set(kinds)


@pytest.mark.parametrize("kind", RemarkKind)
def test_words_of_a_remark(kind):
    words = remark_words(REMARKS[kind])
    assert words.found
    assert not words.found.endswith(".")
    assert words.cause or words.next
    assert bool(words.channel) == bool(words.match)
    check_sentences((words.cause, words.next))
    assert json.loads(json.dumps(facts_of(REMARKS[kind], "kind")))


@pytest.mark.parametrize("reason", FindingReason)
def test_words_of_a_finding(reason):
    words = finding_words(finding(reason))
    assert words.found
    assert not words.found.endswith(".")
    check_sentences((words.cause, words.next))
    json.dumps(facts_of(finding(reason)))


@pytest.mark.parametrize("reason", RoleReason)
def test_words_of_a_role(reason):
    more = [ROLE_FACTS[reason]] if reason in ROLE_FACTS else []
    words = role_words(RoleFound("reverse-engaged", U, False, "Gear", "Lever", reason, *more))
    assert words.found
    assert not words.found.endswith(".")
    check_sentences((words.cause, words.next))


@pytest.mark.parametrize("reason", ReadingReason)
def test_words_of_a_reading(reason):
    words = assessment_words(WITH_FACTS.get(reason, Assessment(U, reason)))
    assert words.found
    assert not words.found.endswith(".")
    check_sentences((words.cause, words.next))


@pytest.mark.parametrize("key", ReadingKey)
@pytest.mark.parametrize("physical", ["high-speed", "fault-tolerant"])
def test_words_of_what_is_measured(key, physical):
    reading = MeterReading(key, (1.0, 2.0), 1.5)
    check_sentences([KEY_WORDS[key].how])
    assert expected_text(reading, physical)
    assert measured_text(reading) == f"1.5 {KEY_WORDS[key].unit}"


@pytest.mark.parametrize("kind", DataIdProblemKind)
def test_words_of_a_data_id_that_shows_nothing(kind):
    assert "0x123" in problem_text(DataIdProblem(kind, FrameId(0x123, False), 60, 0.1))


# What some of them say -------------------------------------------------------------------------------


def test_what_the_recorder_did_is_not_blamed_on_plugs():
    for kind in (K.FRAMES_LOST, K.FRAMES_MISSING, K.RECORDER_STALLED, K.STAMPS_BATCHED):
        for remark in _both(REMARKS[kind]):
            words = remark_words(remark)
            assert "plug" not in words.next
            assert "wiring" not in words.next
    assert "no fault of the vehicle" in remark_words(REMARKS[K.FRAMES_MISSING]).cause
    assert "wiring" in remark_words(REMARKS[K.BUS_STOPPED]).next


def test_frames_of_one_message_that_are_missing_are_the_recorders_only_perhaps():
    alone = replace(REMARKS[K.FRAMES_MISSING], is_shared=False)
    assert "No other message has a counter" in remark_words(alone).cause
    beside = remark_words(replace(alone, complete=5)).cause
    assert "The counters of 5 other messages go on without such losses" in beside


def _both(remark) -> list:
    return [remark, *([replace(remark, is_late=False)] if isinstance(remark, Stalled) else [])]


def test_one_and_several():
    once = remark_words(LostByRecorder(K.FRAMES_LOST, 1)).found
    assert once == "the recorder lost frames once: its receive buffer was full"
    assert "lost frames 2 times" in remark_words(REMARKS[K.FRAMES_LOST]).found
    first = remark_words(FewFrames(K.NEARLY_SILENT, 1, 0, 0.2, is_short=True))
    assert first.found == "only 1 frame: too short to say more"
    many = AddressConflict(K.ADDRESS_CONFLICT, 33, tuple("abcdefgh"))
    found = remark_words(many).found
    assert found == "at least 8 devices claim J1939 address 33: a, b, c and 5 more"


def test_who_acknowledges_and_who_asks():
    lonely = remark_words(replace(REMARKS[K.ONLY_ERRORS], is_unacknowledged=True))
    assert "acknowledges" in lonely.cause
    assert "bit rate" not in lonely.cause + lonely.next
    assert "bit rate" in remark_words(REMARKS[K.ONLY_ERRORS]).cause
    asked = remark_words(FewFrames(K.NEARLY_SILENT, 0, 30, 3.0, is_short=True))
    assert "no module answers" in asked.cause


def test_a_longer_recording_is_advised_only_where_it_may_help():
    helps, does_not = (
        remark_words(replace(REMARKS[K.NOT_CLEAR], more_may_help=more)).next for more in (True, False)
    )
    assert "Record for a minute" in helps
    assert "ecord" not in does_not
    for reason in (F.NOT_CLEAR, F.SHARED_IDS):
        short = finding(reason)
        assert "minute" in finding_words(short).next
        assert "minute" not in finding_words(replace(short, is_short=False)).next


def test_which_checksums_were_tried_is_said():
    tried = tried_checksums()
    assert tried == "one byte over all others: CRC-8 J1850, CRC-8 0x2F, sum, complement of the sum or XOR"
