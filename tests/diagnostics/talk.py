"""Conversations written by hand as candump logs: requests, answers, and what goes wrong with them."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from netcheck.diagnostics import ModuleReading, Readout, read_diagnostics
from netcheck.files import Vehicle

VIN = "1M8GDM9AXKP042788"  # a published example number

VEHICLE = Vehicle.model_validate(
    {
        "kind": "vehicle",
        "format": 1,
        "name": "Skerry 240",
        "model_years": [2017, 2022],
        "network": {"comfort": {"bitrate": 500_000, "dbc": "comfort.dbc"}},
        "module": {
            "gateway": {
                "title": "Gateway",
                "request_id": 0x6A0,
                "response_id": 0x6B0,
                "coding": {
                    "0x2210": {"length": 6, "field": {"camera": {"byte": 3, "bit": 6, "width": 1}}},
                    "0x2211": {"length": 2},
                },
            },
            "column": {
                "title": "Steering column module",
                "request_id": 0x6A3,
                "response_id": 0x6B3,
                "coding": {"0x2230": {"length": 4}},
            },
        },
    }
)
GATEWAY, COLUMN = (0x6A0, 0x6B0), (0x6A3, 0x6B3)
CODING = "4C011F028000"


@dataclass
class Talk:
    """Frames at times in ms, one millisecond apart unless told otherwise."""

    rows: list[tuple[int, str, str, str]] = field(default_factory=list)
    now: int = 0
    channel: str = "can0"

    def frame(self, can_id: int, data: str | bytes, *, after: int = 1) -> Talk:
        self.now += after
        name = f"{can_id:03X}" if can_id <= 0x7FF else f"{can_id:08X}"
        text = data if isinstance(data, str) else data.hex()
        self.rows.append((self.now, self.channel, name, text.replace(" ", "").upper()))
        return self

    def message(self, sender: int, receiver: int, data: str, *, after: int = 1, target: str = "") -> Talk:
        """A message in as many frames as it takes; the receiver answers a long one with flow control."""
        for number, (who, frame) in enumerate(segments(sender, receiver, bytes.fromhex(data), target)):
            self.frame(who, frame, after=after if not number else 1)
        return self

    def ask(self, pair: tuple[int, int], request: str, *answers: str) -> Talk:
        self.message(*pair, request)
        for answer in answers:
            self.message(pair[1], pair[0], answer)
        return self

    def text(self) -> str:
        return "".join(
            f"({1_600_000_000 + ms / 1000:.6f}) {channel} {name}#{data}\n"
            for ms, channel, name, data in self.rows
        )

    def log(self, folder: Path, name: str = "talk.log") -> Path:
        path = folder / name
        path.write_text(self.text())
        return path

    def readout(self, folder: Path, vehicle: Vehicle | None = VEHICLE, **more) -> Readout:
        return read_diagnostics([self.log(folder)], vehicle, **more)

    def module(self, folder: Path, vehicle: Vehicle | None = VEHICLE, **more) -> ModuleReading:
        (module,) = self.readout(folder, vehicle, **more).modules
        return module


def segments(sender: int, receiver: int, data: bytes, target: str = "") -> list[tuple[int, bytes]]:
    head = bytes.fromhex(target)
    room = 7 - len(head)
    if len(data) <= room:
        return [(sender, head + bytes([len(data)]) + data)]
    frames = [(sender, head + bytes([0x10 | len(data) >> 8, len(data) & 0xFF]) + data[: room - 1])]
    frames.append((receiver, head + b"\x30\x00\x00"))
    rest = data[room - 1 :]
    for number, at in enumerate(range(0, len(rest), room), 1):
        frames.append((sender, head + bytes([0x20 | number & 15]) + rest[at : at + room]))
    return frames
