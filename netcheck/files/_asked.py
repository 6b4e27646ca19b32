"""What retrofits ask of a vehicle: the facts that decide, and what they take of it."""

from __future__ import annotations

from collections.abc import Collection, Iterable

from netcheck.files._applying import conditions_of
from netcheck.files._check import RESOURCE_FACT
from netcheck.files._retrofit import Retrofit, Use
from netcheck.files._vehicle import Fact
from netcheck.records import dataclass
from netcheck.words import unique


@dataclass(frozen=True)
class AskedFact:
    """A fact that retrofits ask for.

    parts:    their names
    values:   those that suit, or for which entries apply; each once
    why:      "" where the parts ask for different values
    is_match: a part must match it; else entries depend on it
    """

    fact: str
    parts: tuple[str, ...]
    values: tuple[Fact, ...]
    why: str
    is_match: bool


@dataclass(frozen=True)
class AskedResource:
    """A resource that retrofits take.

    takers:      each with the most that it takes, whatever its entries depend on
    is_optional: all of them work without it
    """

    resource: str
    takers: tuple[tuple[str, int], ...]
    why: str
    is_optional: bool

    @property
    def fact(self) -> str:
        """The fact that states how much the vehicle has."""
        return f"{RESOURCE_FACT}{self.resource}"


def asked_facts(retrofits: Iterable[Retrofit], known: Collection[str] = ()) -> tuple[AskedFact, ...]:
    """The facts that are not known, by name."""
    matches: dict[str, list[tuple[str, tuple[Fact, ...], str]]] = {}
    conditions: dict[str, list[tuple[str, tuple[Fact, ...], str]]] = {}
    for retrofit in retrofits:
        for match in retrofit.match:
            matches.setdefault(match.fact, []).append((retrofit.name, match.any_of, match.why))
        for condition in conditions_of(retrofit):
            conditions.setdefault(condition.fact, []).append((retrofit.name, condition.any_of, ""))
    found = []
    for fact in sorted({*matches, *conditions} - set(known)):
        entries = matches.get(fact) or conditions[fact]
        is_one = len({values for _, values, _ in entries}) == 1
        found.append(
            AskedFact(
                fact,
                unique(name for name, _, _ in entries),
                unique(value for _, values, _ in entries for value in values),
                next((why for _, _, why in entries if why and is_one), ""),
                fact in matches,
            )
        )
    return tuple(found)


def asked_resources(
    retrofits: Iterable[Retrofit], known: Collection[str] = (), *, given: Collection[str] = ()
) -> tuple[AskedResource, ...]:
    """The resources that no known fact states, by name. given: those that come from elsewhere"""
    uses: dict[str, dict[str, list[Use]]] = {}
    for retrofit in retrofits:
        for use in retrofit.use:
            if use.resource not in given and RESOURCE_FACT + use.resource not in known:
                uses.setdefault(use.resource, {}).setdefault(retrofit.name, []).append(use)
    return tuple(
        AskedResource(
            resource,
            tuple((name, sum(use.count for use in mine)) for name, mine in takers.items()),
            next((use.why for mine in takers.values() for use in mine if use.why), ""),
            all(use.optional for mine in takers.values() for use in mine),
        )
        for resource, takers in sorted(uses.items())
    )
