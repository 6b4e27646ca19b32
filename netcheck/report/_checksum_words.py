"""All that is said of checksums: their kinds, data ids, and what was tried."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Final

from netcheck.network import (
    ChecksumKind,
    DataIdMode,
    DataIdProblem,
    DataIdProblemKind,
)
from netcheck.records import dataclass
from netcheck.words import listing


@dataclass(frozen=True)
class ChecksumWords:
    """short: in a narrow column; full: in a line of its own; tried: in a list of kinds, or ""."""

    short: str
    full: str
    tried: str


CHECKSUM_WORDS: Final[Mapping[ChecksumKind, ChecksumWords]] = {
    ChecksumKind.CRC_J1850: ChecksumWords("CRC", "CRC-8 J1850", "CRC-8 J1850"),
    ChecksumKind.CRC_2F: ChecksumWords("CRC", "CRC-8 0x2F", "CRC-8 0x2F"),
    ChecksumKind.SUM: ChecksumWords("sum", "sum of the other bytes", "sum"),
    ChecksumKind.SUM_COMPLEMENT: ChecksumWords("sum", "complement of the sum", "complement of the sum"),
    ChecksumKind.XOR: ChecksumWords("XOR", "exclusive-or of the other bytes", "XOR"),
    ChecksumKind.PROFILE_1: ChecksumWords("AUTOSAR 1", "AUTOSAR profile 1", ""),
    ChecksumKind.PROFILE_2: ChecksumWords("AUTOSAR 2", "AUTOSAR profile 2", ""),
}


DATA_ID_WORDS: Final[Mapping[DataIdMode, str]] = {
    DataIdMode.BOTH: "with both bytes of the data id",
    DataIdMode.ALTERNATING: "with the two bytes of the data id in turn",
    DataIdMode.LOW: "with the low byte of the data id",
    DataIdMode.NIBBLE: "with the low byte and a nibble of the data id",
}


def tried_checksums() -> str:
    """The kinds that every message is searched for; a profile needs its data id."""
    names = [words.tried for words in CHECKSUM_WORDS.values() if words.tried]
    return f"one byte over all others: {listing(names, last='or')}"


def _problem_absent(problem: DataIdProblem) -> str:
    return f"no frame of {problem.frame_id}, for which a data id is given"


def _problem_few(problem: DataIdProblem) -> str:
    return f"the data id of {problem.frame_id} could not be checked: its payload changed too few times"


def _problem_wrong(problem: DataIdProblem) -> str:
    return (
        f"the data id of {problem.frame_id} does not match: at best {problem.share:.1%} of "
        f"{problem.frames:,} frames pass"
    )


DATA_ID_PROBLEM_WORDS: Final[Mapping[DataIdProblemKind, Callable[[DataIdProblem], str]]] = {
    DataIdProblemKind.ABSENT: _problem_absent,
    DataIdProblemKind.FEW_CHANGES: _problem_few,
    DataIdProblemKind.WRONG: _problem_wrong,
}


def problem_text(problem: DataIdProblem) -> str:
    """What is wrong with a data id that was given, a clause."""
    return DATA_ID_PROBLEM_WORDS[problem.kind](problem)
