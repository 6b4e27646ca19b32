"""Captures read, and claims checked, through Dask: by this machine's processes, or those of a scheduler.

What a worker reads comes back as tables; frames it writes into the store's folder, where they do not count
until the change that names them. So a worker that is killed loses nothing: its captures are read again by
another one, and one that kills three workers is listed as unreadable.
"""

from __future__ import annotations

import logging
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack
from functools import partial
from pathlib import Path
from typing import Any, Final

from netcheck.archive._add import Reader, read_here
from netcheck.archive._ask import Archive
from netcheck.archive._check import LookAtRoles, RoleClaims, look_here
from netcheck.archive._read import CaptureRead, ReadOrder, VehicleRead, read_capture_rows, read_vehicle
from netcheck.archive._store import Manifest, open_store
from netcheck.capture import cores
from netcheck.errors import UsageError
from netcheck.tables import library

_PAYS: Final = 60_000_000  # bytes of text from which on processes are worth their start, some seconds
_PACKED: Final = 7  # times as long is the text of a compressed log: measured on the demo's
_AHEAD: Final = 4  # captures on their way to each worker: enough to keep it busy, and few in memory
_RETRIES: Final = 2  # of a capture whose reading fails in a way that nobody expected
_ANSWERS: Final = "10s"  # how long a scheduler may take to answer


def reader_for(scheduler: str | None = None) -> Callable[[Sequence[ReadOrder]], Reader]:
    """Who reads some captures: this process where they are few, else workers.

    scheduler: address of a Dask scheduler whose workers see the same files, such as ``tcp://host:8786``
    """

    def choose(orders: Sequence[ReadOrder]) -> Reader:
        if scheduler is None and (cores() < 2 or sum(map(_text_bytes, orders)) < _PAYS):
            return read_here
        return partial(read_by_workers, scheduler)

    return choose


def _text_bytes(order: ReadOrder) -> int:
    path = Path(order.wanted.path)
    try:
        size = path.stat().st_size
    except OSError:
        return 0
    return size * _PACKED if path.suffix.lower() in {".gz", ".xz", ".zst", ".zstd"} else size


def read_by_workers(scheduler: str | None, orders: Sequence[ReadOrder]) -> Iterator[CaptureRead]:
    """Captures as they are read, in no order. Raises UsageError for a scheduler that does not answer."""
    distributed = library("distributed", "reading captures by several processes", "archive")
    waiting = iter(orders)
    with ExitStack() as stack:
        client = stack.enter_context(_client(distributed, scheduler))
        stack.enter_context(client.as_current())
        workers = max(len(client.scheduler_info().get("workers", ())), 1)
        running: dict[Any, ReadOrder] = {}
        done = distributed.as_completed()

        def submit() -> None:
            order = next(waiting, None)
            if order is not None:
                future = client.submit(read_capture_rows, order, pure=False, retries=_RETRIES)
                running[future] = order
                done.add(future)

        for _ in range(workers * _AHEAD):
            submit()
        for future in done:
            order = running.pop(future)
            yield _result(future, order)
            future.release()
            submit()


def _result(future: Any, order: ReadOrder) -> CaptureRead:
    try:
        found: CaptureRead = future.result()
    except Exception as error:  # whatever ended the workers, this capture is told and the others go on
        what = f"{order.wanted.name}: could not be read by a worker ({type(error).__name__})"
        return CaptureRead(order, problem=f"{what} – add it alone, which tells more")
    return found


def claims_by_workers(scheduler: str) -> LookAtRoles:
    """Who looks at the roles of a vehicle file: workers that see the same store and the same file.

    All of them ask what the archive held when it was opened. Raises UsageError for a scheduler that does not
    answer, and what a look itself raises.
    """
    distributed = library("distributed", "checking by several processes", "archive")

    def look(archive: Archive, vehicle: VehicleRead, roles: Sequence[str]) -> Iterator[RoleClaims]:
        path, digests = vehicle.loaded.file.resolve(), (vehicle.digest, vehicle.dbc_digest)
        folder = archive.store.folder.resolve()
        with ExitStack() as stack:
            client = stack.enter_context(_client(distributed, scheduler))
            parts = max(len(client.scheduler_info().get("workers", ())), 1)
            size = -(-len(roles) // parts)
            futures = [
                client.submit(
                    look_elsewhere,
                    folder,
                    archive.manifest,
                    path,
                    digests,
                    roles[begin : begin + size],
                    pure=False,
                    retries=_RETRIES,
                )
                for begin in range(0, len(roles), size)
            ]
            for future in futures:
                yield from future.result()

    return look


def look_elsewhere(
    folder: Path, manifest: Manifest, vehicle: Path, digests: tuple[str, str], roles: Sequence[str]
) -> list[RoleClaims]:
    """In a worker: what its part of the roles comes to."""
    with Archive(open_store(folder), manifest) as archive:
        return list(look_here(archive, read_vehicle(vehicle, digests), roles))


def _client(distributed: Any, scheduler: str | None) -> Any:
    if scheduler is None:
        import dask

        logging.getLogger("distributed").setLevel(logging.CRITICAL)
        with dask.config.set(_QUIET):
            cluster = distributed.LocalCluster(
                n_workers=cores(),
                threads_per_worker=1,
                dashboard_address=None,
                scheduler_kwargs={"dashboard_address": "127.0.0.1:0"},  # else port 8787, which may be taken
                silence_logs=logging.CRITICAL,
            )
        return _Owned(distributed.Client(cluster, set_as_default=False), cluster)
    try:
        return distributed.Client(scheduler, timeout=_ANSWERS, set_as_default=False)
    except (OSError, ValueError) as error:
        raise UsageError(
            f"--scheduler {scheduler} does not answer", remedy="give its address, such as tcp://host:8786"
        ) from error


# Nobody looks at what workers do meanwhile, which took a fifth of their time.
_QUIET: Final = {
    "distributed.worker.profile.enabled": False,
    "distributed.admin.system-monitor.interval": "10s",
}


class _Owned:
    """A client with the cluster that was made for it: both go together."""

    def __init__(self, client: Any, cluster: Any) -> None:
        self._client, self._cluster = client, cluster

    def __enter__(self) -> Any:
        return self._client

    def __exit__(self, *_: object) -> None:
        self._client.close()
        self._cluster.close()
