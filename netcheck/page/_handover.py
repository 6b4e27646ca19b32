"""The customer's page: a part of the page of a job that prints on a sheet of its own."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from netcheck.plan import Plan
from netcheck.prove import Proof
from netcheck.report.viewing import handover


def handover_values(plan: Plan, proof: Proof | None) -> dict[str, Any]:
    """What the template of the customer's page reads."""
    return asdict(handover(plan, proof))
