"""What a check of one pair of wires comes to: states, reasons and facts. Their words are in ``report/``."""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum

from netcheck.network import DbcFit, IdentityLevel, NetworkFit, Remark
from netcheck.records import dataclass
from netcheck.roles import Lack


class State(StrEnum):
    """Of a finding, and of the pair as a whole."""

    RIGHT = "right"
    WRONG = "wrong"
    UNKNOWN = "unknown"  # cannot tell, or the standard leaves it open
    NOTE = "note"  # worth saying, decides nothing


class TapCaution(StrEnum):
    """What to mind at the vehicle."""

    AIRBAGS = "airbags"
    BATTERY = "battery"
    PROBES = "probes"
    LISTEN_ONLY = "listen-only"
    LOCAL_RULES = "local-rules"


class FindingKind(StrEnum):
    """What a finding is about."""

    NETWORK = "network"
    FIT = "fit"
    BIT_RATE = "bit-rate"
    ERRORS = "errors"
    ONLY_ERRORS = "only-errors"
    FRAMES_LOST = "frames-lost"
    FRAMES_MISSING = "frames-missing"
    RECORDER_STALLED = "recorder-stalled"
    BUS_STOPPED = "bus-stopped"
    TWO_NETWORKS = "two-networks"
    NEARLY_SILENT = "nearly-silent"
    OVERLOAD = "overload"
    SILENCE = "silence"


class FindingReason(StrEnum):
    """What was found about the pair's traffic."""

    SILENT = "silent"
    NOT_LISTENED = "not-listened"
    RIGHT_NETWORK = "right-network"
    OTHER_NETWORK = "other-network"
    SHARED_IDS = "shared-ids"
    NO_ID_MATCHES = "no-id-matches"
    NOT_CLEAR = "not-clear"
    DOUBTFUL = "doubtful"
    DIAGNOSTICS_ONLY = "diagnostics-only"
    DBC_FITS = "dbc-fits"
    OTHER_EDITION = "other-edition"
    TWO_NETWORKS = "two-networks"
    ONLY_ERRORS = "only-errors"
    NO_FRAME = "no-frame"
    THROUGH_SOFTWARE = "through-software"
    RATE_IMPOSSIBLE = "rate-impossible"
    RATE_DIFFERS = "rate-differs"
    RATE_UNKNOWN = "rate-unknown"
    RATE_OF_FILE = "rate-of-file"
    RATE_CONFIRMED = "rate-confirmed"
    NO_ERROR_FRAMES = "no-error-frames"
    FEW_ERROR_FRAMES = "few-error-frames"
    MANY_ERROR_FRAMES = "many-error-frames"
    FRAMES_LOST = "frames-lost"
    FRAMES_MISSING = "frames-missing"
    RECORDER_STALLED = "recorder-stalled"
    BUS_STOPPED = "bus-stopped"
    NEARLY_SILENT = "nearly-silent"
    OVERLOAD = "overload"


@dataclass(frozen=True)
class Finding:
    """Something about the pair's traffic; subclasses add the facts."""

    kind: FindingKind
    state: State
    reason: FindingReason


@dataclass(frozen=True)
class NetworkFinding(Finding):
    """Which network the pair is.

    wanted:   the item's network, None while the job leaves it open
    seen:     the network that the traffic was taken for, None where none clearly is it
    fits:     how many ids each DBC explains, the one asked for first; none that explains no id beside it
    ids:      distinct ids on the pair
    place:    where the vehicle file says that the wanted network is reached, "" if it does not
    is_short: the recording is so short that a longer one may bring further ids
    """

    wanted: str | None = None
    seen: str | None = None
    fits: tuple[NetworkFit, ...] = ()
    ids: int = 0
    place: str = ""
    is_short: bool = False


@dataclass(frozen=True)
class FitFinding(Finding):
    """How the DBC of the network that the traffic was taken for fits."""

    fit: DbcFit


@dataclass(frozen=True)
class RateFinding(Finding):
    """The bit rate, bit/s. known: in the vehicle file; stated: the recorder's; None if unknown."""

    network: str | None = None
    known: int | None = None
    stated: int | None = None


@dataclass(frozen=True)
class SurveyFinding(Finding):
    """What the survey of the recording points out.

    network, bitrate: of ONLY_ERRORS, the wanted network and its bit rate, None while it is open
    """

    remark: Remark
    network: str | None = None
    bitrate: int | None = None


class RoleReason(StrEnum):
    """What was found of a role."""

    SUPPLIED = "supplied"
    UNDEFINED_ROLE = "undefined-role"
    OTHER_NETWORK = "other-network"
    UNDEFINED_SIGNAL = "undefined-signal"
    DEFINED = "defined"
    LOCKED = "locked"
    MESSAGE_ABSENT = "message-absent"
    SHORT_FRAME = "short-frame"
    NOT_AVAILABLE = "not-available"
    SEEN = "seen"


@dataclass(frozen=True)
class RoleFacts:
    """What a role's sentence needs beside message and signal; subclasses add it."""


@dataclass(frozen=True)
class SuppliedBy(RoleFacts):
    """items: other items of the job that supply the role here."""

    items: tuple[str, ...]


@dataclass(frozen=True)
class OnNetworks(RoleFacts):
    """networks: where the vehicle file has the role."""

    networks: tuple[str, ...]


@dataclass(frozen=True)
class LacksSignal(RoleFacts):
    """lacks: what the network's DBC does not have."""

    network: str
    lacks: Lack


@dataclass(frozen=True)
class LockedBy(RoleFacts):
    """The coding that the message may wait for."""

    module: str
    field: str
    value: int | str


@dataclass(frozen=True)
class Absence(RoleFacts):
    """seconds: how long the network was awake without the message. may_be_unused: it has no cycle time."""

    seconds: float
    may_be_unused: bool = False


@dataclass(frozen=True)
class SignalValue:
    """One value of a signal. label: of the raw value, "" without one; value: physical."""

    raw: int | float | None
    value: float | None
    label: str
    unit: str


@dataclass(frozen=True)
class LiveValues(RoleFacts):
    """What came. period_ns: the median gap; low, high: the extremes, None where no value was valid."""

    period_ns: int | None
    low: SignalValue | None
    high: SignalValue | None


@dataclass(frozen=True)
class RoleFound:
    """One need of the item on this pair."""

    role: str
    state: State
    optional: bool
    message: str | None
    signal: str | None
    reason: RoleReason
    facts: RoleFacts = RoleFacts()


class ReadingKey(StrEnum):
    """What is measured, as in ``--measured`` and in the job's ``[measured]`` table, battery off first."""

    TERMINATION = "termination"
    HIGH_SHORTED = "high-shorted"
    LOW_SHORTED = "low-shorted"
    HIGH_IDLE = "high-idle"
    LOW_IDLE = "low-idle"
    DIFFERENCE_IDLE = "difference-idle"
    HIGH_BUSY = "high-busy"
    LOW_BUSY = "low-busy"
    HIGH_DOMINANT = "high-dominant"
    LOW_DOMINANT = "low-dominant"
    DIFFERENCE_DOMINANT = "difference-dominant"
    STUB = "stub"


class ReadingReason(StrEnum):
    """What a reading means."""

    TWO_TERMINATORS = "two-terminators"
    PAIR_SHORTED = "pair-shorted"
    TOLERANT_SHORTED = "tolerant-shorted"
    TOO_MUCH_LOAD = "too-much-load"
    THIRD_TERMINATOR = "third-terminator"
    ONE_TERMINATOR = "one-terminator"
    ODD_RESISTANCE = "odd-resistance"
    NO_TERMINATOR = "no-terminator"
    NO_SINGLE_RESISTANCE = "no-single-resistance"
    NOT_SHORTED = "not-shorted"
    SHORTED = "shorted"
    QUIET_LEVEL = "quiet-level"
    NEAR_BATTERY = "near-battery"
    NEAR_ZERO = "near-zero"
    NOT_QUIET = "not-quiet"
    ASLEEP = "asleep"
    LOW_NEAR_BATTERY = "low-near-battery"
    IS_FAULT_TOLERANT = "is-fault-tolerant"
    IS_HIGH_SPEED = "is-high-speed"
    RECESSIVE = "recessive"
    LOW_ABOVE_HIGH = "low-above-high"
    NEARLY_RECESSIVE = "nearly-recessive"
    IDLE_UNDEFINED = "idle-undefined"
    ALWAYS_DOMINANT = "always-dominant"
    BUSY_LEVEL = "busy-level"
    NOT_BUSY_LEVEL = "not-busy-level"
    SWAPPED = "swapped"
    ODD_SUM = "odd-sum"
    MEAN_SAYS_LITTLE = "mean-says-little"
    DRIVER_LEVEL = "driver-level"
    NOT_DRIVER_LEVEL = "not-driver-level"
    DRIVEN = "driven"
    DRIVEN_HIGH = "driven-high"
    DRIVEN_WEAKLY = "driven-weakly"
    DOMINANT_UNDEFINED = "dominant-undefined"
    NOT_DOMINANT = "not-dominant"
    TOLERANT_QUIET = "tolerant-quiet"
    TOLERANT_NOT_QUIET = "tolerant-not-quiet"
    TOLERANT_DOMINANT = "tolerant-dominant"
    TOLERANT_NOT_DOMINANT = "tolerant-not-dominant"
    STUB_SAFE = "stub-safe"
    STUB_LONG = "stub-long"
    STUB_TOO_LONG = "stub-too-long"
    STUB_NO_RULE = "stub-no-rule"
    WIRES_DECIDE = "wires-decide"
    DIFFERS_FROM_WIRES = "differs-from-wires"


@dataclass(frozen=True)
class Assessment:
    """What a reading means; subclasses add the facts."""

    state: State
    reason: ReadingReason


@dataclass(frozen=True)
class AgainstLimits(Assessment):
    """limits: V or Ω that the sentence names, ascending."""

    limits: tuple[float, ...]


@dataclass(frozen=True)
class OfWire(Assessment):
    """wire: "high" or "low"."""

    wire: str


@dataclass(frozen=True)
class ShortTo(Assessment):
    """to: "ground" or "supply"."""

    to: str


@dataclass(frozen=True)
class OtherVolts(Assessment):
    """volts: high and low together, or from high to low by the readings of the two wires."""

    volts: float


@dataclass(frozen=True)
class StubLength(Assessment):
    """Metres: safe by guidance; of a laxer table, None above 1 Mbit/s."""

    safe_m: float
    lax_m: float | None


@dataclass(frozen=True)
class MeterReading:
    """One thing to measure on the pair.

    limits:     least and most that it should be, None for no such limit; None where no number is known
    measured:   in Ω, V or m, or a word as it is typed; None if it was not taken
    assessment: None if it was not taken
    """

    key: ReadingKey
    limits: tuple[float | None, float | None] | None
    measured: float | str | None = None
    assessment: Assessment | None = None


@dataclass(frozen=True)
class Listened:
    """What was listened to.

    source: the file, or with ``is_live`` the interface with its channel
    has_times: whether its frames have time stamps
    """

    source: str
    channel: str
    frames: int
    error_frames: int
    seconds: float
    is_live: bool = False
    has_times: bool = True


@dataclass(frozen=True)
class TapCheck:
    """One pair of wires for one item of a job.

    network:  the one the item is wired to; None while that is undecided
    identity: how well it is known which network the traffic is; None where nobody listened
    place:    where the vehicle file says it is reached
    listened: None where nobody listened
    warnings: of the files that were read
    unused_readings: the job file has readings that are not of this network
    readings_network: the network that those name, None where they name none
    """

    job: str
    vehicle: str
    model_year: int
    item: str
    title: str
    network: str | None
    place: str
    physical: str
    bitrate: int | None
    fd_bitrate: int | None
    verdict: State
    listened: Listened | None
    findings: tuple[Finding, ...]
    roles: tuple[RoleFound, ...]
    readings: tuple[MeterReading, ...]
    cautions: tuple[TapCaution, ...]
    warnings: tuple[str, ...] = ()
    unused_readings: bool = False
    readings_network: str | None = None
    identity: IdentityLevel | None = None


def worst(states: Iterable[State]) -> State:
    """Wrong before unknown before right; notes decide nothing. Nothing known at all is unknown."""
    found = {state for state in states if state is not State.NOTE}
    for state in (State.WRONG, State.UNKNOWN, State.RIGHT):
        if state in found:
            return state
    return State.UNKNOWN
