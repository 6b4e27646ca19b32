"""The job file: one vehicle on the ramp; and the marks file that stands beside a capture."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from netcheck.files._base import FileModel, RoleName

When = Literal["before", "after"]


class Mark(FileModel):
    """A labelled stretch of a capture: a role was put into a state from one second to another."""

    role: RoleName
    state: str | int | None = None  # "active", or a value-table label or raw number
    between: Annotated[tuple[float, float], Field(strict=False)] | None = None  # physical units
    from_: Annotated[float, Field(alias="from")]  # seconds from the capture's first frame
    to: float


class MarksFile(FileModel):
    """``NAME.marks.toml`` beside ``NAME.log``."""

    kind: Literal["marks"]
    format: Literal[1]
    mark: Annotated[tuple[Mark, ...], Field(strict=False)] = ()


class Item(FileModel):
    """A part to fit and where it is wired."""

    retrofit: str
    network: str | None = None


class CaptureEntry(FileModel):
    """A capture of this vehicle."""

    file: str
    when: When = "before"
    channels: dict[str, str] = {}
    mark: Annotated[tuple[Mark, ...], Field(strict=False)] = ()


class ReadoutEntry(FileModel):
    """Coding bytes as read from the vehicle."""

    module: str
    did: Annotated[int, Field(ge=0, le=0xFFFF)]
    data: str  # hex, blanks allowed
    when: When = "before"


class Job(FileModel):
    """One vehicle on the ramp."""

    kind: Literal["job"]
    format: Literal[1]
    vehicle: str
    model_year: int
    item: Annotated[tuple[Item, ...], Field(strict=False, min_length=1)]
    capture: Annotated[tuple[CaptureEntry, ...], Field(strict=False)] = ()
    readout: Annotated[tuple[ReadoutEntry, ...], Field(strict=False)] = ()
