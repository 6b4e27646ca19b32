"""All that is said of reasons of place: where the signal is, whether that was captured, who supplies it."""

from __future__ import annotations

from typing import Final

from netcheck.report._numbers import be, it_has
from netcheck.report._reason_parts import (
    Advice,
    ReasonWords,
    accepted_text,
    exercise_of,
    identity_text,
    network_of,
    one_network,
)
from netcheck.verdict import Elsewhere, NeedResult, Reason
from netcheck.words import listing, path_text
from netcheck.work import SettleNeeds


def _seen_undefined_role(need: NeedResult) -> str:
    return f"the vehicle file maps no {need.role} for this model year{it_has(need.facts.similar)}"


def _next_undefined_role(need: NeedResult) -> Advice:
    slip = " (or correct the name in the retrofit file)" if need.facts.similar else ""
    return Advice(
        f"If this model year has the signal, map the role in the vehicle file{slip}; if not, the part needs "
        "another source for it, such as a wire"
    )


def _seen_undefined_signal(need: NeedResult) -> str:
    lacks = need.facts.lacks
    if lacks is None:
        return f"the DBC of {network_of(need)} lacks the signal"
    where = f" in {lacks.message}" if lacks.message else ""
    return f"the DBC of {network_of(need)} has no {lacks.what} {lacks.name}{where}{it_has(lacks.similar)}"


def _next_undefined_signal(need: NeedResult) -> Advice:
    return Advice(
        f"Correct role.{need.role} in the vehicle file, or give a DBC of {network_of(need)} that has it"
    )


def _seen_other_network(need: NeedResult) -> str:
    places = listing([_place(entry, need) for entry in need.facts.elsewhere])
    if need.used_by is not None:
        return f"not on {need.facts.wired}, where module {need.used_by} uses it; it is on {places}"
    return f"not on {need.facts.wired}, where the part is wired; it is on {places}"


def _place(entry: Elsewhere, need: NeedResult) -> str:
    rare = ""
    if entry.cycle_ms is not None:
        rare = f", by its DBC every {entry.cycle_ms:.0f} ms, and {accepted_text(need)}"
    return f"{entry.network} ({entry.title}{rare})"


def _next_other_network(need: NeedResult) -> Advice:
    if need.used_by is not None:
        return Advice(_ask_user(need.used_by, (need.role,)))
    return Advice(_move(need.facts.elsewhere, need.facts.wired))


def _desk_other_network(todo: SettleNeeds) -> str:
    where = listing(todo.networks, last="or")
    if todo.used_by is not None:
        there = f"Module {todo.used_by} uses {listing(todo.roles)}, and {where} has it, {todo.wired} has not."
        return f"{there} {_ask_user(todo.used_by, todo.roles)}"
    text = f"The part is wired to {todo.wired}, but {listing(todo.roles)} {be(todo.roles)} on {where}."
    text += f" {_move(todo.elsewhere, todo.wired)}"
    if todo.lost:
        text += f" By the vehicle file {listing(todo.lost)} {be(todo.lost)} not on {todo.networks[0]}."
    return text


def _ask_user(module: str, roles: tuple[str, ...]) -> str:
    """A signal that another module uses: where the part is wired does not matter."""
    return (
        f"Find out from the maker's documents how module {module} gets {listing(roles)} (a wire, a gateway, "
        "another message). Until that is shown, do not fit the part."
    )


def _move(elsewhere: tuple[Elsewhere, ...], wired: str | None) -> str:
    """Where to move a part to that is on the wrong network for a need."""
    often = [entry.network for entry in elsewhere if entry.cycle_ms is None]
    if not often:
        return "The part needs another source for it, such as a wire of its own, or must accept longer gaps."
    where = listing(tuple(dict.fromkeys(often)), last="or")
    return (
        f"Wire the part to {where} and say so in the job file, if that can be reached and has the rest that "
        f"it needs, or choose a part that takes what it needs from {wired}."
    )


def _seen_wrong_tap(need: NeedResult) -> str:
    told = [
        f"{use.channel} of {path_text(use.file)} is not {use.declared} as the job says: {identity_text(use)}"
        for use in need.facts.misdeclared
    ]
    return "; ".join(told)


def _next_wrong_tap(need: NeedResult) -> Advice:
    return Advice(
        f"Find the pair of {network_of(need)} and capture it, or correct the channel in the job file if the "
        "capture is of another network"
    )


def _seen_no_capture(need: NeedResult) -> str:
    if need.facts.diagnostics:
        where = listing([f"{use.channel} of {path_text(use.file)}" for use in need.facts.diagnostics])
        return f"diagnostics only on {where}, so {need.title} is only defined"
    return f"no capture of {network_of(need)}, so {need.title} is only defined"


def _seen_doubtful(need: NeedResult) -> str:
    told = [f"{use.channel} of {path_text(use.file)}: {identity_text(use)}" for use in need.facts.doubtful]
    return f"whether that is {network_of(need)} is doubtful ({'; '.join(told)})"


def _seen_by_wire(need: NeedResult) -> str:
    wire = need.facts.wire
    if wire is None:
        return "by a wire of its own"
    told = [text for text in (wire.expect, f"fuse {wire.fuse}" if wire.fuse else "") if text]
    return f"by a wire of its own from {wire.from_}" + (f" ({'; '.join(told)})" if told else "")


def _seen_by_item(need: NeedResult) -> str:
    return f"{listing(need.facts.suppliers)} sends it on {need.facts.supplied_on}"


PLACE_REASONS: Final[dict[Reason, ReasonWords]] = {
    Reason.UNDEFINED_ROLE: ReasonWords(
        seen=_seen_undefined_role,
        next=_next_undefined_role,
        several="not in the vehicle file for this model year",
        desk=lambda todo: (
            f"Find out which message carries {listing(todo.roles)} in model year {todo.year} and add it to "
            f"{path_text(todo.file)}; if the vehicle has no such signal, choose a part that does without."
        ),
    ),
    Reason.UNDEFINED_SIGNAL: ReasonWords(
        seen=_seen_undefined_signal,
        next=_next_undefined_signal,
        several="not in the DBC",
        desk=lambda todo: (
            f"Correct {path_text(todo.file)} or the DBC of {one_network(todo)}: it lacks "
            f"{listing(todo.signals)} ({listing(todo.roles)})."
        ),
    ),
    Reason.OTHER_NETWORK: ReasonWords(
        seen=_seen_other_network,
        next=_next_other_network,
        several="on another network than the part",
        desk=_desk_other_network,
    ),
    Reason.WRONG_TAP: ReasonWords(
        seen=_seen_wrong_tap,
        next=_next_wrong_tap,
        several="captured on another network",
        desk=lambda todo: (
            f"Check which pair the channel named {one_network(todo)} in the job file was: its traffic is "
            f"not that of {one_network(todo)}."
        ),
    ),
    Reason.NO_CAPTURE: ReasonWords(
        seen=_seen_no_capture,
        next=lambda need: Advice(f"Capture {network_of(need)} and show it there", exercise_of(need)),
        several="not captured",
    ),
    Reason.DOUBTFUL_NETWORK: ReasonWords(
        seen=_seen_doubtful,
        next=lambda need: Advice(
            f"Make sure of the vehicle, the model year and the pair, then capture {network_of(need)} again "
            "and mark two exercises at least",
            exercise_of(need),
        ),
        several="their network is doubtful",
        desk=lambda todo: (
            f"Check that {path_text(todo.file)} and the DBC of {one_network(todo)} are of this vehicle and "
            "model year: too few ids of the capture fit."
        ),
    ),
    Reason.BY_WIRE: ReasonWords(
        seen=_seen_by_wire,
        next=lambda _: Advice("Measure the wire before you connect it, and prove it after fitting"),
        several="by wires of their own",
    ),
    Reason.BY_ITEM: ReasonWords(
        seen=_seen_by_item,
        next=lambda _: Advice("Prove it after both parts are fitted"),
        several="supplied by another part",
    ),
}
