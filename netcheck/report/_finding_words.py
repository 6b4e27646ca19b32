"""All that is said of conflicts, questions, notes and warnings: one entry for each record, in one place."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, Final

from netcheck.coding import Clash, ClashSide
from netcheck.records import dataclass
from netcheck.report._database_words import repair_text
from netcheck.report._edition_words import edition_open_next, edition_open_text
from netcheck.report._numbers import choices, fact_text, it_has, percent
from netcheck.report._plan_words import VERDICT_WORDS
from netcheck.report._reason_parts import identity_text, name_it
from netcheck.verdict import (
    ClocksApart,
    CodingConflict,
    CodingLeft,
    CodingUndefined,
    Conflict,
    DoubtfulChannel,
    EditionOpen,
    FactMismatch,
    FactUnknown,
    IdInDbc,
    IdInUse,
    IdleReplacement,
    IdSentTwice,
    IdsUnchecked,
    LateMessage,
    LoadAdded,
    LostSource,
    MarksUnused,
    ModuleAbsent,
    ModuleWithoutNode,
    NodeSendsNothing,
    Note,
    NumberTooLarge,
    OptionalLoss,
    OtherVin,
    Overload,
    PassedOn,
    PlanWarning,
    Question,
    RepairedDbc,
    ResourceContested,
    ResourceMissing,
    ResourcesExclusive,
    ResourceUnknown,
    ResourceWait,
    RoomUnknown,
    SeveralEntries,
    SharedBits,
    SourcePresent,
    StrangeChannel,
    SuppliedTwice,
    SupplyIdUnknown,
    ToldByReader,
    UserAbsent,
)
from netcheck.words import bit_rate, counted, listing, path_text

MOST_MODULES: Final = 12  # of the vehicle, named in one sentence
MOST_LEFT: Final = 3  # roles of a coding field, named in one sentence
MOST_LATE: Final = 3  # messages, named in one sentence


@dataclass(frozen=True)
class FindingWords:
    """What is said of one kind of conflict or question.

    text: what is wrong or unknown: sentences, the last one without its full stop
    next: what to do about it: whole sentences, the first one short
    """

    text: Callable[[Any], str]
    next: Callable[[Any], tuple[str, ...]]


def finding_text(finding: Conflict | Question) -> str:
    """What is wrong or unknown, without a full stop."""
    return FINDINGS[type(finding)].text(finding)


def finding_next(finding: Conflict | Question) -> tuple[str, ...]:
    """What to do about it, sentence by sentence."""
    return FINDINGS[type(finding)].next(finding)


def note_text(note: Note) -> str:
    """A note, without a full stop."""
    return NOTES[type(note)](note)


def warning_text(warning: PlanWarning) -> str:
    """A warning, without a full stop of its own."""
    return WARNINGS[type(warning)](warning)


def wait_text(wait: ResourceWait) -> str:
    """A resource of parts that are not ready themselves, without a full stop."""
    givers = [f"{name} is {VERDICT_WORDS[verdict]}" for name, verdict in wait.givers]
    verb = "is" if wait.ready == 1 else "are"
    ready = f"only {wait.ready} of it {verb} ready" if wait.ready else "nothing else gives it"
    what = f"it takes {_times(wait.needed, wait.resource)}{_because(wait.why)}"
    return f"{what}, but {listing(givers)} and {ready}"


def _because(why: str) -> str:
    return f" ({why})" if why else ""


# ---------------------------------------------------------------------------- conflicts


def _id_in_use(found: IdInUse) -> str:
    owner = "a message that the DBC does not know"
    if found.message is not None:
        owner = found.message + (f" from {listing(found.senders)}" if found.senders else "")
    return (
        f"It will send {found.frame_id} on {found.network}, but {owner} was seen with that id there in "
        f"{found.frames:,} frames and nothing replaces it"
    )


def _module_absent(found: ModuleAbsent) -> str:
    place = "in its vehicle file" if found.year is None else f"in model year {found.year}"
    return f"The part needs module {found.module}, which the vehicle does not have {place}" + _because(
        found.why
    )


def _module_absent_next(found: ModuleAbsent) -> tuple[str, ...]:
    fit = f"Fit module {found.module} first, or choose a part that works without it."
    if found.year is not None or not found.modules:
        return (fit,)
    modules = listing(found.modules, most=MOST_MODULES)
    return (
        fit,
        f"If the vehicle file calls it otherwise (it has {modules}), use that name in a copy of the "
        "retrofit file.",
    )


def clash_text(clash: Clash) -> str:
    """``gateway 0x2210 market: part-0 wants 'island', part-1 wants 'mainland'``."""
    block, one, other = f"{clash.module} {clash.did}", clash.one, clash.other
    if one.field == other.field:
        return f"{block} {one.field}: {_wish(one)}, {_wish(other)}"
    return (
        f"{block}: {one.field} and {other.field} share bits: "
        f"{_wish(one)} for {one.field}, {_wish(other)} for {other.field}"
    )


def _wish(side: ClashSide) -> str:
    value = f"'{side.value}'" if isinstance(side.value, str) else str(side.value)
    unlock = f" (unlocks {side.unlock})" if side.unlock else ""
    return f"{side.retrofit} wants {value}{unlock}"


def _coding_undefined(found: CodingUndefined) -> str:
    near = it_has(found.similar)
    if found.has_module:
        what = f"module {found.module} has no coding field {found.field}{near}"
    elif found.is_in_file:
        what = f"this model year has no module {found.module}"
    else:
        what = f"the vehicle has no module {found.module}{near}"
    return f"The part wants {found.module}.{found.field} = {found.value}, but {what} in the vehicle file"


def _lost_source(found: LostSource) -> str:
    what = f"the old source of {found.role}" if found.by_role else f"the only sender of {found.title}"
    return (
        f"It needs {found.role} on {found.network}, but the job replaces {what} and nothing supplies it "
        "afterwards"
    )


def _overload(found: Overload) -> str:
    return (
        f"With the messages of {listing(found.items)}, the busiest second of {found.network} takes "
        f"{percent(found.after)} of {bit_rate(found.bitrate)} ({percent(found.before)} now). Over 80 %, too "
        "little is left for repeats and for what no capture shows"
    )


def _times(count: int, resource: str) -> str:
    return resource if count == 1 else f"{count} × {resource}"


def _shares(shares: tuple[tuple[str, int], ...]) -> str:
    return listing([f"{name} {count}" for name, count in shares])


def _resource_missing(found: ResourceMissing) -> str:
    vehicle = f"the vehicle gives {found.of_vehicle}"
    if found.taken_by:
        vehicle = f"{listing(found.taken_by)} takes the vehicle's away"
    givers = _shares(found.givers) if found.givers else "no part gives it"
    return (
        f"The job needs {found.needed} of {found.resource} ({_shares(found.users)}){_because(found.why)}, "
        f"but {vehicle} and {'the parts give ' if found.givers else ''}{givers}"
    )


def _late(late: LateMessage) -> str:
    """``EngineStatus (0x200) waits 12.4 ms, beyond its 10 ms period (8.1 ms now)``."""
    title = f"{late.name} ({late.frame_id})" if late.name else str(late.frame_id)
    waits = "waits without a bound" if late.worst_s is None else f"waits {_ms(late.worst_s)}"
    now = "" if late.before_s is None else f" ({_ms(late.before_s)} now)"
    return f"{title} {waits}, beyond its {late.period_s * 1000:g} ms period{now}"


def _ms(seconds: float) -> str:
    return f"{seconds * 1000:.1f} ms"


FINDINGS: Final[dict[type[Conflict | Question], FindingWords]] = {
    IdInUse: FindingWords(
        _id_in_use, lambda _: ("Ask the part's maker for another id, or put it behind its own gateway.",)
    ),
    IdSentTwice: FindingWords(
        lambda found: f"Both {found.first} and {found.second} send {found.frame_id} on {found.network}",
        lambda _: ("Give one of them another id or another network.",),
    ),
    SourcePresent: FindingWords(
        lambda found: (
            f"It will send {found.role} on {found.network}, where {found.title} already does "
            f"({found.frames:,} frames) and nothing replaces it"
        ),
        lambda _: (
            "Take the old source away and say so in the retrofit file, or keep the new one from sending it.",
        ),
    ),
    SuppliedTwice: FindingWords(
        lambda found: f"Both {found.first} and {found.second} supply {found.role} on {found.network}",
        lambda _: ("Fit one of them, or switch the function off in the other.",),
    ),
    FactMismatch: FindingWords(
        lambda found: (
            f"On this vehicle, {found.fact} is {fact_text(found.value)}; the part needs "
            f"{choices(found.any_of)}{_because(found.why)}"
        ),
        lambda _: ("Choose a variant of the part that matches, or correct the vehicle file if it is wrong.",),
    ),
    ModuleAbsent: FindingWords(_module_absent, _module_absent_next),
    CodingConflict: FindingWords(
        lambda found: clash_text(found.clash),
        lambda _: ("Decide which of the two is fitted, or ask their makers for a setting that serves both.",),
    ),
    CodingUndefined: FindingWords(
        _coding_undefined,
        lambda found: (
            f"If the vehicle has {found.module}.{found.field}, add block and field to the vehicle file from "
            "its documentation, or correct the name in the retrofit file; if not, the part cannot be coded "
            "on this vehicle.",
        ),
    ),
    LostSource: FindingWords(
        _lost_source, lambda _: ("Keep the old source, or add a part that supplies the signal there.",)
    ),
    Overload: FindingWords(
        _overload,
        lambda _: (
            "Let the part send less often or less, wire it to another network, or put a gateway between "
            "that passes on what is needed.",
        ),
    ),
    ResourceMissing: FindingWords(
        _resource_missing,
        lambda found: (
            f"Add a part that gives {found.resource}, or leave one out that takes it.",
            f"If the vehicle has it, add resource.{found.resource} = (how many) to [facts].",
        ),
    ),
    EditionOpen: FindingWords(edition_open_text, edition_open_next),
    ResourceUnknown: FindingWords(
        lambda found: (
            f"It takes {_times(found.count, found.resource)}{_because(found.why)}; no part of this job gives "
            "it and no fact states whether the vehicle has it"
        ),
        lambda found: (
            f"Look it up and add resource.{found.resource} = (how many, 0 for none) to [facts], or add the "
            "part that gives it.",
        ),
    ),
    FactUnknown: FindingWords(
        lambda found: (
            f"The vehicle file does not state {found.fact}; the part needs "
            f"{choices(found.any_of)}{_because(found.why)}"
        ),
        lambda _: ("Look it up and add it to [facts].",),
    ),
    UserAbsent: FindingWords(
        lambda found: (
            f"Module {found.module} uses {found.role}, and this model year has no such module; the need was "
            "judged on the part's own network"
        ),
        lambda found: (
            f"Find out which module uses {found.role} and name it in a copy of the retrofit file"
            + (
                f" (the vehicle file has {listing(found.modules, most=MOST_MODULES)})."
                if found.modules
                else "."
            ),
        ),
    ),
    PassedOn: FindingWords(
        lambda found: (
            f"The job replaces {found.role}, which this part needs on {found.network}; {found.supplier} "
            f"supplies it on {listing(found.networks, last='or')} only. Does a gateway pass it on"
        ),
        lambda found: (
            f"Look it up, or capture {found.network} once {found.supplier} is connected on the bench.",
        ),
    ),
    SupplyIdUnknown: FindingWords(
        lambda found: (
            f"{found.supplier} supplies {found.role}, which {found.user} needs, and its retrofit file does "
            "not say with which id"
        ),
        lambda found: (f"Ask the maker of {found.supplier} for the id and add message_id to its file.",),
    ),
}


# ---------------------------------------------------------------------------- notes


def _ids_unchecked(note: IdsUnchecked) -> str:
    ids = listing([str(frame_id) for frame_id in note.frame_ids])
    verb = "is" if len(note.frame_ids) == 1 else "are"
    return f"whether {ids} {verb} free on {note.network} is not known: no capture of it"


def _load_added(note: LoadAdded) -> str:
    text = (
        f"its messages take the busiest second of {note.network} from {percent(note.before)} to "
        f"{percent(note.after)} of {bit_rate(note.bitrate)}"
    )
    if note.late:
        named = [_late(late) for late in note.late[:MOST_LATE]]
        if len(note.late) > MOST_LATE:
            named.append(f"{counted(len(note.late) - MOST_LATE, 'more message')} likewise")
        return f"{text}. In the worst case, {', '.join(named)}. That is rare, and no conflict"
    if not note.already:
        return text + ", and every message seen there still meets its period in the worst case"
    text += f" and make no further message late; {counted(note.already, 'message')} seen there may miss "
    return text + ("their period already, in the worst case" if note.already > 1 else "its period already")


def _room_unknown(note: RoomUnknown) -> str:
    ids = listing([str(frame_id) for frame_id in note.frame_ids])
    return (
        f"whether {note.network} has room for {ids} is not known: the retrofit file does not give both "
        "period_ms and length"
    )


def _coding_left(note: CodingLeft) -> str:
    roles = listing(note.roles, most=MOST_LEFT)
    if note.value is None:
        state = "is left as it is, and nobody has read it"
    else:
        state = f"is {note.value} and stays so"
    return f"{note.module}.{note.field} {state}: intended? It belongs to {roles}"


NOTES: Final[dict[type[Note], Callable[[Any], str]]] = {
    IdleReplacement: lambda note: (
        f"replaces module {note.module}, which this vehicle does not have: that changes nothing"
    ),
    IdsUnchecked: _ids_unchecked,
    IdInDbc: lambda note: (
        f"the DBC gives {note.frame_id} to {note.message}, "
        f"{'which was not seen' if note.is_captured else 'which may be there'}"
    ),
    RoomUnknown: _room_unknown,
    LoadAdded: _load_added,
    ResourceContested: lambda note: (
        f"{listing(note.users)} take {note.needed} of {note.resource} together, and what can be fitted gives "
        f"{note.ready}: not all of them can be fitted now"
    ),
    ResourcesExclusive: lambda note: (
        f"{listing(note.resources)} cannot be used at the same time{_because(note.why)}"
    ),
    CodingLeft: _coding_left,
    OptionalLoss: lambda note: f"the optional {note.role} loses its source to a part that the job replaces",
}


# ---------------------------------------------------------------------------- warnings


def _number_too_large(warning: NumberTooLarge) -> str:
    bits = f"{warning.width} {'signed ' if warning.is_signed else ''}bit of {warning.title}"
    return (
        f"{path_text(warning.file)}: role.{warning.role}: {warning.key}: {warning.number} does not fit the "
        f"{bits}, {warning.low} to {warning.high}, so it never counts"
    )


def _several_entries(warning: SeveralEntries) -> str:
    entries = f"{counted(warning.count, 'entry', 'entries')} on {warning.network}"
    return (
        f"{path_text(warning.file)}: role.{warning.role}: {entries} in model year {warning.year}: the "
        f"first counts, {warning.first}"
    )


def _shared_bits(warning: SharedBits) -> str:
    those = "that" if len(warning.others) == 1 else "those"
    return (
        f"{path_text(warning.file)}: module.{warning.module}.coding.0x{warning.did:04X}: {warning.field} "
        f"has bits in common with {listing(warning.others)}: coding it changes {those} too"
    )


def _clocks_apart(warning: ClocksApart) -> str:
    way = "later" if warning.seconds > 0 else "earlier"
    return (
        f"{path_text(warning.second)} is stamped {abs(warning.seconds):.2f} s {way} than "
        f"{path_text(warning.first)} "
        f"({warning.moments} moments that both saw): note marks by each one's own clock"
    )


def _strange_channel(warning: StrangeChannel) -> str:
    use = warning.use
    place = f"{path_text(use.file)}: "
    if use.is_unclear:
        known = f"{identity_text(use)} – {name_it(use)}"
        return f"{place}which network channel {use.channel} is cannot be told: {known}"
    return f"{place}channel {use.channel} is none of this vehicle's networks: {identity_text(use)}"


def _other_vehicle(warning: OtherVin) -> str:
    whose = path_text(warning.other) if warning.other else "the job"
    if warning.is_read:
        return (
            f"{path_text(warning.file)}: module {warning.channel} tells VIN {warning.vin}, {whose} "
            f"{warning.expected}: read from another vehicle, or a module from another vehicle"
        )
    return (
        f"{path_text(warning.file)}: {warning.channel} tells VIN {warning.vin}, {whose} {warning.expected}: "
        "another vehicle's capture, or a module from another vehicle"
    )


def _marks_unused(warning: MarksUnused) -> str:
    why = "the vehicle file does not map it for this model year"
    if warning.networks:
        why = f"no channel there is {listing(warning.networks, last='or')}"
    return f"marks of {warning.role} in {warning.capture} are not used: {why}"


WARNINGS: Final[dict[type[PlanWarning], Callable[[Any], str]]] = {
    RepairedDbc: lambda warning: repair_text(warning.repair),
    ToldByReader: lambda warning: (
        f"{path_text(warning.file)}: {warning.text}" if warning.file else warning.text
    ),
    NumberTooLarge: _number_too_large,
    SeveralEntries: _several_entries,
    ModuleWithoutNode: lambda warning: (
        f"{path_text(warning.file)}: module.{warning.module} has no node, and a part replaces it: what "
        "else goes away is not seen"
    ),
    NodeSendsNothing: lambda warning: (
        f"{path_text(warning.file)}: module.{warning.module}.node: no message of the DBC files is sent by "
        f"{warning.node}, and a part replaces it: what else goes away is not seen"
    ),
    SharedBits: _shared_bits,
    StrangeChannel: _strange_channel,
    DoubtfulChannel: lambda warning: (
        f"{path_text(warning.use.file)}: whether channel {warning.use.channel} is {warning.use.network} is "
        f"doubtful: {identity_text(warning.use)}: too few to trust what the DBC says – is it this vehicle, "
        "model year and pair?"
    ),
    MarksUnused: _marks_unused,
    OtherVin: _other_vehicle,
    ClocksApart: _clocks_apart,
}
