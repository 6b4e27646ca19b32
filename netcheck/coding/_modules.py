"""What modules report after the coding against before it: faults, numbers, the vehicle's number."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import field
from enum import StrEnum
from typing import Final

from netcheck.files import HARDWARE_IDS, PART_IDS, SOFTWARE_IDS, FaultCode, ModuleReadout, When
from netcheck.records import dataclass

VIN_IDS: Final = (0xF190, 0xF802)  # ISO 14229-1, and mode 09 of on-board diagnostics
NUMBERS: Final = frozenset((*PART_IDS, *SOFTWARE_IDS, *HARDWARE_IDS, 0xF180, 0xF181, 0xF182, 0xF18C, 0xF804))


class FaultChange(StrEnum):
    """Of a fault code, from before the coding to after it."""

    NEW = "new"
    GONE = "gone"
    STILL = "still"
    UNCOMPARED = "uncompared"  # it is there; nobody read the faults before


@dataclass(frozen=True)
class FaultCheck:
    """A stored fault of a module. fault: as read after, or before where it is gone"""

    module: str
    fault: FaultCode
    change: FaultChange


@dataclass(frozen=True)
class NumberChange:
    """A number of the module that is another one after the coding."""

    module: str
    did: int
    before: str
    after: str


@dataclass(frozen=True)
class ModuleOfOtherVin:
    """A module that tells another vehicle number than the job."""

    module: str
    told: str
    wanted: str


@dataclass(frozen=True)
class ModuleChecks:
    """All modules together, by module and code.

    unread: modules whose faults were read before and not after
    """

    faults: tuple[FaultCheck, ...] = ()
    numbers: tuple[NumberChange, ...] = ()
    vins: tuple[ModuleOfOtherVin, ...] = ()
    unread: tuple[str, ...] = ()

    @property
    def is_wrong(self) -> bool:
        """A new fault is stored, or a module belongs to another vehicle."""
        return bool(self.vins) or any(check.change is FaultChange.NEW for check in self.faults)

    @property
    def is_unsure(self) -> bool:
        """Faults were not read again."""
        return bool(self.unread)

    def of(self, change: FaultChange) -> tuple[FaultCheck, ...]:
        """The faults of one kind."""
        return tuple(check for check in self.faults if check.change is change)


@dataclass
class _Told:
    identification: dict[int, str] = field(default_factory=dict)
    faults: dict[str, FaultCode] | None = None


def compare_modules(
    before: Sequence[ModuleReadout], after: Sequence[ModuleReadout], vin: str | None = None
) -> ModuleChecks:
    """Faults that are new, gone or still there, numbers that changed, modules of another vehicle.

    Only stored faults count. vin: the job's; None where it has none
    """
    old, new = _told(before, "before"), _told(after, "after")
    faults: list[FaultCheck] = []
    numbers: list[NumberChange] = []
    vins: list[ModuleOfOtherVin] = []
    unread: list[str] = []
    for module in sorted(old.keys() | new.keys()):
        then, now = old.get(module, _Told()), new.get(module, _Told())
        faults += _faults(module, then.faults, now.faults)
        if then.faults is not None and now.faults is None and new:
            unread.append(module)
        for did in sorted(NUMBERS & then.identification.keys() & now.identification.keys()):
            pair = then.identification[did], now.identification[did]
            if pair[0] != pair[1]:
                numbers.append(NumberChange(module, did, *pair))
        told = {t.identification[did] for t in (then, now) for did in VIN_IDS if did in t.identification}
        vins += [
            ModuleOfOtherVin(module, each, vin) for each in sorted(told) if vin is not None and each != vin
        ]
    return ModuleChecks(tuple(faults), tuple(numbers), tuple(vins), tuple(unread))


def _told(readouts: Iterable[ModuleReadout], when: When) -> Mapping[str, _Told]:
    """Several readouts of a module together; of what was read twice the last."""
    found: dict[str, _Told] = {}
    for readout in readouts:
        if readout.when != when:
            continue
        told = found.setdefault(readout.module, _Told())
        told.identification |= dict(readout.identification)
        if readout.faults is not None:
            told.faults = {fault.code: fault for fault in readout.faults if fault.is_stored}
    return found


def _faults(
    module: str, before: Mapping[str, FaultCode] | None, after: Mapping[str, FaultCode] | None
) -> Iterable[FaultCheck]:
    if after is None:
        return
    for code in sorted(after.keys() | (before or {}).keys()):
        if code not in after:
            assert before is not None, "a code is from one of them"
            yield FaultCheck(module, before[code], FaultChange.GONE)
        elif before is None:
            yield FaultCheck(module, after[code], FaultChange.UNCOMPARED)
        else:
            yield FaultCheck(module, after[code], FaultChange.STILL if code in before else FaultChange.NEW)
