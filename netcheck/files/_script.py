"""The script file: what a simulated vehicle does, second by second."""

from collections.abc import Mapping
from typing import Annotated, Final, Literal, Self

from pydantic import AfterValidator, ConfigDict, Field, model_validator

from netcheck.files._base import FileModel, NonEmpty, NumberTable, RoleName, Several, bad
from netcheck.files._readout_entry import FaultText, HexText

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

LONGEST: Final = 1e6  # seconds of a simulation, over eleven days
LEAST_PERIOD: Final = 0.05  # ms; no frame of CAN fits into less at 1 Mbit/s


class Setting(FileModel):
    """A role at a state or value from a time on."""

    model_config = ConfigDict(json_schema_extra={"oneOf": [{"required": ["state"]}, {"required": ["value"]}]})

    role: RoleName = Field(description="role that is set")
    at: float = Field(0.0, ge=0, le=LONGEST, description="time in seconds; 0 sets the start value")
    state: str | int | None = Field(None, description="active, inactive, or a value-table label or raw value")
    value: float | None = Field(None, description="physical value, instead of a state")
    ramp: float = Field(0.0, ge=0, le=LONGEST, description="seconds it takes to reach the value")

    @model_validator(mode="after")
    def _check(self) -> Self:
        if (self.state is None) == (self.value is None):
            found = "neither state nor value is" if self.state is None else "both state and value are"
            raise bad(f"{found} given", remedy="give one of them")
        return self


class CycleEntry(FileModel):
    """How often a message is sent, where its DBC does not say or this vehicle differs."""

    message: NonEmpty = Field(description="message name in the DBC")
    network: NonEmpty | None = Field(None, description="its network, if several have such a message")
    period_ms: float = Field(ge=LEAST_PERIOD, le=1000 * LONGEST, description="period in milliseconds")
    jitter_ms: float | None = Field(
        None, ge=0, description="how far a frame may be off its time, in milliseconds"
    )

    @model_validator(mode="after")
    def _check(self) -> Self:
        if self.jitter_ms is not None and self.jitter_ms > self.period_ms / 2:
            raise bad(
                f"{self.jitter_ms:g} ms is more than half of the period",
                remedy=f"use at most {self.period_ms / 2:g}",
                at=["jitter_ms"],
            )
        return self


class ChecksumEntry(FileModel):
    """A known checksum: a signal of whole bytes, calculated over the other bytes of its frame."""

    message: NonEmpty = Field(description="message name in the DBC; * and ? are wildcards")
    signal: NonEmpty = Field(
        description="signal that holds the checksum, whole bytes, 8 or 16 bits; * and ? are wildcards"
    )
    network: NonEmpty | None = Field(None, description="its network, if several have such a message")
    kind: Literal["crc", "sum", "xor"] = Field(description="kind of checksum: crc, sum or xor")
    polynomial: int | None = Field(
        None, gt=0, description="polynomial of a crc without its highest term, such as 0x1D"
    )
    start: int = Field(0, ge=0, description="start value of a crc")
    final: int = Field(0, ge=0, description="value xored with a crc at the end")
    reflected: bool = Field(False, description="whether a crc takes the least significant bit first")
    before: HexText | None = Field(None, description="bytes included before those of the frame, in hex")
    after: HexText | None = Field(None, description="bytes included after those of the frame, in hex")

    @model_validator(mode="after")
    def _check(self) -> Self:
        if (self.kind == "crc") != (self.polynomial is not None):
            if self.kind == "crc":
                raise bad("a crc needs a polynomial", remedy="give it", at=["polynomial"])
            raise bad(f"{self.kind} takes no polynomial", remedy="leave it out", at=["polynomial"])
        return self


class Fault(FileModel):
    """Something that goes wrong from one time to another."""

    kind: FaultKind = Field(description="kind of fault")
    message: NonEmpty | None = Field(
        None, description="message that it affects; every kind but asleep needs it"
    )
    network: NonEmpty | None = Field(
        None, description="its network, if several have such a message; for asleep, all networks if left out"
    )
    signal: NonEmpty | None = Field(None, description="signal that is stuck; all signals if left out")
    from_: float = Field(alias="from", ge=0, le=LONGEST, description="start in seconds")
    to: float = Field(gt=0, le=LONGEST, description="end in seconds")
    share: float | None = Field(
        None,
        gt=0,
        le=1,
        description="share of the frames affected; default 0.05 of lost, 0.2 of late frames, else all",
    )
    length: int | None = Field(
        None,
        ge=0,
        le=64,
        description="for wrong-length: payload bytes that are left; by default too few for any role's signal",
    )
    delay_ms: float | None = Field(
        None,
        gt=0,
        le=1000 * LONGEST,
        description="for late-frames: how late, in milliseconds; default five periods",
    )

    @model_validator(mode="after")
    def _check(self) -> Self:
        if self.from_ >= self.to:
            raise bad(
                f"the fault ends at {self.to:g} s, not after its start at {self.from_:g} s",
                remedy="from must be before to, both in seconds from the start",
                at=["to"],
            )
        if self.message is None and self.kind != "asleep":
            raise bad(f"a {self.kind} fault needs a message", remedy="give the message", at=["message"])
        return self


def _ascii(table: Mapping[int, str]) -> Mapping[int, str]:
    for did, text in table.items():
        if did > 0xFFFF or not text.isascii():
            what = "is no data identifier" if did > 0xFFFF else f"'{text}' has other characters than ASCII"
            raise bad(what, remedy="such as 0xF187 = 'SK24-GAT-B'", at=[f"0x{did:X}"])
    return table


ResponseCode = Annotated[int, Field(ge=0, le=0xFF)]


class ModuleEntry(FileModel):
    """A module that answers diagnostic requests on the bus, to test equipment against."""

    module: str = Field(description="module of the vehicle file, with request_id and response_id")
    blocks: NumberTable[HexText] = Field(
        {}, description="coding bytes by data identifier, in hex; zeros if left out"
    )
    identification: Annotated[NumberTable[str], AfterValidator(_ascii)] = Field(
        {}, description="text by data identifier, such as 0xF187"
    )
    faults: Several[FaultText] = Field((), description="fault codes with their status, such as U012187/2F")
    refuse: NumberTable[ResponseCode] = Field(
        {}, description="code of the negative response by data identifier, such as 0x2210 = 0x33"
    )
    pending: int = Field(0, ge=0, le=50, description='"response pending" answers before each answer')
    answer_ms: float = Field(5.0, ge=0, le=60_000, description="milliseconds until an answer begins")
    block_size: int = Field(0, ge=0, le=255, description="frames that its flow control lets go; 0 is all")
    gap_ms: int = Field(0, ge=0, le=127, description="time between frames that its flow control asks for")
    waits: int = Field(0, ge=0, le=50, description='how often its flow control says "wait" first')


class Script(FileModel):
    """What a simulated vehicle does."""

    kind: Literal["script"] = Field(description='the kind of file: "script"')
    format: Literal[1] = Field(description="the version of the file format: 1")
    seconds: float = Field(gt=0, le=LONGEST, description="length of the simulation in seconds")
    seed: int = Field(0, ge=0, description="seed of the random numbers; the same seed gives the same frames")
    set: Several[Setting] = Field((), description="roles at a state or value from a time on")
    fault: Several[Fault] = Field((), description="what goes wrong, and when")
    cycle: Several[CycleEntry] = Field(
        (), description="how often messages are sent, where the DBC does not say or is to be overridden"
    )
    module: Several[ModuleEntry] = Field((), description="modules that answer on the bus")
    checksum: Several[ChecksumEntry] = Field((), description="known checksums, which are kept valid")
