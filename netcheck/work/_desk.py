"""What is settled at a desk, before anybody goes to the vehicle."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from netcheck.files import LoadedJob
from netcheck.verdict import ItemResult, NeedResult, Reason, Status
from netcheck.words import listing, sentence, unique
from netcheck.work._todo import sources

# What a desk can do about needs, by the reason they have in common: for some it is all that can be done,
# for others it may save the trip to the vehicle.
_ACTIONS: Final = {
    Reason.UNDEFINED_ROLE: "Find out which message carries {roles} in model year {year} and add it to "
    "{file}; if the vehicle has no such signal, choose a part that does without.",
    Reason.UNDEFINED_SIGNAL: "Correct {file} or the DBC of {network}: it lacks {signals} ({roles}).",
    Reason.OTHER_NETWORK: "The part is wired to {wired}, but {roles} {be} on {network}. {next}",
    Reason.SHORT_FRAME: "Check that the DBC of {network} is for model year {year}: frames of {messages} "
    "are too short for {roles}.",
    Reason.OUT_OF_RANGE: "Check that the DBC of {network} fits this vehicle: values of {roles} lie outside "
    "its limits, so nothing read with it is certain.",
    Reason.NO_MARK: "If somebody noted when {roles} was shown in the captures there are, mark those times: "
    "no new capture is needed for it.",
    Reason.NO_ANSWER: "Check the marks of {roles} against what was done and correct wrong times.",
    Reason.MOVES_UNASKED: "Check the marks of {roles} against what was done and correct wrong times.",
    Reason.WRONG_TAP: "Check which pair the channel named {network} in the job file was: its traffic is not "
    "that of {network}.",
    Reason.TOO_SLOW: "Choose a part that accepts {roles} at the rate seen, or a tap where it comes "
    "more often.",
}


def desk_work(job: LoadedJob, items: tuple[ItemResult, ...]) -> tuple[str, ...]:
    """One text an action: conflicts first, then needs; what several items ask for is said once.

    With more than one item in the job each text starts with the names of the items it is for.
    """
    found: dict[str, list[str]] = {}
    for item in items:
        for conflict in item.conflicts:
            action = conflict.next or f"Resolve the conflict: {conflict.text}"
            found.setdefault(sentence(action), []).append(item.retrofit)
    for name, action in _need_actions(job, items):
        found.setdefault(action, []).append(name)
    if len(items) == 1:
        return tuple(found)
    return tuple(f"{listing(unique(names))}: {action}" for action, names in found.items())


def _need_actions(job: LoadedJob, items: tuple[ItemResult, ...]) -> Iterator[tuple[str, str]]:
    """(item, action) of its non-optional needs; roles that ask for the same action are named together."""
    for item in items:
        groups: dict[tuple[Reason, str, str], list[NeedResult]] = {}
        for need in item.needs:
            unsettled = need.status in {Status.MISSING, Status.EXPECTED}
            never_shown = need.reason is Reason.NO_MARK and need.evidence not in {"moves", "answers"}
            if unsettled and not never_shown and not need.optional and need.reason in _ACTIONS:
                action = (need.reason, _network(job, need), _next(job, item, need))
                groups.setdefault(action, []).append(need)
        for (reason, network, then), needs in groups.items():
            yield (
                item.retrofit,
                _ACTIONS[reason].format(
                    roles=listing(unique(need.role for need in needs)),
                    signals=listing(unique(f"{need.message}.{need.signal}" for need in needs)),
                    messages=listing(unique(need.message or "an unknown message" for need in needs)),
                    be="is" if len(needs) == 1 else "are",
                    network=network or "its network",
                    next=then,
                    wired=item.network or "no network",
                    year=job.model_year,
                    file=job.vehicle.file.name,
                ),
            )


def _network(job: LoadedJob, need: NeedResult) -> str:
    """Where the need's signal is, as far as the vehicle file says."""
    if need.reason is Reason.OTHER_NETWORK:
        return listing(unique(entry.network for entry in sources(job, need.role)), last="or")
    return need.network or ""


def _next(job: LoadedJob, item: ItemResult, need: NeedResult) -> str:
    """What to do about a need on another network, and what the part would lack there; "" for other needs."""
    if need.reason is not Reason.OTHER_NETWORK:
        return ""
    places = unique(entry.network for entry in sources(job, need.role))
    required = [other for other in item.needs if not other.optional and other.status is not Status.SUPPLIED]
    lost = unique(other.role for other in required if not _is_on(job, other.role, places[0]))
    if len(places) > 1 or not lost:
        return need.next
    be = "is" if len(lost) == 1 else "are"
    return f"{need.next} By the vehicle file {listing(lost)} {be} not on {places[0]}."


def _is_on(job: LoadedJob, role: str, network: str) -> bool:
    return any(entry.network == network for entry in sources(job, role))
