"""The order in which blocks are coded: places of the modules, and fields that must be coded before others."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from netcheck.coding._fields import locate
from netcheck.coding._model import CodingRow, CodingStatus
from netcheck.files import MIDDLE, Vehicle
from netcheck.records import dataclass

_Block = tuple[str, str]  # module, data identifier


@dataclass(frozen=True)
class CodingPlace:
    """A block in its place in the order.

    afters:   fields of other blocks ("module.field") that are coded in this job, too, and must be before
    together: other blocks that wait for this one as it waits for them: one step
    """

    module: str
    did: str
    afters: tuple[str, ...] = ()
    together: tuple[tuple[str, str], ...] = ()

    @property
    def block(self) -> tuple[str, str]:
        """Module and data identifier."""
        return self.module, self.did


def order_blocks(vehicle: Vehicle, year: int, rows: Iterable[CodingRow]) -> tuple[CodingPlace, ...]:
    """The blocks that the rows change, or may have to, in the order to code them.

    By the places of their modules, the vehicle file's order and data identifier, as far as ``after`` of the
    fields lets them.
    """
    open_rows = [r for r in rows if r.did and r.status in {CodingStatus.TO_DO, CodingStatus.UNKNOWN}]
    homes: dict[str, _Block] = {f"{r.module}.{r.field}": (r.module, r.did or "") for r in open_rows}
    afters: dict[_Block, dict[str, _Block]] = {block: {} for block in homes.values()}
    for row in open_rows:
        place = locate(vehicle, year, row.module, row.field)
        block = row.module, row.did or ""
        for name in place.field.afters if place is not None else ():
            if name in homes and homes[name] != block:
                afters[block][name] = homes[name]
    reached = {block: _reached(block, afters) for block in afters}
    file_order = {name: index for index, name in enumerate(vehicle.module)}

    def key(block: _Block) -> tuple[int, int, str, str]:
        module = vehicle.module.get(block[0])
        place = module.coding_place if module is not None else MIDDLE
        return place, file_order.get(block[0], len(file_order)), *block

    done: list[CodingPlace] = []
    left = sorted(afters, key=key)
    while left:
        # The first block that waits for none but those that wait for it, too: there is always one.
        first = next(
            block
            for block in left
            if all(block in reached[other] for other in reached[block] if other in left)
        )
        ring = [block for block in left if block == first or _both_wait(block, first, reached)]
        for block in ring:
            others = tuple(other for other in ring if other != block)
            done.append(CodingPlace(*block, tuple(afters[block]), others))
        left = [block for block in left if block not in ring]
    return tuple(done)


def _reached(start: _Block, afters: Mapping[_Block, Mapping[str, _Block]]) -> set[_Block]:
    """All blocks that a block waits for, on whatever way."""
    found: set[_Block] = set()
    pending = list(afters[start].values())
    while pending:
        block = pending.pop()
        if block not in found:
            found.add(block)
            pending += afters[block].values()
    return found


def _both_wait(one: _Block, other: _Block, reached: Mapping[_Block, set[_Block]]) -> bool:
    return other in reached[one] and one in reached[other]
