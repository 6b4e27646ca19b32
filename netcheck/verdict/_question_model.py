"""Questions of an item: one frozen record for each thing that nobody has stated and that decides.

What each says in words stands in ``netcheck.report``; a test there holds that none is without.
"""

from __future__ import annotations

from enum import StrEnum
from typing import ClassVar

from netcheck.files import Fact
from netcheck.records import dataclass


class QuestionKind(StrEnum):
    """What nobody has stated; stable codes."""

    FACT = "fact"
    USED_BY = "used-by"
    GATEWAY = "gateway"
    SUPPLY_ID = "supply-id"
    RESOURCE = "resource"
    EDITION = "edition"


@dataclass(frozen=True)
class Question:
    """Something that nobody has stated and the verdict needs. Each is one of the records below."""

    kind: ClassVar[QuestionKind]

    @property
    def subject(self) -> str:
        """What it is about: a fact, a role, a module, a resource."""
        raise NotImplementedError


@dataclass(frozen=True)
class FactUnknown(Question):
    """A fact that the part must match and the vehicle file does not state."""

    kind = QuestionKind.FACT

    fact: str
    any_of: tuple[Fact, ...]
    why: str = ""

    @property
    def subject(self) -> str:
        """The fact's name."""
        return self.fact


@dataclass(frozen=True)
class UserAbsent(Question):
    """The module that uses a signal is not on this model year: the need was judged on the item's network."""

    kind = QuestionKind.USED_BY

    module: str
    role: str
    modules: tuple[str, ...] = ()

    @property
    def subject(self) -> str:
        """The module's name."""
        return self.module


@dataclass(frozen=True)
class PassedOn(Question):
    """A role is replaced and supplied again on another network only: does a gateway pass it on?

    networks: where it is supplied; supplier: by which item
    """

    kind = QuestionKind.GATEWAY

    role: str
    network: str
    networks: tuple[str, ...]
    supplier: str

    @property
    def subject(self) -> str:
        """The role."""
        return self.role


@dataclass(frozen=True)
class SupplyIdUnknown(Question):
    """A part supplies a role that another needs, without saying with which id."""

    kind = QuestionKind.SUPPLY_ID

    role: str
    supplier: str
    user: str

    @property
    def subject(self) -> str:
        """The role."""
        return self.role


@dataclass(frozen=True)
class ResourceUnknown(Question):
    """No part of the job gives a resource, and no fact states whether the vehicle has it."""

    kind = QuestionKind.RESOURCE

    resource: str
    count: int
    why: str = ""

    @property
    def subject(self) -> str:
        """The resource."""
        return self.resource


@dataclass(frozen=True)
class KnownEdition:
    """Numbers as the vehicle file has them, and the model years; () and None where it does not say."""

    part: tuple[str, ...]
    software: tuple[str, ...]
    hardware: tuple[str, ...]
    years: tuple[int, int] | None


@dataclass(frozen=True)
class EditionOpen(Question):
    """Whether the vehicle file's layout holds for the module that is fitted.

    is_other: what it reports is of no edition that the file knows; else nobody has read what would tell
    editions: those that the layout holds for
    told:     identifier and number of what was read
    is_coded: the item codes the module; else it sends what the item needs
    """

    kind = QuestionKind.EDITION

    module: str
    is_other: bool
    editions: tuple[KnownEdition, ...]
    told: tuple[tuple[int, str], ...]
    is_coded: bool

    @property
    def subject(self) -> str:
        """The module's name."""
        return self.module
