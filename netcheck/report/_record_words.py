"""The words of a recording: one place for what each outcome, mark, stop, interface and phase is called."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from enum import StrEnum
from typing import Final

from netcheck.capture.live import Listening, Losses
from netcheck.evidence import GuidePhase, MarkOrigin, Result, UnpromptedActivity
from netcheck.records import dataclass
from netcheck.words import bit_rate, counted, listing

RESULT_WORDS: Final[Mapping[Result, str]] = {
    Result.ANSWERED: "answered",
    Result.MOVED: "moved",
    Result.RANGE_MARKED: "marked, with the limits you gave",
    Result.CONTRADICTED: (
        "took the state and left it faster than a hand can: its frames contradict each other"
    ),
    Result.NO_ANSWER: "done, but it did not answer",
    Result.STOOD: "was in that state all the time: no mark",
    Result.SKIPPED: "skipped",
    Result.TIMED_OUT: "did not answer in time: no mark",
    Result.OPEN: "not reached",
}

ORIGIN_WORDS: Final[Mapping[MarkOrigin, str]] = {
    MarkOrigin.ANSWERED: "the role took the state when it was asked for",
    MarkOrigin.CONTRADICTED: "the role took the state again and again, faster than a hand",
    MarkOrigin.SAID_DONE: "a person said it was done, and the role did not follow",
    MarkOrigin.READ_OFF: "limits as a person read them off the vehicle",
    MarkOrigin.CONFIRMED: "a person confirmed it afterwards",
}

LISTENING_WORDS: Final[Mapping[Listening, str]] = {
    Listening.ONLY: (
        "listen-only, as the system tells: the controller sends nothing at all, not even an acknowledgement"
    ),
    Listening.ASKED: (
        "listen-only was requested through python-can, which does not tell whether the adapter obeys (see "
        "its manual); no frame is sent in any case"
    ),
    Listening.ACKNOWLEDGES: (
        "NOT listen-only: no frame is sent, but the controller acknowledges every frame that it receives, "
        "and at a wrong bit rate it disturbs the network with error flags"
    ),
    Listening.UNTOLD: (
        "not known to be listen-only: no frame is sent, but the controller may acknowledge every frame that "
        "it receives, and at a wrong bit rate may disturb the network with error flags"
    ),
    Listening.NO_WIRE: "no wire of its own: the interface is software, and netcheck sends nothing to it",
}
QUIET_INTERFACES: Final = frozenset({Listening.ONLY, Listening.ASKED, Listening.NO_WIRE})


class StopKind(StrEnum):
    """Why a recording ended."""

    DONE = "done"  # the exercises are through
    QUIT = "quit"  # a person stopped it
    SILENCE = "silence"  # no frame came at all
    ONLY_ERRORS = "only-errors"  # nothing but error frames came
    WRONG_PAIR = "wrong-pair"  # the traffic is that of another network
    FAULT = "fault"  # interface or disk
    CLOCK_SET = "clock-set"  # the clock of the frames was set
    INTERRUPTED = "interrupted"  # by Ctrl-C or a signal


@dataclass(frozen=True)
class PairSeen:
    """What the ids say about the pair: how many of them are in the DBC of a network.

    other:   the network that it clearly is, None if that is not another one
    missing: how many more messages of the network must come before its DBC is trusted
    """

    network: str
    explained: int
    ids: int
    other: str | None = None
    other_explained: int = 0
    missing: int = 0


@dataclass(frozen=True)
class RecordStop:
    """What ended a recording.

    network, tap, bitrate: what was to be recorded, where the pair is ("" if not known), in bit/s
    seconds: that a frame was waited for, or by which the clock was set ahead (below 0: back)
    pair:    of a wrong pair
    said:    of a fault
    """

    kind: StopKind
    network: str = ""
    tap: str = ""
    bitrate: int = 0
    seconds: float = 0.0
    pair: PairSeen | None = None
    said: str = ""


def _at(stop: RecordStop) -> str:
    return f" ({stop.tap})" if stop.tap else ""


def _rate(stop: RecordStop) -> str:
    if stop.network == ANY_NETWORK:
        return f"{bit_rate(stop.bitrate)} was given"
    return f"{stop.network} has {bit_rate(stop.bitrate)} by the vehicle file"


def _wrong_pair(stop: RecordStop) -> str:
    if stop.pair is None:
        return f"this is not {stop.network}"
    other = f", {stop.pair.other_explained} fit {stop.pair.other}" if stop.pair.other else ""
    again = f", or give --network {stop.pair.other}" if stop.pair.other else ""
    return (
        f"this is not {stop.network}: {pair_text(stop.pair)}{other}. Clip on to the pair of "
        f"{stop.network}{_at(stop)} and record again{again}"
    )


def _clock_set(stop: RecordStop) -> str:
    way = f"back by {-stop.seconds:.1f} s" if stop.seconds < 0 else f"ahead by {stop.seconds:.1f} s"
    return (
        f"the clock that stamps the frames was set {way}, or the computer was asleep: the times can no "
        "longer be trusted. Wait until the clock is right, then record the rest"
    )


STOP_WORDS: Final[Mapping[StopKind, Callable[[RecordStop], str]]] = {
    StopKind.DONE: lambda _: "",
    StopKind.QUIT: lambda _: "",
    StopKind.SILENCE: lambda stop: (
        f"silence: no frame came in {stop.seconds:g} s. Switch the ignition on, or open a door to wake the "
        f"vehicle. Check the plug, that this is the pair of {stop.network}{_at(stop)}, and that the "
        f"interface is set to {bit_rate(stop.bitrate)}. Then record again"
    ),
    StopKind.ONLY_ERRORS: lambda stop: (
        f"only error frames and no message in {stop.seconds:g} s: most likely the bit rate is wrong "
        f"({_rate(stop)}), or high and low are swapped or "
        "shorted. Unclip at once, set the bit rate, check the pair, then record again"
    ),
    StopKind.WRONG_PAIR: _wrong_pair,
    StopKind.FAULT: lambda stop: stop.said or "an internal error of netcheck",
    StopKind.CLOCK_SET: _clock_set,
    StopKind.INTERRUPTED: lambda _: "interrupted",
}


def listening_text(listening: Listening) -> str:
    """What the interface does to the network."""
    return LISTENING_WORDS[listening]


def origin_text(origin: MarkOrigin) -> str:
    """How a mark came about; the comment on it in a marks file."""
    return ORIGIN_WORDS[origin]


def stop_text(stop: RecordStop) -> str:
    """Why it ended; "" where the exercises are through or a person stopped it."""
    return STOP_WORDS[stop.kind](stop)


def pair_text(pair: PairSeen) -> str:
    """``61 of its 64 ids fit comfort``."""
    return f"{pair.explained} of its {pair.ids} ids fit {pair.network}"


def losses_text(losses: Losses) -> str:
    """What is known of lost frames, and no more."""
    if losses.frames:
        return f"at least {counted(losses.frames, 'frame')}: {listing(losses_parts(losses))}"
    if not losses.is_told:
        return "not known: this interface does not tell; rolling counters show it in the plan"
    return "no frame, as far as the interface and the system tell"


def losses_parts(losses: Losses) -> tuple[str, ...]:
    """Who lost how many."""
    parts = (
        (losses.overruns, "overruns told by the controller"),
        (losses.device, "by the device driver's count"),
        (losses.system, "dropped by the operating system, the machine being too busy"),
        (losses.own, "that netcheck could not write"),
    )
    return tuple(f"{count} {who}" for count, who in parts if count)


def unprompted_text(unprompted: UnpromptedActivity) -> str:
    """``came on while nobody was to touch anything``, without a full stop."""
    state = unprompted.step.state
    what = "came on" if state == "active" else f"went to {state}"
    count = len(unprompted.periods)
    often = "" if count == 1 else " several times," if unprompted.too_many else f" {count} times,"
    when = []
    if unprompted.hands_off:
        when.append("while nobody was to touch anything")
    if unprompted.during:
        when.append(f"during the exercise for {listing(unprompted.during, most=3)}")
    return f"{what}{often} {' and '.join(when)}"


PHASE_WORDS: Final[Mapping[GuidePhase, str]] = {
    GuidePhase.QUIET: "Hands off",
    GuidePhase.RELEASE: "is {state} already: it must leave that state first",
    GuidePhase.WAIT: "",
    GuidePhase.HOLD: "ANSWERS, {held}",
    GuidePhase.UNANSWERED: "did not answer",
    GuidePhase.STEADY: "keep it there",
    GuidePhase.ASK: "What did the vehicle show? lowest highest [Enter]: ",
    GuidePhase.OVER: "Recording",
}
ANY_NETWORK: Final = "the network"  # that nobody described: no vehicle file names it
NO_EXERCISE: Final = "No exercise is given: put it into its other state for 3 seconds, then back."
UNANSWERED_KEYS: Final = "It did not answer: [r] do it again [s] skip [y] I did it"
SILENT_HINT: Final = "check the plug"
