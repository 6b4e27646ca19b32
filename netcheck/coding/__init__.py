"""Coding fields and bytes: what is there, what has to be written, what a later readout holds."""

from typing import TYPE_CHECKING

from netcheck.doors import door

if TYPE_CHECKING:
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
    from netcheck.coding._modules import (
        VIN_IDS,
        FaultChange,
        FaultCheck,
        ModuleChecks,
        ModuleOfOtherVin,
        NumberChange,
        compare_modules,
    )
    from netcheck.coding._order import CodingPlace, order_blocks
    from netcheck.coding._plan import Clash, ClashSide, CodingResult, Readouts, Wanted, plan_coding
    from netcheck.coding._written import WriteCheck, WriteContent, match_writes
else:
    __getattr__ = door(
        __name__,
        {
            "_changes": "Change changes_between",
            "_compare": "BlockCheck FieldCheck Held Readback compare_readback",
            "_fields": (
                "Located field_bytes field_mask label_of locate module_in number_of read_field write_field"
            ),
            "_model": "CodingRow CodingStatus Write",
            "_modules": (
                "VIN_IDS FaultChange FaultCheck ModuleChecks ModuleOfOtherVin NumberChange compare_modules"
            ),
            "_order": "CodingPlace order_blocks",
            "_plan": "Clash ClashSide CodingResult Readouts Wanted plan_coding",
            "_written": "WriteCheck WriteContent match_writes",
        },
    )

__all__ = [
    "VIN_IDS",
    "BlockCheck",
    "Change",
    "Clash",
    "ClashSide",
    "CodingPlace",
    "CodingResult",
    "CodingRow",
    "CodingStatus",
    "FaultChange",
    "FaultCheck",
    "FieldCheck",
    "Held",
    "Located",
    "ModuleChecks",
    "ModuleOfOtherVin",
    "NumberChange",
    "Readback",
    "Readouts",
    "Wanted",
    "Write",
    "WriteCheck",
    "WriteContent",
    "changes_between",
    "compare_modules",
    "compare_readback",
    "field_bytes",
    "field_mask",
    "label_of",
    "locate",
    "match_writes",
    "module_in",
    "number_of",
    "order_blocks",
    "plan_coding",
    "read_field",
    "write_field",
]
