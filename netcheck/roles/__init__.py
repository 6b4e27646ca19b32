"""A role of a model year to the signal that plays it: the one resolver."""

from netcheck.roles._resolve import (
    Lack,
    ResolvedRole,
    RolesByName,
    diagnostic_addresses,
    entries_of,
    holds_in,
    labels_of,
    load_networks,
    resolve_roles,
    roles_of,
    watches,
)
from netcheck.roles._watch import Watch, is_any_of, is_inside, raw_values, slack

__all__ = [
    "Lack",
    "ResolvedRole",
    "RolesByName",
    "Watch",
    "diagnostic_addresses",
    "entries_of",
    "holds_in",
    "is_any_of",
    "is_inside",
    "labels_of",
    "load_networks",
    "raw_values",
    "resolve_roles",
    "roles_of",
    "slack",
    "watches",
]
