"""netcheck: from captures and DBC files to retrofit verdicts with evidence, coding and a checklist.

The names below are the public door. They are imported when first used, so that ``import netcheck`` and
``netcheck --help`` cost nothing.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from netcheck.capture import Capture, open_capture, read_capture
    from netcheck.catalogue import assemble_job, load_job
    from netcheck.database import Database, Series, decode, load_database
    from netcheck.errors import InputError, NetcheckError, UsageError
    from netcheck.plan import Plan, make_plan
    from netcheck.report import plan_json, plan_text

__version__ = "0.1.0"

__all__ = [
    "Capture",
    "Database",
    "InputError",
    "NetcheckError",
    "Plan",
    "Series",
    "UsageError",
    "assemble_job",
    "decode",
    "load_database",
    "load_job",
    "make_plan",
    "open_capture",
    "plan_json",
    "plan_text",
    "read_capture",
]

_ROOMS = {
    "Capture": "capture",
    "Database": "database",
    "InputError": "errors",
    "NetcheckError": "errors",
    "Plan": "plan",
    "Series": "database",
    "UsageError": "errors",
    "assemble_job": "catalogue",
    "decode": "database",
    "load_database": "database",
    "load_job": "catalogue",
    "make_plan": "plan",
    "open_capture": "capture",
    "plan_json": "report",
    "plan_text": "report",
    "read_capture": "capture",
}


def __getattr__(name: str) -> Any:
    if name in _ROOMS:
        return getattr(import_module(f"netcheck.{_ROOMS[name]}"), name)
    raise AttributeError(f"module 'netcheck' has no attribute {name!r}")


def __dir__() -> list[str]:
    return [*__all__, "__version__"]
