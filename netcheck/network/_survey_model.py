"""What a survey says, as frozen values."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import field
from enum import StrEnum
from typing import Final

from netcheck.network._claims import J1939Name
from netcheck.network._identity import IdentityLevel
from netcheck.network._j1939 import J1939
from netcheck.network._recorder import RecorderTraces
from netcheck.network._remark_model import DbcFit, Remark
from netcheck.network._traffic import FrameId
from netcheck.records import dataclass


class ByteKind(StrEnum):
    """What a payload byte does: never changes, holds a counter of +1 a frame, or changes in another way."""

    CONSTANT = "constant"
    COUNTING = "counting"
    CHANGING = "changing"


@dataclass(frozen=True)
class Counter:
    """A rolling counter: +1 a frame, within one byte.

    bit:    its least significant bit, 8·byte + n with n from the least significant of the byte
    modulo: what it counts to before it begins at 0 again: 2 to its width, or 15
    share:  share of its steps that are +1
    """

    bit: int
    width: int
    modulo: int
    share: float
    steps: int


class ChecksumKind(StrEnum):
    """How a checksum byte is worked out; ``sum8-complement``: all bytes together give the constant."""

    CRC_J1850 = "crc8-sae-j1850"
    CRC_2F = "crc8-0x2f"
    SUM = "sum8"
    SUM_COMPLEMENT = "sum8-complement"
    XOR = "xor8"
    PROFILE_1 = "autosar-e2e-profile-1"
    PROFILE_2 = "autosar-e2e-profile-2"


class DataIdMode(StrEnum):
    """Which bytes of the data id go into AUTOSAR profile 1."""

    BOTH = "both"
    ALTERNATING = "alternating"
    LOW = "low"
    NIBBLE = "nibble"


@dataclass(frozen=True)
class ChecksumFinding:
    """A checksum byte that was found and verified.

    constant: what the sender adds to the standard start: 0 for none, often the id or a data id
    share:    share of the frames looked at that pass
    mode:     of profile 1, None for all others
    """

    kind: ChecksumKind
    byte: int
    share: float
    frames: int
    constant: int = 0
    mode: DataIdMode | None = None


class DataIdProblemKind(StrEnum):
    """Why a data id that was given shows nothing."""

    ABSENT = "absent"  # no frame of its id
    FEW_CHANGES = "few-changes"  # of the payload: nothing is proven
    WRONG = "wrong"


@dataclass(frozen=True)
class DataIdProblem:
    """A data id that shows nothing. frames: of its id; share: of these, those that pass at best."""

    kind: DataIdProblemKind
    frame_id: FrameId
    frames: int = 0
    share: float = 0.0


@dataclass(frozen=True)
class Timing:
    """Times between a message's frames while the network is awake, ms; percentiles by nearest rank.

    period:  the median, None with fewer than two frames in an awake period, and where the recorder hides it:
             it lost frames, or stamped in longer batches; exact where a gap keeps coming, else within 0.4 %
    jitter:  1st and 99th percentile
    at_changes: it is sent at changes of its payload, too, and ``period`` is its base period: the gap that it
             is in for most of the time, None where it keeps no such gap
    longest: also from the start of an awake period to the first frame and from the last to its end
    cyclic:  at most one gap in twenty is a pause (longer than three medians and 30 ms), and four of five
             are within half of the others' mean (or 10 ms: recorders stamp in batches); None with fewer
             than five gaps
    """

    period: float | None
    jitter: tuple[float, float] | None
    longest: float
    cyclic: bool | None
    gaps: int
    at_changes: bool = False

    @property
    def has_paused(self) -> bool:
        """Whether it comes by the clock and stayed away: our own rule, over ten periods and a second."""
        return bool(self.period and self.cyclic and self.longest > max(10 * self.period, 1000.0))


NO_TIMING: Final = Timing(period=None, jitter=None, longest=0.0, cyclic=None, gaps=0)  # without a clock


@dataclass(frozen=True)
class SurveyedMessage:
    """One id on one channel.

    name, senders, declared_length, declared_cycle_ms: from the DBC that knows the id, "" or None without
    lengths: payload length -> frames
    kinds:   what each byte does, up to the most common length
    claims:  of a J1939 address claim, the devices that want the address, 16 at most
    """

    frame_id: FrameId
    name: str
    senders: tuple[str, ...]
    declared_length: int | None
    declared_cycle_ms: float | None
    count: int
    fd_count: int
    lengths: Mapping[int, int]
    timing: Timing
    kinds: tuple[ByteKind, ...]
    counter: Counter | None
    checksum: ChecksumFinding | None
    j1939: J1939 | None
    claims: tuple[J1939Name, ...] = ()


@dataclass(frozen=True)
class LoadRates:
    """Bit rates of a network in bit/s; ``data`` is that of the CAN FD data phase, None if unknown."""

    nominal: int
    data: int | None = None


@dataclass(frozen=True)
class Load:
    """Shares of the bit rate. ``mean`` is over the whole span, ``mean_awake`` over the time awake.

    is_bound: frames switched to a faster data phase of unknown rate, so the load is at most this
    """

    mean: float
    mean_awake: float
    peak_100ms: float
    peak_1s: float
    is_bound: bool = False


@dataclass(frozen=True)
class Bits:
    """Bits on the wire, both phases of CAN FD counted alike: in all, and in the busiest stretches.

    The peaks are 0 where the frames have no time stamps.
    """

    total: int
    peak_100ms: int
    peak_1s: int


@dataclass(frozen=True)
class Ranked:
    """How well one network's DBC fits a channel.

    explained: distinct ids it has, with frames mostly at least as long as it says; of ``ids`` on the channel
    messages:  in the DBC; ids of diagnostics count nowhere
    exact:     of the explained ids, those with mostly just the declared length
    timed, on_time: those whose cycle time is stated and known here; of these, those that keep it
    plausible: share of the decoded values inside the DBC's limits, None where it sets none that matter
    covered:   share of the changing bits that belong to a signal, None where nothing changed
    score:     the sum of how well each explained id fits, at most ``explained``
    least:     how many it must explain for the channel to be this network at all
    is_beyond_chance: a DBC of any other vehicle would hardly explain as many
    missing:   how many more of its messages must come, and no other id, until it can be trusted
    """

    network: str
    explained: int
    ids: int
    messages: int
    exact: int
    timed: int
    on_time: int
    plausible: float | None
    covered: float | None
    score: float
    least: int
    is_beyond_chance: bool
    missing: int = 0


@dataclass(frozen=True)
class ChannelSurvey:
    """One channel of a capture.

    network:    as the identification rule has it; None where none clearly is it or none was given
    identity:   how well it is known to be that
    fit:        how that network's DBC fits, None without a network
    rates:      stated by the user, or those of the network in the vehicle file if it is identified; None
                if unknown
    awake_periods: (start, end) of each, seconds from the capture's first frame
    errors:     kind -> error frames that report it; one frame may report several
    load:       None where the bit rate is unknown
    recorder:   what the recorder did to the frames
    unseen:     messages of the network's DBC that never came, by name, as the DBC has them
    has_times:  whether the frames have time stamps; without, all that needs a clock is None, 0 or empty
    """

    channel: str
    frames: int
    seconds: float
    data_frames: int
    fd_frames: int
    remote_frames: int
    error_frames: int
    errors: Mapping[str, int]
    awake_periods: tuple[tuple[float, float], ...]
    network: str | None
    candidates: tuple[Ranked, ...]
    rates: LoadRates | None
    bits: Bits
    load: Load | None
    messages: tuple[SurveyedMessage, ...]
    is_j1939: bool
    recorder: RecorderTraces = field(default_factory=RecorderTraces)
    identity: IdentityLevel = IdentityLevel.NONE
    fit: DbcFit | None = None
    unseen: tuple[str, ...] = ()
    has_times: bool = True
    remarks: tuple[Remark, ...] = ()

    @property
    def awake_seconds(self) -> float:
        """How long it was awake."""
        return sum(max(end - start, 0.0) for start, end in self.awake_periods)


@dataclass(frozen=True)
class Survey:
    """One capture.

    networks: the candidates that were given, () for none; warnings: those of the reader
    has_times: whether its frames have time stamps
    """

    file: str
    frames: int
    seconds: float
    skipped: int
    warnings: tuple[str, ...]
    networks: tuple[str, ...]
    channels: tuple[ChannelSurvey, ...]
    data_id_problems: tuple[DataIdProblem, ...] = ()
    has_times: bool = True
