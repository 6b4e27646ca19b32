"""The vehicle file: one model of vehicle over a span of model years."""

from typing import Annotated, Literal, Self

from pydantic import AfterValidator, Field, model_validator

from netcheck.files._base import FileModel, NonEmpty, NumberTable, RoleName, Several, Whole, Years, bad
from netcheck.files._edition import Edition

SLOWEST, FASTEST = 1_000, 20_000_000  # bit/s; the fastest that CAN XL reaches
Fact = str | bool | int | float
DiagnosticId = Annotated[int, Field(ge=0, le=0x1FFFFFFF)]
FIRST, MIDDLE, LAST = 0, 500, 1000  # places in the order of coding; MIDDLE where a module has none


def _bit_rate(value: int) -> int:
    if not SLOWEST <= value <= FASTEST:
        raise bad(f"{value} is not a possible bit rate", remedy="write it in bit/s, such as 500_000")
    return value


BitRate = Annotated[
    int,
    Field(strict=True, json_schema_extra={"minimum": SLOWEST, "maximum": FASTEST}),
    AfterValidator(_bit_rate),
]


class Network(FileModel):
    """A network of the vehicle, with the DBC files that describe its traffic."""

    bitrate: BitRate = Field(description="bit rate in bit/s, such as 500_000")
    fd_bitrate: BitRate | None = Field(None, description="bit rate of the CAN FD data phase in bit/s")
    dbc: NonEmpty | Annotated[Several[NonEmpty], Field(min_length=1)] = Field(
        description="path of the network's DBC file, relative to this file, or a list of such paths"
    )
    tap: str = Field("", description="where a technician can reach the network, in words")
    physical: Literal["high-speed", "fault-tolerant"] = Field(
        "high-speed", description="kind of wires: ISO 11898-2, or ISO 11898-3 (low-speed, fault-tolerant)"
    )

    @property
    def dbc_files(self) -> tuple[str, ...]:
        """The DBC paths as written, relative to the vehicle file."""
        return (self.dbc,) if isinstance(self.dbc, str) else self.dbc


class CodingField(FileModel):
    """A bit field in a coding block: inside one byte, or whole bytes from bit 0."""

    byte: int = Field(ge=0, description="first byte of the field in its block; the block's first byte is 0")
    bit: int = Field(0, ge=0, le=7, description="lowest bit of the field in its byte; least significant is 0")
    width: int = Field(8, gt=0, description="width in bits: inside one byte, or whole bytes from bit 0")
    order: Literal["big", "little"] = Field("big", description="byte order of a field of several bytes")
    values: NumberTable[NonEmpty] = Field({}, description='labels of the raw values, such as 1 = "fitted"')
    after: NonEmpty | Annotated[Several[NonEmpty], Field(min_length=1)] = Field(
        (), description='field that must be coded before it, as "module.field", or a list of such fields'
    )
    roles: Several[RoleName] = Field(
        (), description="roles that it belongs to; a job that works on them and leaves it is told"
    )

    @property
    def afters(self) -> tuple[str, ...]:
        """The fields that must be coded before it, as written."""
        return (self.after,) if isinstance(self.after, str) else self.after

    @property
    def byte_count(self) -> int:
        """How many bytes of the block the field touches."""
        return (self.bit + self.width + 7) // 8

    @property
    def range_text(self) -> str:
        """The raw values that fit the field, for a message."""
        return f"0 to {(1 << self.width) - 1}" if self.width <= 32 else f"0 to 2^{self.width} - 1"

    def holds(self, number: int) -> bool:
        """Whether a raw value fits the field's width."""
        return number >= 0 and number.bit_length() <= self.width

    @model_validator(mode="after")
    def _check(self) -> Self:
        if self.bit + self.width > 8 and (self.bit or self.width % 8):
            raise bad(
                f"bit {self.bit} with width {self.width} crosses a byte border",
                remedy="a field lies inside one byte, or is whole bytes from bit 0",
            )
        labels: dict[str, int] = {}
        for number, label in self.values.items():
            if not self.holds(number):
                raise bad(
                    f"{number} does not fit into {self.width} bit",
                    remedy=f"use {self.range_text}",
                    at=["values"],
                )
            if label in labels:
                raise bad(
                    f"{labels[label]} and {number} are both '{label}'",
                    remedy="give each value its own label",
                    at=["values"],
                )
            labels[label] = number
        return self


class CodingBlock(FileModel):
    """A block of coding bytes, read with one data identifier."""

    length: int = Field(gt=0, le=65_535, description="length of the block in bytes")
    field: dict[str, CodingField] = Field({}, description="the coding fields of the block, by name")

    @model_validator(mode="after")
    def _check(self) -> Self:
        for name, field in self.field.items():
            last = field.byte + field.byte_count - 1
            if last >= self.length:
                raise bad(
                    f"the field reaches byte {last}, beyond the block's {self.length} bytes",
                    remedy=f"bytes count from 0; the last one is {self.length - 1}",
                    at=["field", name],
                )
        return self


class Module(FileModel):
    """A control unit of the vehicle."""

    title: str = Field("", description="name of the control unit in words")
    network: str | Annotated[Several[str], Field(min_length=1)] | None = Field(
        None, description="network that it is on, or a list of networks"
    )
    node: str | None = Field(None, description="its node name in the DBC")
    request_id: DiagnosticId | None = Field(None, description="diagnostic request identifier")
    response_id: DiagnosticId | None = Field(None, description="diagnostic response identifier")
    years: Years | None = Field(None, description="first and last model year that have it; all if left out")
    coding: NumberTable[CodingBlock] = Field(
        {}, description="coding blocks by data identifier, such as 0x2210"
    )
    coding_order: Annotated[int, Field(ge=FIRST, le=LAST)] | Literal["first", "last"] | None = Field(
        None,
        description="place in the order of coding, smaller is first: 0 (or first) to 1000 (or last); 500 if "
        "left out",
    )
    coding_why: str = Field("", description="why it is coded at that place")
    edition: Edition | Annotated[Several[Edition], Field(min_length=1)] = Field(
        (), description="editions of the module that have this coding and these roles, or a list of them"
    )

    @property
    def coding_place(self) -> int:
        """Its place in the order of coding, 0 to 1000; smaller is first."""
        named = {"first": FIRST, "last": LAST, None: MIDDLE}
        order = self.coding_order
        return order if isinstance(order, int) else named[order]

    @property
    def editions(self) -> tuple[Edition, ...]:
        """The editions that have this layout; () where the file does not tell editions."""
        return (self.edition,) if isinstance(self.edition, Edition) else self.edition

    @property
    def networks(self) -> tuple[str, ...]:
        """The networks that it is on, in the file's order; () where the file does not say."""
        return (self.network,) if isinstance(self.network, str) else self.network or ()

    @model_validator(mode="after")
    def _check(self) -> Self:
        homes: dict[str, int] = {}
        for did, block in self.coding.items():
            at = ["coding", f"0x{did:04X}"]
            if did > 0xFFFF:
                raise bad(f"0x{did:X} is not a data identifier", remedy="use 0x0000 to 0xFFFF", at=at)
            for name in block.field:
                if name in homes:
                    raise bad(
                        f"the module has a field '{name}' in block 0x{homes[name]:04X} already",
                        remedy="give each field of a module its own name",
                        at=[*at, "field", name],
                    )
                homes[name] = did
        return self


class UnlockedBy(FileModel):
    """The coding value without which a role does not appear."""

    module: str = Field(description="module that holds the coding field")
    field: str = Field(description="name of the coding field")
    value: str | int = Field(description="label or raw value that makes the role appear")


class RoleSource(FileModel):
    """One entry of a role: the signal that carries it on one network in some model years."""

    network: str = Field(description="network that carries it")
    message: NonEmpty = Field(description="message name in the network's DBC")
    signal: NonEmpty = Field(description="signal name in that message")
    active: Several[str | int] = Field((), description="labels or raw values that mean the active state")
    not_available: Several[Whole] = Field((), description='raw values that mean "no value"')
    counter: NonEmpty | None = Field(None, description="rolling counter signal of the same message")
    years: Years | None = Field(
        None, description="first and last model year that it applies to; all if left out"
    )
    unlocked_by: UnlockedBy | None = Field(None, description="coding value that it needs to appear")


class Vehicle(FileModel):
    """One model of vehicle over a span of model years."""

    kind: Literal["vehicle"] = Field(description='the kind of file: "vehicle"')
    format: Literal[1] = Field(description="the version of the file format: 1")
    name: NonEmpty = Field(description="name of the vehicle model")
    model_years: Years = Field(description="first and last model year, inclusive")
    network: dict[str, Network] = Field(min_length=1, description="networks by name")
    module: dict[str, Module] = Field({}, description="control units by name")
    role: dict[RoleName, Several[RoleSource]] = Field(
        {},
        description="what signals do: an entry for each network that carries the role, or each span of years",
    )
    facts: dict[str, Fact] = Field({}, description="whatever a part must match, by name")
