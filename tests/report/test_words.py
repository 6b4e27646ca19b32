"""Everything that can be said has its words: nothing is forgotten when a kind is added."""

from __future__ import annotations

import inspect

import pytest

from netcheck import verdict, work
from netcheck.report import _action_words, _finding_words, _note_words, _warning_words
from netcheck.report._reasons import REASONS, STATUS_WORDS, advice, also_lines, need_text, seen_text
from netcheck.verdict import STATUS, ConflictKind, NeedFacts, NeedResult, QuestionKind, Reason, Status
from netcheck.work import AT_THE_DESK, SettleNeeds


def records(room: object, base: type) -> set[type]:
    """The records of a family that a room exports."""
    found = {value for value in vars(room).values() if inspect.isclass(value) and issubclass(value, base)}
    return {value for value in found if not value.__subclasses__()}


FAMILIES = {
    "conflicts and questions": (
        records(verdict, verdict.Conflict) | records(verdict, verdict.Question),
        set(_finding_words.FINDINGS),
    ),
    "notes": (records(verdict, verdict.Note), set(_note_words.NOTES)),
    "warnings": (records(verdict, verdict.PlanWarning), set(_warning_words.WARNINGS)),
    "doubts of the vehicle": (records(verdict, verdict.VehicleDoubt), set(_warning_words.DOUBTS)),
    "actions": (
        records(work, work.Action),
        set(_action_words.STEPS) | set(_action_words.NEXT_STEPS),
    ),
    "reasons": (set(Reason), set(REASONS)),
    "statuses": (set(Status), set(STATUS_WORDS)),
    "statuses of reasons": (set(Reason), set(STATUS)),
}


@pytest.mark.parametrize("family", FAMILIES)
def test_each_has_its_words_and_nothing_else_has(family: str) -> None:
    said, words = FAMILIES[family]
    assert len(said) > 1
    assert words == said


def test_each_kind_has_a_record() -> None:
    assert {record.kind for record in records(verdict, verdict.Conflict)} == set(ConflictKind)
    assert {record.kind for record in records(verdict, verdict.Question)} == set(QuestionKind)


def test_what_a_desk_can_do_has_its_words() -> None:
    assert {reason for reason, words in REASONS.items() if words.desk is not None} == AT_THE_DESK


def bare(reason: Reason, also: tuple[Reason, ...] = ()) -> NeedResult:
    """A need of which next to nothing is known."""
    return NeedResult(
        role="reverse-engaged",
        status=STATUS[reason],
        reason=reason,
        evidence="none",
        network=None,
        message=None,
        signal=None,
        optional=False,
        asks="answers",
        max_gap_ms=250.0,
        why="",
        also=also,
        facts=NeedFacts(),
    )


@pytest.mark.parametrize("reason", Reason)
def test_a_reason_speaks_whatever_is_known(reason: Reason) -> None:
    """A need with hardly a fact still gets a sentence; the same reason beside another one, too."""
    need = bare(reason, also=(reason,))
    assert seen_text(need) or reason is Reason.WRONG_TAP
    assert also_lines(need)[0].startswith(f"{reason}: ")
    assert need_text(need)
    assert bool(str(advice(need))) is (reason is not Reason.OK)


@pytest.mark.parametrize("reason", sorted(AT_THE_DESK))
def test_desk_work_names_the_role(reason: Reason) -> None:
    desk = REASONS[reason].desk
    assert desk is not None
    names = ("reverse-engaged",)
    text = desk(SettleNeeds(reason, names, ("M.S",), ("M",), ("comfort",), "drive", 2020, "van.toml"))
    assert "reverse-engaged" in text or "comfort" in text
    assert text.endswith(".")
