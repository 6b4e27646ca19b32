"""What a retrofit promised and how late roles follow, in words."""

from __future__ import annotations

from typing import Final

from netcheck.prove import DelayStart, Latency, Promise, PromiseKind
from netcheck.report._prove_words import ms, title
from netcheck.words import counted


def promise_text(promise: Promise) -> str:
    """What was promised, and whether it happened, as a clause without a full stop."""
    if promise.kind is PromiseKind.CODING and promise.row is not None:
        row = promise.row
        place = f"{row.module} {row.did or ''} {row.field}".replace("  ", " ")
        held = {
            True: f"holds {promise.found}",
            False: f"is {promise.found}, must be {row.to}",
            None: f"was not read, must be {row.to}",
        }
        return f"coding {place} {held[promise.is_kept]}"
    place = f"{title(promise.message)} on {promise.message.network}" if promise.message else ""
    if promise.kind is PromiseKind.NEW_ID:
        told = {True: "is sent, as planned", False: "never came", None: "was not waited for long enough"}
        return f"{place} {told[promise.is_kept]}"
    told = {True: "is silent, as planned", False: "is still sent", None: "was not recorded afterwards"}
    return f"the replaced source {place} {told[promise.is_kept]}"


_FROM: Final = {
    DelayStart.COPY: "after the same change on {network}",
    DelayStart.CAUSE: "after {cause} on {network}",
    DelayStart.MARK: "after the mark (a person's watch: half a second or so)",
}


def latency_text(latency: Latency) -> str:
    """Delays in numbers: a clause without a full stop."""
    start = _FROM[latency.start].format(network=latency.network, cause=latency.cause)
    if latency.is_end:
        start = f"until off after the end of {latency.cause} on {latency.network}"
    parts = []
    if latency.summary is not None:
        least, median, most = latency.summary
        if len(latency.delays_ms) == 1:
            parts.append(f"{ms(median)} {start}")
        else:
            parts.append(f"{ms(least)} to {ms(most)}, median {ms(median)}, {start}")
            parts.append(f"{len(latency.delays_ms)} times")
    if latency.missed and latency.is_end:
        parts.append(f"still on at the limit after {counted(latency.missed, 'end')} of {latency.cause}")
    elif latency.missed:
        parts.append(f"no reaction to {counted(latency.missed, 'change')} of {latency.cause}")
    if latency.limit_ms is not None:
        whose = " by a published rule" if latency.is_published else ""
        parts.append(f"limit {ms(latency.limit_ms)}{whose}")
    return ", ".join(parts)
