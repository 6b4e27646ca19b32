"""The retrofit file: one kind of retrofit, brand-neutral."""

from __future__ import annotations

from typing import Annotated, Literal

from pydantic import Field

from netcheck.files._base import FileModel, RoleName
from netcheck.files._vehicle import Fact

EvidenceName = Literal["defined", "present", "moves", "answers"]
Phase = Literal["before", "fit", "code", "prove"]


class Need(FileModel):
    """A signal the new part must receive."""

    role: RoleName
    evidence: EvidenceName = "moves"
    max_gap_ms: Annotated[float, Field(gt=0)] | None = None
    optional: bool = False
    why: str = ""


class Supply(FileModel):
    """What the new part will send."""

    roles: Annotated[tuple[RoleName, ...], Field(strict=False)] = ()
    message_id: Annotated[int, Field(ge=0, le=0x1FFFFFFF)] | None = None
    extended: bool | None = None
    period_ms: Annotated[float, Field(gt=0)] | None = None
    length: Annotated[int, Field(ge=0, le=64)] | None = None  # bytes

    @property
    def is_extended(self) -> bool:
        """Whether the id is a 29-bit one: said so, or too large for 11 bits."""
        return bool(self.extended) or (self.message_id is not None and self.message_id > 0x7FF)


class Replace(FileModel):
    """What goes away: the old source of a role, or a whole module."""

    role: RoleName | None = None
    module: str | None = None


class Match(FileModel):
    """The part against the vehicle's facts."""

    fact: str
    any_of: Annotated[tuple[Fact, ...], Field(strict=False, min_length=1)]
    why: str = ""


class Require(FileModel):
    """A module that must be on the vehicle."""

    module: str
    why: str = ""


class Code(FileModel):
    """A coding field that must end up at a value."""

    module: str
    field: str
    value: str | int
    why: str = ""


class Exercise(FileModel):
    """How a technician shows a role on the vehicle."""

    role: RoleName
    do: str
    state: str | int = "active"


class HandWork(FileModel):
    """Hand work for the checklist."""

    phase: Phase
    text: str


class Retrofit(FileModel):
    """One kind of retrofit: what it needs, supplies, replaces and codes."""

    kind: Literal["retrofit"]
    format: Literal[1]
    name: str
    title: str = ""
    cautions: Annotated[tuple[str, ...], Field(strict=False)] = ()
    need: Annotated[tuple[Need, ...], Field(strict=False)] = ()
    supply: Annotated[tuple[Supply, ...], Field(strict=False)] = ()
    replace: Annotated[tuple[Replace, ...], Field(strict=False)] = ()
    match: Annotated[tuple[Match, ...], Field(strict=False)] = ()
    require: Annotated[tuple[Require, ...], Field(strict=False)] = ()
    code: Annotated[tuple[Code, ...], Field(strict=False)] = ()
    exercise: Annotated[tuple[Exercise, ...], Field(strict=False)] = ()
    step: Annotated[tuple[HandWork, ...], Field(strict=False)] = ()
