"""Shipped retrofits and the vocabularies of roles and modules, and the loading of what may name them."""

from netcheck.catalogue._faults import FileFaults, check_file
from netcheck.catalogue._load import assemble_job, is_path, load_job, load_retrofit
from netcheck.catalogue._shipped import (
    ModuleInfo,
    RoleInfo,
    modules,
    roles,
    shipped,
    shipped_retrofit_path,
)

__all__ = [
    "FileFaults",
    "ModuleInfo",
    "RoleInfo",
    "assemble_job",
    "check_file",
    "is_path",
    "load_job",
    "load_retrofit",
    "modules",
    "roles",
    "shipped",
    "shipped_retrofit_path",
]
