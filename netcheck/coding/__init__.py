"""Coding fields and bytes: what is there, what has to be written, what a later readout holds."""

from netcheck.coding._changes import Change, changes_between
from netcheck.coding._compare import BlockCheck, FieldCheck, Held, Readback, compare_readback
from netcheck.coding._fields import (
    Located,
    field_bytes,
    field_mask,
    label_of,
    locate,
    module_in,
    number_of,
    read_field,
    write_field,
)
from netcheck.coding._model import CodingRow, CodingStatus, Write
from netcheck.coding._plan import Clash, ClashSide, CodingResult, Readouts, Wanted, plan_coding

__all__ = [
    "BlockCheck",
    "Change",
    "Clash",
    "ClashSide",
    "CodingResult",
    "CodingRow",
    "CodingStatus",
    "FieldCheck",
    "Held",
    "Located",
    "Readback",
    "Readouts",
    "Wanted",
    "Write",
    "changes_between",
    "compare_readback",
    "field_bytes",
    "field_mask",
    "label_of",
    "locate",
    "module_in",
    "number_of",
    "plan_coding",
    "read_field",
    "write_field",
]
