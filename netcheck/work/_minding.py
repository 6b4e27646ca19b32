"""Cautions of the checklist: each danger is told once, at the step that it guards."""

from __future__ import annotations

from collections.abc import Collection, Iterator
from typing import Final, Literal

from netcheck.files import LoadedItem, LoadedJob, Phase, Where
from netcheck.verdict import ItemResult, Verdict
from netcheck.words import sentence, unique
from netcheck.work._actions import LeaveUnfitted, Mind, MoveWithCare, OnlyListen, Place
from netcheck.work._stages import Stage, Step

# Dangers of fitting that are there before the power is off.
_WITH_POWER: Final = frozenset({"airbag", "battery", "high-voltage", "supply"})
WHILE_MOVING: Final = frozenset({"motion", "distraction"})
_DRIVING: Final[tuple[Literal["yard", "road"], ...]] = ("yard", "road")
_PLACES: Final[tuple[Place, ...]] = ("engine", "yard", "road")


def general_cautions(items: tuple[ItemResult, ...], recording: bool) -> Iterator[Step]:
    """What holds from the start: for the whole job first, then each item's own."""
    no_go = unique(item.retrofit for item in items if item.verdict is Verdict.NO_GO)
    if no_go:
        yield Step("before", (), LeaveUnfitted(no_go))
    if recording:
        yield Step("before", (), OnlyListen())
    said: dict[str, list[str]] = {}
    for item in items:
        for caution in item.cautions:
            said.setdefault(sentence(caution), []).append(item.retrofit)
    owned = [(unique(names), text) for text, names in said.items()]
    yield from (Step("before", names, Mind(text)) for text, names in _shared_first(owned))


def _shared_first(owned: list[tuple[tuple[str, ...], str]]) -> Iterator[tuple[str, tuple[str, ...]]]:
    shared = [(text, names) for names, text in owned if len(names) > 1]
    single = [(text, names) for names, text in owned if len(names) == 1]
    yield from shared
    for owner in unique(names for _, names in single):
        yield from ((text, names) for text, names in single if names == owner)


def stage_cautions(
    job: LoadedJob, items: tuple[ItemResult, ...], stages: Collection[Stage]
) -> Iterator[Step]:
    """The dangers that retrofit files tell by phase, and those of every job that runs or moves a vehicle.

    The same words of several items are one caution; those of one danger stand together.
    stages: where there is something to do
    """
    for place in _PLACES:
        if place in stages:
            yield Step(place, (), MoveWithCare(place))
    said: dict[tuple[Stage, str, str], list[str]] = {}
    for loaded, item in zip(job.items, items, strict=True):
        if item.verdict is Verdict.NO_GO:
            continue
        for entry in loaded.retrofit.caution:
            stage = _stage(entry.phase, entry.danger, stages, _wheres(loaded))
            said.setdefault((stage, entry.danger, sentence(entry.text)), []).append(item.retrofit)
    dangers = unique(danger for _, danger, _ in said)
    for (stage, danger, text), names in sorted(said.items(), key=lambda entry: dangers.index(entry[0][1])):
        yield Step(stage, unique(names), Mind(text, danger))


def _wheres(loaded: LoadedItem) -> set[Where]:
    """What the proof of an item takes."""
    retrofit = loaded.retrofit
    exercises = (exercise.where for exercise in retrofit.exercise)
    return {*exercises, *(step.where for step in retrofit.step if step.phase == "prove")}


def _stage(phase: Phase, danger: str, stages: Collection[Stage], wheres: Collection[Where]) -> Stage:
    """wheres: what the item's proof takes; its danger of motion is told where the item first moves"""
    if phase == "fit":
        return "power-down" if danger in _WITH_POWER and "power-down" in stages else "fit"
    if phase == "prove":
        moving = [place for place in _DRIVING if place in wheres and danger in WHILE_MOVING]
        return moving[0] if moving else "standing"
    return phase
