"""What can be different after a fitting: frozen values, without a sentence."""

from __future__ import annotations

from dataclasses import field
from enum import StrEnum
from typing import ClassVar

from netcheck.network import FrameId
from netcheck.records import dataclass


class ChangeKind(StrEnum):
    """What can be different after a fitting; stable codes."""

    OTHER_VEHICLE = "other-vehicle"
    MESSAGE_GONE = "message-gone"
    MESSAGE_NEW = "message-new"
    LENGTH_CHANGED = "length-changed"
    PERIOD_CHANGED = "period-changed"
    COUNTER_FAILING = "counter-failing"
    CHECKSUM_FAILING = "checksum-failing"
    LOAD_HIGHER = "load-higher"
    ERROR_FRAMES = "error-frames"
    FAULT_NEW = "fault-new"
    MODULE_SILENT = "module-silent"
    SLEEP_LATER = "sleep-later"
    CODING_CHANGED = "coding-changed"
    SIGNAL_STUCK = "signal-stuck"


@dataclass(frozen=True)
class ProvenMessage:
    """A message on a network; name: by its DBC, "" where that does not know it."""

    network: str
    frame_id: FrameId
    name: str = ""


@dataclass(frozen=True)
class VehicleState:
    """What the vehicle did during a part of a capture; None where the captures do not tell.

    is_moving: the road speed is not zero
    """

    terminal_15: bool | None = None
    engine: bool | None = None
    is_moving: bool | None = None

    def is_like(self, other: VehicleState, *, with_moving: bool = False) -> bool:
        """Whether nothing that both tell is different."""
        pairs = [(self.terminal_15, other.terminal_15), (self.engine, other.engine)]
        if with_moving:
            pairs.append((self.is_moving, other.is_moving))
        return all(None in pair or pair[0] == pair[1] for pair in pairs)


@dataclass(frozen=True)
class VehicleChange:
    """Something that is different after the fitting. is_planned: the job says that it should be."""

    kind: ClassVar[ChangeKind]
    is_planned: bool = field(default=False, kw_only=True)


@dataclass(frozen=True)
class MessageChange(VehicleChange):
    """Something about one message."""

    message: ProvenMessage


@dataclass(frozen=True)
class OtherVehicle(VehicleChange):
    """The captures from after the fitting are of another vehicle.

    vins: vehicle numbers before and after, where both were seen
    names: J1939 device numbers that one side has and the other has not, before and after
    common, gone, new, resized: cyclic messages by their ids and lengths
    """

    kind = ChangeKind.OTHER_VEHICLE
    vins: tuple[str, str] | None = None
    names: tuple[int, int] = (0, 0)
    common: int = 0
    gone: int = 0
    new: int = 0
    resized: int = 0


@dataclass(frozen=True)
class MessageGone(MessageChange):
    """A cyclic message that does not come any more. awake_s: how long it was waited for."""

    kind = ChangeKind.MESSAGE_GONE
    period_ms: float
    awake_s: float
    senders: tuple[str, ...] = ()


@dataclass(frozen=True)
class MessageNew(MessageChange):
    """A cyclic message that did not come before."""

    kind = ChangeKind.MESSAGE_NEW
    period_ms: float
    count: int


@dataclass(frozen=True)
class LengthChanged(MessageChange):
    """Payload lengths that were not there before. before, after: length -> frames, as pairs."""

    kind = ChangeKind.LENGTH_CHANGED
    before: tuple[tuple[int, int], ...]
    after: tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class PeriodChanged(MessageChange):
    """It comes faster or slower than the times between its frames varied before.

    before, after: median gap in ms; jitter_ms: 1st and 99th percentile before
    mean_ms: mean gap after, which says that frames are missing where the median does not
    """

    kind = ChangeKind.PERIOD_CHANGED
    before_ms: float
    jitter_ms: tuple[float, float]
    after_ms: float
    mean_ms: float


@dataclass(frozen=True)
class CounterFailing(MessageChange):
    """A rolling counter that went up by one each frame and does not any more. wrong, standing: of steps."""

    kind = ChangeKind.COUNTER_FAILING
    bit: int
    width: int
    steps: int
    wrong: int
    standing: int


@dataclass(frozen=True)
class ChecksumFailing(MessageChange):
    """A checksum that fitted and does not any more. wrong: of frames."""

    kind = ChangeKind.CHECKSUM_FAILING
    byte: int
    frames: int
    wrong: int


@dataclass(frozen=True)
class SignalStuck(MessageChange):
    """A signal that moved before and stands still now, or that did not take a state that was marked.

    windows: stretches of ten seconds in which it moved before; held: the value it has now
    marks:   marks of the role after the fitting, none of which it followed
    """

    kind = ChangeKind.SIGNAL_STUCK
    signal: str
    windows: int = 0
    seconds: float = 0.0
    held: float | None = None
    role: str | None = None
    marks: int = 0


@dataclass(frozen=True)
class LoadHigher(VehicleChange):
    """The network is fuller than what the job adds explains. Shares of the bit rate in the same state."""

    kind = ChangeKind.LOAD_HIGHER
    network: str
    state: VehicleState
    before: float
    after: float
    planned: float


@dataclass(frozen=True)
class ErrorFramesMore(VehicleChange):
    """Error frames that were not there before. Times awake in seconds."""

    kind = ChangeKind.ERROR_FRAMES
    network: str
    before: int
    before_s: float
    after: int
    after_s: float


@dataclass(frozen=True)
class SleepLater(VehicleChange):
    """The network falls asleep later after terminal 15 went off. after_s: None where it was awake to the end.

    waited_s: how long was recorded after terminal 15 went off
    """

    kind = ChangeKind.SLEEP_LATER
    network: str
    before_s: float
    after_s: float | None
    waited_s: float


@dataclass(frozen=True)
class FaultNew(VehicleChange):
    """A stored fault code that the module did not have before. status: byte of ISO 14229-1, if known."""

    kind = ChangeKind.FAULT_NEW
    module: str
    code: str
    status: int | None = None


@dataclass(frozen=True)
class ModuleSilent(VehicleChange):
    """A module that answered a tester before, and none of the requests after. asked: how many there were."""

    kind = ChangeKind.MODULE_SILENT
    module: str
    asked: int


@dataclass(frozen=True)
class CodingChanged(VehicleChange):
    """Coding that is not as before; values as labels, or numbers where they have none.

    field_name: "" for bits that the vehicle file does not name
    byte, bit, width: where such bits stand: first byte, least significant bit in it, number of bits
    """

    kind = ChangeKind.CODING_CHANGED
    module: str
    did: str
    field_name: str
    before: str | int | None
    after: str | int | None
    byte: int | None = None
    bit: int = 0
    width: int = 0
