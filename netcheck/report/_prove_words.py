"""What a comparison before and after a fitting says, in words: every change, promise and note, once."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any, Final

from netcheck.prove import (
    ChecksumFailing,
    ChecksumsUncompared,
    CodingChanged,
    CodingUncompared,
    CodingUnread,
    CounterFailing,
    DelayUnmeasured,
    ErrorFramesMore,
    ExercisesOpen,
    FaultNew,
    FaultsUncompared,
    FaultsUnread,
    FewErrorFrames,
    LengthChanged,
    LoadHigher,
    LoadUncompared,
    MessageGone,
    MessageNew,
    ModuleSilent,
    ModulesUnread,
    NotAfter,
    NotAwaited,
    NotBefore,
    NotOnTheNetwork,
    OptionalNeedOpen,
    OtherVehicle,
    PeriodChanged,
    PeriodsUncompared,
    ProvenMessage,
    ProveNote,
    ReadoutsDiffer,
    SameRecording,
    SeldomGone,
    SeldomNew,
    SideDoubt,
    SignalStuck,
    SleepLater,
    SleepUncompared,
    StayedAway,
    StrangeAfter,
    SupplyUnmapped,
    VehicleChange,
    VehicleState,
    VehicleUntold,
    WithoutTimes,
)
from netcheck.records import dataclass
from netcheck.report._warning_words import warning_text
from netcheck.words import counted, listing

MOST: Final = 4  # messages or roles of a list that is not the point


@dataclass(frozen=True)
class ChangeWords:
    """What is said of a kind of change: what it is, and what a technician looks at next."""

    text: Callable[[Any], str]
    next: Callable[[Any], str]


def title(message: ProvenMessage) -> str:
    """``PanelSwitches (0x2B4)``, or the id alone."""
    return f"{message.name} ({message.frame_id})" if message.name else f"{message.frame_id}"


def _titles(messages: Sequence[ProvenMessage]) -> str:
    return listing([title(message) for message in messages], most=MOST)


def ms(value: float) -> str:
    """``100 ms``, ``9.8 ms``."""
    return f"{value:.0f} ms" if value >= 99.5 else f"{value:.3g} ms"


def _seconds(value: float) -> str:
    return f"{value:.0f} s" if value >= 10 else f"{value:.1f} s"


def _share(value: float) -> str:
    return f"{100 * value:.1f} %"


def state_text(state: VehicleState) -> str:
    """What is known of the vehicle while something was compared."""
    told = []
    if state.terminal_15 is not None:
        told.append(f"terminal 15 {'on' if state.terminal_15 else 'off'}")
    if state.engine is not None:
        told.append(f"engine {'running' if state.engine else 'off'}")
    return listing(told) if told else "whatever the vehicle did"


def _other_vehicle(change: OtherVehicle) -> str:
    if change.vins is not None:
        return f"the captures from after tell VIN {change.vins[1]}, those from before {change.vins[0]}"
    if any(change.names):
        return (
            f"none of the {counted(change.names[0], 'J1939 device number')} from before "
            f"is among the {change.names[1]} from after"
        )
    return (
        f"{change.common - change.resized} messages are alike, {change.gone} are gone, {change.new} new, "
        f"{change.resized} of other lengths, none of it planned"
    )


def _gone(change: MessageGone) -> str:
    sender = f", sent by {listing(change.senders)}" if change.senders else ""
    return (
        f"came every {ms(change.period_ms)}{sender}; not once in {_seconds(change.awake_s)} afterwards "
        "with the network awake"
    )


def _gone_next(change: MessageGone) -> str:
    who = listing(change.senders) if change.senders else "the module that sends it"
    return f"Check {who}: plug, fuse, supply and ground, and the stub to it."


def _length(change: LengthChanged) -> str:
    sides = [listing([f"{length} bytes" for length, _ in side]) for side in (change.before, change.after)]
    return f"had {sides[0]}, now {sides[1]}"


def _period(change: PeriodChanged) -> str:
    low, high = (ms(gap) for gap in change.jitter_ms)
    text = f"came every {ms(change.before_ms)} ({low} to {high}), now every {ms(change.after_ms)}"
    if change.mean_ms > 1.2 * change.after_ms:
        text += f", on average every {ms(change.mean_ms)}: frames are missing"
    return text


def _counter(change: CounterFailing) -> str:
    parts = []
    if change.standing:
        parts.append(f"stands still in {change.standing}")
    if change.wrong:
        parts.append(f"jumps in {change.wrong}")
    place = f"bit {change.bit}, {change.width} bits"
    steps = counted(change.steps, "step")
    return f"its rolling counter ({place}) {listing(parts)} of {steps}; it did not before"


def _checksum(change: ChecksumFailing) -> str:
    frames = counted(change.frames, "frame")
    return f"its checksum in byte {change.byte} is wrong in {change.wrong} of {frames}; it was right before"


def _stuck(change: SignalStuck) -> str:
    if change.role is not None:
        none = f"followed none of {change.marks} marks" if change.marks > 1 else "did not follow the one mark"
        return f"{change.signal} ({change.role}) {none} made after the fitting"
    held = f", stays at {change.held:g}" if change.held is not None else ""
    return (
        f"{change.signal} moved in each of {change.windows} stretches of 10 s before; afterwards it did not "
        f"move in {_seconds(change.seconds)}{held}"
    )


def _load(change: LoadHigher) -> str:
    planned = f", of which the job explains {_share(change.planned)}" if change.planned else ""
    loads = f"was {_share(change.before)}, is {_share(change.after)}{planned}"
    return f"the load {loads} ({state_text(change.state)})"


def _errors(change: ErrorFramesMore) -> str:
    before = "none" if not change.before else counted(change.before, "error frame")
    return (
        f"{counted(change.after, 'error frame')} in {_seconds(change.after_s)} awake; before {before} "
        f"in {_seconds(change.before_s)}"
    )


def _sleep(change: SleepLater) -> str:
    now = (
        f"now {_seconds(change.after_s)}"
        if change.after_s is not None
        else f"now it is still awake after {_seconds(change.waited_s)}"
    )
    return f"fell asleep {_seconds(change.before_s)} after terminal 15 went off; {now}"


def _coding(change: CodingChanged) -> str:
    place = change.field_name or f"byte {change.byte}, bit {change.bit}, {counted(change.width, 'bit')} wide"
    before = "unknown" if change.before is None else change.before
    return f"{change.did} {place}: {before} → {change.after}"


CHANGES: Final[Mapping[type[VehicleChange], ChangeWords]] = {
    OtherVehicle: ChangeWords(
        _other_vehicle,
        lambda _: "Record this vehicle, and compare again. Nothing is proven by these captures.",
    ),
    MessageGone: ChangeWords(_gone, _gone_next),
    MessageNew: ChangeWords(
        lambda change: f"comes every {ms(change.period_ms)}; it never came before",
        lambda _: "Find out who sends it: unplug the new parts one by one and record again.",
    ),
    LengthChanged: ChangeWords(
        _length, lambda _: "Look for a second sender of this id, or a module with other coding."
    ),
    PeriodChanged: ChangeWords(
        _period, lambda _: "Check the sender's coding and supply, and look for frames that are lost."
    ),
    CounterFailing: ChangeWords(
        _counter, lambda _: "Look for a second sender of this id, and for frames that the recorder lost."
    ),
    ChecksumFailing: ChangeWords(
        _checksum, lambda _: "Look for a second sender of this id: receivers discard frames with a wrong sum."
    ),
    SignalStuck: ChangeWords(
        _stuck, lambda _: "Operate it and watch it in live data; check its sensor or switch and their plugs."
    ),
    LoadHigher: ChangeWords(
        _load, lambda _: "See who sends more: netcheck survey for both captures. Is a tester still connected?"
    ),
    ErrorFramesMore: ChangeWords(
        _errors, lambda _: "Check the joints, the stub lengths and the termination (60 Ω): netcheck tap."
    ),
    SleepLater: ChangeWords(
        _sleep, lambda _: "Measure the current with the vehicle asleep; unplug the new parts one by one."
    ),
    FaultNew: ChangeWords(
        lambda change: (
            f"stores {change.code}"
            + (f" (status {change.status:02X})" if change.status is not None else "")
            + ", which it did not before"
        ),
        lambda _: "Clear the fault, drive or operate what it is about, and read again; find its cause.",
    ),
    ModuleSilent: ChangeWords(
        lambda change: f"answered the tester before, and none of {change.asked} requests afterwards",
        lambda change: f"Check {change.module}: plug, fuse, supply and ground, and the gateway's list.",
    ),
    CodingChanged: ChangeWords(
        _coding, lambda _: "Write the old value again, unless the change is meant: netcheck coding."
    ),
}

NOTES: Final[Mapping[type[ProveNote], Callable[[Any], str]]] = {
    NotBefore: lambda note: f"{note.network} was captured after the fitting only: nothing to compare with",
    SameRecording: lambda note: (
        f"{note.before} from before and {note.after} from after are the same recording: it shows nothing of "
        "after the fitting"
    ),
    NotAfter: lambda note: (
        f"{note.network} was captured before the fitting only: what it carries is not shown"
    ),
    WithoutTimes: lambda note: (
        f"the captures of {note.network} have no time stamps on one side: periods, load and missing messages "
        "were not compared"
    ),
    VehicleUntold: lambda _: (
        "no VIN and no device number in the captures tells this vehicle from another one of the model; ids "
        "and lengths are alike"
    ),
    SideDoubt: lambda note: warning_text(note.told),
    StayedAway: lambda note: (
        f"on {note.network} for a while not, with the network awake, and before at all times (a module that "
        f"started late or dropped out): {_titles(note.messages)}"
    ),
    SeldomGone: lambda note: (
        f"came on {note.network} before only, seldom or not by the clock: {_titles(note.messages)}"
    ),
    SeldomNew: lambda note: (
        f"came on {note.network} afterwards only, seldom, not by the clock, or in a state not recorded "
        f"before: {_titles(note.messages)}"
    ),
    NotAwaited: lambda note: (
        f"{note.network} was not recorded for long enough afterwards, in the state in which they come: "
        f"{_titles(note.messages)}"
    ),
    PeriodsUncompared: lambda note: (
        f"too few frames in the same state of the vehicle to compare periods on {note.network}: "
        f"{_titles(note.messages)}"
    ),
    ChecksumsUncompared: lambda note: (
        f"too few frames after the fitting to compare counters or checksums on {note.network}: "
        f"{_titles(note.messages)}"
    ),
    LoadUncompared: lambda note: (
        f"the load of {note.network} was not compared: terminal 15 and engine were not alike for 5 s"
    ),
    SleepUncompared: lambda note: (
        f"{note.network} was recorded falling asleep "
        f"{'after' if note.is_after else 'before'} the fitting only"
    ),
    FewErrorFrames: lambda note: (
        f"{counted(note.count, 'error frame')} on {note.network}: too few to say why"
    ),
    NotOnTheNetwork: lambda note: (
        f"{note.item}: {note.role} comes by a wire ({note.place}): no capture shows it, measure it"
    ),
    SupplyUnmapped: lambda note: (
        f"{note.item}: no signal mapped for {listing(note.roles, most=MOST)}: not looked at"
    ),
    ExercisesOpen: lambda note: f"{note.item}: not exercised: {listing(note.roles, most=MOST)}",
    OptionalNeedOpen: lambda note: f"{note.item}: optional and not shown: {listing(note.roles, most=MOST)}",
    DelayUnmeasured: lambda note: (
        f"{note.item}: how soon {note.role} goes {'off' if note.is_end else 'on'} after "
        f"{note.cause} {'ended' if note.is_end else 'began'} was not seen"
    ),
    CodingUnread: lambda note: f"not read after the fitting: {listing(note.blocks, most=MOST)}",
    CodingUncompared: lambda note: (
        f"read after the fitting only, so other bits were not compared: {listing(note.blocks, most=MOST)}"
    ),
    FaultsUncompared: lambda note: (
        f"stored after the fitting, and nobody read the faults before: {listing(note.faults, most=MOST)}"
    ),
    FaultsUnread: lambda note: (
        f"faults read before the fitting and not after it: {listing(note.modules, most=MOST)}"
    ),
    ModulesUnread: lambda note: (
        f"read before the fitting and not after it, so nothing of it was compared: "
        f"{listing(note.modules, most=MOST)}"
    ),
    ReadoutsDiffer: lambda note: (
        f"the job's readouts differ from what its captures show, and count: {listing(note.blocks, most=MOST)}"
    ),
    StrangeAfter: lambda note: (
        f"{note.use.channel} of {note.use.file} is none of the vehicle's networks: another pair of wires, or "
        "another vehicle"
    ),
}


def change_head(change: VehicleChange) -> str:
    """What a change is about: a message, a network, a module or the vehicle."""
    message = getattr(change, "message", None)
    if isinstance(message, ProvenMessage):
        return f"{title(message)} on {message.network}"
    return str(getattr(change, "network", "") or getattr(change, "module", "") or "the vehicle")


def change_text(change: VehicleChange) -> str:
    """A change as a clause without a full stop."""
    return f"{change_head(change)}: {CHANGES[type(change)].text(change)}"


def change_next(change: VehicleChange) -> str:
    """What to do about a change that nobody planned; "" for a planned one."""
    return "" if change.is_planned else CHANGES[type(change)].next(change)


def prove_note_text(note: ProveNote) -> str:
    """A note as a clause without a full stop."""
    return NOTES[type(note)](note)
