"""Which editions of a module a coding layout holds for, told by the numbers that the module reports."""

import re
from collections.abc import Iterable, Mapping
from enum import StrEnum
from typing import Annotated, Final, Self

from pydantic import AfterValidator, Field, model_validator

from netcheck.files._base import FileModel, NonEmpty, Several, Years, bad

# Data identifiers of ISO 14229-1 that tell each number.
PART_IDS: Final = (0xF187,)
SOFTWARE_IDS: Final = (0xF188, 0xF189, 0xF194, 0xF195)
HARDWARE_IDS: Final = (0xF191, 0xF192, 0xF193)
_RANGE: Final = ".."


class EditionMatch(StrEnum):
    """Whether a module is of an edition that a layout holds for."""

    MATCHES = "matches"
    OTHER = "other"  # what it reports is of none of the editions
    UNKNOWN = "unknown"  # nobody has read what would tell


def _number(text: str) -> str:
    if _RANGE in text:
        low, _, high = (part.strip() for part in text.partition(_RANGE))
        if not low or len(low) != len(high) or low > high:
            raise bad(
                f"'{text}' is not a range", remedy='write two numbers of equal length, such as "0100..0199"'
            )
    return text


Number = Annotated[NonEmpty, AfterValidator(_number)]
Numbers = Number | Annotated[Several[Number], Field(min_length=1)]


class Edition(FileModel):
    """Numbers and model years of an edition of a module. All that is given must hold."""

    part: Numbers = Field((), description='spare part number: how it begins, or a range such as "0100..0199"')
    software: Numbers = Field((), description="software number or version: how it begins, or a range")
    hardware: Numbers = Field((), description="hardware number or version: how it begins, or a range")
    years: Years | None = Field(None, description="first and last model year of this edition")

    @model_validator(mode="after")
    def _check(self) -> Self:
        if not (self.part or self.software or self.hardware or self.years):
            raise bad("tells nothing", remedy="give part, software, hardware or years")
        return self

    @property
    def numbers(self) -> tuple[tuple[str, ...], tuple[str, ...], tuple[str, ...]]:
        """Part, software and hardware numbers; () where it gives none."""
        return _several(self.part), _several(self.software), _several(self.hardware)

    def match(self, identification: Mapping[int, str], year: int) -> EditionMatch:
        """Whether a module that reports this, on a vehicle of this model year, is of the edition."""
        if self.years is not None and not self.years[0] <= year <= self.years[1]:
            return EditionMatch.OTHER
        found = {
            _told(wanted, [identification[did] for did in dids if did in identification])
            for wanted, dids in zip(self.numbers, (PART_IDS, SOFTWARE_IDS, HARDWARE_IDS), strict=True)
            if wanted
        }
        for worst in (EditionMatch.OTHER, EditionMatch.UNKNOWN):
            if worst in found:
                return worst
        return EditionMatch.MATCHES


def edition_of(editions: Iterable[Edition], identification: Mapping[int, str], year: int) -> EditionMatch:
    """Whether a module is of one of the editions; MATCHES where there are none to tell apart."""
    found = [edition.match(identification, year) for edition in editions]
    if not found or EditionMatch.MATCHES in found:
        return EditionMatch.MATCHES
    return EditionMatch.UNKNOWN if EditionMatch.UNKNOWN in found else EditionMatch.OTHER


def _several(numbers: str | tuple[str, ...]) -> tuple[str, ...]:
    return (numbers,) if isinstance(numbers, str) else numbers


def _told(wanted: Iterable[str], reported: Iterable[str]) -> EditionMatch:
    numbers = [_plain(number) for number in reported]
    if not numbers:
        return EditionMatch.UNKNOWN
    held = any(_holds(text, number) for text in wanted for number in numbers)
    return EditionMatch.MATCHES if held else EditionMatch.OTHER


def _holds(wanted: str, number: str) -> bool:
    low, dots, high = (_plain(part) for part in wanted.partition(_RANGE))
    if not dots:
        return number.startswith(low)
    return low <= number[: len(low)] <= high


def _plain(number: str) -> str:
    """Blanks and capital letters do not tell editions apart."""
    return re.sub(r"\s", "", number).upper()
