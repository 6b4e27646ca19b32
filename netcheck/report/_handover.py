"""The page that the customer gets: what was fitted, how to use it safely, what it does not do. Plain words.

It says no more than was shown after the fitting, and leaves the vehicle's number out.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Final

from netcheck.catalogue import modules, resources, roles
from netcheck.coding import CodingStatus
from netcheck.plan import Plan
from netcheck.prove import PromiseKind, Proof, ProvenNeed, ProveVerdict
from netcheck.records import dataclass
from netcheck.report._customer import customer_text
from netcheck.report._plan_words import rows_of
from netcheck.verdict import ItemResult, Reason, ResourcesExclusive, Status
from netcheck.words import counted, listing, sentence, unique

_STATES: Final = {
    ProveVerdict.PASS: (
        "Checked on the vehicle after the fitting: what the parts need was shown to work, and nothing else "
        "was found changed."
    ),
    ProveVerdict.PASS_WITH_NOTES: (
        "Checked on the vehicle after the fitting: what the parts need was shown to work. The workshop's "
        "report has notes."
    ),
    ProveVerdict.NOT_SHOWN: "Not to be handed over yet: not everything was shown to work after the fitting.",
    ProveVerdict.FAIL: "Not to be handed over: the check after the fitting failed.",
}
DRAFT: Final = "A draft: nothing was recorded after the fitting, so nothing is shown to work."
OTHER: Final = "Not to be handed over: what was recorded after the fitting is of another vehicle."
SIGNERS: Final = ("Handed over by", "Explained to and received by")
_SHOWN: Final = {Status.SHOWN, Status.SUPPLIED}


@dataclass(frozen=True)
class HandoverPart:
    """One part in plain words; each text is a sentence or several.

    state: what the check after the fitting came to; gone: what went away with it
    """

    title: str
    does: str
    state: str
    settings: str
    gone: str
    use: tuple[str, ...]
    limits: tuple[str, ...]


@dataclass(frozen=True)
class Handover:
    """What the customer is told.

    identity:  what tells the vehicle and the job; "" leaves room to write
    is_ready:  whether the check after the fitting lets the vehicle go
    exclusive: what cannot be used at the same time
    """

    identity: tuple[tuple[str, str], ...]
    state: str
    is_ready: bool
    parts: tuple[HandoverPart, ...]
    exclusive: tuple[str, ...]
    signers: tuple[str, ...] = SIGNERS


def handover(plan: Plan, proof: Proof | None) -> Handover:
    """The page's facts and words. proof: None where nothing was recorded after the fitting"""
    known = plan.identity
    odometer = f"{known.odometer_km:,} km" if known.odometer_km is not None else ""
    exclusive = unique(
        _exclusive(note) for item in plan.items for note in item.notes if isinstance(note, ResourcesExclusive)
    )
    return Handover(
        (
            ("Vehicle", f"{plan.vehicle}, model year {plan.model_year}"),
            ("Registration", known.registration),
            ("Odometer", odometer),
            ("Job number", known.reference),
        ),
        _state(proof),
        proof is not None and proof.verdict in {ProveVerdict.PASS, ProveVerdict.PASS_WITH_NOTES},
        tuple(_part(plan, item, proof) for item in plan.items),
        exclusive,
    )


def _state(proof: Proof | None) -> str:
    if proof is None:
        return DRAFT
    return OTHER if proof.sameness.is_same is False else _STATES[proof.verdict]


def _part(plan: Plan, item: ItemResult, proof: Proof | None) -> HandoverPart:
    words = item.customer
    proven = [need for need in proof.needs if need.item == item.retrofit] if proof else []
    return HandoverPart(
        item.title,
        sentence(words.does) if words else "",
        _part_state(item, proven, is_proven=proof is not None and proof.sameness.is_same is not False),
        _settings(item, proof) if proof else "",
        _gone(plan, item),
        tuple(map(sentence, words.use if words and words.use else item.dangers)),
        (*map(sentence, words.limits if words else ()), *_lacking(item, proven)),
    )


def _part_state(item: ItemResult, proven: list[ProvenNeed], *, is_proven: bool) -> str:
    if not is_proven:
        return customer_text(item)
    firm = [need.result for need in proven if not need.result.optional]
    if not firm:
        return "It needs no signal of the vehicle."
    shown = sum(need.status in _SHOWN for need in firm)
    late = sum(need.is_too_late for need in proven)
    if shown < len(firm) or late:
        return (
            f"{shown} of {counted(len(firm), 'thing')} that it needs of the vehicle "
            f"{'was' if shown == 1 else 'were'} shown after the fitting"
            + (f", and {counted(late, 'reaction')} came too late" if late else "")
            + ". Do not rely on it before the rest is shown."
        )
    wired = sum(need.reason is Reason.BY_WIRE for need in firm)
    text = "After the fitting, all that it needs of the vehicle was shown."
    if wired:
        text += f" {counted(wired, 'signal')} by a wire of its own: measured, not recorded."
    return text


def _settings(item: ItemResult, proof: Proof) -> str:
    """How many settings change; said to be changed only where a readout from after the fitting holds them."""
    rows = rows_of(item, CodingStatus.TO_DO)
    if not rows:
        return ""
    settings = counted(len(unique((row.module, row.field) for row in rows)), "setting")
    units = counted(len(unique(row.module for row in rows)), "control unit")
    coded = [one for one in proof.promises if one.kind is PromiseKind.CODING and one.item == item.retrofit]
    verb = "were" if coded and all(one.is_kept for one in coded) else "had to be"
    return f"{settings} in {units} {verb} changed for it; the old values are in the papers of the job."


def _gone(plan: Plan, item: ItemResult) -> str:
    networks = plan.networks
    parts = [part for network in networks.networks for part in network.parts] + [*networks.untapped]
    removed = next((part.removes for part in parts if part.item == item.retrofit), ())
    return f"It takes the place of: {listing(unique(map(_title, removed)))}." if removed else ""


def _title(name: str) -> str:
    """What a role, a module or a resource is called, as far as the vocabularies know."""
    for vocabulary in (roles(), modules(), resources()):
        if name in vocabulary:
            return str(vocabulary[name].title)
    return name


def _lacking(item: ItemResult, proven: list[ProvenNeed]) -> Iterator[str]:
    """Optional signals that this vehicle does not give: what stands on them does not work."""
    results = [need.result for need in proven if not need.is_supplied] or list(item.needs)
    missing: dict[str, list[str]] = {}
    for need in results:
        if need.optional and need.status is Status.MISSING:
            missing.setdefault(need.why, []).append(_title(need.role))
    for why, names in missing.items():
        reason = f" ({why})" if why else ""
        yield f"This vehicle does not give it: {listing(names, most=4)}{reason}."


def _exclusive(note: ResourcesExclusive) -> str:
    names = listing([_title(name) for name in note.resources])
    return sentence(f"{names} cannot be used at the same time" + (f": {note.why}" if note.why else ""))
