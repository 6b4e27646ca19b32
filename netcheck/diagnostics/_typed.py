"""What equipment exports as text, or a person has typed: a module, an identifier and bytes in hex a line.

Any of these, in any mix:

    gateway; 2210; 4C 01 1F 02 80 00        blanks, tabs or , ; | : = between the three; a head line or not
    gateway DID 0x2210 = 4C011F028000
    [column]                                 or "column:", for the lines that follow
    22 30: 21-00-01-04
    F187 "SK24-COL-A"                        a text in quotes
    faults U012187/2F, P0123                 or "faults none"
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Mapping
from dataclasses import field
from pathlib import Path
from typing import Final

from netcheck.diagnostics._readout_model import (
    BlockRead,
    FaultRead,
    FaultsRead,
    ModuleReading,
    Readout,
    ReadoutFinding,
    ReadoutFindingKind,
    TextRead,
)
from netcheck.diagnostics._services import identification_text, is_identification
from netcheck.errors import InputError
from netcheck.files import Module, Vehicle, When, fault_of
from netcheck.records import dataclass

# A name that no vehicle file has: not the beginning of a line of a capture.
_NAME: Final = re.compile(r"(?!\w*can\d)(?=.*[A-Za-z])[^\[\]#\"]+")
_MOST: Final = 1 << 24  # bytes of a text; a readout of a vehicle has a few kB
_GAP: Final = r"[\s,;|:=]+"
_DID: Final = r"(?:DID\s*)?(?:0x)?([0-9A-Fa-f]{2})\s?([0-9A-Fa-f]{2})h?"
_BYTES: Final = r"((?:(?:0x)?[0-9A-Fa-f]{2}h?[\s,\-.]*)+)"
_QUOTED: Final = r'"([^"]*)"'
_VALUE: Final = re.compile(rf"^{_DID}{_GAP}(?:{_BYTES}|{_QUOTED})$", re.IGNORECASE)
_FAULTS: Final = re.compile(rf"^(?:faults?|dtcs?){_GAP}(.+)$", re.IGNORECASE)
_FAULT: Final = re.compile(r"^([PCBU][0-3][0-9A-F]{3})-?([0-9A-F]{2})?(?:[/ ]([0-9A-F]{2}))?$", re.IGNORECASE)
_SECTION: Final = re.compile(r"^\[([^\]]+)\]$|^([^:=,;|]+):$")
_HEAD: Final = re.compile(r"^(module|unit|control unit|ecu)\b.*\b(did|identifier|id)\b", re.IGNORECASE)


@dataclass
class _Typed:
    blocks: dict[int, bytes] = field(default_factory=dict)
    texts: dict[int, str] = field(default_factory=dict)
    faults: dict[str, FaultRead] | None = None
    findings: list[ReadoutFinding] = field(default_factory=list)


class TypedLines:
    """Goes through the lines of a text. vehicle: names the modules, and says how long their blocks are"""

    def __init__(self, vehicle: Vehicle | None) -> None:
        self._modules: Mapping[str, Module] = vehicle.module if vehicle is not None else {}
        self._names = _names(self._modules)
        self._section: str | None = None
        self.found: dict[str, _Typed] = {}
        self.faulty: list[ReadoutFinding] = []

    def take(self, file: str, number: int, line: str) -> bool:
        """One line; whether it could be read."""
        text = re.split(r"\s#|^#|\s//|^//", line.strip(), maxsplit=1)[0].strip()
        if not text or _HEAD.match(text):
            return True
        section = _SECTION.match(text)
        if section is not None:
            self._section = self._module((section[1] or section[2]).strip())
            return True
        for name, rest in self._splits(text):
            if self._entry(name, rest, file, number):
                return True
        self.faulty.append(ReadoutFinding(ReadoutFindingKind.LINE_NOT_READ, file, line=number))
        return False

    def _splits(self, text: str) -> Iterable[tuple[str, str]]:
        """The line behind each name that it may begin with; the longest name first."""
        if self._section is not None:
            yield self._section, text
        places = list(re.finditer(_GAP, text))[:8]
        for match in reversed(places):
            name = text[: match.start()].strip().strip('"')
            if name.casefold() in self._names:
                yield self._names[name.casefold()], text[match.end() :].strip()
        for match in places:
            name = text[: match.start()].strip().strip('"')
            if _NAME.fullmatch(name) and not re.fullmatch(_DID, name, re.IGNORECASE):
                yield self._module(name), text[match.end() :].strip()

    def _entry(self, name: str, rest: str, file: str, number: int) -> bool:
        faults = _FAULTS.match(rest)
        if faults is not None:
            return self._fault_list(name, faults[1])
        value = _VALUE.match(rest)
        if value is None:
            return False
        did = int(value[1] + value[2], 16)
        quoted = value[4]
        typed = self.found.setdefault(name, _Typed())
        if quoted is not None:
            typed.texts[did] = quoted
            return True
        data = bytes.fromhex("".join(re.findall(r"[0-9A-Fa-f]{2}", re.sub(r"0x|h\b", "", value[3]))))
        module = self._modules.get(name)
        block = module.coding.get(did) if module is not None else None
        if block is not None and len(data) != block.length:
            typed.findings.append(
                ReadoutFinding(
                    ReadoutFindingKind.WRONG_LENGTH,
                    file,
                    line=number,
                    did=did,
                    found=len(data),
                    due=block.length,
                )
            )
        elif block is None and is_identification(did):
            typed.texts[did] = identification_text(did, data)
        else:
            typed.blocks[did] = data
        return True

    def _fault_list(self, name: str, text: str) -> bool:
        codes = [part for part in re.split(r"[,;\s]+(?![0-9A-Fa-f]{2}\b)", text.strip()) if part]
        found = {}
        if text.strip().casefold() not in {"none", "-", "0"}:
            for code in codes:
                match = _FAULT.match(code)
                if match is None:
                    return False
                status = f"/{match[3]}" if match[3] else ""
                fault = fault_of(f"{match[1]}{match[2] or ''}{status}".upper())
                found[fault.code] = FaultRead(fault)
        typed = self.found.setdefault(name, _Typed())
        typed.faults = {**(typed.faults or {}), **found}
        return True

    def _module(self, name: str) -> str:
        return self._names.get(name.casefold(), name)

    def modules(self, when: When) -> tuple[ModuleReading, ...]:
        """Every module; those of the vehicle file first, in its order."""
        place = {name: index for index, name in enumerate(self._modules)}
        return tuple(
            _reading(name, self._modules.get(name), self.found[name], when)
            for name in sorted(self.found, key=lambda name: (place.get(name, len(place)), name))
        )


def read_typed(texts: Iterable[Path], vehicle: Vehicle | None = None, *, when: When = "before") -> Readout:
    """What texts say of the modules; a line that cannot be read is a finding.

    Raises InputError for a file that cannot be read, and for one in which no line can.
    """
    lines, files = TypedLines(vehicle), []
    for path in texts:
        files.append(path.as_posix())
        text = _text_of(path)
        good = sum([lines.take(path.as_posix(), number, line) for number, line in enumerate(text, 1) if line])
        if not good or not lines.found:
            raise InputError(
                path, "has no readout", remedy="write a module, an identifier and bytes in each line"
            )
    return Readout(tuple(files), lines.modules(when), tuple(lines.faulty), when=when)


def is_typed(path: Path) -> bool:
    """Whether a file is such a text: every line of its beginning can be read."""
    if not path.is_file():  # a pipe can be read only once
        return False
    try:
        with path.open("rb") as stream:
            head = stream.read(1 << 14)
    except OSError:
        return False
    if b"\0" in head:
        return False
    rows = head.decode("utf-8", "replace").splitlines()
    rows = rows[:-1] if len(head) == 1 << 14 else rows
    lines = TypedLines(None)
    good = [lines.take("", number, row) for number, row in enumerate(rows) if row.strip()]
    return bool(lines.found) and all(good)


def _text_of(path: Path) -> list[str]:
    try:
        data = path.read_bytes()
    except OSError as error:
        raise InputError(path, f"cannot be read: {error.strerror}", remedy="check the path") from error
    if len(data) > _MOST:
        raise InputError(path, "is too large for a readout as text", remedy="give a capture instead")
    return data.decode("utf-8-sig", "replace").splitlines()


def _names(modules: Mapping[str, Module]) -> dict[str, str]:
    """Names, titles and addresses of the vehicle's modules, as people write them."""
    found: dict[str, str] = {}
    for name, module in modules.items():
        spellings = [name, module.title, module.node or ""]
        for number in (module.request_id, module.response_id):
            if number is not None:
                spellings += [f"{number:X}", f"0x{number:X}", f"{number:03X}h"]
        for spelling in spellings:
            if spelling:
                found.setdefault(spelling.casefold(), name)
    return found


def _reading(name: str, module: Module | None, typed: _Typed, when: When) -> ModuleReading:
    is_late = when == "after"
    faults = None if typed.faults is None else tuple(typed.faults[code] for code in sorted(typed.faults))

    def address(number: int | None) -> tuple[int, bool] | None:
        return None if number is None else (number, number > 0x7FF)

    return ModuleReading(
        name=name,
        channel="",
        request=address(module.request_id) if module is not None else None,
        response=address(module.response_id) if module is not None else None,
        target=None,
        asked=0,
        answered=0,
        identification=tuple(
            TextRead(did, None if is_late else text, text if is_late else None)
            for did, text in sorted(typed.texts.items())
        ),
        blocks=tuple(
            BlockRead(did, None if is_late else data, data if is_late else None)
            for did, data in sorted(typed.blocks.items())
        ),
        faults=FaultsRead(None if is_late else faults, faults if is_late else None),
        findings=tuple(typed.findings),
    )
