"""Resources that parts give each other: who gives what to whom, what is missing, what waits."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

from netcheck.files import RESOURCE_FACT, LoadedItem, LoadedJob, Use
from netcheck.records import dataclass
from netcheck.verdict._conflict_model import ResourceMissing
from netcheck.verdict._item_note_model import ResourceContested
from netcheck.verdict._model import ItemResult, ResourceWait, Verdict
from netcheck.verdict._question_model import ResourceUnknown
from netcheck.words import unique


@dataclass(frozen=True)
class ResourceShare:
    """How much of a resource an item gives or takes."""

    item: str
    count: int
    is_optional: bool = False


@dataclass(frozen=True)
class ResourceBalance:
    """One resource of a job, in the items' order.

    stated:   how much of it the vehicle has, as the facts state; None where no fact does
    taken_by: items that take the vehicle's away
    """

    resource: str
    stated: int | None
    taken_by: tuple[str, ...]
    given: tuple[ResourceShare, ...]
    used: tuple[ResourceShare, ...]

    @property
    def is_known(self) -> bool:
        """Whether it can be told how much there is: what no fact states is 0 once a part gives it."""
        return self.stated is not None or bool(self.given) or bool(self.taken_by)

    @property
    def of_vehicle(self) -> int:
        """How much the vehicle gives; 0 where that is not known or goes away."""
        return 0 if self.taken_by else self.stated or 0

    @property
    def available(self) -> int:
        """How much the vehicle and all items give together."""
        return self.of_vehicle + sum(share.count for share in self.given)

    @property
    def needed(self) -> int:
        """How much all items take together, not optionally."""
        return sum(share.count for share in self.used if not share.is_optional)

    @property
    def gap(self) -> int:
        """How much is missing; 0 where it is enough or not known."""
        return max(0, self.needed - self.available) if self.is_known else 0


def resource_balances(job: LoadedJob) -> tuple[ResourceBalance, ...]:
    """Every resource that an item of the job gives, takes or replaces, in the order of the items.

    job: as ``LoadedJob.applied`` has it
    """
    names = unique(
        name
        for item in job.items
        for name in (
            *(entry.resource for entry in item.retrofit.provide),
            *(entry.resource for entry in item.retrofit.use),
        )
    )
    return tuple(_balance(job, name) for name in names)


def _balance(job: LoadedJob, resource: str) -> ResourceBalance:
    stated = job.facts.get(RESOURCE_FACT + resource)
    return ResourceBalance(
        resource=resource,
        stated=stated if isinstance(stated, int) else None,
        taken_by=tuple(
            item.retrofit.name
            for item in job.items
            if any(entry.resource == resource for entry in item.retrofit.replace)
        ),
        given=tuple(
            ResourceShare(item.retrofit.name, entry.count)
            for item in job.items
            for entry in item.retrofit.provide
            if entry.resource == resource
        ),
        used=tuple(
            ResourceShare(item.retrofit.name, entry.count, entry.optional)
            for item in job.items
            for entry in item.retrofit.use
            if entry.resource == resource
        ),
    )


def missing_resources(item: LoadedItem, balances: Sequence[ResourceBalance]) -> Iterator[ResourceMissing]:
    """What an item takes, not optionally, and the job as a whole has too little of."""
    for balance, whys in _taken(item, balances):
        if balance.gap:
            yield ResourceMissing(
                resource=balance.resource,
                needed=balance.needed,
                of_vehicle=balance.of_vehicle,
                taken_by=balance.taken_by,
                users=tuple((share.item, share.count) for share in balance.used if not share.is_optional),
                givers=tuple((share.item, share.count) for share in balance.given),
                why=whys,
            )


def unknown_resources(item: LoadedItem, balances: Sequence[ResourceBalance]) -> Iterator[ResourceUnknown]:
    """What an item takes, not optionally, and neither a part nor a fact is known to give."""
    for balance, whys in _taken(item, balances):
        if not balance.is_known:
            count = sum(use.count for use in _firm_uses(item, balance.resource))
            yield ResourceUnknown(balance.resource, count, whys)


def _taken(item: LoadedItem, balances: Sequence[ResourceBalance]) -> Iterator[tuple[ResourceBalance, str]]:
    """The resources that an item takes, not optionally, and what it takes each for."""
    for balance in balances:
        uses = _firm_uses(item, balance.resource)
        if uses:
            yield balance, next((use.why for use in uses if use.why), "")


def _firm_uses(item: LoadedItem, resource: str) -> tuple[Use, ...]:
    return tuple(use for use in item.retrofit.use if use.resource == resource and not use.optional)


def lower_by_resources(
    results: Sequence[ItemResult],
    loaded: Sequence[LoadedItem],
    balances: Sequence[ResourceBalance],
    judge: Callable[[ItemResult], Verdict],
) -> tuple[ItemResult, ...]:
    """The items, those lowered that take a resource of a part which is not ready itself.

    results: with their verdicts worked out without each other's resources
    judge:   the verdict of an item with its waits

    Each round lowers at least one item, so it ends after as many rounds as there are items.
    """
    items = list(results)
    while True:
        waits = [tuple(_waits(items, number, loaded, balances)) for number in range(len(items))]
        lowered = [number for number, item in enumerate(items) if item.verdict.is_fittable and waits[number]]
        if not lowered:
            break
        for number in lowered:
            item = replace(items[number], waits=waits[number])
            items[number] = replace(item, verdict=judge(item))
    contested = [_contested(items, number, loaded, balances) for number in range(len(items))]
    return tuple(
        replace(item, waits=waits[number], notes=(*item.notes, *contested[number]))
        for number, item in enumerate(items)
    )


def _waits(
    items: Sequence[ItemResult],
    number: int,
    loaded: Sequence[LoadedItem],
    balances: Sequence[ResourceBalance],
) -> Iterator[ResourceWait]:
    for balance, why in _taken(loaded[number], balances):
        needed = sum(use.count for use in _firm_uses(loaded[number], balance.resource))
        ready = _ready(items, loaded, balance)
        if balance.is_known and not balance.gap and needed > ready:
            yield ResourceWait(
                resource=balance.resource,
                needed=needed,
                ready=ready,
                givers=tuple(
                    (item.retrofit, item.verdict)
                    for item, part in zip(items, loaded, strict=True)
                    if not item.verdict.is_fittable and _given(part, balance.resource)
                ),
                why=why,
            )


def _contested(
    items: Sequence[ItemResult],
    number: int,
    loaded: Sequence[LoadedItem],
    balances: Sequence[ResourceBalance],
) -> Iterator[ResourceContested]:
    """Enough for each item alone of what is ready, too little for those together that can be fitted."""
    if not items[number].verdict.is_fittable:
        return
    for balance, _ in _taken(loaded[number], balances):
        users = tuple(
            item.retrofit
            for item, part in zip(items, loaded, strict=True)
            if item.verdict.is_fittable and _firm_uses(part, balance.resource)
        )
        needed = sum(
            use.count
            for item, part in zip(items, loaded, strict=True)
            if item.verdict.is_fittable
            for use in _firm_uses(part, balance.resource)
        )
        ready = _ready(items, loaded, balance)
        if needed > ready:
            yield ResourceContested(balance.resource, needed, ready, users)


def _ready(items: Sequence[ItemResult], loaded: Sequence[LoadedItem], balance: ResourceBalance) -> int:
    """What the vehicle and the items give that can be fitted as things stand."""
    parts = zip(items, loaded, strict=True)
    given = (_given(part, balance.resource) for item, part in parts if item.verdict.is_fittable)
    return balance.of_vehicle + sum(given)


def _given(part: LoadedItem, resource: str) -> int:
    return sum(entry.count for entry in part.retrofit.provide if entry.resource == resource)
