"""The vehicle file: one model of vehicle over a span of model years."""

from __future__ import annotations

from typing import Annotated, Any, Literal

from pydantic import Field

from netcheck.files._base import FileModel, NumberKey, RoleName, Years

Fact = str | bool | int | float


class Network(FileModel):
    """A network of the vehicle, with the DBC files that describe its traffic."""

    bitrate: Annotated[int, Field(gt=0)]  # bit/s
    fd_bitrate: Annotated[int, Field(gt=0)] | None = None  # bit/s
    dbc: str | Annotated[tuple[str, ...], Field(strict=False, min_length=1)]
    tap: str = ""

    @property
    def dbc_files(self) -> tuple[str, ...]:
        """The DBC paths as written, relative to the vehicle file."""
        return (self.dbc,) if isinstance(self.dbc, str) else self.dbc


class CodingField(FileModel):
    """A bit field in a coding block: inside one byte, or whole bytes from bit 0."""

    byte: Annotated[int, Field(ge=0)]
    bit: Annotated[int, Field(ge=0, le=7)] = 0  # least significant bit is 0
    width: Annotated[int, Field(gt=0)] = 8  # bits
    order: Literal["big", "little"] = "big"  # of whole bytes
    values: dict[NumberKey, str] = {}


class CodingBlock(FileModel):
    """A block of coding bytes, read with one data identifier."""

    length: Annotated[int, Field(gt=0)]  # bytes
    field: dict[str, CodingField] = {}


class Module(FileModel):
    """A control unit of the vehicle."""

    title: str = ""
    network: str | None = None
    node: str | None = None  # its node name in the DBC
    request_id: Annotated[int, Field(ge=0, le=0x1FFFFFFF)] | None = None
    response_id: Annotated[int, Field(ge=0, le=0x1FFFFFFF)] | None = None
    years: Years | None = None
    coding: dict[NumberKey, CodingBlock] = {}
    coding_order: Literal["first", "last"] | None = None  # among the modules that a job codes
    coding_why: str = ""


class UnlockedBy(FileModel):
    """The coding value without which a role does not appear."""

    module: str
    field: str
    value: str | int


class RoleSource(FileModel):
    """One entry of a role: the signal that carries it on one network in some model years."""

    network: str
    message: str
    signal: str
    active: Annotated[tuple[str | int, ...], Field(strict=False)] = ()
    not_available: Annotated[tuple[int, ...], Field(strict=False)] = ()  # raw values
    counter: str | None = None
    years: Years | None = None
    unlocked_by: UnlockedBy | None = None


class Vehicle(FileModel):
    """One model of vehicle over a span of model years."""

    kind: Literal["vehicle"]
    format: Literal[1]
    name: str
    model_years: Years
    network: dict[str, Network]
    module: dict[str, Module] = {}
    role: dict[RoleName, tuple[RoleSource, ...]] = {}
    facts: dict[str, Fact] = {}
