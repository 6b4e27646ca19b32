"""Roles of a vehicle, proposed from what its DBC files say of each signal."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import Final

from netcheck.database import Database, Message, Signal
from netcheck.find._names import (
    name_words,
    neutral_words,
    no_value_labels,
    other_words,
    unitless,
    words_of,
)
from netcheck.find._names_rules import NamePattern, NameRule, RoleKind, rules
from netcheck.find._propose_model import Clue, ClueKind, Proposal, RoleProposals
from netcheck.records import dataclass

SURE: Final = 0.8  # a score from which on a first proposal counts as sure
CLEAR: Final = 0.1  # how far ahead of another signal it has to be
LEAST: Final = 0.3  # proposals below are not told
MOST: Final = 5  # proposals of a role


_NONE: Final[frozenset[str]] = frozenset()
_LEAST_WORD: Final = 3  # letters of a word of a message's name that says what its signals are


@dataclass(frozen=True)
class _Name:
    """The words of a signal's name, of its message's, and of the comment.

    means, near: concepts that words of the signal's name may mean, and that any of the words may
    """

    signal: tuple[str, ...]
    message: tuple[str, ...]
    comment: tuple[str, ...]
    means: frozenset[str]
    near: frozenset[str]


@dataclass(frozen=True)
class _Match:
    """A name that has the meanings of a pattern. active: raw values of the active state."""

    score: float
    clues: tuple[Clue, ...]
    active: tuple[int, ...]

    def total(self) -> float:
        """The score with what each clue adds."""
        return self.score + sum(clue.weight for clue in self.clues)


def propose_roles(
    database: Database, roles: Iterable[str], comments: Mapping[tuple[str, str], str] | None = None
) -> tuple[RoleProposals, ...]:
    """For each role the signals that may play it, best first; roles for which there is none have none.

    comments: (message, signal) -> what the DBC says of the signal in words
    """
    signals = [
        (message, signal, _words(message, signal, (comments or {}).get((message.name, signal.name), "")))
        for message in database.messages
        for signal in message.signals
    ]
    return tuple(_of_role(role, signals) for role in roles)


def _words(message: Message, signal: Signal, comment: str) -> _Name:
    own, around = name_words(signal.name), (*name_words(message.name), *name_words(comment[:200]))
    means = _concepts(own)
    return _Name(own, name_words(message.name), name_words(comment[:200]), means, means | _concepts(around))


def _concepts(words: Iterable[str]) -> frozenset[str]:
    table = words_of()
    return frozenset(concept for word in words for concept in table.get(word, ()))


def _of_role(role: str, signals: Sequence[tuple[Message, Signal, _Name]]) -> RoleProposals:
    rule = rules().get(role)
    if rule is None:
        return RoleProposals(role, (), is_known=False)
    found = [
        proposal
        for message, signal, name in signals
        if (proposal := _proposal(rule, message, signal, name)) is not None
    ]
    return ranked(role, found)


def ranked(role: str, found: Iterable[Proposal]) -> RoleProposals:
    """Proposals of a role, best first, and whether the first stands clear."""
    best = sorted(found, key=lambda it: (-it.score, it.message, it.signal))
    return RoleProposals(role, tuple(best[:MOST]), is_sure=_is_sure(best))


def _is_sure(found: Sequence[Proposal]) -> bool:
    """Whether the first stands clear of all that are not the same thing under the same name."""
    if not found or found[0].score < SURE:
        return False
    first = found[0]
    rivals = [it for it in found[1:] if _stem(it.signal) != _stem(first.signal)]
    return not rivals or first.score - rivals[0].score >= CLEAR


def _stem(name: str) -> str:
    """A name without its number, by which copies in other messages are told apart."""
    return name.casefold().rstrip("0123456789_")


def _proposal(rule: NameRule, message: Message, signal: Signal, name: _Name) -> Proposal | None:
    """How well a signal fits a role; None where it does not."""
    unit_fits = bool(signal.unit.strip()) and not rule.units.isdisjoint(_units(signal))
    best = max(_by_name(rule, name, signal, unit_fits), key=_Match.total, default=None)
    if best is None:
        return None
    clues = [*best.clues, *_by_layout(rule, message, signal, best.active)]
    score = round(min(max(best.score + sum(clue.weight for clue in clues), 0.0), 1.0), 3)
    if score < LEAST:
        return None
    labels = tuple(signal.labels[raw] for raw in best.active)
    return Proposal(
        message=message.name,
        signal=signal.name,
        score=score,
        clues=tuple(clues),
        labels=labels,
        active=best.active,
        not_available=_no_value(signal),
        counter=_counter(message),
    )


def _counter(message: Message) -> str:
    """The signal that counts the message's frames: the only one with such a name, two to eight bits wide."""
    found = [
        signal.name
        for signal in message.signals
        if 2 <= signal.width <= 8
        and not signal.unit
        and not signal.pages
        and any("counter" in other_words().get(word, _NONE) for word in name_words(signal.name))
    ]
    return found[0] if len(found) == 1 else ""


# ------------------------------------------------------------------------------ names


def _by_name(rule: NameRule, name: _Name, signal: Signal, unit_fits: bool) -> Iterator[_Match]:
    labelled = _active(rule.labels, signal)
    for pattern in rule.patterns:
        if pattern.needs_unit and not unit_fits:
            continue
        active = labelled
        if not active and rule.labels_if is not None and rule.labels_if[0] in pattern.concepts:
            active = _active(rule.labels_if[1], signal)
        yield from _matched(rule, pattern, name, active)
    if labelled:  # one code of a field that holds several
        for pattern in rule.names_of_fields:
            yield from _matched(rule, pattern, name, labelled)


def _matched(rule: NameRule, pattern: NamePattern, name: _Name, active: tuple[int, ...]) -> Iterator[_Match]:
    """The match of a name that has all meanings of a pattern; nothing where one is missing."""
    if name.means.isdisjoint(pattern.concepts) or not name.near.issuperset(pattern.concepts):
        return
    used, missing = _cover(pattern.concepts, name.signal)
    clues = [Clue(ClueKind.NAME, 0.0, " ".join(name.signal[at] for at in sorted(used)))]
    if missing:
        found = _elsewhere(missing, name)
        if found is None:
            return
        clues.append(found)
    elif _cover(pattern.concepts[:1], name.message)[0]:
        clues.append(Clue(ClueKind.MESSAGE_NAME, 0.05, " ".join(name.message)))
    left = [word for at, word in enumerate(name.signal) if at not in used]
    other = next((word for word in left if _says_other(rule, word)), None)
    if other is not None:
        clues.append(Clue(ClueKind.SAYS_OTHER, -0.45, other))
    strange = [word for word in left if word not in name.message and not _says_little(word)]
    if strange:
        weight = min(0.04 * len(strange), 0.16) + (0.2 if missing else 0.0)
        clues.append(Clue(ClueKind.SAYS_MORE, -weight, " ".join(strange)))
    yield _Match(pattern.weight, tuple(clues), active)


def _elsewhere(missing: Sequence[str], name: _Name) -> Clue | None:
    """Meanings that the signal's name lacks, in its message's name or in the DBC's comment."""
    long = [word if len(word) >= _LEAST_WORD else "" for word in name.message]
    for kind, words in ((ClueKind.MESSAGE_NAME, long), (ClueKind.COMMENT, list(name.comment))):
        found, still = _cover(missing, words)
        if not still:
            return Clue(
                kind,
                -0.05 if kind is ClueKind.MESSAGE_NAME else -0.15,
                " ".join(words[at] for at in sorted(found)),
            )
    return None


def _says_other(rule: NameRule, word: str) -> bool:
    """Whether a further word of a name makes it the name of something else."""
    return bool(other_words().get(word, _NONE) - rule.allowed or words_of().get(word, _NONE) & rule.barred)


_LITTLE: Final = frozenset({"switch", "button", "state", "active", "press", "on", "activeword"})


def _says_little(word: str) -> bool:
    """Whether a further word leaves the meaning of a name as it is."""
    return (
        word in neutral_words()
        or len(word) == 1
        or word.isdigit()
        or bool(words_of().get(word, _NONE) & _LITTLE)
    )


def _cover(concepts: Sequence[str], words: Sequence[str]) -> tuple[set[int], list[str]]:
    """The words that have these meanings, a word for each; and the meanings that no word has."""
    used: set[int] = set()
    missing = []
    table = words_of()
    for concept in concepts:
        at = next(
            (at for at, word in enumerate(words) if at not in used and concept in table.get(word, ())), None
        )
        if at is None:
            missing.append(concept)
        else:
            used.add(at)
    return used, missing


# ------------------------------------------------------------------------------ layout


def _active(wanted: re.Pattern[str] | None, signal: Signal) -> tuple[int, ...]:
    """Raw values whose labels mean the active state."""
    if wanted is None:
        return ()
    start = _common_start(tuple(signal.labels.values()))
    return tuple(
        raw
        for raw, label in sorted(signal.labels.items())
        if wanted.fullmatch(_plain(label)) or (start and wanted.fullmatch(_plain(label[start:])))
    )


def _common_start(labels: Sequence[str]) -> int:
    """Letters up to the last ``_`` that all labels begin with: ``GEAR_P`` and ``GEAR_R`` are P and R."""
    if len(labels) < 2:
        return 0
    first, last = min(labels), max(labels)
    alike = next((at for at, letter in enumerate(first) if not last.startswith(first[: at + 1])), len(first))
    return first[:alike].rfind("_") + 1


def _plain(label: str) -> str:
    return " ".join(label.replace("_", " ").split())


def _by_layout(rule: NameRule, message: Message, signal: Signal, active: Sequence[int]) -> Iterator[Clue]:
    if any(_is_companion(signal.name, other.name) for other in message.signals):
        yield Clue(ClueKind.COMPANION, -0.25, "")
    units = _units(signal)
    if rule.kind is RoleKind.VALUE:
        yield from _of_value(rule, signal, units)
    elif rule.kind is not RoleKind.TEXT:
        if units - unitless():
            yield Clue(ClueKind.OTHER_UNIT, -0.5, signal.unit)
        yield from _of_state(rule, signal, active)


def _of_value(rule: NameRule, signal: Signal, units: frozenset[str]) -> Iterator[Clue]:
    if units & rule.units - unitless():
        yield Clue(ClueKind.UNIT, 0.15, signal.unit)
    elif units - unitless():
        yield Clue(ClueKind.OTHER_UNIT, -0.5, signal.unit)
    if signal.width < 4:
        yield Clue(ClueKind.TOO_NARROW, -0.5, str(signal.width))


def _of_state(rule: NameRule, signal: Signal, active: Sequence[int]) -> Iterator[Clue]:
    if signal.width > (4 if rule.kind is RoleKind.BUTTON and not active else 8):
        yield Clue(ClueKind.TOO_WIDE, -0.5, str(signal.width))
    if active and len(active) < len(signal.labels):
        yield Clue(ClueKind.LABELS, 0.15, ", ".join(signal.labels[raw] for raw in active))
    elif rule.labels and not active and len(signal.labels) > 2 and rule.kind is RoleKind.STATE:
        yield Clue(ClueKind.NO_LABEL, -0.3, "")
    elif signal.width <= 4:
        yield Clue(ClueKind.WIDTH, 0.05, str(signal.width))
    elif not signal.labels:
        yield Clue(ClueKind.TOO_WIDE, -0.2, str(signal.width))


def _units(signal: Signal) -> frozenset[str]:
    """The unit in small letters; ``km/h or mph`` are two."""
    return frozenset(" ".join(part.split()).rstrip("?") for part in signal.unit.lower().split(" or "))


def _is_companion(name: str, other: str) -> bool:
    """Whether a signal goes with another one of its message: ``SpeedV`` says whether ``Speed`` is valid."""
    return (
        len(other) >= 6
        and name.startswith(other)
        and 0 < len(name) - len(other) <= 6
        and not name[len(other) :].isdigit()
    )


def _no_value(signal: Signal) -> tuple[int, ...]:
    """Raw values whose labels say that there is no value."""
    return tuple(
        raw for raw, label in sorted(signal.labels.items()) if _plain(label).lower() in no_value_labels()
    )
