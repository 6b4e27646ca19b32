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
        bits = place[1]
        return sum(
            (data[bits.byte] >> n & 1) << (n - bits.bit) for n in range(bits.bit, bits.bit + bits.width)
        )

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
        byte = self.read(wish.module, did)[bits.byte]
        after = changed(byte, bits, wanted)
        return Row(
            wish.module, wish.field, status, label_of(bits, present), to, f"{byte:02X}", f"{after:02X}"
        )

    def clash(self, one: Wish, other: Wish) -> bool:
        """Whether two values of one field are wanted, or different bits of overlapping ones."""
        here, there = self.place(one.module, one.field), self.place(other.module, other.field)
        if one.module != other.module or not here or not there:
            return False
        if here[0] != there[0] or here[1].byte != there[1].byte:
            return False
        wanted, theirs = wanted_bits(here[1], one.value), wanted_bits(there[1], other.value)
        return any(theirs.get(bit, value) != value for bit, value in wanted.items())

    def writes(self, wishes: list[Wish]) -> tuple[tuple[str, int, str, str], ...]:
        blocks: dict[tuple[str, int], bytearray] = {}
        for wish in wishes:
            clashes = any(self.clash(wish, other) for other in wishes)
            if clashes or self.row(wish).status != "to-do":
                continue
            did, bits = self.place(wish.module, wish.field)
            data = blocks.setdefault((wish.module, did), bytearray(self.read(wish.module, did)))
            data[bits.byte] = changed(data[bits.byte], bits, number_of(bits, wish.value))
        return tuple(
            sorted(
                (module, did, self.read(module, did).hex().upper(), bytes(data).hex().upper())
                for (module, did), data in blocks.items()
            )
        )


def number_of(bits: Bits, value: str | int) -> int:
    if isinstance(value, int):
        return value
    return next(raw for raw, label in bits.values.items() if label == value)


def label_of(bits: Bits, raw: int) -> str:
    return bits.values.get(raw, str(raw))


def wanted_bits(bits: Bits, value: str | int) -> dict[int, int]:
    raw = number_of(bits, value)
    return {bits.bit + n: raw >> n & 1 for n in range(bits.width)}


def changed(byte: int, bits: Bits, raw: int) -> int:
    for bit, value in wanted_bits(bits, raw).items():
        byte = byte | 1 << bit if value else byte & ~(1 << bit)
    return byte


def wishes_of(part: Part, unlocks: list[tuple[str, str, str | int]]) -> list[Wish]:
    return [Wish(part.name, *wish) for wish in (*part.codes, *unlocks)]
