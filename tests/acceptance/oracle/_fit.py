"""The oracle's coding: what is to be coded, what stands there, what conflicts."""

from __future__ import annotations

from dataclasses import dataclass

from tests.acceptance.small_jobs import Bits, Entry, Job, Part, Unit


@dataclass(frozen=True, order=True)
class Row:
    module: str
    field: str
    status: str
    from_: str
    to: str
    before: str
    after: str


@dataclass(frozen=True)
class Wish:
    part: str
    module: str
    field: str
    value: str | int


class Fit:
    def __init__(self, job: Job) -> None:
        self.job = job

    def unit(self, module: str) -> Unit | None:
        unit = self.job.modules.get(module)
        there = unit and (unit.years is None or unit.years[0] <= self.job.year <= unit.years[1])
        return unit if there else None

    def place(self, module: str, name: str) -> tuple[int, Bits] | None:
        unit = self.unit(module)
        for did, (_, fields) in unit.blocks.items() if unit else ():
            if name in fields:
                return did, fields[name]
        return None

    def read(self, module: str, did: int) -> bytes | None:
        found = [r.data for r in self.job.readings if (r.module, r.did, r.when) == (module, did, "before")]
        return found[0] if found else None

    def present(self, module: str, name: str) -> int | None:
        """The field's raw value, None where there is no such field or it was not read."""
        place = self.place(module, name)
        data = self.read(module, place[0]) if place else None
        if place is None or data is None:
            return None
        return sum((data[byte] >> bit & 1) << n for n, (byte, bit) in enumerate(places_of(place[1])))

    def is_locked(self, entry: Entry) -> bool:
        if entry.unlock is None:
            return False
        module, name, value = entry.unlock
        place = self.place(module, name)
        return place is None or self.present(module, name) != number_of(place[1], value)

    def row(self, wish: Wish) -> Row:
        place = self.place(wish.module, wish.field)
        if place is None:
            return Row(wish.module, wish.field, "undefined", "None", str(wish.value), "None", "None")
        did, bits = place
        wanted = number_of(bits, wish.value)
        to = label_of(bits, wanted)
        present = self.present(wish.module, wish.field)
        if present is None:
            return Row(wish.module, wish.field, "unknown", "None", to, "None", "None")
        status = "already" if present == wanted else "to-do"
        data = self.read(wish.module, did)
        touched = sorted({byte for byte, _ in places_of(bits)})
        before, after = (
            "".join(f"{block[byte]:02X}" for byte in touched) for block in (data, changed(data, bits, wanted))
        )
        return Row(wish.module, wish.field, status, label_of(bits, present), to, before, after)

    def clash(self, one: Wish, other: Wish) -> bool:
        """Whether two values of one field are wanted, or different bits of overlapping ones."""
        here, there = self.place(one.module, one.field), self.place(other.module, other.field)
        if one.module != other.module or not here or not there:
            return False
        if here[0] != there[0]:
            return False
        wanted, theirs = wanted_bits(here[1], one.value), wanted_bits(there[1], other.value)
        return any(theirs.get(bit, value) != value for bit, value in wanted.items())

    def writes(self, wishes: list[Wish]) -> tuple[tuple[str, int, str, str], ...]:
        blocks: dict[tuple[str, int], bytes] = {}
        for wish in wishes:
            clashes = any(self.clash(wish, other) for other in wishes)
            if clashes or self.row(wish).status != "to-do":
                continue
            did, bits = self.place(wish.module, wish.field)
            data = blocks.get((wish.module, did), self.read(wish.module, did))
            blocks[wish.module, did] = changed(data, bits, number_of(bits, wish.value))
        return tuple(
            sorted(
                (module, did, self.read(module, did).hex().upper(), data.hex().upper())
                for (module, did), data in blocks.items()
            )
        )


def number_of(bits: Bits, value: str | int) -> int:
    if isinstance(value, int):
        return value
    return next(raw for raw, label in bits.values.items() if label == value)


def label_of(bits: Bits, raw: int) -> str:
    return bits.values.get(raw, str(raw))


def places_of(bits: Bits) -> list[tuple[int, int]]:
    """Byte and bit of each of the field's bits, the least significant first."""
    if bits.width <= 8:
        return [(bits.byte, bit) for bit in range(bits.bit, bits.bit + bits.width)]
    count = bits.width // 8
    numbers = range(count) if bits.order == "little" else reversed(range(count))
    return [(bits.byte + number, bit) for number in numbers for bit in range(8)]


def wanted_bits(bits: Bits, value: str | int) -> dict[tuple[int, int], int]:
    raw = number_of(bits, value)
    return {place: raw >> n & 1 for n, place in enumerate(places_of(bits))}


def changed(data: bytes, bits: Bits, raw: int) -> bytes:
    new = bytearray(data)
    for (byte, bit), value in wanted_bits(bits, raw).items():
        new[byte] = new[byte] | 1 << bit if value else new[byte] & ~(1 << bit)
    return bytes(new)


def wishes_of(part: Part, unlocks: list[tuple[str, str, str | int]]) -> list[Wish]:
    asked = [(code.module, code.field, code.value) for code in part.codes]
    return [Wish(part.name, *wish) for wish in (*asked, *unlocks)]
