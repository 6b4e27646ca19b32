"""The vehicle's networks and the parts on them in words: labels of the drawing, and what it shows as text."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Final

from netcheck.report._plan_words import VERDICT_WORDS
from netcheck.verdict import ResourceBalance, Status, Verdict
from netcheck.words import bit_rates, counted, listing, sentence
from netcheck.work import MappedModule, MappedNetwork, MappedPart, NetworkMap, TakenSignals

MAP_KEYS: Final = (
    ("module", "control unit of the vehicle"),
    ("part", "part of this job"),
    ("gone", "goes away"),
    ("network", "network"),
    ("tap", "the part joins the network here"),
)
UNTAPPED: Final = "Parts on no network of the vehicle, or not decided yet"
APART: Final = "Control units whose network the vehicle file does not say"
GIVING: Final = "What the parts need of each other and of the vehicle"


def network_title(network: MappedNetwork) -> str:
    """``comfort, 125 kbit/s``."""
    return f"{network.name}, {bit_rates(network.bitrate, network.fd_bitrate)}"


def module_title(module: MappedModule) -> str:
    """What a control unit is called."""
    return module.title or module.name


def module_fate(module: MappedModule) -> str:
    """``goes away: head-unit replaces it``; "" for one that stays."""
    return f"goes away: {listing(module.replaced_by)} replaces it" if module.replaced_by else ""


def more_text(number: int, noun: str) -> str:
    """What a drawing has no room for; without a noun, names of what stands before it."""
    return f"and {number} more" + (f" {noun}{'s' if number != 1 else ''}" if noun else "")


def part_lines(part: MappedPart) -> Iterator[tuple[str, tuple[str, ...]]]:
    """(label, names) of each way in which signals come and go."""
    if part.tap:
        yield "Joined at:", (part.tap,)
    for taken in part.takes:
        yield f"{_from(taken)}{', optional' if taken.optional else ''}:", taken.roles
    if not part.takes:
        yield "Takes:", ("no signal of the vehicle",)
    if part.gives or part.ids:
        ids = f" ({', '.join(map(str, part.ids))})" if part.ids else ""
        yield f"Sends{ids}:", part.gives or ("what its papers say",)
    if part.removes:
        yield "Takes away:", part.removes


def _from(taken: TakenSignals) -> str:
    if taken.wire:
        return f"By a wire from {taken.wire}"
    whose = f"For {taken.used_by}, from" if taken.used_by else "From"
    if taken.items:
        return f"{whose} {listing(taken.items)}"
    if taken.status is Status.MISSING:
        return f"Missing{f' on {taken.network}' if taken.network else ''}"
    place = f"{whose} {taken.network}" if taken.network else "From a network not decided yet"
    return f"{place}, not shown yet" if taken.status is Status.EXPECTED else place


def givers_text(balance: ResourceBalance, verdicts: Mapping[str, Verdict]) -> str:
    """Who gives a resource: ``head-unit 1 (DO NOT FIT), vehicle 1``."""
    givers = [f"{share.item} {share.count}{_unfit(verdicts[share.item])}" for share in balance.given]
    if balance.stated is not None:
        away = f", taken away by {listing(balance.taken_by)}" if balance.taken_by else ""
        givers.append(f"vehicle {balance.stated}{away}")
    return ", ".join(givers) or "nobody known"


def _unfit(verdict: Verdict) -> str:
    return "" if verdict.is_fittable else f" ({VERDICT_WORDS[verdict]})"


def takers_text(balance: ResourceBalance) -> str:
    """Who takes it: ``reversing-camera 1, dash-camera 1 (optional)``."""
    takers = (
        f"{share.item} {share.count}{' (optional)' if share.is_optional else ''}" for share in balance.used
    )
    return ", ".join(takers) or "nobody"


def map_text(networks: NetworkMap) -> str:
    """All that the drawing shows, in sentences."""
    return " ".join(map(sentence, _told(networks)))


def _told(networks: NetworkMap) -> Iterator[str]:
    yield counted(len(networks.networks), "network")
    for module in networks.joining:
        yield f"{module_title(module)} joins {listing(module.networks)}"
        if module.replaced_by:
            yield f"it {module_fate(module)}"
    for network in networks.networks:
        names = [module_title(module) for module in network.modules]
        yield f"On {network_title(network)}: {listing(names) if names else 'no control unit that is known'}"
        for module in network.modules:
            if module.replaced_by:
                yield f"{module_title(module)} {module_fate(module)}"
        for part in network.parts:
            yield f"{part.title} joins {network.name}"
            yield from _part_told(part)
    for part in networks.untapped:
        yield f"{part.title} is on no network, or that is not decided"
        yield from _part_told(part)
    for balance in networks.resources:
        yield f"{balance.resource}: {givers_text(balance, networks.verdicts)}, for {takers_text(balance)}"


def _part_told(part: MappedPart) -> Iterator[str]:
    for label, names in part_lines(part):
        yield f"{label} {', '.join(names)}"
