"""How the DBC files fit what was captured: the line above a plan's verdict, and the doubt in its headline."""

from __future__ import annotations

from collections.abc import Iterator

from netcheck.plan import Plan
from netcheck.verdict import ChannelUse
from netcheck.words import listing, sentence, unique

MOST_RIVALS = 2  # networks that are named where several fit


def fit_text(plan: Plan) -> str:
    """How well the DBC of each captured network fits: ``DBC fit: comfort 61 of 64 ids.``"""
    if not plan.captures:
        return "DBC fit: not looked at, there is no capture."
    told = unique(_fit(use) for use in plan.captures if not use.is_left_out)
    return sentence(f"DBC fit: {'; '.join(told)}")


def _fit(use: ChannelUse) -> str:
    if use.is_diagnostics_only:
        return f"{use.channel} DIAGNOSTICS ONLY"
    if use.network is None and use.declared is None:
        return _unnamed(use)
    explained = use.own.explained if use.own is not None else 0
    return f"{use.network or use.declared} {explained} of {use.ids} ids{_doubt(use)}"


def _doubt(use: ChannelUse) -> str:
    if use.more_ids:
        return ", TOO FEW TO TELL"
    if use.network is None:
        return ", NOT IT"
    if use.is_doubtful:
        return ", DOUBTFUL"
    if not use.is_partial or use.own is None:
        return ""
    return ", THE REST UNKNOWN" if use.own.explained == use.own.messages else ", ANOTHER EDITION?"


def _unnamed(use: ChannelUse) -> str:
    """A channel that is no network of the vehicle, or might be several."""
    best = use.candidates[: min(len(use.rivals), MOST_RIVALS) if use.is_unclear else 1]
    told = [
        f"{entry.network} {entry.explained}" + ("" if place else f" of {use.ids} ids")
        for place, entry in enumerate(best)
    ]
    numbers = ", ".join(told) or f"0 of {use.ids} ids"
    return f"{use.channel} {'UNCLEAR' if use.is_unclear else 'NONE OF THEM'} ({numbers})"


def is_fit_doubted(plan: Plan) -> bool:
    """Whether the line about the fit is a warning."""
    partial = any(use.is_partial and not use.is_left_out for use in plan.captures)
    return partial or any(network_doubts(plan))


def network_doubts(plan: Plan) -> Iterator[str]:
    """What the headline says of it, a sentence each. A strange channel beside a known one is no doubt."""
    uses = [use for use in plan.captures if not use.is_left_out and not use.is_diagnostics_only]
    if any(use.is_doubtful for use in uses):
        yield "Too few ids fit: is this capture of this vehicle?"
    refused = [use for use in uses if use.network is None and use.declared is not None]
    if any(use.more_ids for use in refused):
        yield "Too few ids came to tell the network."
    if wrong := unique(f"{use.channel} is not {use.declared}" for use in refused if not use.more_ids):
        yield f"By its ids {listing(wrong)}."
    if uses and all(use.network is None and use.declared is None for use in uses):
        if any(use.is_unclear for use in uses):
            yield "Several networks fit about equally: name the channel's in the job."
        else:
            yield "No DBC of this vehicle fits: is this capture of this vehicle?"


def partial_fits(plan: Plan) -> tuple[str, ...]:
    """What a plan does not judge where a DBC has few of the ids and not all of its messages came."""
    return unique(
        f"Whether the DBC of {use.network} is of this edition ({use.own.explained} of {use.ids} ids are in "
        "it): compare decoded values with the vehicle (netcheck decode)."
        for use in plan.captures
        if use.is_partial and use.own is not None and use.own.explained < use.own.messages
        if not use.is_left_out and not use.is_doubtful
    )
