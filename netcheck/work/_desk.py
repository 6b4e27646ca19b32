"""What is settled at a desk, before anybody goes to the vehicle."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import Final

from netcheck.files import LoadedJob
from netcheck.roles import entries_of
from netcheck.verdict import FactUnknown, ItemResult, NeedResult, Reason, Status
from netcheck.words import unique
from netcheck.work._actions import Action, AnswerQuestion, ResolveConflict, SettleNeeds

# What a desk can do something about: for some reasons it is all that can be done, for others it may save
# the trip to the vehicle.
AT_THE_DESK: Final = frozenset(
    {
        Reason.UNDEFINED_ROLE,
        Reason.UNDEFINED_SIGNAL,
        Reason.OTHER_NETWORK,
        Reason.SHORT_FRAME,
        Reason.OUT_OF_RANGE,
        Reason.NO_MARK,
        Reason.NO_ANSWER,
        Reason.SOME_ANSWERS,
        Reason.DOUBTFUL_NETWORK,
        Reason.MOVES_UNASKED,
        Reason.WRONG_TAP,
        Reason.TOO_SLOW,
    }
)


def desk_work(job: LoadedJob, items: tuple[ItemResult, ...]) -> tuple[Action, ...]:
    """Conflicts first, then needs; what several items ask for is said once.

    With more than one item in the job each action names the items it is for.
    """
    found: dict[ResolveConflict | AnswerQuestion | SettleNeeds, list[str]] = {}
    for item in items:
        for conflict in item.conflicts:
            found.setdefault(ResolveConflict(conflict), []).append(item.retrofit)
    for item in items:
        for question in item.questions:
            if not isinstance(question, FactUnknown):  # those are looked up together
                found.setdefault(AnswerQuestion(question), []).append(item.retrofit)
    for item in items:
        for action in _need_actions(job, item):
            found.setdefault(action, []).append(item.retrofit)
    if len(items) == 1:
        return tuple(found)
    return tuple(replace(action, items=unique(names)) for action, names in found.items())


def _need_actions(job: LoadedJob, item: ItemResult) -> Iterator[SettleNeeds]:
    """An item's non-optional needs; roles that ask for the same action are named together."""
    groups: dict[tuple[object, ...], list[NeedResult]] = {}
    for need in item.needs:
        never_shown = need.reason is Reason.NO_MARK and need.evidence not in {"moves", "answers"}
        if need.status.is_open and not never_shown and not need.optional and need.reason in AT_THE_DESK:
            followed = need.facts.is_followed
            alike = (need.reason, _networks(job, need), _lost(job, item, need), need.used_by, followed)
            groups.setdefault(alike, []).append(need)
    for needs in groups.values():
        first = needs[0]
        yield SettleNeeds(
            reason=first.reason,
            roles=unique(need.role for need in needs),
            signals=unique(f"{need.message}.{need.signal}" for need in needs),
            messages=unique(need.message or "an unknown message" for need in needs),
            networks=_networks(job, first),
            wired=item.network if first.used_by is None else first.facts.wired,
            year=job.model_year,
            file=job.vehicle.file.name,
            elsewhere=unique(entry for need in needs for entry in need.facts.elsewhere),
            lost=_lost(job, item, first),
            used_by=first.used_by,
            is_followed=first.facts.is_followed,
        )


def _networks(job: LoadedJob, need: NeedResult) -> tuple[str, ...]:
    """Where the need's signal is, as far as the vehicle file says."""
    if need.reason is Reason.OTHER_NETWORK:
        return unique(entry.network for entry in entries_of(job, need.role))
    return (need.network,) if need.network is not None else ()


def _lost(job: LoadedJob, item: ItemResult, need: NeedResult) -> tuple[str, ...]:
    """What the part would lack on the one other network that has the need's role."""
    places = _networks(job, need)
    if need.reason is not Reason.OTHER_NETWORK or len(places) != 1 or need.used_by is not None:
        return ()
    required = [other for other in item.needs if not other.optional and other.status is not Status.SUPPLIED]
    return unique(
        other.role
        for other in required
        if all(entry.network != places[0] for entry in entries_of(job, other.role))
    )
