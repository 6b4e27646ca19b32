"""The script file: what a simulated vehicle does, second by second."""

from __future__ import annotations

from typing import Literal, Self

from pydantic import ConfigDict, Field, model_validator

from netcheck.files._base import FileModel, NonEmpty, RoleName, Several, bad

FaultKind = Literal[
    "message-missing",
    "frozen-counter",
    "wrong-length",
    "stuck-signal",
    "lost-frames",
    "late-frames",
    "second-sender",
    "asleep",
]


class Setting(FileModel):
    """A role at a state or value from a time on."""

    model_config = ConfigDict(json_schema_extra={"oneOf": [{"required": ["state"]}, {"required": ["value"]}]})

    role: RoleName = Field(description="role that is set")
    at: float = Field(0.0, ge=0, description="time in seconds; 0 sets the start value")
    state: str | int | None = Field(None, description="active, inactive, or a value-table label or raw value")
    value: float | None = Field(None, description="physical value, instead of a state")
    ramp: float = Field(0.0, ge=0, description="seconds it takes to reach the value")

    @model_validator(mode="after")
    def _check(self) -> Self:
        if (self.state is None) == (self.value is None):
            found = "neither state nor value is" if self.state is None else "both state and value are"
            raise bad(f"{found} given", remedy="give one of them")
        return self


class Fault(FileModel):
    """Something that goes wrong from one time to another."""

    kind: FaultKind = Field(description="kind of fault")
    message: NonEmpty | None = Field(None, description="message that it happens to; all but for asleep")
    signal: NonEmpty | None = Field(None, description="signal that is stuck")
    from_: float = Field(alias="from", ge=0, description="start in seconds")
    to: float = Field(gt=0, description="end in seconds")
    share: float | None = Field(None, gt=0, le=1, description="share of the frames that it happens to")

    @model_validator(mode="after")
    def _check(self) -> Self:
        if self.from_ >= self.to:
            raise bad(
                f"the fault ends at {self.to:g} s, not after its start at {self.from_:g} s",
                remedy="seconds from the start, from before to",
                at=["to"],
            )
        if self.message is None and self.kind != "asleep":
            raise bad(f"a {self.kind} fault names no message", remedy="give the message", at=["message"])
        return self


class Script(FileModel):
    """What a simulated vehicle does."""

    kind: Literal["script"] = Field(description='the kind of file: "script"')
    format: Literal[1] = Field(description="the version of the file format: 1")
    seconds: float = Field(gt=0, description="length of the simulation in seconds")
    seed: int = Field(0, ge=0, description="start of the random numbers; the same seed gives the same frames")
    set: Several[Setting] = Field((), description="roles at a state or value from a time on")
    fault: Several[Fault] = Field((), description="what goes wrong, and when")
