"""The retrofit file: one kind of retrofit, brand-neutral."""

from typing import Annotated, Final, Literal, Self

from pydantic import ConfigDict, Field, model_validator

from netcheck.files._base import FileModel, NonEmpty, ResourceName, RoleName, Several, bad
from netcheck.files._vehicle import Fact

EvidenceName = Literal["defined", "present", "moves", "answers"]
Phase = Literal["before", "fit", "code", "prove", "handover"]
Where = Literal["standing", "engine", "yard", "road"]
Power = Literal["off", "on", "any"]

# Payload lengths of ISO 11898-1: 0 to 8 bytes, and the eight longer ones of CAN FD.
PAYLOAD_LENGTHS: Final = (*range(9), 12, 16, 20, 24, 32, 48, 64)


class OnlyIf(FileModel):
    """A fact of the vehicle that an entry depends on."""

    fact: NonEmpty = Field(description="name of the fact, such as gearbox")
    any_of: Annotated[Several[Fact], Field(min_length=1)] = Field(
        description="values of the fact for which the entry applies"
    )


Condition = Annotated[
    OnlyIf | None,
    Field(description="fact that the entry depends on, such as gearbox; it always applies if left out"),
]


class Need(FileModel):
    """A signal the new part must receive."""

    role: RoleName = Field(description="role of the signal, such as reverse-engaged")
    evidence: EvidenceName = Field("moves", description="least evidence that counts as shown")
    max_delay_ms: float | None = Field(
        None, gt=0, description="how late a change of the signal may reach the part, in ms"
    )
    max_gap_ms: float | None = Field(
        None,
        gt=0,
        description="how long in ms the part goes without a frame before it takes the signal for lost",
    )
    used_by: NonEmpty | None = Field(
        None, description="module that uses the signal, where it is not the part itself, such as engine"
    )
    optional: bool = Field(False, description="whether the part works without it")
    only_if: Condition = None
    why: str = Field("", description="what the part uses it for")


class Supply(FileModel):
    """What the new part will send."""

    roles: Several[RoleName] = Field((), description="roles that it sends")
    message_id: int | None = Field(
        None, ge=0, le=0x1FFFFFFF, description="identifier of its message; above 0x7FF it is a 29-bit one"
    )
    extended: bool | None = Field(None, description="true for a 29-bit identifier that is not above 0x7FF")
    period_ms: float | None = Field(None, gt=0, description="how often it sends, in ms")
    length: int | None = Field(
        None, description="payload bytes", json_schema_extra={"enum": list(PAYLOAD_LENGTHS)}
    )

    @property
    def is_extended(self) -> bool:
        """Whether the id is a 29-bit one: said so, or too large for 11 bits."""
        return bool(self.extended) or (self.message_id is not None and self.message_id > 0x7FF)

    @property
    def is_timed(self) -> bool:
        """Whether enough is known to tell how much of the wire it takes: id, period and length."""
        return None not in (self.message_id, self.period_ms, self.length)

    @property
    def says_something(self) -> bool:
        """Whether it names a role or an identifier; only then does it matter where the part is wired."""
        return bool(self.roles) or self.message_id is not None

    @model_validator(mode="after")
    def _check(self) -> Self:
        if self.extended is False and self.is_extended:
            raise bad(
                f"0x{self.message_id:X} is above 0x7FF and cannot be an 11-bit identifier",
                remedy="leave out extended, or use an identifier up to 0x7FF",
                at=["message_id"],
            )
        if self.length is not None and self.length not in PAYLOAD_LENGTHS:
            raise bad(
                f"a CAN frame cannot have {self.length} payload bytes",
                remedy="use 0 to 8, or for CAN FD " + ", ".join(map(str, PAYLOAD_LENGTHS[9:])),
                at=["length"],
            )
        return self


class Replace(FileModel):
    """What goes away: the old source of a role, a whole module, or a resource of the vehicle."""

    model_config = ConfigDict(
        json_schema_extra={"oneOf": [{"required": [key]} for key in ("role", "module", "resource")]}
    )

    role: RoleName | None = Field(None, description="role whose old source goes away")
    module: NonEmpty | None = Field(None, description="module that is removed")
    resource: ResourceName | None = Field(
        None, description="resource that the vehicle offers no longer, such as video-in"
    )

    @model_validator(mode="after")
    def _check(self) -> Self:
        given = [key for key in ("role", "module", "resource") if getattr(self, key) is not None]
        if len(given) != 1:
            found = f"both {given[0]} and {given[1]} are" if given else "neither role, module nor resource is"
            raise bad(f"{found} given", remedy="give one of them")
        return self


class Provide(FileModel):
    """What the part offers to other parts: an input, an output, a display, a port, an interlock."""

    resource: ResourceName = Field(description="name of the resource, such as video-in")
    count: int = Field(1, gt=0, description="how many of it the part offers")


class Use(FileModel):
    """What the part takes of another part, or of the vehicle."""

    resource: ResourceName = Field(description="name of the resource, such as video-in")
    count: int = Field(1, gt=0, description="how many of it the part takes")
    optional: bool = Field(False, description="whether the part works without it")
    only_if: Condition = None
    why: str = Field("", description="what the part uses it for")


class Exclude(FileModel):
    """Resources of the part that cannot be used at the same time."""

    resources: Annotated[Several[ResourceName], Field(min_length=2)] = Field(
        description="resources that cannot be used at the same time"
    )
    why: str = Field("", description="why they cannot")


class CautionEntry(FileModel):
    """One danger, told at the step that it guards."""

    danger: NonEmpty = Field(
        description="kind of danger: airbag, battery, high-voltage, motion, jack, tools, heat, distraction, "
        "law, supply or another word"
    )
    phase: Phase = Field(description="phase of the job in which it is told")
    text: NonEmpty = Field(description="what can hurt someone, and how to prevent it")
    only_if: Condition = None


class CustomerWords(FileModel):
    """What the handover page tells the owner and the driver, in plain words."""

    does: NonEmpty = Field(description="what the part does for the driver, in a sentence or two")
    use: Several[NonEmpty] = Field(
        (),
        description="how to use it safely; stands on the handover page in place of the handover's cautions",
    )
    limits: Several[NonEmpty] = Field((), description="what it does not do")


class Match(FileModel):
    """The part against the vehicle's facts."""

    fact: NonEmpty = Field(description="name of the fact, such as wheel.button-link")
    any_of: Annotated[Several[Fact], Field(min_length=1)] = Field(description="values that suit the part")
    why: str = Field("", description="what goes wrong otherwise")


class Require(FileModel):
    """A module that must be on the vehicle."""

    module: NonEmpty = Field(description="name of the module in the vehicle file")
    why: str = Field("", description="what the part needs it for")


class Code(FileModel):
    """A coding field that must have a value in the end."""

    module: NonEmpty = Field(description="module that holds the coding field")
    field: NonEmpty = Field(description="name of the coding field")
    value: str | int = Field(description="label or raw value that the field must have in the end")
    optional: bool = Field(False, description="true where a vehicle without the field is no conflict")
    only_if: Condition = None
    why: str = Field("", description="what the value changes")


class Exercise(FileModel):
    """How a technician shows a role on the vehicle."""

    role: RoleName = Field(description="role that the exercise moves")
    do: NonEmpty = Field(description="what to do, so that a technician can follow it alone")
    state: str | int = Field(
        "active", description="state that it produces: active, inactive, a label or a raw value"
    )
    where: Where = Field(
        "standing", description="what it takes: vehicle standing, engine running, yard, or road"
    )
    only_if: Condition = None


class ReactionLimit(FileModel):
    """How fast a role that the part needs or supplies follows another one, such as the picture reverse."""

    role: RoleName = Field(description="role that reacts, such as camera.active; a need or a supplied role")
    cause: RoleName = Field(description="role that it follows, such as reverse-engaged")
    on_within_ms: float | None = Field(
        None, gt=0, description="how late it may become active after the cause did, in ms"
    )
    off_within_ms: float | None = Field(
        None, gt=0, description="how late it may become inactive after the cause did, in ms"
    )
    why: str = Field("", description="what goes wrong otherwise")

    @model_validator(mode="after")
    def _check(self) -> Self:
        if self.on_within_ms is None and self.off_within_ms is None:
            raise bad(
                "neither on_within_ms nor off_within_ms is given",
                remedy="say how late it may be, in ms, or leave the entry out",
            )
        if self.role == self.cause:
            raise bad(
                f"'{self.role}' cannot follow itself", remedy="name the role that it follows", at=["cause"]
            )
        return self


class HandWork(FileModel):
    """Hand work for the checklist."""

    phase: Phase = Field(description="phase of the job: before, fit, code, prove or handover")
    text: NonEmpty = Field(description="what to do")
    where: Where = Field(
        "standing",
        description="what it takes, prove only: vehicle standing, engine running, yard, or road",
    )
    power: Power = Field(
        "any", description="whether the vehicle's supplies are off or on for it, fit only; any for either"
    )
    only_if: Condition = None

    @model_validator(mode="after")
    def _check(self) -> Self:
        for key, phase in (("where", "prove"), ("power", "fit")):
            if key in self.model_fields_set and self.phase != phase:
                raise bad(
                    f"a step of phase {self.phase} has no {key}",
                    remedy=f"leave it out, or write phase = {phase!r}".replace("'", '"'),
                    at=[key],
                )
        return self


MOST_ENTRIES: Final = 500  # of each kind, in one retrofit


class Retrofit(FileModel):
    """One kind of retrofit: what it needs, supplies, replaces and codes."""

    kind: Literal["retrofit"] = Field(description='the kind of file: "retrofit"')
    format: Literal[1] = Field(description="the version of the file format: 1")
    name: NonEmpty = Field(description="short name of the retrofit")
    title: str = Field("", description="title of the retrofit")
    cautions: Several[NonEmpty] = Field((), description="what can hurt someone, and how to prevent it")
    caution: Several[CautionEntry] = Field((), description="dangers, each told at the step that it guards")
    need: Several[Need] = Field((), description="signals the new part must receive")
    supply: Several[Supply] = Field((), description="what the new part will send")
    replace: Several[Replace] = Field((), description="what goes away")
    match: Several[Match] = Field((), description="facts of the vehicle that the part must match")
    require: Several[Require] = Field((), description="modules that must be on the vehicle")
    code: Several[Code] = Field((), description="coding fields that must have a value in the end")
    exercise: Several[Exercise] = Field((), description="how a technician shows the roles on the vehicle")
    reaction: Several[ReactionLimit] = Field((), description="how fast a role follows another one")
    step: Several[HandWork] = Field((), description="hand work for the checklist")
    provide: Several[Provide] = Field((), description="resources that the part offers to other parts")
    use: Several[Use] = Field((), description="resources that the part takes of another part or the vehicle")
    exclude: Several[Exclude] = Field((), description="resources that cannot be used at the same time")
    customer: CustomerWords | None = Field(
        None, description="what the handover page tells the owner and the driver"
    )

    @property
    def supplies(self) -> bool:
        """Whether the new part sends anything, so that it matters where it is wired."""
        return any(supply.says_something for supply in self.supply)

    @model_validator(mode="after")
    def _check_sizes(self) -> Self:
        for name in type(self).model_fields:
            entries = getattr(self, name)
            if isinstance(entries, tuple) and len(entries) > MOST_ENTRIES:
                what = f"{len(entries)} entries are more than one part can have"
                raise bad(what, remedy=f"at most {MOST_ENTRIES}", at=[name])
        return self

    @model_validator(mode="after")
    def _check(self) -> Self:
        needed: dict[str, int] = {}
        for index, need in enumerate(self.need):
            if need.role in needed:
                raise bad(
                    f"need[{needed[need.role]}] is for '{need.role}' already",
                    remedy="combine the two entries",
                    at=["need", index, "role"],
                )
            needed[need.role] = index
        coded: dict[tuple[str, str], int] = {}
        for index, code in enumerate(self.code):
            first = coded.setdefault((code.module, code.field), index)
            if self.code[first].value != code.value:
                raise bad(
                    f"code[{first}] sets {code.module}.{code.field} to '{self.code[first].value}'",
                    remedy="a field can have only one value",
                    at=["code", index, "value"],
                )
        known = {*needed, *(role for supply in self.supply for role in supply.roles)}
        for index, reaction in enumerate(self.reaction):
            if reaction.role not in known:
                raise bad(
                    f"the part neither needs nor supplies '{reaction.role}'",
                    remedy="add a need (optional = true if the part works without it) or a supply with it",
                    at=["reaction", index, "role"],
                )
        return self
