"""What of a retrofit applies to a vehicle: entries may depend on a fact of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TypeVar

from netcheck.files._retrofit import CautionEntry, Code, Exercise, HandWork, Need, OnlyIf, Retrofit, Use
from netcheck.files._vehicle import Fact
from netcheck.records import dataclass
from netcheck.words import unique

Entry = TypeVar("Entry", Need, Code, Exercise, HandWork, Use, CautionEntry)


@dataclass(frozen=True)
class Applying:
    """The entries of a retrofit that apply to one vehicle, each in the file's order.

    unstated: conditions on facts that nobody states, each once; what depends on them is among the entries
    """

    needs: tuple[Need, ...]
    codes: tuple[Code, ...]
    exercises: tuple[Exercise, ...]
    steps: tuple[HandWork, ...]
    uses: tuple[Use, ...]
    cautions: tuple[CautionEntry, ...]
    unstated: tuple[OnlyIf, ...]


def applying(retrofit: Retrofit, facts: Mapping[str, Fact]) -> Applying:
    """The entries that apply to a vehicle with these facts; a fact that is not stated excludes nothing."""
    return Applying(
        needs=_those(retrofit.need, facts),
        codes=_those(retrofit.code, facts),
        exercises=_those(retrofit.exercise, facts),
        steps=_those(retrofit.step, facts),
        uses=_those(retrofit.use, facts),
        cautions=_those(retrofit.caution, facts),
        unstated=unique(each for each in conditions_of(retrofit) if each.fact not in facts),
    )


def conditions_of(retrofit: Retrofit) -> tuple[OnlyIf, ...]:
    """The conditions of a retrofit's entries, in the order of the entries."""
    entries: tuple[Need | Code | Exercise | HandWork | Use | CautionEntry, ...] = (
        *retrofit.need,
        *retrofit.code,
        *retrofit.exercise,
        *retrofit.step,
        *retrofit.use,
        *retrofit.caution,
    )
    return tuple(entry.only_if for entry in entries if entry.only_if is not None)


def is_fact_of(fact: Fact, choices: Sequence[Fact]) -> bool:
    """Whether a fact is one of several values; true is not 1, and 1 is 1.0."""
    return any(isinstance(fact, bool) == isinstance(choice, bool) and fact == choice for choice in choices)


def _those(entries: Sequence[Entry], facts: Mapping[str, Fact]) -> tuple[Entry, ...]:
    return tuple(entry for entry in entries if _applies(entry.only_if, facts))


def _applies(condition: OnlyIf | None, facts: Mapping[str, Fact]) -> bool:
    if condition is None or condition.fact not in facts:
        return True
    return is_fact_of(facts[condition.fact], condition.any_of)
