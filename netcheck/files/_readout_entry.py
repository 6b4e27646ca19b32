"""What was read from a vehicle's modules, as a job or a readouts file has it."""

import re
from collections.abc import Mapping
from typing import Annotated, Any, Final, Literal, Self

from pydantic import AfterValidator, ConfigDict, Field, model_validator

from netcheck.files._base import FileModel, NonEmpty, NumberTable, Several, bad
from netcheck.records import dataclass

When = Literal["before", "after"]
FAULT_CODE: Final = r"[PCBU][0-3][0-9A-F]{3}([0-9A-F]{2})?(/[0-9A-F]{2})?"
STORED: Final = 0x0D  # of a fault's status: failing now, pending or confirmed (ISO 14229-1)


def _hex(text: str) -> str:
    digits = "".join(text.split())
    wrong = next((digit for digit in digits if digit not in "0123456789abcdefABCDEF"), None)
    if wrong is not None:
        raise bad(f"'{wrong}' is not a hex digit", remedy='write bytes such as "03 00 1F 00"')
    if not digits:
        raise bad("it has no bytes", remedy='write bytes such as "03 00 1F 00"')
    if len(digits) % 2:
        raise bad(f"{len(digits)} hex digits are not whole bytes", remedy="write two digits for each byte")
    return text


HexText = Annotated[
    str,
    AfterValidator(_hex),
    Field(json_schema_extra={"pattern": r"^\s*([0-9A-Fa-f]\s*[0-9A-Fa-f]\s*)+$"}),
]


def hex_bytes(text: str) -> bytes:
    """The bytes of a ``HexText``: blanks may stand anywhere, also inside a pair of digits."""
    return bytes.fromhex("".join(text.split()))


def _fault(text: str) -> str:
    if not re.fullmatch(FAULT_CODE, text):
        raise bad(
            f"'{text[:20]}' is not a fault code",
            remedy="write P0123, U012187, or U012187/2F with its status (SAE J2012)",
        )
    return text


FaultText = Annotated[str, AfterValidator(_fault), Field(json_schema_extra={"pattern": f"^{FAULT_CODE}$"})]


@dataclass(frozen=True)
class FaultCode:
    """A fault code that a module reported.

    code:   in the form of SAE J2012, such as P0123, or U012187 with its failure type
    status: the status byte of ISO 14229-1; None where it is not known
    """

    code: str
    status: int | None = None

    @property
    def is_stored(self) -> bool:
        """Whether it stands for a fault: failing now, pending or confirmed. Unknown counts as stored."""
        return self.status is None or bool(self.status & STORED)

    def __str__(self) -> str:
        return self.code if self.status is None else f"{self.code}/{self.status:02X}"


def fault_of(text: str) -> FaultCode:
    """The fault of a text such as ``U012187`` or ``U012187/2F``."""
    code, slash, status = text.partition("/")
    return FaultCode(code, int(status, 16) if slash else None)


def _known(table: Mapping[int, str]) -> Mapping[int, str]:
    for did in table:
        if did > 0xFFFF:
            raise bad(f"0x{did:X} is not a data identifier", remedy="use 0x0000 to 0xFFFF", at=[f"0x{did:X}"])
    return table


# What both kinds of entry say of one module.
ReadDid = Annotated[
    Annotated[int, Field(ge=0, le=0xFFFF)] | None,
    Field(description="data identifier of the coding block, such as 0x2210"),
]
ReadData = Annotated[HexText | None, Field(description="bytes of the coding block in hex, blanks allowed")]
ReadIdentification = Annotated[
    NumberTable[str],
    AfterValidator(_known),
    Field(description="text by data identifier, such as 0xF187; bytes that are no text in hex"),
]
ReadFaults = Annotated[
    Several[FaultText] | None,
    Field(description="fault codes, such as U012187; [] where the module has none"),
]

_BLOCK: Final[dict[str, Any]] = {
    "dependentRequired": {"did": ["module", "data"], "data": ["did"], "identification": ["module"]}
}


class BlockEntry(FileModel):
    """What was read from one module: coding bytes, identification, fault codes."""

    model_config = ConfigDict(json_schema_extra=_BLOCK)

    module: str = Field(description="module that was read")
    did: ReadDid = None
    data: ReadData = None
    identification: ReadIdentification = Field({})
    faults: ReadFaults = None
    when: When | None = Field(None, description="whether it was read before or after the fitting")

    @model_validator(mode="after")
    def _check(self) -> Self:
        _check_content(self)
        return self


class ReadoutEntry(FileModel):
    """What was read from one module of the vehicle, or a file of such readouts."""

    model_config = ConfigDict(
        json_schema_extra={
            **_BLOCK,
            "oneOf": [
                {"required": ["module"], "not": {"required": ["file"]}},
                {
                    "required": ["file"],
                    "propertyNames": {"enum": ["file", "when"]},
                },
            ],
        }
    )

    file: NonEmpty | None = Field(
        None, description="readouts file, relative to this file, instead of all other keys but when"
    )
    module: str | None = Field(None, description="module that was read")
    did: ReadDid = None
    data: ReadData = None
    identification: ReadIdentification = Field({})
    faults: ReadFaults = None
    when: When = Field(
        "before",
        description="whether it was read before or after the fitting; of a file: where it does not say",
    )

    @model_validator(mode="after")
    def _check(self) -> Self:
        if self.file is not None:
            beside = next(
                (
                    key
                    for key in type(self).model_fields
                    if key in self.model_fields_set and key not in {"file", "when"}
                ),
                None,
            )
            if beside is not None:
                raise bad(
                    "stands beside file", remedy="give a file, or what was read from a module", at=[beside]
                )
            return self
        if self.module is None:
            raise bad("is missing", remedy="say which module was read", at=["module"])
        _check_content(self)
        return self


def _check_content(entry: ReadoutEntry | BlockEntry) -> None:
    if entry.did is None and entry.data is not None:
        raise bad("is missing", remedy="say which data identifier these bytes were read with", at=["did"])
    if entry.did is not None and entry.data is None:
        raise bad("is missing", remedy='write the bytes of the block, such as "03 00 1F 00"', at=["data"])
    if entry.did is None and not entry.identification and entry.faults is None:
        raise bad("has nothing that was read", remedy="give did and data, identification or faults")


class ReadoutsFile(FileModel):
    """What was read from a vehicle's modules; ``netcheck readout`` writes one."""

    kind: Literal["readouts"] = Field(description='the kind of file: "readouts"')
    format: Literal[1] = Field(description="the version of the file format: 1")
    readout: Annotated[Several[BlockEntry], Field(min_length=1)] = Field(
        description="what was read, module by module"
    )
