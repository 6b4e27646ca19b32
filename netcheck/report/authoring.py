"""Files that are about to be written: roles of the vocabulary, proposals, and files to start from."""

from netcheck.report._check import check_json, check_text
from netcheck.report._role_entries import role_entries
from netcheck.report._roles import roles_json, roles_list_json, roles_list_text, roles_text

__all__ = [
    "check_json",
    "check_text",
    "role_entries",
    "roles_json",
    "roles_list_json",
    "roles_list_text",
    "roles_text",
]
