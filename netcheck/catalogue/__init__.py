"""Shipped retrofits and the vocabulary of roles, and the loading of what may name them."""

from netcheck.catalogue._load import assemble_job, load_job, load_retrofit
from netcheck.catalogue._shipped import RoleInfo, roles, shipped, shipped_retrofit_path

__all__ = [
    "RoleInfo",
    "assemble_job",
    "load_job",
    "load_retrofit",
    "roles",
    "shipped",
    "shipped_retrofit_path",
]
