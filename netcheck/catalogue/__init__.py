"""Shipped retrofits, the vocabularies beside them, and the loading of what may name them."""

from netcheck.catalogue._faults import FileFaults, check_file
from netcheck.catalogue._load import assemble_job, is_path, load_job, load_retrofit
from netcheck.catalogue._shipped import (
    ModuleInfo,
    ResourceInfo,
    RoleInfo,
    modules,
    resources,
    roles,
    shipped,
    shipped_retrofit_path,
)

__all__ = [
    "FileFaults",
    "ModuleInfo",
    "ResourceInfo",
    "RoleInfo",
    "assemble_job",
    "check_file",
    "is_path",
    "load_job",
    "load_retrofit",
    "modules",
    "resources",
    "roles",
    "shipped",
    "shipped_retrofit_path",
]
