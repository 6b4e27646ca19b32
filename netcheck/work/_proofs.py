"""The exercises of all items, each done once: what is shown, for whom, and what it takes."""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.files import Exercise, LoadedItem, LoadedJob, Where
from netcheck.records import dataclass
from netcheck.verdict import ItemResult, NeedResult, Status, Verdict
from netcheck.words import clause, unique
from netcheck.work._exercises import Exercises, together
from netcheck.work._ramp_actions import Prove, ProveWithoutExercise
from netcheck.work._stages import Step
from netcheck.work._todo import suppliers


@dataclass(frozen=True)
class _WantedProof:
    """An exercise that an item has, and the item's need of its role; None where the part itself plays it."""

    exercise: Exercise
    item: ItemResult
    need: NeedResult | None
    suppliers: tuple[str, ...]


def proofs(job: LoadedJob, items: tuple[ItemResult, ...]) -> Iterator[Step]:
    """Every exercise of the items that are not no-go, then in one line the needs that none of them shows.

    What shows one state of one role the same way round is done once, in the words of the longest text. An
    optional need that is missing is left out: there is nothing to prove.
    """
    wanted = list(_wanted(job, items))
    for where in unique(entry.exercise.where for entry in wanted):
        here = [entry for entry in wanted if entry.exercise.where == where]
        texts = _texts(here)
        origins = {key: _origin(key, here) for key in texts}
        for origin in unique(origins.values()):  # what is said of one role is not said of another
            alike = ((role, text, state) for (role, state), text in texts.items())
            chosen = (entry for entry in alike if origins[entry[0], entry[2]] == origin)
            for group in together(chosen):
                yield _step(where, group, here, origin)
    yield from _without_exercise(job, items)


def _going(job: LoadedJob, items: tuple[ItemResult, ...]) -> Iterator[tuple[int, LoadedItem, ItemResult]]:
    for index, (loaded, item) in enumerate(zip(job.items, items, strict=True)):
        if item.verdict is not Verdict.NO_GO:
            yield index, loaded, item


def _wanted(job: LoadedJob, items: tuple[ItemResult, ...]) -> Iterator[_WantedProof]:
    for index, loaded, item in _going(job, items):
        needs = {need.role: need for need in item.needs}
        names = unique(other.retrofit for other in suppliers(job, items, index))
        for exercise in loaded.retrofit.exercise:
            need = needs.get(exercise.role)
            if need is None or need.status is not Status.MISSING:
                yield _WantedProof(exercise, item, need, names)


def _texts(wanted: list[_WantedProof]) -> dict[tuple[str, str | int], str]:
    """What to do for each role and state; of several texts the longest, and of these the first."""
    texts: dict[tuple[str, str | int], str] = {}
    for entry in wanted:
        key = (entry.exercise.role, entry.exercise.state)
        texts[key] = max(texts.get(key, ""), entry.exercise.do, key=len)
    return texts


def _origin(key: tuple[str, str | int], wanted: list[_WantedProof]) -> tuple[tuple[str, ...], bool]:
    """Which items supply what an exercise shows, and whether it appears only with the coding."""
    here = [entry for entry in wanted if (entry.exercise.role, entry.exercise.state) == key]
    needed = [(entry, entry.need) for entry in here if entry.need is not None]
    supplied = [entry for entry, need in needed if need.status is Status.SUPPLIED]
    names = unique(name for entry in supplied for name in entry.suppliers)
    return names, any(need.status is Status.AFTER_CODING for _, need in needed)


def _step(
    where: Where, group: Exercises, wanted: list[_WantedProof], origin: tuple[tuple[str, ...], bool]
) -> Step:
    mine = [
        entry
        for entry in wanted
        if entry.exercise.role in group.roles and entry.exercise.state == group.state
    ]
    needed = [(entry, entry.need) for entry in mine if entry.need is not None]
    action = Prove(
        group,
        whys=unique(clause(need.why) for _, need in needed),
        suppliers=origin[0],
        is_after_coding=origin[1],
        shows=unique(entry.item.retrofit for entry, _ in needed),
    )
    return Step(where, unique(entry.item.retrofit for entry in mine), action)


def _without_exercise(job: LoadedJob, items: tuple[ItemResult, ...]) -> Iterator[Step]:
    lacking: dict[tuple[str, ...], list[str]] = {}
    for _, loaded, item in _going(job, items):
        exercised = {exercise.role for exercise in loaded.retrofit.exercise}
        missing = {need.role for need in item.needs if need.status is Status.MISSING}
        rest = unique(need.role for need in item.needs if need.role not in exercised | missing)
        if rest:
            lacking.setdefault(rest, []).append(item.retrofit)
    for roles, names in lacking.items():
        yield Step("standing", unique(names), ProveWithoutExercise(roles))
