"""What other vans of the model year showed of a plan's open needs: no proof for the van on the ramp."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

from netcheck.archive._ask import Archive
from netcheck.archive._read import file_digest, hashed_vin
from netcheck.errors import InputError
from netcheck.files import LoadedJob
from netcheck.plan import Plan
from netcheck.verdict import ItemResult, NeedResult, Peers, Status

_PEERS = """
SELECT count(DISTINCT capture), count(DISTINCT van), count(DISTINCT capture) FILTER (van IS NULL),
  count(DISTINCT capture) FILTER (evidence <> 'defined'),
  count(DISTINCT capture) FILTER (evidence IN ('moves', 'answers')),
  count(DISTINCT van) FILTER (evidence IN ('moves', 'answers')),
  count(DISTINCT capture) FILTER (evidence = 'answers'), median(period_ms), median(gap_p99_ms)
FROM roles
WHERE vehicle = $vehicle AND year = $year AND role = $role AND network = $network AND message = $message
  AND signal = $signal AND identity = 'identified' AND NOT list_contains($own, capture)
  AND (van IS NULL OR NOT list_contains($vans, van))
"""


def with_peers(plan: Plan, job: LoadedJob, archive: Archive) -> Plan:
    """The plan with what the archive shows of each need that is expected, on other vans of the model year.

    No verdict, status or reason changes. Captures of the job, and of its van, are none of the peers'.
    """
    own: list[str] = []
    for capture in job.captures:
        with suppress(InputError):
            own.append(file_digest(Path(capture.path)))
    vin = job.identity.vin
    vans = [vin, hashed_vin(archive.store.key, vin)] if vin else []
    items = tuple(_with(item, plan, archive, own, vans) for item in plan.items)
    return replace(plan, items=items)


def _with(
    item: ItemResult, plan: Plan, archive: Archive, own: Sequence[str], vans: Sequence[str]
) -> ItemResult:
    def looked_up(need: NeedResult) -> NeedResult:
        if need.status is not Status.EXPECTED or need.signal is None:
            return need
        found = archive.ask(
            _PEERS,
            {
                "vehicle": plan.vehicle,
                "year": plan.model_year,
                "role": need.role,
                "network": need.network,
                "message": need.message,
                "signal": need.signal,
                "own": list(own),
                "vans": list(vans),
            },
        ).rows[0]
        if not found[0]:
            return need
        return replace(need, facts=replace(need.facts, peers=Peers(plan.model_year, *found)))

    return replace(item, needs=tuple(map(looked_up, item.needs)))
