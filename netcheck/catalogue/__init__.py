"""Shipped retrofits and the vocabularies of roles and modules, and the loading of what may name them."""

from netcheck.catalogue._load import assemble_job, likely_network, load_job, load_retrofit
from netcheck.catalogue._shipped import (
    ModuleInfo,
    RoleInfo,
    modules,
    roles,
    shipped,
    shipped_retrofit_path,
)

__all__ = [
    "ModuleInfo",
    "RoleInfo",
    "assemble_job",
    "likely_network",
    "load_job",
    "load_retrofit",
    "modules",
    "roles",
    "shipped",
    "shipped_retrofit_path",
]
