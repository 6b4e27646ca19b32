"""What is said of work at the vehicle: power, wires, checks, proofs and the gates between stages.

Common practice, from the trade; the retrofit files bring the steps and cautions of their own work.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from netcheck.catalogue import resources
from netcheck.words import bit_rate, clause, listing, sentence
from netcheck.work import (
    Action,
    CheckLamps,
    Exercises,
    Gate,
    GateCheck,
    HandOver,
    IdentifyVehicle,
    JoinWire,
    KeepStubsShort,
    MeasureWire,
    MoveWithCare,
    PowerDown,
    PowerUp,
    Prove,
    ProveWithoutExercise,
    ReadFaults,
    RecordAgain,
    Stage,
    StubLimit,
    TellExclusive,
    TouchNothing,
)

STAGE_TITLES: Final[dict[Stage, str]] = {
    "before": "Before fitting",
    "power-down": "Power down, once",
    "fit": "Fit",
    "power-up": "Power up, once",
    "code": "Code",
    "standing": "Prove: standing",
    "engine": "Prove: engine running",
    "yard": "Prove: in the yard",
    "road": "Prove: on the road",
    "handover": "Hand over",
}
POWER_DOWN: Final = (
    "Note what has to be set again. Orange leads are for trained people only. Keep the vehicle maker's "
    "waiting time. Disconnect every source that the vehicle has, in the order the vehicle maker gives."
)
_OPENS: Final[dict[Stage, str]] = {
    "before": "begin",
    "power-down": "power down",
    "fit": "fit",
    "power-up": "power up",
    "code": "code",
    "standing": "begin the checks",
    "engine": "start the engine",
    "yard": "move the vehicle",
    "road": "drive on the road",
    "handover": "hand over",
}
_CHECKS: Final[dict[GateCheck, str]] = {
    "verdict": "the plan says go or go with changes for each part to be fitted",
    "noted": "all of the above is ticked",
    "sources-off": "every source is off",
    "waited": "the vehicle maker's waiting time is over",
    "joined": "every plug, fuse and cover is in place and no tool is left",
    "cab-empty": "nobody is in the cab",
    "supply-steady": "the supply voltage is steady",
    "nothing-warm": "nothing gets warm or smells",
    "read-back": "every block reads back as written",
    "airbag-lamp": "airbag lamp out",
    "stability-lamp": "stability lamp out",
    "warning-lamps": "all warning lamps out",
    "no-new-fault": "no new fault",
    "brakes": "brakes and steering feel as before",
}
_MOVING: Final = {
    "engine": (
        "Engine running: outdoors or with exhaust extraction, wheels chocked, park brake on, nobody under, "
        "in front of or behind the vehicle or near belts."
    ),
    "yard": (
        "Moving in the yard: walking pace, on ground closed to others, a second person outside in the "
        "driver's view. The driver does nothing else."
    ),
    "road": (
        "On the road: one person drives and does nothing else, a second one runs the logger and notes times. "
        "Closed ground where local rules ask for it."
    ),
}


def exercise_title(group: Exercises) -> str:
    """``wheel.next, previous and mute``, with the state where it is not the active one."""
    first, *others = group.roles
    prefix = first.rpartition(".")[0]
    names = [role.removeprefix(f"{prefix}.") if prefix else role for role in others]
    title = ", ".join([first, *names])
    return title if group.state == "active" else f"{title} = {group.state}"


def gate_text(gate: Gate) -> str:
    """``Airbag lamp out, no new fault: only then start the engine.``"""
    checks = ", ".join(_CHECKS[check] for check in gate.checks)
    return sentence(f"{checks[:1].upper()}{checks[1:]}: only then {_OPENS[gate.opens]}")


def _identify(action: IdentifyVehicle) -> str:
    plate = f"registration {action.registration}" if action.registration else ""
    if action.vin is None:
        known = f"Compare the vehicle with the job: {plate}. " if plate else ""
        return f"{known}Note the VIN that stands on the vehicle: ____________"
    return (
        f"Compare the VIN on the vehicle with the job's, sign by sign: {action.vin}"
        f"{f'; {plate}' if plate else ''}. If it differs, stop."
    )


def _read_faults(action: ReadFaults) -> str:
    if action.when == "before":
        return "Read the fault memories of all modules and keep the list. Explain every fault in it first."
    return "Read all fault memories again and compare with the list. New: ____________"


def _measure_wire(action: MeasureWire) -> str:
    wire = action.wire
    fuse = f" Fuse: {clause(wire.fuse)}." if wire.fuse else ""
    expect = f" It should read {clause(wire.expect)}." if wire.expect else ""
    return f"{wire.role} by wire: measure at {clause(wire.from_)}.{fuse}{expect} Measured: ____________"


def _join_wire(action: JoinWire) -> str:
    wire = action.wire
    load = "Fuse it for its own wire, and check the load of the circuit that it joins."
    if wire.fuse:
        load = f"It hangs on {clause(wire.fuse)}: check the load of that fuse with the part on it."
    return f"{wire.role} by wire: join it at {clause(wire.from_)}. {load}"


def _stubs(action: KeepStubsShort) -> str:
    limits = listing([_stub(limit) for limit in action.limits])
    return f"Where a part joins a network's pair: stub of {limits}, twisted to the end, no extra terminator."


def _stub(limit: StubLimit) -> str:
    place = f"; {clause(limit.tap)}" if limit.tap else ""
    return f"{limit.metres:g} m at most to {limit.network} ({bit_rate(limit.bitrate)}{place})"


def _power_down(action: PowerDown) -> str:
    sources = " ".join(f"[ ] {source}" for source in action.sources)
    return f"{POWER_DOWN[:-1]}: {sources}."


def _power_up(_: PowerUp) -> str:
    return (
        "Nobody in the cab: reconnect the sources in reverse order, then switch the ignition on from outside "
        "the airbags' reach. From now on no wiring without powering down again."
    )


def _prove(action: Prove) -> str:
    text = f"{exercise_title(action.group)}: {sentence(action.group.do)}"
    if len(action.shows) > 1:
        text += f" Shows the signal for: {listing(action.shows)}."
    elif len(action.whys) == 1 and action.whys[0]:
        text += f" Shows the signal for: {action.whys[0]}."
    if action.suppliers:
        text += f" Comes from {listing(action.suppliers)}."
    if action.is_after_coding:
        text += " First seen now: it appears only with the coding."
    return text


def _tell_exclusive(action: TellExclusive) -> str:
    names = listing([_resource(name) for name in action.resources])
    why = f": {clause(action.why)}" if action.why else ""
    return f"Tell the driver: {names} do not work at the same time{why}."


def _resource(name: str) -> str:
    """As the vocabulary calls it, in the middle of a sentence: ``HDMI input``, ``phone projection``."""
    known = resources().get(name)
    if known is None:
        return name
    title = known.title
    return title if title[1:2].isupper() else f"{title[:1].lower()}{title[1:]}"


def _hand_over(action: HandOver) -> str:
    coding = " with the old bytes" if action.has_coding else ""
    return (
        f"Give the owner this sheet{coding}, the parts' manuals and the papers that local rules ask for. "
        "Show each part."
    )


RAMP_STEPS: Final[dict[type[Action], Callable[[Any], str]]] = {
    MoveWithCare: lambda action: _MOVING[action.place],
    IdentifyVehicle: _identify,
    ReadFaults: _read_faults,
    MeasureWire: _measure_wire,
    JoinWire: _join_wire,
    KeepStubsShort: _stubs,
    PowerDown: _power_down,
    PowerUp: _power_up,
    Gate: gate_text,
    CheckLamps: lambda _: (
        "Ignition on: lamps of airbag, stability control and brakes light up, then go out. If one stays on, "
        "stop; airbags are for licensed people."
    ),
    TouchNothing: lambda _: "Ignition on, touch nothing for a minute: nothing new warns, moves or lights up.",
    RecordAgain: lambda action: (
        f'Record {listing(action.networks)} again meanwhile, as the proof (in the job file: when = "after"), '
        "and compare: netcheck prove."
    ),
    Prove: _prove,
    ProveWithoutExercise: lambda action: (
        f"Show that the part reacts to {listing(action.roles)} (no exercise is given)."
    ),
    TellExclusive: _tell_exclusive,
    HandOver: _hand_over,
}
