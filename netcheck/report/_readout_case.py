"""What a report of a readout is about, and what all its forms need to know of a module."""

from __future__ import annotations

from netcheck.coding import label_of, read_field
from netcheck.diagnostics import ModuleReading, Readout
from netcheck.files import CodingBlock, Module, Vehicle
from netcheck.records import dataclass
from netcheck.words import id_text


@dataclass(frozen=True)
class ReadoutCase:
    """A readout with the vehicle file that named its modules; None without one."""

    readout: Readout
    vehicle: Vehicle | None = None

    def module(self, reading: ModuleReading) -> Module | None:
        """The module of the vehicle file."""
        known = self.vehicle.module if self.vehicle is not None else {}
        return known.get(reading.name or "")

    def block(self, reading: ModuleReading, did: int) -> CodingBlock | None:
        """The coding block of the vehicle file."""
        module = self.module(reading)
        return module.coding.get(did) if module is not None else None

    def key(self, reading: ModuleReading) -> str:
        """Its name, or one made of its address, for a file."""
        if reading.name:
            return reading.name
        address = reading.response or reading.request
        if address is None:
            return "module"
        target = f"_{reading.target:02X}" if reading.target is not None else ""
        return f"module_{id_text(*address)[2:]}{target}"

    def title(self, reading: ModuleReading) -> str:
        """``column (Steering column module), 0x6A3 and 0x6B3``."""
        module = self.module(reading)
        name = reading.name or "unknown module"
        if module is not None and module.title and module.title.lower() != name.lower():
            name = f"{name} ({module.title})"
        ids = [id_text(*address) for address in (reading.request, reading.response) if address is not None]
        target = f", address byte 0x{reading.target:02X}" if reading.target is not None else ""
        where = f", {' and '.join(ids)}" if ids else ""
        return f"{name}{where}{target}" + (f" on {reading.channel}" if reading.channel else "")

    def fields(self, reading: ModuleReading, did: int, data: bytes) -> list[tuple[str, str | int]]:
        """Every known field of a block with its label, or its number."""
        block = self.block(reading, did)
        if block is None or len(data) != block.length:
            return []
        ordered = sorted(block.field.items(), key=lambda item: (item[1].byte, item[1].bit, item[0]))
        return [(name, label_of(field, read_field(field, data))) for name, field in ordered]
