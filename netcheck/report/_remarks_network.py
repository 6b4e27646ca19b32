"""All that is said of which network a channel is, and how a DBC fits it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

from netcheck.network import (
    DbcFit,
    DiagnosticsOnly,
    DoubtfulNetwork,
    MixedNetworks,
    NetworkFit,
    NoNetwork,
    NotClear,
    OtherEdition,
    RemarkKind,
)
from netcheck.report._remark_parts import RemarkWords, listed, share_text
from netcheck.words import counted


def _two_networks(remark: MixedNetworks) -> RemarkWords:
    one, two = remark.first, remark.second
    return RemarkWords(
        f"two networks are on this channel: ids of {one.network} ({one.explained}) and of {two.network} "
        f"({two.explained})",
        "Two logs were joined, the two pairs touch, or a gateway copies one network to the other.",
        "Check that no wire joins the two pairs and record each on its own channel, or split the log.",
        channel="two networks mixed",
        match="more than one network is here",
        is_grave=True,
        bars_plan=True,
    )


def _no_network(remark: NoNetwork) -> RemarkWords:
    return RemarkWords(
        f"none of {listed(remark.networks)}: {_explains(remark.best)}",
        next="Try another pair, or look for the DBC of another model year.",
        channel="none of these networks",
        match="none of them",
    )


def _explains(fit: NetworkFit) -> str:
    return f"{fit.explained} of {counted(fit.ids, 'id')} match {fit.network}"


def _not_clear(remark: NotClear) -> RemarkWords:
    found = (
        f"several networks match: {_explains(remark.best)}, {listed(remark.rivals)} nearly as many or more"
    )
    if remark.is_better_fit:
        found += f"; lengths, times and values fit {remark.best.network} better"
    step = "Name the channel's network in the job file."
    if remark.more_may_help:
        step = f"Record for a minute with the ignition on: ids that tell them apart may come. Or: {step}"
    return RemarkWords(found, next=step, channel="several networks match", match="several match")


def _doubtful(remark: DoubtfulNetwork) -> RemarkWords:
    fit = remark.fit
    why = "random ids would match as often" if remark.may_be_chance else "most of them did not come"
    return RemarkWords(
        f"whether this is {fit.network} is doubtful: {fit.explained} of {counted(fit.ids, 'id')} match its "
        "DBC; "
        f"it has {counted(remark.messages, 'message')}, and {why}{_better(remark.better)}",
        "This is the pair of another network, or the DBC is of another vehicle or of another edition of this "
        "network.",
        "Give the DBC files of this very vehicle. Check that the decoded values make sense. At least "
        f"{more_needed(remark.missing)}.",
        channel=f"perhaps {fit.network}",
        match="doubtful",
        bars_plan=True,
    )


def more_needed(missing: int) -> str:
    """``3 more of its messages must come before it is trusted``."""
    return f"{missing:,} more of its messages must come before the DBC is trusted"


def _diagnostics_only(remark: DiagnosticsOnly) -> RemarkWords:
    came = "its only id is one" if remark.ids == 1 else f"all {remark.ids:,} ids are ids"
    return RemarkWords(
        f"{came} of diagnostics, which do not tell which network this is",
        "A tester was connected, and a gateway keeps the network's own messages off this pair.",
        "Record on the network itself, with no tester connected.",
        channel="diagnostics only",
        match="diagnostics only",
        bars_plan=True,
    )


def _better(better: Sequence[NetworkFit]) -> str:
    if not better:
        return ""
    names = [f"{fit.network} ({fit.explained} of {fit.ids})" for fit in better]
    verb = "fits" if len(better) == 1 else "fit"
    return f"; by lengths, times and values {listed(names)} {verb} better"


def fit_text(fit: DbcFit) -> str:
    """How a DBC fits the ids that it has, a clause: lengths, and values and moving bits if there are any."""
    all_fit = fit.exact == fit.explained
    parts = [f"all {fit.explained} lengths fit" if all_fit else f"{fit.exact} of {fit.explained} lengths fit"]
    if fit.outside is not None:
        parts.append(
            f"{share_text(fit.outside)} of the values out of limits" if fit.outside else "values in limits"
        )
    if fit.uncovered is not None:
        moving = f"{share_text(fit.uncovered)} of the moving bits in no signal"
        parts.append(moving if fit.uncovered else "moving bits all in signals")
    return ", ".join(parts)


def fit_words(fit: DbcFit) -> RemarkWords:
    """The words of a DBC that explains less than two thirds of the ids."""
    return RemarkWords(
        f"another edition of this network? {fit.ids - fit.explained} of {counted(fit.ids, 'id')} are not in "
        f"the DBC of {fit.network}, or their frames are shorter{_better(fit.better)}",
        "The DBC is of another model year or another equipment, or it leaves out part of the messages.",
        "Compare model and model year with the vehicle file. Check that the decoded values make sense.",
        channel=f"{fit.network}, perhaps another edition",
        match="another edition of this network?",
    )


def _other_edition(remark: OtherEdition) -> RemarkWords:
    return fit_words(remark.fit)


NETWORK_WORDS: Final[Mapping[RemarkKind, Callable[[Any], RemarkWords]]] = {
    RemarkKind.TWO_NETWORKS: _two_networks,
    RemarkKind.NO_NETWORK: _no_network,
    RemarkKind.NOT_CLEAR: _not_clear,
    RemarkKind.DOUBTFUL: _doubtful,
    RemarkKind.DIAGNOSTICS_ONLY: _diagnostics_only,
    RemarkKind.OTHER_EDITION: _other_edition,
}
