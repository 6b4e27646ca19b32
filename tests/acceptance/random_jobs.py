"""Random small jobs on an invented van, with values and marks near the limits of every rule."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from random import Random
from typing import TypeVar

from tests.acceptance.random_traffic import is_counter, random_frames, raws_named
from tests.acceptance.small_jobs import (
    Bits,
    Code,
    Entry,
    Fact,
    Frame,
    Job,
    Mark,
    Msg,
    Need,
    OnlyIf,
    Part,
    Reading,
    Recording,
    Sig,
    Supply,
    Unit,
)

T = TypeVar("T")

GEARS = {0: "P", 1: "R", 2: "N", 15: "none"}
LEVER = Msg(
    "Lever",
    0x100,
    3,
    (
        Sig("Gear", 0, 4, labels=GEARS),
        Sig("Turn", 4, 4, high="15"),
        Sig("Angle", 8, 8, "0.1", "-3", "-3", "6.3"),
        Sig("Turn10", 16, 4, high="9"),
    ),
    ("COLUMN",),
)
MENU = Msg(
    "Menu",
    0x130,
    3,
    (
        Sig("Page", 0, 4, page="M"),
        Sig("MenuTurn", 4, 4),
        Sig("Volume", 8, 4, high="10", page=1, labels=GEARS),
        Sig("Tone", 16, 4, page=1),
        Sig("Track", 8, 6, page=2, signed=True, low="-20", high="20"),
    ),
    ("RADIO", "COLUMN"),
)
ENGINE = Msg("Engine", 0x100, 2, (Sig("Gear", 0, 4, labels=GEARS), Sig("Turn", 4, 4)), ("MOTOR",))
BRAKE = Msg("Brake", 0x210, 1, (Sig("Pressed", 0, 1), Sig("Force", 1, 7, high="100")), ("ABS",))
LATE = (  # the page behind what it selects, with a counter of its own
    Sig("Page", 16, 4, page="M"),
    Sig("LateTurn", 0, 4, page=1, high="11"),
    Sig("Early", 4, 2, page=1),
    Sig("Other", 0, 6, page=2),
    Sig("Half", 8, 7, "0.25", "-1.5", "-1.25", "3.75", signed=True),
)
NETWORKS = {
    "body": (
        LEVER,
        MENU,
        Msg("Lamp1", 0x601, 1, (Sig("On1", 0, 2, high="1"),), ("LAMPS",)),
        Msg("Lamp2", 0x602, 2, (Sig("On2", 0, 16, "0.01", labels=GEARS, is_big=True),)),
        Msg("Wide", 0x18FF0102, 2, (Sig("Far", 0, 10, "0.5", high="500"),), ("RADIO",), extended=True),
    ),
    "drive": (
        ENGINE,
        BRAKE,
        Msg("Lamp1", 0x601, 2, (Sig("On1", 0, 2),), ("LAMPS",)),
        Msg("Pump", 0x701, 1, (Sig("Run", 0, 3),), ("MOTOR", "ABS")),
    ),
    "twin": (
        LEVER,
        MENU,
        Msg("Lamp1", 0x601, 1, (Sig("On1", 0, 3),), ("LAMPS",)),
        Msg("Late", 0x131, 3, LATE, ("RADIO",)),
        BRAKE,
    ),
    "tiny": (Msg("Tiny", 0x300, 1, (Sig("Gear", 0, 4, labels=GEARS), Sig("Turn", 4, 3)), ("COLUMN",)),),
}
FIELDS = {
    "lever": Bits(0, 4, 1, {0: "absent", 1: "fitted"}),
    "pair": Bits(0, 4, 2, {0: "none", 3: "both"}),
    "tune": Bits(1, 0, 8, {}),
    "word": Bits(0, 0, 16, {5: "plain"}),
    "little": Bits(0, 0, 16, {5: "plain"}, "little"),
}
CODES = (
    ("column", "lever", "fitted"),
    ("column", "lever", "absent"),
    ("column", "lever", 1),
    ("column", "pair", 1),
    ("column", "pair", 2),
    ("column", "pair", "both"),
    ("column", "tune", 5),
    ("column", "word", "plain"),
    ("column", "little", 0x10),
    ("column", "little", "plain"),
    ("young", "roof", "fitted"),
    ("attic", "roof", 1),
)
UNLOCKS = (*CODES[:1], *CODES[2:4], *CODES[6:8], *CODES[9:11])
MATCHES = (("link", ("LIN", "CAN")), ("stages", ("one", 2)), ("airbag", (True, 2)), ("airbag", (1,)))
CONDITIONS: tuple[OnlyIf, ...] = (
    ("gearbox", ("manual",)),
    ("gearbox", ("manual", "automatic")),
    ("link", ("LIN",)),
    ("airbag", (True,)),
)
SPANS = ((2017, 2019), (2018, 2022), (2021, 2022))
ROLES = ("reverse", "speed", "menu.up")
MODULES = ("column", "radio", "motor", "young", "attic")
DIAGNOSTICS = (
    *(Msg(f"Diag{number:X}", number, 2, (Sig("X", 0, 4),)) for number in (0x7DF, 0x7EF, 0x6A1)),
    Msg("DiagWide", 0x18DAF110, 2, (Sig("X", 0, 4),), extended=True),
)
IDS = (0x100, 0x130, 0x601, 0x210, 0x131, 0x18FF0102, 0x4A1)

Networks = dict[str, tuple[Msg, ...]]
Roles = dict[str, tuple[Entry, ...]]


class Dice:
    """Chances; the odd ones, of what stands in the way of a verdict, are none on a tame day."""

    def __init__(self, random: Random) -> None:
        self.random = random
        self.wild = random.choice([0.0, 0.3, 1.0])

    def pick(self, things: Sequence[T]) -> T:
        return self.random.choice(things)

    def chance(self, share: float) -> bool:
        return self.random.random() < share

    def odd(self, share: float) -> bool:
        return self.random.random() < share * self.wild

    def some(self, things: Sequence[T], most: int, share: float) -> tuple[T, ...]:
        """Up to so many different ones, in their order."""
        chosen = [n for n in range(len(things)) if self.chance(share)]
        return tuple(things[n] for n in sorted(self.random.sample(chosen, min(most, len(chosen)))))

    def odd_some(self, things: Sequence[T], most: int, share: float) -> tuple[T, ...]:
        return self.some(things, most, share * self.wild)


def random_job(random: Random) -> Job:
    dice = Dice(random)
    names = dice.pick(
        [
            ("body",),
            ("body",),
            ("twin",),
            ("body", "drive"),
            ("body", "twin"),
            ("twin", "drive", "tiny"),
            ("body", "drive", "tiny"),
            ("drive", "body"),
        ]
    )
    networks = {
        name: tuple(_varied(dice, msg) for msg in (*NETWORKS[name], *_fillers(dice, number)))
        for number, name in enumerate(names)
    }
    roles = {role: _entries(dice, networks) for role in ROLES[: dice.pick([1, 2, 3])]}
    parts = tuple(_part(dice, number, networks, roles) for number in range(dice.pick([1, 1, 2, 2, 3])))
    count = dice.pick([1, 1, 1, 2, 2, 3]) if not dice.odd(0.1) else 0
    facts: tuple[tuple[str, Fact], ...] = (
        ("link", "LIN"),
        ("stages", dice.pick(["two", 2])),
        ("airbag", dice.pick([True, 1, "1"])),
        ("gearbox", dice.pick(["manual", "automatic"])),
    )
    own = (("link", dice.pick(["CAN", "LIN"])), ("gearbox", dice.pick(["manual", "automatic", "none"])))
    return Job(
        2016 if dice.odd(0.005) else dice.pick([2018, 2020, 2021]),
        networks,
        _modules(dice, networks),
        roles,
        dict(facts if not dice.odd(0.4) else dice.some(facts, 3, 0.6)),
        parts,
        tuple(_recording(dice, networks, roles) for _ in range(count)),
        tuple(_readings(dice)),
        dict(dice.odd_some(own, 2, 0.3)),
        dice.pick([20_000, 1_000]) if dice.odd(0.2) else 500_000,
    )


def _fillers(dice: Dice, number: int) -> list[Msg]:
    """Messages that no role uses: a network has many of them, and shares some with others."""
    count = dice.pick([3, 6, 10, 14, 60, 180]) if dice.odd(0.4) else 0
    ids = range(0x301 + 9 * number, 0x301 + 9 * number + count)
    return [Msg(f"Fill{one:X}", one, 1, (Sig(f"V{one:X}", 0, 8),)) for one in ids]


def _varied(dice: Dice, msg: Msg) -> Msg:
    """The message with another scale or other limits here and there."""

    def other(sig: Sig) -> Sig:
        if not dice.odd(0.08) or sig.page == "M":
            return sig
        if is_counter(sig):  # its maximum is a whole raw value
            scale = dice.pick([("1", "0"), ("1", "1"), ("2", "0"), ("0.5", "0")])
            limits = dice.pick([("0", "0"), ("0", "8"), ("2", "14"), ("0", "200"), ("0", "14"), ("1", "10")])
        else:
            scale = dice.pick(
                [("1", "0"), ("0.1", "0"), ("0.1", "-3"), ("-1", "2"), ("0.001", "0.7"), ("3", "1")]
            )
            limits = dice.pick(
                [("0", "0"), ("0", "1"), ("0.1", "0.3"), ("1", "7"), ("-3", "-2.8"), ("0.701", "1")]
            )
        signed = dice.chance(0.2) and sig.width > 2 and not is_counter(sig)
        labels = {-1: "back", 0: "P", 1: "R"} if signed and sig.labels else sig.labels
        return replace(
            sig, factor=scale[0], offset=scale[1], low=limits[0], high=limits[1], signed=signed, labels=labels
        )

    cycle = dice.pick([50, 100, 200, 300, 500, 1000]) if dice.chance(0.4) else 0
    return replace(msg, signals=tuple(other(sig) for sig in msg.signals), cycle_ms=cycle)


def _modules(dice: Dice, networks: Networks) -> dict[str, Unit]:
    def years() -> tuple[int, int] | None:
        return dice.pick(SPANS) if dice.odd(0.3) else None

    def where() -> tuple[str, ...]:
        return dice.some(tuple(networks), 2, 0.6)

    roof = Bits(0, 0, 4, {0: "absent", 1: "fitted"})
    addresses = (0x601, 0x602) if dice.odd(0.05) else (0x6A1, 0x6A9)
    return {
        "column": Unit(where(), "COLUMN", None, {0x0600: (2, FIELDS)}, addresses),
        "radio": Unit(where(), dice.pick([None, "RADIO"]), years()),
        "motor": Unit(where(), dice.pick(["MOTOR", "ABS", "LAMPS"]), years()),
        "young": Unit(where(), None, (2021, 2022), {0x0700: (1, {"roof": roof})}, (0x130, 0x18FF0102)),
    }


def _readings(dice: Dice) -> list[Reading]:
    found = []
    for when, share in (("before", 0.7), ("before", 0.02 * dice.wild), ("after", 0.2)):
        if dice.chance(share):
            data = bytes([dice.pick([0x00, 0x10, 0x30, 0x1F]), dice.pick([0, 5, 0xFF])])
            found.append(Reading("column", 0x0600, data[: 1 if dice.odd(0.01) else 2], when))
    return found


def _entries(dice: Dice, networks: Networks) -> tuple[Entry, ...]:
    return tuple(_entry(dice, networks) for _ in range(dice.pick([1, 1, 1, 1, 1, 2, 2, 3])))


def _entry(dice: Dice, networks: Networks) -> Entry:
    network = dice.pick([next(iter(networks)), *networks])
    msg = dice.pick(networks[network][: dice.pick([1, 1, 2, 4, 9])])
    sig = dice.pick([sig for sig in msg.signals if sig.page != "M" and "Turn" not in sig.name] or msg.signals)
    labels: list[str | int] = [*sig.labels.values()]
    active = dice.random.sample([*labels[:3], 0, 1, 1, 2, 3, 5], dice.pick([0, 1, 1, 1, 2]))
    counters = [other.name for other in msg.signals if "Turn" in other.name and other is not sig]
    counter = dice.pick(counters) if counters and dice.chance(0.4) else None
    return Entry(
        network,
        "Gone" if dice.odd(0.02) else msg.name,
        "Gone" if dice.odd(0.02) else sig.name,
        tuple(active),
        dice.pick([(), (15,), (15, 14), (0,), (3,), (-1,)]) if dice.odd(0.5) else (),
        "Gone" if dice.odd(0.02) else counter,
        dice.pick(SPANS) if dice.odd(0.3) else None,
        dice.pick(UNLOCKS) if dice.chance(0.25) else None,
    )


def _part(dice: Dice, number: int, networks: Networks, roles: Roles) -> Part:
    usual = [entry.network for entries in roles.values() for entry in entries]
    network = dice.pick([*networks, None, None]) if dice.odd(0.4) else dice.pick(usual)
    wanted = ("unknown", *roles) if dice.odd(0.05) else dice.some(tuple(roles), 3, 0.7)
    codes = {code[:2]: Code(*code, _condition(dice, 0.2)) for code in dice.some(CODES, 2, 0.1)}
    replaced = dice.odd_some(tuple(roles), 1, 0.15)
    again = replaced if dice.chance(0.4) else ()
    return Part(
        f"part{number}",
        network,
        tuple(_need(dice, role) for role in wanted),
        (_supply(dice, roles, again),) if dice.odd(0.4 if network else 0.02) or (again and network) else (),
        replaced,
        dice.odd_some(("column", "radio", "motor", "attic"), 2, 0.1),
        dice.odd_some(MATCHES, 2, 0.15),
        dice.odd_some(("radio", "young", "attic"), 1, 0.05),
        tuple(codes.values()) if dice.chance(0.6) else (),
        dice.odd_some(wanted if not dice.odd(0.01) else ("unheard-of",), 1, 0.08),
        dice.odd_some(CONDITIONS, 1, 0.03),
    )


def _condition(dice: Dice, share: float) -> OnlyIf | None:
    return dice.pick(CONDITIONS) if dice.odd(share) else None


def _supply(dice: Dice, roles: Roles, again: tuple[str, ...]) -> Supply:
    number = dice.pick([None, *IDS])
    wide = number is not None and (number > 0x7FF or dice.chance(0.1))
    supplied = dict.fromkeys((*again, *dice.some(tuple(roles), 2, 0.5)))
    return Supply(tuple(supplied), number, wide, dice.pick([10, 100, 1000, None]), dice.pick([1, 8, 8, None]))


def _need(dice: Dice, role: str) -> Need:
    evidence = dice.pick(["defined", "present", "moves", "moves", "answers", "answers"])
    gaps = ["50", "90.909", "90.91", "90.911", "100", "110", "200", "500", "1000"]
    gap = dice.pick(gaps) if dice.odd(0.5) else None
    delay = dice.pick([*gaps, "150", "300"]) if dice.odd(0.4) else None
    user = dice.pick(MODULES) if dice.odd(0.12) else None
    return Need(role, evidence, gap, dice.chance(0.2), delay, user, _condition(dice, 0.12))


def _recording(dice: Dice, networks: Networks, roles: Roles) -> Recording:
    usual = [entry.network for entries in roles.values() for entry in entries]
    slow = 5 if dice.odd(0.15) else 1
    end = dice.pick([2_000_000, 3_000_000, 4_000_000, 4_950_000, 6_000_000, 9_000_000]) * slow
    frames: list[Frame] = []
    steps: list[tuple[str, str, int, int, int]] = []
    channels: dict[str, str] = {}
    for channel in ["can0", "can1"][: dice.pick([1, 1, 2])]:
        network = dice.pick([*usual, *usual, *networks])
        messages = _sent(dice, networks, network)
        found, its_steps = random_frames(dice, channel, messages, end, slow)
        frames += found
        steps += [(network, *step) for step in its_steps]
        if dice.chance(0.3):
            channels[channel] = dice.pick([*networks]) if dice.odd(0.5) else network
    frames.sort(key=lambda frame: frame.time)
    first = frames[0].time
    frames = [Frame(f.time - first, f.channel, f.number, f.data, f.extended, f.kind) for f in frames]
    channels = {key: network for key, network in channels.items() if any(f.channel == key for f in frames)}
    if dice.odd(0.005):
        channels["can7"] = dice.pick([*networks])
    marks = tuple(
        mark
        for role, entries in roles.items()
        if dice.chance(0.7)
        for mark in _marks(dice, networks, role, entries, steps, (first, frames[-1].time))
    )
    when = "after" if dice.odd(0.1) else "before"
    return Recording(tuple(frames), marks, when, channels, not dice.odd(0.2))


def _sent(dice: Dice, networks: Networks, network: str) -> list[Msg]:
    """Messages of a channel: most of the network's own, and what else is on the wires; one at least."""
    if dice.odd(0.02):
        return list(dice.some(DIAGNOSTICS, 3, 0.6)) or [DIAGNOSTICS[0]]
    own = [msg for msg in networks[network] if not msg.name.startswith("Fill")]
    fillers = [msg for msg in networks[network] if msg.name.startswith("Fill")]
    messages = [msg for msg in own if not dice.odd(0.2)] or own
    if dice.odd(0.15):  # too few to trust the DBC
        return [*own[:3], *_strangers(14)]
    messages += dice.random.sample(fillers, min(len(fillers), dice.pick([0, 1, 3, 6])))
    if dice.odd(0.2):
        messages.append(dice.pick(networks[dice.pick([*networks])]))
    if dice.odd(0.1):
        messages += [msg for msg in networks[dice.pick([*networks])] if not msg.name.startswith("Fill")]
    if dice.odd(0.1):
        messages.append(Msg("Strange", 0x4A1, 1, (Sig("X", 0, 4),)))
    if dice.odd(0.3):
        count = dice.pick([1, 3, 6, 9, 14, 14])
        messages += _strangers(count)
    if dice.odd(0.15):
        messages += dice.some(DIAGNOSTICS, 3, 0.5)
    return list({(msg.number, msg.extended): msg for msg in messages}.values())


def _strangers(count: int) -> list[Msg]:
    return [Msg(f"S{n:X}", n, 1, (Sig("X", 0, 4),)) for n in range(0x501, 0x501 + count)]


def _marks(
    dice: Dice,
    networks: Networks,
    role: str,
    entries: tuple[Entry, ...],
    steps: list[tuple[str, str, int, int, int]],
    span: tuple[int, int],
) -> list[Mark]:
    """Marks of a role at what one of its signals did, more or less; span is the first time and the length."""
    entry = dice.pick(entries)
    messages = [msg for msg in networks[entry.network] if msg.name == entry.message]
    sig = messages[0].signal(entry.signal) if messages else None
    if sig is None:
        return []
    active = {raw for state in entry.active for raw in raws_named(sig, state)} - {*entry.not_available}
    is_careful, share = dice.chance(0.7), dice.pick([0.0, 0.1, 0.3])
    found = []
    for network, name, start, end, raw in steps:
        if (network, name) != (entry.network, f"{entry.message}.{entry.signal}"):
            continue
        if not (is_careful and raw in active) and not dice.chance(share):
            continue
        early = dice.pick([0, 0, 0, 100, -100, 200, -200, 350, -350, 500, -500, 501, -501, -800])
        begin = start - span[0] + 1000 * early
        late = dice.pick([0, 0, 0, -50, 100, -100, 200, -300, 350, -350, 500, -500, 501, -501, 700])
        finish = end - span[0] + 1000 * late
        is_inside = finish >= 0 and begin <= span[1]
        if dice.odd(0.3):
            begin, finish = begin + dice.pick([-1, 0, 1]), finish + dice.pick([-1, 0, 1])
        if begin < finish and (is_inside or dice.odd(0.1)):
            found.append(_mark(dice, role, entries, sig, (begin, finish, raw, raw in active)))
    return found


def _mark(
    dice: Dice, role: str, entries: tuple[Entry, ...], sig: Sig, what: tuple[int, int, int, bool]
) -> Mark:
    begin, finish, raw, is_active = what
    if is_active and all(entry.active for entry in entries) and dice.chance(0.8):
        return Mark(role, begin, finish, "active")
    if not is_active and all(entry.active for entry in entries) and dice.chance(0.5):
        return Mark(role, begin, finish, "inactive")
    if raw in sig.labels and len(entries) == 1 and dice.chance(0.5):
        return Mark(role, begin, finish, sig.labels[raw])
    if dice.chance(0.7):
        return Mark(role, begin, finish, raw)
    low = dice.pick(["-3", "-2.9", "0", "1", "0.5"])
    return Mark(role, begin, finish, None, (low, dice.pick(["1", "2", "3", "20"])))
