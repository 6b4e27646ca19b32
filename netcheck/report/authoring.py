"""Files that are about to be written: roles of the vocabulary, proposals, and files to start from."""

from netcheck.report._check import check_json, check_text
from netcheck.report._new_files import new_file_json, new_job_text, new_retrofit_text, new_vehicle_text
from netcheck.report._new_model import (
    FoundRole,
    JobStart,
    NetworkStart,
    RetrofitStart,
    SeenNetwork,
    VehicleStart,
)
from netcheck.report._role_entries import role_entries
from netcheck.report._roles import roles_json, roles_list_json, roles_list_text, roles_text

__all__ = [
    "FoundRole",
    "JobStart",
    "NetworkStart",
    "RetrofitStart",
    "SeenNetwork",
    "VehicleStart",
    "check_json",
    "check_text",
    "new_file_json",
    "new_job_text",
    "new_retrofit_text",
    "new_vehicle_text",
    "role_entries",
    "roles_json",
    "roles_list_json",
    "roles_list_text",
    "roles_text",
]
