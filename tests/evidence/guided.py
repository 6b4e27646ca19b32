"""A guide driven by hand-made chunks."""

from __future__ import annotations

import can

from netcheck.capture import Capture
from netcheck.capture._wire_lines import columns
from netcheck.database import Message, Signal
from netcheck.evidence import ExerciseStep, Guide, Result
from netcheck.roles import Watch

S = 1_000_000_000
LEVER = Signal("Lever", 0, 4, False, False, False, 1.0, 0.0, None, None, "", {0: "P", 1: "R", 15: "none"})
BRAKE = Signal("Brake", 4, 1, False, False, False, 1.0, 0.0, None, None)
SPEED = Signal("Speed", 8, 8, False, False, False, 1.0, 0.0, 0.0, 200.0, "km/h")
STATUS = Message("Status", 0x123, False, False, False, 2, (), 100.0, (LEVER, BRAKE, SPEED))
REVERSE_WATCH = Watch("reverse-engaged", "comfort", STATUS, LEVER, (1,), (15,))
BRAKE_WATCH = Watch("brake-pedal", "comfort", STATUS, BRAKE, (1,))
SPEED_WATCH = Watch("vehicle-speed", "comfort", STATUS, SPEED)
REVERSE = ExerciseStep("reverse-engaged", "select reverse", "active", "state", False, REVERSE_WATCH)
BRAKE_STEP = ExerciseStep("brake-pedal", "press the brake", "active", "state", False, BRAKE_WATCH)
MOVE = ExerciseStep("vehicle-speed", "drive", "active", "", False, SPEED_WATCH)
HOLD = ExerciseStep("vehicle-speed", "drive at a steady speed", "active", "range", False, SPEED_WATCH)


class Bench:
    """A guide with a message that comes every 0.1 s; everything in tenths of a second."""

    def __init__(self, *steps: ExerciseStep, quiet: int = 1, timeout: int | None = None) -> None:
        ns = None if timeout is None else timeout * S // 10
        self.guide = Guide(steps, quiet_ns=quiet * S // 10, timeout_ns=ns)
        self.tenth = 0
        self.messages: list[can.Message] = []
        self.lever = self.brake = self.speed = 0
        self.guide.begin(self.now)

    @property
    def now(self) -> int:
        return (1000 * S) + self.tenth * S // 10

    def run(self, tenths: int, **values: int) -> list[Result]:
        """So long with these values; the outcomes that came."""
        vars(self).update(values)
        results = []
        for _ in range(tenths):
            data = bytes([self.lever | self.brake << 4, self.speed])
            message = can.Message(self.now / 1e9, 0x123, is_extended_id=False, data=data)
            self.messages.append(message)
            self.guide.take(columns([message], "can0", "a.log"))
            outcome = self.guide.advance(self.now)
            if outcome is not None:
                results.append(outcome.result)
            self.tenth += 1
        return results

    def capture(self) -> Capture:
        return columns(self.messages, "can0", "a.log")

    def marks(self) -> list[tuple[str, object, float, float]]:
        proposed = self.guide.marks(1000 * S, self.now)
        return [
            (each.mark.role, each.mark.state or each.mark.between, each.mark.from_, each.mark.to)
            for each in proposed
        ]
