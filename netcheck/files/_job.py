"""The job file: one vehicle on the ramp; and the marks file beside a capture."""

from typing import Annotated, Final, Literal, Self

from pydantic import AfterValidator, ConfigDict, Field, model_validator

from netcheck.files._base import FileModel, NonEmpty, Number, RoleName, Several, bad
from netcheck.files._measured import Measured
from netcheck.files._readout_entry import ReadoutEntry, When
from netcheck.files._vehicle import Fact

VerdictName = Literal["go", "go-with-changes", "unproven", "no-go"]


MOST_ITEMS: Final = 64  # of one job; conflicts between them stand on both
MarkTime = Annotated[float, Field(ge=-1e9, le=1e9)]  # 31 years


class Mark(FileModel):
    """A labelled part of a capture: a role was put into a state from one second to another."""

    model_config = ConfigDict(
        json_schema_extra={"oneOf": [{"required": ["state"]}, {"required": ["between"]}]}
    )

    role: RoleName = Field(description="role that was put into the state")
    state: str | int | None = Field(
        None, description="the state: active, inactive (any value but an active one), a label or a raw value"
    )
    between: Annotated[tuple[Number, Number], Field(strict=False)] | None = Field(
        None, description="lowest and highest physical value, instead of a state"
    )
    from_: MarkTime = Field(alias="from", description="start in seconds from the capture's first frame")
    to: MarkTime = Field(description="end in seconds from the capture's first frame")

    @model_validator(mode="after")
    def _check(self) -> Self:
        if (self.state is None) == (self.between is None):
            found = "neither state nor between is" if self.state is None else "both state and between are"
            raise bad(f"{found} given", remedy="give one of them")
        if self.from_ >= self.to:
            raise bad(
                f"the mark ends at {self.to:g} s, not after its start at {self.from_:g} s",
                remedy="from must be before to, both in seconds from the capture's first frame",
                at=["to"],
            )
        if self.between and self.between[0] > self.between[1]:
            low, high = self.between
            raise bad(f"{low:g} is above {high:g}", remedy="write [low, high]", at=["between"])
        return self


class MarksFile(FileModel):
    """``NAME.marks.toml`` beside ``NAME.log``."""

    kind: Literal["marks"] = Field(description='the kind of file: "marks"')
    format: Literal[1] = Field(description="the version of the file format: 1")
    mark: Several[Mark] = Field((), description="labelled parts of the capture")


class Wire(FileModel):
    """A signal that an item gets by a wire of its own instead of from the network."""

    role: RoleName = Field(description="role of the signal, such as reverse-engaged")
    from_: NonEmpty = Field(alias="from", description="place where the wire is joined")
    expect: str = Field("", description="what the meter should read there, in words")
    fuse: str = Field("", description="fuse that the wire hangs on, with its rating")


class Item(FileModel):
    """A part to fit and where it is wired."""

    retrofit: NonEmpty = Field(description="name of a shipped retrofit, or path of a retrofit file")
    network: str | None = Field(None, description="network that the part is wired to")
    wire: Several[Wire] = Field((), description="signals that the part gets by a wire of its own")

    @model_validator(mode="after")
    def _check(self) -> Self:
        wired: dict[str, int] = {}
        for index, wire in enumerate(self.wire):
            first = wired.setdefault(wire.role, index)
            if first != index:
                raise bad(
                    f"'{wire.role}' has a wire already, wire[{first}]",
                    remedy="keep the wire that serves it",
                    at=["wire", index, "role"],
                )
        return self


def _vin(text: str) -> str:
    if len(text) != 17:
        raise bad(f"it has {len(text)} characters", remedy="a VIN has 17 characters (ISO 3779)")
    wrong = next((sign for sign in text if sign not in "0123456789ABCDEFGHJKLMNPRSTUVWXYZ"), None)
    if wrong is not None:
        raise bad(
            f"'{wrong}' is not a character of a VIN",
            remedy="use digits and capital letters without I, O and Q (ISO 3779)",
        )
    return text


class VehicleIdentity(FileModel):
    """Which vehicle this is and whose work, for the head of every page."""

    vin: (
        Annotated[
            str,
            AfterValidator(_vin),
            Field(json_schema_extra={"pattern": "^[0-9A-HJ-NPR-Z]{17}$"}),
        ]
        | None
    ) = Field(None, description="vehicle identification number (ISO 3779), 17 characters")
    registration: str = Field("", description="registration plate")
    odometer_km: int | None = Field(None, ge=0, description="odometer reading in km")
    reference: str = Field("", description="the workshop's own number of the job")
    technician: str = Field("", description="who does the work")


def _few(items: tuple[Item, ...]) -> tuple[Item, ...]:
    if len(items) > MOST_ITEMS:
        what = f"{len(items)} parts are more than a plan can compare"
        raise bad(what, remedy=f"at most {MOST_ITEMS}; split them into several jobs")
    return items


class CaptureEntry(FileModel):
    """A capture of this vehicle."""

    file: NonEmpty = Field(description="path of the capture, relative to this file")
    when: When = Field("before", description="whether it was recorded before or after the fitting")
    channels: dict[str, str] = Field(
        {}, description="network of each channel; identified by its traffic if left out"
    )
    mark: Several[Mark] = Field((), description="labelled parts of the capture")


class Job(FileModel):
    """One vehicle on the ramp."""

    kind: Literal["job"] = Field(description='the kind of file: "job"')
    format: Literal[1] = Field(description="the version of the file format: 1")
    vehicle: NonEmpty = Field(description="path of the vehicle file, relative to this file")
    model_year: int = Field(description="model year of the vehicle on the ramp")
    identity: VehicleIdentity = Field(VehicleIdentity(), description="which vehicle this is, and whose work")
    facts: dict[str, Fact] = Field({}, description="facts of this vehicle, which override the vehicle file's")
    item: Annotated[Several[Item], Field(min_length=1), AfterValidator(_few)] = Field(
        description=f"parts to fit, at most {MOST_ITEMS}"
    )
    capture: Several[CaptureEntry] = Field((), description="captures of this vehicle")
    readout: Several[ReadoutEntry] = Field((), description="what was read from the vehicle's modules")
    expect: VerdictName | None = Field(
        None, description="verdict that the job must have when pytest runs this file as a test"
    )
    measured: Measured | None = Field(None, description="readings from a pair of wires")
