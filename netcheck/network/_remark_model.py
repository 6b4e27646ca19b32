"""What a survey points out about a channel: a kind, and the facts that its sentence needs."""

from __future__ import annotations

from collections.abc import Mapping
from enum import StrEnum

from netcheck.network._identity import less_than_two_thirds
from netcheck.network._traffic import FrameId
from netcheck.records import dataclass


class RemarkKind(StrEnum):
    """What a survey points out about a channel."""

    ONLY_ERRORS = "only-errors"
    FRAMES_LOST = "frames-lost"
    ERRORS = "errors"
    NEARLY_SILENT = "nearly-silent"
    TWO_NETWORKS = "two-networks"
    NO_NETWORK = "no-network"
    NOT_CLEAR = "not-clear"
    DOUBTFUL = "doubtful"
    DIAGNOSTICS_ONLY = "diagnostics-only"
    OTHER_EDITION = "other-edition"
    NO_TIMES = "no-times"
    RATE_IMPOSSIBLE = "rate-impossible"
    OVERLOAD = "overload"
    TOO_SHORT = "too-short"
    LATE = "late"
    PAUSED = "paused"
    COUNTER_JUMPS = "counter-jumps"
    CHECK_FAILS = "check-fails"
    ADDRESS_CONFLICT = "address-conflict"
    IDS_BEYOND = "ids-beyond"
    FRAMES_MISSING = "frames-missing"
    RECORDER_STALLED = "recorder-stalled"
    BUS_STOPPED = "bus-stopped"
    STAMPS_BATCHED = "stamps-batched"


@dataclass(frozen=True)
class NamedFrame:
    """A message as a remark names it. name: in the DBC, "" for an id that no DBC explains."""

    frame_id: FrameId
    name: str

    def __str__(self) -> str:
        return self.name or str(self.frame_id)


@dataclass(frozen=True)
class NetworkFit:
    """Of a channel's distinct ids, those that a network's DBC explains."""

    network: str
    explained: int
    ids: int


@dataclass(frozen=True)
class DbcFit:
    """How the DBC of a network fits the traffic of a channel. Ids of diagnostics count nowhere.

    explained: distinct ids that it has, with frames mostly at least as long as it says; of ``ids``
    messages:  in the DBC
    exact:     of the explained ids, those with mostly just the length that it says
    outside:   share of the decoded values outside its limits, None where it sets none that matter
    uncovered: share of the moving bits that no signal has, None where nothing moved
    better:    of the other DBCs given, those that fit better, best first
    """

    network: str
    explained: int
    ids: int
    messages: int
    exact: int
    outside: float | None
    uncovered: float | None
    better: tuple[NetworkFit, ...] = ()

    @property
    def is_partial(self) -> bool:
        """Whether it explains less than two thirds of the ids."""
        return less_than_two_thirds(self.explained, self.ids)


@dataclass(frozen=True)
class Remark:
    """Something a person should know about a channel; subclasses add the facts."""

    kind: RemarkKind


@dataclass(frozen=True)
class ErrorFrames(Remark):
    """ONLY_ERRORS, ERRORS.

    frames: all frames, error frames too
    kinds:  kind -> error frames that report it
    is_unacknowledged: they report that nobody acknowledges, and nothing that a wrong bit rate would cause
    """

    errors: int
    frames: int
    kinds: Mapping[str, int]
    is_unacknowledged: bool


@dataclass(frozen=True)
class LostByRecorder(Remark):
    """FRAMES_LOST. times: error frames in which the interface reports an overrun of its receive buffer."""

    times: int


@dataclass(frozen=True)
class FewFrames(Remark):
    """NEARLY_SILENT. is_short: the recording is too short to call the network asleep."""

    frames: int
    remote_frames: int
    seconds: float
    is_short: bool


@dataclass(frozen=True)
class MixedNetworks(Remark):
    """TWO_NETWORKS."""

    first: NetworkFit
    second: NetworkFit


@dataclass(frozen=True)
class NoNetwork(Remark):
    """NO_NETWORK. networks: all candidates, the one that explains the most ids first; best: that one."""

    networks: tuple[str, ...]
    best: NetworkFit


@dataclass(frozen=True)
class NotClear(Remark):
    """NOT_CLEAR.

    rivals:        other networks that explain nearly as many ids, or more
    is_better_fit: lengths, times and values fit ``best`` better than each rival
    more_may_help: some of these DBCs have ids of their own that did not come yet, and the recording is short
    """

    best: NetworkFit
    rivals: tuple[str, ...]
    is_better_fit: bool
    more_may_help: bool


@dataclass(frozen=True)
class DoubtfulNetwork(Remark):
    """DOUBTFUL.

    messages:     how many the DBC has
    may_be_chance: random ids would match as often; else too few of the ids and too few of the messages match
    better:       of the other DBCs given, those that fit better, best first
    missing:      how many more of its messages must come at least
    """

    fit: NetworkFit
    messages: int
    may_be_chance: bool = True
    better: tuple[NetworkFit, ...] = ()
    missing: int = 1


@dataclass(frozen=True)
class DiagnosticsOnly(Remark):
    """DIAGNOSTICS_ONLY. ids: all of them the vehicle file's diagnostic addresses, or the standard's."""

    ids: int


@dataclass(frozen=True)
class OtherEdition(Remark):
    """OTHER_EDITION: the DBC explains less than two thirds of the ids."""

    fit: DbcFit


@dataclass(frozen=True)
class SameTimes(Remark):
    """NO_TIMES. frames: all of one time stamp. is_stamped: they have one at all."""

    frames: int
    is_stamped: bool = True


@dataclass(frozen=True)
class BusLoad(Remark):
    """RATE_IMPOSSIBLE, OVERLOAD. share: of the bit rate (bit/s) in the busiest second."""

    share: float
    bitrate: int


@dataclass(frozen=True)
class MessagesRemark(Remark):
    """TOO_SHORT, LATE, COUNTER_JUMPS, CHECK_FAILS: the messages it is about."""

    messages: tuple[NamedFrame, ...]


@dataclass(frozen=True)
class PausedMessages(MessagesRemark):
    """PAUSED. longest_s: the longest time that one of them stayed away."""

    longest_s: float


@dataclass(frozen=True)
class AddressConflict(Remark):
    """ADDRESS_CONFLICT. devices: their J1939 NAMEs as hex numbers, the smallest first."""

    address: int
    devices: tuple[str, ...]


@dataclass(frozen=True)
class IdsBeyond(Remark):
    """IDS_BEYOND. most: ids looked at one by one; frames: of further ids, only counted."""

    most: int
    frames: int


@dataclass(frozen=True)
class FramesMissing(MessagesRemark):
    """FRAMES_MISSING: counters skip as many frames as the time between two frames has room for.

    missing:   frames of these messages that the counters say are missing
    moments:   times at which several counters skipped at once; 0 where each skipped for itself
    share:     of the frames that these messages sent, those that are missing
    is_shared: frames of most messages with a counter are missing, so the recorder lost them
    complete:  other messages with a counter, of which at most a few frames are missing
    """

    missing: int
    moments: int
    share: float
    is_shared: bool
    complete: int


@dataclass(frozen=True)
class Stalled(Remark):
    """RECORDER_STALLED, BUS_STOPPED: cyclic messages stayed away all together.

    times:      how often
    longest_ms: the longest time without a frame of any id
    is_late:    the frames came later, in a burst; else counters say that frames are missing, or that none are
    counters:   messages with a counter that came before and after; with none, nothing tells the cause
    """

    times: int
    longest_ms: float
    is_late: bool
    counters: int


@dataclass(frozen=True)
class BatchedStamps(Remark):
    """STAMPS_BATCHED. share: of the frames, those stamped less than a frame's time after the one before.

    batch_ms: the mean time from one batch to the next
    """

    share: float
    batch_ms: float
