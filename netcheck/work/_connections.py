"""What is connected to what: the network that each item joins, and its own wires."""

from __future__ import annotations

from netcheck.files import LoadedJob, Wire
from netcheck.records import dataclass


@dataclass(frozen=True)
class Connection:
    """One item's. tap: where the network's pair is; "" where the vehicle file does not say."""

    item: str
    network: str | None
    tap: str
    wires: tuple[Wire, ...]


def connections(job: LoadedJob) -> tuple[Connection, ...]:
    """One for each item, in the job's order."""
    networks = job.vehicle.model.network
    return tuple(
        Connection(
            item.retrofit.name,
            item.network,
            (networks[item.network].tap or "") if item.network is not None else "",
            item.wires,
        )
        for item in job.items
    )
